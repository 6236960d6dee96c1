/* pullcall: what a stringer types. DEVELOPERS.md has the map of the whole. */
#include "cli/cli.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const struct {
	const char *name;
	command_function *run;
} commands[] = {
	{"check", command_check},   {"steps", command_steps},     {"draw", command_draw},
	{"run", command_run},       {"load", command_load},       {"tell", command_tell},
	{"watch", command_watch},   {"board", command_board},     {"pedals", command_pedals},
	{"voices", command_voices}, {"pattern", command_pattern}, {"plan", command_plan},
	{"rack", command_rack},     {"reel", command_reel},       {"label", command_label},
	{"jobs", command_jobs},     {"review", command_review},   {"drill", command_drill},
	{"export", command_export}, {"abandon", command_abandon}, {"journal", command_journal},
};

enum { COMMANDS = sizeof(commands) / sizeof(commands[0]) };

static void print_help(void)
{
	puts("Usage: pullcall COMMAND [ARGUMENT...]\n"
	     "\n"
	     "Talks a racket stringer through a job, one call at a time.\n");
	for (int i = 0; i < COMMANDS; i++) {
		const char *name = commands[i].name, *brief = command_text(name, "brief");
		printf("  %-8s %-9s %s\n", name, brief ? brief : "", command_text(name, "summary"));
	}
	puts("\n\"pullcall COMMAND --help\" tells more; so do the manual pages, pullcall(1) first.\n"
	     "\n"
	     "Wear eye protection while pulling and cutting. The instructions of the frame's and\n"
	     "the machine's makers come before anything that this program says.");
}

static int run_command(int argc, char **argv)
{
	const char *names[COMMANDS + 1] = {0};

	for (int i = 0; i < COMMANDS; i++) {
		names[i] = commands[i].name;
		if (strcmp(argv[0], names[i]) == 0)
			return commands[i].run(argc, argv);
	}
	command_line_wrong(&(struct command_syntax){.name = "pullcall"}, "%s",
			   fault_unknown("command", argv[0], names));
}

/* At exit: fails if the output could not be written, because the disk is full, say. */
static void close_output(void)
{
	if (fflush(stdout) == 0 && !ferror(stdout))
		return;
	if (errno != EPIPE)
		fprintf(stderr, "pullcall: standard output: %s\n", strerror(errno));
	_exit(EXIT_IO);
}

static bool is_any(const char *word, const char *a, const char *b, const char *c)
{
	return strcmp(word, a) == 0 || strcmp(word, b) == 0 || strcmp(word, c) == 0;
}

int main(int argc, char **argv)
{
	static char help_option[] = "--help";
	bool help = argc < 2 || is_any(argv[1], "--help", "-h", "help");

	standard_files_open();
	atexit(close_output);
	screen_mend();
	if (help && argc < 3) {
		print_help();
		return EXIT_DONE;
	}
	if (help)
		return run_command(2, (char *[]){argv[2], help_option, NULL});
	if (is_any(argv[1], "--version", "-V", "version")) {
		puts("pullcall " PULLCALL_VERSION);
		return EXIT_DONE;
	}
	return run_command(argc - 1, argv + 1);
}
