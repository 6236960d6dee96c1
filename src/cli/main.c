/* pullcall: what a stringer types. src/daemon/main.c has the map of the whole. */
#include "base/base.h"
#include "cli/cli.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const struct {
	const char *name;
	const char *usage;
	const char *summary;
	command_function *run;
} commands[] = {
	{"check", "FILE...", "look for faults in patterns, job plans, phrasebooks, bench files",
	 command_check},
	{"steps", "JOB", "the whole job on paper: holes, moves, calls, lengths", command_steps},
	{"draw", "FILE", "the string bed as a picture, or a bench card", command_draw},
	{"run", "JOB", "string this racket now", command_run},
	{"load", "JOB", "hand a job to a running pullcalld", command_load},
	{"tell", "WHAT", "next, back, pause, why, redo, slipped, broke, choices, stop",
	 command_tell},
	{"watch", "", "follow a running job, one line an event", command_watch},
	{"board", "", "a page for a tablet or a second screen", command_board},
	{"pedals", "[learn]", "the pedals plugged in; what a pedal sends", command_pedals},
	{"voices", "[try|record-list]", "the voices there are; choose one", command_voices},
	{"pattern", "list|new", "the patterns there are; write one by answering questions",
	 command_pattern},
	{"plan", "new", "write a job plan by answering questions, or like an earlier job",
	 command_plan},
	{"rack", "WHAT", "the jobs that wait their turn: add, list, move, drop", command_rack},
	{"reel", "WHAT", "what is left on the reels of string: list, add, set", command_reel},
	{"label", "JOB", "a label for a strung racket", command_label},
	{"jobs", "", "the jobs in the journal", command_jobs},
	{"review", "[JOB]", "where the minutes went", command_review},
	{"drill", "SKILL...", "questions for a trainee, without a racket", command_drill},
	{"export", "", "the journal for other programs", command_export},
	{"abandon", "JOB", "close an open job for good", command_abandon},
	{"journal", "WHAT", "back up, merge, anonymise a name", command_journal},
};

enum { COMMANDS = sizeof(commands) / sizeof(commands[0]) };

static void print_help(void)
{
	puts("Usage: pullcall COMMAND [ARGUMENT...]\n"
	     "\n"
	     "Talks a racket stringer through a job, one call at a time.\n");
	for (int i = 0; i < COMMANDS; i++)
		printf("  %-8s %-9s %s\n", commands[i].name, commands[i].usage,
		       commands[i].summary);
	puts("\n\"pullcall COMMAND --help\" tells more; so do the manual pages, pullcall(1) first.\n"
	     "\n"
	     "Wear eye protection while pulling and cutting. The instructions of the frame's and\n"
	     "the machine's makers come before anything that this program says.");
}

static int no_such_command(const char *word)
{
	const char *names[COMMANDS + 1] = {0};

	for (int i = 0; i < COMMANDS; i++)
		names[i] = commands[i].name;
	const char *nearest = fault_did_you_mean(word, names);
	if (nearest)
		fprintf(stderr, "pullcall: unknown command \"%s\": did you mean \"%s\"?\n", word,
			nearest);
	else
		fprintf(stderr, "pullcall: unknown command \"%s\" (see pullcall --help)\n", word);
	return EXIT_USAGE;
}

static int run_command(int argc, char **argv)
{
	for (int i = 0; i < COMMANDS; i++)
		if (strcmp(argv[0], commands[i].name) == 0)
			return commands[i].run(argc, argv);
	return no_such_command(argv[0]);
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
