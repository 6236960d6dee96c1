/* pullcall run: the daemon in the foreground, with a screen where there is a terminal. */
#include "base/base.h"
#include "cli/cli.h"
#include "daemon/daemon.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct wish {
	struct daemon_options daemon;
	bool resume;
	bool anew;
	const char *job;
};

struct run {
	struct daemon *daemon;
	bool lines;            /* no screen: one line an event */
	struct screen *screen; /* else NULL until the job has begun */
	char *job;             /* what the last events told, for the last line: its name */
	char *last;            /* what went into the journal last */
	int call, calls;
};

static void remember(struct run *run, const struct note *note)
{
	if (note->kind == NOTE_JOB)
		memory_replace(&run->job, note->name);
	if (note->kind != NOTE_RECORD)
		return;
	memory_replace(&run->last, note->name);
	run->call = note->call;
	run->calls = note->calls;
}

/* When the screen is gone nothing tells any more how the run ended, and what to do next. */
static void print_end(const struct run *run)
{
	if (!run->job || !run->last)
		return;
	if (strcmp(run->last, journal_kind_name(JOURNAL_FINISHED)) == 0)
		printf("%s is done. Where the minutes went: pullcall review %s\n", run->job,
		       run->job);
	else if (strcmp(run->last, journal_kind_name(JOURNAL_ABANDONED)) == 0)
		printf("%s is closed at call %d of %d.\n", run->job, run->call, run->calls);
	else
		printf("%s is kept at call %d of %d. To go on: pullcall run --resume\n", run->job,
		       run->call, run->calls);
}

static void on_note(void *owner, const struct note *note)
{
	struct run *run = owner;
	struct text line = {0};

	remember(run, note);
	if (!run->lines)
		return;
	note_line(note, &line);
	puts(text_string(&line));
	fflush(stdout);
	text_free(&line);
}

static void on_change(void *owner)
{
	const struct run *run = owner;

	if (run->screen)
		screen_draw(run->screen);
}

static bool plan_is_standard_input(const struct wish *wish)
{
	return !wish->resume && wish->job && strcmp(wish->job, "-") == 0;
}

static int read_command_line(int argc, char **argv, struct wish *wish)
{
	const struct option_row options[] = {
		{"resume", 0, NULL, "go on with the job that was left open, or with the one named",
		 .flag = &wish->resume},
		{"new", 0, NULL, "begin anew even if this job was left open", .flag = &wish->anew},
		DAEMON_OPTION_ROWS(&wish->daemon),
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall run",
		.usage = "JOB [OPTION...]\n--resume [JOB] [OPTION...]",
		.about =
			"Strings a racket now. JOB is a job plan. A press of the pedal or the space bar is "
			"the next call; a second press at once says the last call again; holding the pedal "
			"pauses.\n"
			"\n"
			"Keys: space, Enter, n next; r again; b back; p pause; w where; q stop.",
		.end = "Exit: 0 done, or stopped and the place kept, 1 the plan is at fault or another one "
		       "is running, 2 wrong usage, 69 no keys, 71 the system, 74 the journal.",
		.operand = "a job plan",
		.most = 1,
		.options = options,
	};
	int code = command_line_read(&line, argc, argv);

	if (code >= 0)
		return code;
	wish->job = argv[optind];
	if (!wish->job && !wish->resume)
		return command_line_wrong(&line, "a job plan is missing");
	if (!plan_is_standard_input(wish))
		return -1;
	if (wish->daemon.pedals == DAEMON_PEDALS_KEYS)
		return command_line_wrong(&line,
					  "with the plan on standard input no keys can come from "
					  "there: name its file");
	wish->daemon.keys = false;
	return -1;
}

static int resume(struct daemon *daemon, const char *which)
{
	char *why = NULL;
	int code = daemon_reopen(daemon, which, &why);

	if (why)
		fprintf(stderr, "pullcall: %s\n", why);
	free(why);
	return code;
}

/* Whether this very plan was left open. Any other job that was is mentioned. */
static bool was_left_open(struct daemon *daemon, const char *path)
{
	struct faults faults = {0}; /* those of the plan are told when it is loaded */
	char *plan = strcmp(path, "-") == 0 ? NULL : script_plan_text(path, &faults);
	char *name = NULL;
	bool same = plan && daemon_has_open_job(daemon, plan, &name);

	if (same)
		fprintf(stderr,
			"pullcall: job %s was left open: going on with it (--new begins it "
			"anew)\n",
			name);
	else if (daemon_has_open_job(daemon, NULL, &name))
		fprintf(stderr,
			"pullcall: job %s is still open: \"pullcall run --resume %s\" goes on "
			"with it later\n",
			name, name);
	free(name);
	free(plan);
	faults_free(&faults);
	return same;
}

static int begin(struct daemon *daemon, const struct wish *wish)
{
	struct faults faults = {0};

	/* Without a job plan there is only one to go on with. */
	if (wish->resume || !wish->job)
		return resume(daemon, wish->job);
	if (!wish->anew && was_left_open(daemon, wish->job))
		return resume(daemon, NULL);
	int code = daemon_load(daemon, wish->job, &faults);
	faults_report(&faults);
	return code;
}

static bool has_screen(void)
{
	const char *terminal = getenv("TERM");

	return isatty(STDOUT_FILENO) && !(terminal && strcmp(terminal, "dumb") == 0);
}

int command_run(int argc, char **argv)
{
	struct wish wish = {.daemon = {.once = true, .keys = true}};
	struct run run = {.lines = !has_screen()};
	int code = read_command_line(argc, argv, &wish);

	if (code >= 0)
		return code;
	wish.daemon.viewer =
		(struct daemon_viewer){.owner = &run, .note = on_note, .changed = on_change};
	run.daemon = daemon_open(&wish.daemon, &code);
	if (!run.daemon)
		return code;
	suspend_start(daemon_loop(run.daemon), &run.screen);
	code = begin(run.daemon, &wish);
	if (code == DAEMON_EXIT_DONE) {
		if (!run.lines)
			run.screen = screen_open(run.daemon, STDOUT_FILENO);
		code = daemon_run(run.daemon);
	}
	screen_close(run.screen);
	if (run.screen)
		print_end(&run);
	daemon_close(run.daemon);
	free(run.job);
	free(run.last);
	return code;
}
