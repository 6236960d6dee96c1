/* pullcalld: the daemon on its own, for a computer that does nothing else at the bench.
 * DEVELOPERS.md says how the program hangs together, internal.h what is in which file. */
#include "daemon/daemon.h"

int main(int argc, char **argv)
{
	struct daemon_options options = {.log = stderr};
	const struct option_row rows[] = {DAEMON_OPTION_ROWS(&options), {0}};
	const struct command_syntax line = {
		.name = "pullcalld",
		.usage = "[OPTION...]",
		.about =
			"Waits for a job (pullcall load JOB) and talks a stringer through it. If the "
			"job worked on last was cut off, it goes on with that. Stays in the foreground; SIGTERM ends it, SIGHUP makes "
			"it read its bench file again when no job is running.",
		.end = "Exit: 0 done, 1 a file is at fault or another one is running, 2 wrong usage, 69 no "
		       "device or keys, 71 the system, 74 the journal.",
		.options = rows,
	};
	int code = EXIT_DONE;

	standard_files_open();
	command_line_read(&line, argc, argv);
	struct daemon *daemon = daemon_open(&options, &code);
	if (!daemon)
		return code;
	daemon_take_up(daemon);
	code = daemon_run(daemon);
	daemon_close(daemon);
	return code;
}
