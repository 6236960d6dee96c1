/* pullcall drill: questions for a trainee, and the test. */
#include "cli/cli.h"

#include <ftw.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static int remove_one(const char *path, const struct stat *status, int type, struct FTW *where)
{
	(void)status;
	(void)type;
	(void)where;
	return remove(path);
}

static void print_row(void *context, sqlite3_stmt *row)
{
	bool *any = context;

	printf("%s  %s (%d): %s\n", *any ? "" : "Practise next, and how often each was missed:\n",
	       (const char *)sqlite3_column_text(row, 0), sqlite3_column_int(row, 1),
	       (const char *)sqlite3_column_text(row, 2));
	*any = true;
}

/* What was missed, the most often first. */
static void print_missed(const char *path)
{
	static const char sql[] = "SELECT c.skill, count(*), c.text FROM event AS e JOIN call AS c "
				  "ON c.job = e.job AND c.n = e.call WHERE e.kind = 'wrong' "
				  "GROUP BY c.n ORDER BY 2 DESC, c.n";
	static const char right_sql[] = "SELECT count(*) FROM event WHERE kind = 'right'";
	struct journal *journal = journal_there(path);
	bool any = false;
	int right = 0;

	if (journal) {
		journal_each(journal, sql, NULL, print_row, &any);
		journal_ask(journal, right_sql, NULL, TARGETS(INTO(right)));
	}
	if (!any && right == 0)
		puts("No question was answered.");
	else if (!any)
		printf("%d answered, nothing missed.\n", right);
	journal_close(journal);
}

static bool is_path(const char *word)
{
	return strpbrk(word, "./");
}

/* A plan in that folder for a pattern, which is found beside it. */
static char *plan_for(const char *pattern, const char *folder)
{
	char *path = memory_format("%s/plan.yaml", folder), *there = realpath(pattern, NULL);
	char *named = memory_copy(pattern), *stem = basename(named);
	FILE *out = fopen(path, "w");

	stem[strcspn(stem, ".")] = '\0';
	char *here = memory_format("%s/%s.yaml", folder, stem);
	if (!there || symlink(there, here) < 0)
		perror(here);
	if (out) {
		fprintf(out,
			"job: drill\npattern: %s\nstringer: trainee\nmethod: two-piece\n"
			"tension: { mains: 24 kg, crosses: 23 kg }\n"
			"beyond_makers_range: wanted\n",
			stem);
		fclose(out);
	}
	free(here);
	free(named);
	free(there);
	return path;
}

/* The plan of a drill: a job's, or one made in that folder for a pattern, which its file or its
 * name says; NULL if there is no such pattern. */
static char *drill_plan(const char *what, const char *folder)
{
	char *looked = NULL, *plan = NULL;

	if (is_path(what))
		return file_is_pattern(what) ? plan_for(what, folder) : memory_copy(what);
	char *pattern = path_find(PATH_PATTERNS, what, "./", &looked);
	if (pattern)
		plan = plan_for(pattern, folder);
	else
		fprintf(stderr,
			"pullcall: there is no pattern \"%s\" in %s; \"pullcall pattern list\" "
			"shows those there are\n",
			what, looked);
	free(pattern);
	free(looked);
	return plan;
}

/* Nobody counts what is drilled: the journal is one that goes with the drill. */
static int drill(struct run_wish *wish, const char *what)
{
	const char *under = getenv("TMPDIR");
	char *folder = memory_format("%s/pullcall-drill-XXXXXX", under ? under : "/tmp");
	int code = EXIT_NO;

	if (!mkdtemp(folder)) {
		fprintf(stderr, "pullcall: %s: no folder can be made there\n", folder);
		free(folder);
		return EXIT_IO;
	}
	char *journal = memory_format("%s/journal.db", folder);
	char *plan = drill_plan(what, folder);
	if (plan) {
		wish->daemon.journal = journal;
		wish->job = plan;
		printf("Drill with --seed %llu\n", (unsigned long long)wish->daemon.seed);
		fflush(stdout);
		code = run_wish(wish);
		if (code == EXIT_DONE)
			print_missed(journal);
	}
	nftw(folder, remove_one, 4, FTW_DEPTH | FTW_PHYS);
	free(folder);
	free(journal);
	free(plan);
	return code;
}

/* Skills first, then perhaps a pattern or a job. False if one is unknown. */
static bool read_words(char **words, const char **skills, const char **what)
{
	const char *names[TEACH_SKILLS + 1] = {0};
	int count = 0;

	for (int i = 0; i < TEACH_SKILLS; i++)
		names[i] = teach_skill_name(i);
	for (; *words; words++) {
		if (teach_skill(*words) >= 0 && count < TEACH_SKILLS) {
			skills[count++] = *words;
			continue;
		}
		if (!words[1] && count > 0 && !fault_did_you_mean(*words, names)) {
			*what = *words;
			return true;
		}
		char *why = count == 0 && is_path(*words)
				    ? memory_format("say a skill before the file, as in: "
						    "pullcall drill weave %s",
						    *words)
				    : fault_unknown("skill", *words, names);
		fprintf(stderr, "pullcall: %s\n", why);
		free(why);
		return false;
	}
	return true;
}

static bool read_seed(const char *value, void *out)
{
	char *end;

	*(uint64_t *)out = strtoull(value, &end, 10);
	return end > value && *end == '\0' && *value != '-';
}

static char *about_skills(void)
{
	struct text about = {0};

	text_add(&about, "Skills:");
	for (int i = 0; i < TEACH_SKILLS; i++)
		text_format(&about, "%s %s", i ? "," : "", teach_skill_name(i));
	return text_take(&about);
}

int command_drill(int argc, char **argv)
{
	const char *skills[TEACH_SKILLS + 1] = {0};
	struct run_wish wish = {.daemon = {.once = true,
					   .keys = true,
					   .teach = "yes",
					   .skills = skills,
					   .seed = (uint64_t)clock_wall_us() % 1000000}};
	const char *what = "open-16x19"; /* unless a pattern is given */
	bool test = false;
	const struct option_row options[] = {
		{"test", .flag = &test},
		{"seed", .read = read_seed, .out = &wish.daemon.seed, .expected = "a number"},
		DAEMON_OPTION_ROWS(&wish.daemon),
		{0},
	};

	char *about = about_skills();
	const struct command_syntax *line = command_read(options, about, argc, argv);
	free(about);
	if (test && argv[optind + 1])
		command_line_wrong(line, "--test takes one job plan");
	if (test) {
		wish.job = argv[optind];
		wish.daemon.teach = "test";
		wish.daemon.skills = NULL;
		if (!plan_exists(wish.job, NULL))
			return EXIT_NO;
		printf("Sheet for the trainer: %s\n\n%s", wish.job, drill_sheet_txt);
		return run_wish(&wish);
	}
	return read_words(argv + optind, skills, &what) ? drill(&wish, what) : EXIT_NO;
}
