/* pullcall run: the daemon in the foreground, with a screen where there is a terminal. */
#include "cli/cli.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Without a plan the rack is worked through, open jobs and all. */
static bool rack_has_jobs(const struct run_wish *wish)
{
	struct journal *journal = journal_there(wish->daemon.journal);
	bool any = false;

	if (journal)
		journal_ask(journal, "SELECT count(*) FROM rack", NULL, TARGETS(INTO(any)));
	journal_close(journal);
	return any;
}

static void read_command_line(int argc, char **argv, struct run_wish *wish)
{
	bool teach = false;
	const struct option_row options[] = {
		{"resume", .flag = &wish->resume},
		{"new", .flag = &wish->anew},
		{"teach", .flag = &teach},
		DAEMON_OPTION_ROWS(&wish->daemon),
		{0},
	};

	const struct command_syntax *line = command_read(options, NULL, argc, argv);
	if (wish->resume && wish->anew)
		command_line_wrong(line, "--resume goes on with a job, --new begins one: give one "
					 "of them");
	wish->job = argv[optind];
	wish->daemon.teach = teach ? "yes" : NULL;
	wish->daemon.rack = !wish->job && !wish->resume && rack_has_jobs(wish);
	if (!wish->job && !wish->resume && !wish->daemon.rack)
		command_line_wrong(line, "a job plan is missing, and nothing waits on the rack");
	if (wish->resume || !wish->job || strcmp(wish->job, "-") != 0)
		return;
	if (wish->daemon.pedals == DAEMON_PEDALS_KEYS)
		command_line_wrong(line, "with the plan on standard input no keys can come from "
					 "there: name its file");
	wish->daemon.keys = false;
}

bool plan_exists(const char *path, const char *command)
{
	if (strcmp(path, "-") == 0 || access(path, F_OK) == 0)
		return true;
	fprintf(stderr, "%s: error: %s [file-open]\n", path, strerror(errno));
	char *pattern = strchr(path, '/') ? NULL : path_find(PATH_PATTERNS, path, NULL, NULL);
	if (pattern)
		fprintf(stderr,
			"pullcall: %s is a pattern; a job plan names it. The least that a plan says:\n"
			"\n"
			"job: NAME\n"
			"pattern: %s\n"
			"stringer: NAME\n"
			"method: two-piece\n"
			"tension: { mains: 54 lb, crosses: 52 lb }\n",
			path, path);
	else if (command && !strpbrk(path, "./"))
		fprintf(stderr,
			"pullcall: an open job is named by --resume: pullcall %s --resume %s\n",
			command, path);
	free(pattern);
	return false;
}

/* Lists them and asks for one, which the caller frees; NULL if nobody answers. */
static char *ask_which(struct journal *journal, const struct journal_job *jobs, int count)
{
	char *line = NULL, *why = NULL;
	size_t capacity = 0;
	struct text list = {0};
	struct journal_job job = {0};
	bool found = false;

	open_jobs_list(jobs, count, &list);
	fprintf(stderr, "Several jobs are open:%s\n", text_string(&list));
	text_free(&list);
	while (!found && isatty(STDIN_FILENO)) {
		fputs("Which number? ", stderr);
		if (getline(&line, &capacity, stdin) < 0)
			break;
		line[strcspn(line, "\n")] = '\0';
		if (!*line || strcmp(line, "q") == 0)
			break;
		found = open_job_find(journal, line, &job, &why) == EXIT_DONE;
		if (!found)
			fprintf(stderr, "pullcall: %s\n", why);
		free(why);
	}
	journal_job_free(&job);
	if (found)
		return line;
	char *option = journal_option(journal_path(journal));
	fprintf(stderr,
		"pullcall: say the number of one, for example: pullcall run --resume %lld%s\n",
		(long long)jobs[0].number, option);
	free(option);
	free(line);
	return NULL;
}

/* Where several jobs could be meant, what names one, which the caller frees; else NULL. Ends the
 * program if nobody says which. Is called before the pedals take the terminal's keys. */
static char *choose_open_job(const struct run_wish *wish)
{
	const struct query query = {.journal = wish->daemon.journal};
	struct journal *journal = query_open(&query, JOURNAL_READ);
	struct journal_job *jobs = NULL, named = {0};
	char *chosen = NULL, *why = NULL;
	int count = 0;

	if (!wish->job || open_job_find(journal, wish->job, &named, &why) != EXIT_DONE)
		journal_open_jobs(journal, wish->job, &jobs, &count);
	if (count > 1)
		chosen = ask_which(journal, jobs, count);
	bool nobody = count > 1 && !chosen;
	open_jobs_free(jobs, count);
	journal_job_free(&named);
	free(why);
	journal_close(journal);
	if (nobody)
		exit(EXIT_NO);
	return chosen;
}

/* What is wrong with the plan otherwise, the daemon says. */
static void check_stringer(const struct run_wish *wish, struct faults *faults)
{
	struct faults unread = {0};
	struct yaml_document *plan =
		strcmp(wish->job, "-") == 0 ? NULL : yaml_read(wish->job, &unread);

	if (plan) {
		plan->faults = faults;
		stringer_check(plan, wish->daemon.journal);
	}
	yaml_free(plan);
	faults_free(&unread);
}

/* On standard error, and kept for the screen until the first press. */
static void tell(struct text *kept, const char *words)
{
	char *line = memory_format("pullcall: %s", words);

	print_words(stderr, 0, line, "\n");
	text_format(kept, "%s%s", kept->length ? ". " : "", words);
	free(line);
}

static int begin(struct daemon *daemon, const struct run_wish *wish, struct text *kept)
{
	struct faults faults = {0};
	char *told = NULL;
	int code;

	if (wish->resume) {
		code = daemon_reopen(daemon, wish->job, &told);
	} else {
		check_stringer(wish, &faults);
		code = daemon_load(daemon, wish->job, wish->anew, &told, &faults);
	}
	if (told)
		tell(kept, told);
	for (size_t i = 0; i < faults.count; i++)
		text_format(kept, "%s%s", kept->length ? ". " : "", faults.items[i].text);
	free(told);
	faults_report(&faults);
	return code;
}

static bool has_screen(void)
{
	const char *terminal = getenv("TERM");

	return isatty(STDOUT_FILENO) && !(terminal && strcmp(terminal, "dumb") == 0);
}

int run_wish(struct run_wish *wish)
{
	struct text told = {0};
	int code = EXIT_DONE;

	wish->daemon.log = has_screen() ? NULL : stdout;
	struct daemon *daemon = daemon_open(&wish->daemon, &code);
	if (!daemon)
		return code;
	suspend_start(daemon_loop(daemon));
	code = wish->daemon.rack ? EXIT_DONE : begin(daemon, wish, &told);
	if (code == EXIT_DONE && wish->daemon.pedals != DAEMON_PEDALS_NONE &&
	    !daemon_look(daemon).can_press)
		tell(&told, "nothing can press: no pedal is plugged in, and no keys come from "
			    "standard input. Plug in a pedal, or run it in a terminal, where the "
			    "space bar presses; \"pullcall tell next\" does it from elsewhere");
	if (code == EXIT_DONE) {
		if (has_screen())
			screen_open(daemon, told.length ? text_string(&told) : NULL);
		code = daemon_run(daemon);
	}
	screen_close();
	const char *ended = daemon_look(daemon).ended;
	if (ended && code == EXIT_IO)
		tell(&told, ended);
	else if (ended)
		print_words(stdout, 0, ended, "\n");
	daemon_close(daemon);
	text_free(&told);
	return code;
}

int command_run(int argc, char **argv)
{
	struct run_wish wish = {.daemon = {.once = true, .keys = true}};

	read_command_line(argc, argv, &wish);
	char *chosen = wish.resume ? choose_open_job(&wish) : NULL;
	if (chosen)
		wish.job = chosen;
	char *option = journal_option(wish.daemon.journal);
	char *command = memory_format("run%s", option);
	bool there = !wish.job || wish.resume || plan_exists(wish.job, command);
	int code = there ? run_wish(&wish) : EXIT_NO;
	free(command);
	free(option);
	free(chosen);
	return code;
}
