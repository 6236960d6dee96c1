/* pullcalld: the daemon on its own, for a computer that does nothing else at the bench.
 *
 * How the program hangs together (src/CMakeLists.txt says which room may use which):
 *
 *   pattern file --+
 *                  +--> sequence: moves, calls --> session --> effects: say, journal, tell
 *   job plan ------+     (frame, job, sequence)       ^          (speech, journal, control)
 *                                                     |
 *                      events: pedal gestures, commands, speaker reports, timers
 *
 * internal.h says what is in which file.
 */
#include "daemon/daemon.h"

#include "base/base.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void print_help(void)
{
	printf("Usage: pullcalld [OPTION...]\n"
	       "\n"
	       "Waits for a job (pullcall load JOB) and talks a stringer through it. Goes on with a\n"
	       "job that was left open. Stays in the foreground; SIGTERM ends it, SIGHUP makes it\n"
	       "read its bench file again when no job is running.\n"
	       "\n"
	       "%s"
	       "  --help, --version\n"
	       "\n"
	       "Exit: 0 done, 1 a file is at fault or another one is running, 2 wrong usage,\n"
	       "69 no device or keys, 71 the system, 74 the journal.\n",
	       daemon_options_help);
}

/* 0 to go on, else the exit code + 1. */
static int read_options(int argc, char **argv, struct daemon_options *options)
{
	static const struct option table[] = {
		DAEMON_LONG_OPTIONS,
		{"help", no_argument, NULL, 'h'},
		{"version", no_argument, NULL, 'V'},
		{NULL, 0, NULL, 0},
	};
	const char *why = NULL;
	int option;

	while ((option = getopt_long(argc, argv, "", table, NULL)) != -1) {
		if (option == 'h') {
			print_help();
			return 1;
		}
		if (option == 'V') {
			puts("pullcalld " PULLCALL_VERSION);
			return 1;
		}
		if (option == '?')
			return 3;
		if (!daemon_option(options, option, optarg, &why)) {
			fprintf(stderr, "pullcalld: %s\n", why);
			return 3;
		}
	}
	if (optind == argc)
		return 0;
	fprintf(stderr, "pullcalld: unexpected \"%s\" (see pullcalld --help)\n", argv[optind]);
	return 3;
}

static void print_note(void *owner, const struct note *note)
{
	struct text line = {0};

	(void)owner;
	if (note->kind == NOTE_RECORD)
		return;
	note_line(note, &line);
	fprintf(stderr, "%s\n", text_string(&line));
	text_free(&line);
}

int main(int argc, char **argv)
{
	struct daemon_options options = {.viewer = {.note = print_note}};
	char *why = NULL;

	standard_files_open();
	int code = read_options(argc, argv, &options);

	if (code)
		return code - 1;
	struct daemon *daemon = daemon_open(&options, &code);
	if (!daemon)
		return code;
	if (daemon_reopen(daemon, NULL, &why) != DAEMON_EXIT_DONE)
		fprintf(stderr, "pullcalld: waiting for a job (%s)\n", why);
	free(why);
	code = daemon_run(daemon);
	daemon_close(daemon);
	return code;
}
