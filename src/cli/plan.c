/* pullcall plan new: a job plan from a few questions, from options, or as a racket was strung
 * before.
 */
#include "base/base.h"
#include "cli/cli.h"
#include "frame/frame.h"
#include "job/job.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct wish {
	const char *given[QUESTIONS_MAX]; /* what the options say, by the form's questions */
	const char *like;
	const char *sport;
	const char *counts; /* "16x19" */
	const char *output;
	struct query query;
};

static const char **given(struct wish *wish, const char *key)
{
	return &wish->given[plan_question(key)];
}

/* ---- as an earlier job ---- */

/* The value of "tension/mains" in a plan; NULL: it has none. */
static const char *value_of(const struct yaml_node *map, const char *key)
{
	const struct yaml_node *node = map;

	while (node && *key) {
		size_t length = strcspn(key, "/");
		char *part = memory_copy_part(key, length);
		node = node->kind == YAML_MAP ? yaml_get(node, part) : NULL;
		free(part);
		key += length + (key[length] == '/');
	}
	return node && node->kind == YAML_SCALAR ? node->text : NULL;
}

static size_t line_offset(const struct yaml_document *plan, const struct yaml_node *node)
{
	return yaml_offset(plan, (struct position){node->key_position.line, 1});
}

/* What the form has no question for is kept as it was written. */
static void keep_others(const struct form *form, const struct yaml_document *plan,
			struct text *others)
{
	for (const struct yaml_node *node = plan->root->first; node; node = node->next) {
		size_t length = strlen(node->key);
		bool asked = false;
		for (int n = 0; form->questions[n].key && !asked; n++)
			asked = strncmp(form->questions[n].key, node->key, length) == 0 &&
				strchr("/", form->questions[n].key[length]);
		if (asked)
			continue;
		size_t from = line_offset(plan, node);
		size_t to = node->next ? line_offset(plan, node->next) : strlen(plan->bytes);
		text_add_part(others, plan->bytes + from, to - from);
	}
}

/* Fills the form as an earlier job was strung. */
static bool fill_like(struct form *form, const struct journal_job *job, struct text *others)
{
	struct faults faults = {0};
	struct yaml_document *plan =
		yaml_read_bytes(job->plan_file, job->plan_text, strlen(job->plan_text), &faults);

	for (int n = 0; plan && form->questions[n].key; n++) {
		const char *value = value_of(plan->root, form->questions[n].key);
		if (value)
			snprintf(form->answer[n], ANSWER_MAX, "%s", value);
	}
	if (plan)
		keep_others(form, plan, others);
	/* Another job, at another time. */
	form->answer[plan_question("job")][0] = '\0';
	form->answer[plan_question("due")][0] = '\0';
	form->answer[plan_question("notes")][0] = '\0';
	yaml_free(plan);
	faults_report(&faults);
	return plan != NULL;
}

/* A racket may be the first of a new journal. */
static bool has_journal(const struct query *query)
{
	char *path = query->journal ? memory_copy(query->journal) : journal_default_path();
	bool there = path && access(path, F_OK) == 0;

	free(path);
	return there;
}

/* The job that the new one is to be like: the one named, or the last of the racket. */
static int find_job(struct wish *wish, struct journal_job *job)
{
	static const char last[] = "SELECT id FROM job WHERE racket = :racket "
				   "ORDER BY created_us DESC LIMIT 1";
	char *number = NULL;
	struct journal *journal = query_open(&wish->query, JOURNAL_READ);
	enum journal_status status = JOURNAL_OK;

	if (!wish->like)
		status = journal_ask_text(
			journal, last,
			(struct journal_field[]){field_text("racket", *given(wish, "racket")), {0}},
			&number);
	const char *which = wish->like ? wish->like : number;
	if (status == JOURNAL_OK && which)
		status = journal_find(journal, which, job);
	free(number);
	return query_close(journal, status);
}

/* ---- by counts ---- */

/* The only pattern of a sport with so many strings. */
static bool find_pattern(const struct wish *wish, char name[static ANSWER_MAX])
{
	char **names = path_names(PATH_PATTERNS, "./");
	struct faults faults = {0};
	struct text found = {0};
	int count = 0;

	for (char **at = names; *at; at++) {
		char *looked = NULL;
		char *path = path_find(PATH_PATTERNS, *at, "./", &looked);
		struct pattern *pattern = path ? pattern_read(path, &faults) : NULL;
		char *counts =
			pattern ? memory_format("%dx%d", pattern->mains, pattern->crosses) : NULL;
		if (pattern && strcmp(counts, wish->counts) == 0 &&
		    (!wish->sport || strcmp(wish->sport, sport_names[pattern->sport]) == 0)) {
			text_format(&found, "%s%s", count++ ? ", " : "", pattern->name);
			snprintf(name, ANSWER_MAX, "%s", pattern->name);
		}
		pattern_free(pattern);
		free(counts);
		free(looked);
		free(path);
		free(*at);
	}
	if (count != 1)
		fprintf(stderr, "pullcall: %s pattern%s %s%s%s\n", count ? "several" : "no",
			count ? "s are" : " is", wish->counts,
			count ? ", say which with --pattern: " : "", text_string(&found));
	text_free(&found);
	faults_free(&faults);
	free(names);
	return count == 1;
}

/* ---- the command ---- */

/* Puts what the options say into the form; what they change of an earlier job goes into
 * *changed. */
static void fill_options(struct form *form, const struct wish *wish, struct text *changed)
{
	for (int n = 0; form->questions[n].key; n++) {
		const char *value = wish->given[n];
		char *answer = form->answer[n];
		if (!value)
			continue;
		if (answer[0] && strcmp(answer, value) != 0)
			text_format(changed, "%s%s was %s", changed->length ? ", " : "",
				    form->questions[n].key, answer);
		snprintf(answer, ANSWER_MAX, "%s", value);
	}
}

/* Fills the form as far as can be told. -1 to go on, else the exit code. */
static int fill(struct form *form, struct wish *wish, struct text *comment, struct text *others)
{
	struct journal_job job = {0};
	struct text changed = {0};
	bool known = wish->like || (*given(wish, "racket") && has_journal(&wish->query));
	int code = known ? find_job(wish, &job) : EXIT_DONE;

	if (code != EXIT_DONE)
		return code;
	bool good = !job.plan_text || fill_like(form, &job, others);
	if (good && wish->counts)
		good = find_pattern(wish, form->answer[plan_question("pattern")]);
	fill_options(form, wish, &changed);
	if (job.plan_text)
		text_format(comment, "As %s was strung%s%s.", job.name,
			    changed.length ? ", but for: " : "", text_string(&changed));
	text_free(&changed);
	journal_job_free(&job);
	return good ? -1 : EXIT_NO;
}

int command_plan(int argc, char **argv)
{
	struct wish wish = {0};
	const struct option_row options[] = {
		{"like", 0, "JOB", "as this job of the journal was strung", .text = &wish.like},
		{"racket", 0, "MARK", "the racket; as it was strung last, if it ever was",
		 .text = given(&wish, "racket")},
		{"pattern", 0, "NAME", "the pattern", .text = given(&wish, "pattern")},
		{"count", 0, "COUNTS", "the pattern with so many strings: 16x19",
		 .text = &wish.counts},
		{"sport", 0, "SPORT", "with --count: tennis, badminton, squash or racquetball",
		 .text = &wish.sport},
		{"stringer", 0, "NAME", "who strings it", .text = given(&wish, "stringer")},
		{"mains", 0, "TENSION", "of the mains: 54lb",
		 .text = given(&wish, "tension/mains")},
		{"crosses", 0, "TENSION", "of the crosses",
		 .text = given(&wish, "tension/crosses")},
		{"method", 0, "METHOD", "two-piece (unless given) or one-piece",
		 .text = given(&wish, "method")},
		{"detail", 0, "DETAIL", "learner, bench or quick", .text = given(&wish, "detail")},
		{"mains-string", 0, "NAME", "what the string of the mains is called",
		 .text = given(&wish, "string/mains/name")},
		{"crosses-string", 0, "NAME", "that of the crosses",
		 .text = given(&wish, "string/crosses/name")},
		{"string", 0, "NAME", "that of a one-piece job",
		 .text = given(&wish, "string/whole/name")},
		{"mains-reel", 0, "REEL", "the reel that the mains are cut from",
		 .text = given(&wish, "string/mains/reel")},
		{"crosses-reel", 0, "REEL", "that of the crosses",
		 .text = given(&wish, "string/crosses/reel")},
		{"reel", 0, "REEL", "that of a one-piece job",
		 .text = given(&wish, "string/whole/reel")},
		{"job", 0, "NAME",
		 "its name; unless given, the racket or the pattern and the minute",
		 .text = given(&wish, "job")},
		{"customer", 0, "NAME", "whose it is", .text = given(&wish, "customer")},
		{"due", 0, "DATE", "the day on which it must be done", .text = given(&wish, "due")},
		{"notes", 0, "TEXT", "said when the job begins", .text = given(&wish, "notes")},
		{"output", 'o', "FILE",
		 "where to write, \"-\" for standard output; without it NAME.yaml in this folder to a "
		 "terminal, standard output otherwise",
		 .text = &wish.output},
		QUERY_JOURNAL_ROW(&wish.query),
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall plan",
		.usage = "new [OPTION...]",
		.about =
			"Writes a job plan. What the options do not say is asked; if they say pattern, "
			"stringer and both tensions, nothing is. With --like or --racket the plan of an earlier "
			"job is taken, and a comment says what is changed. An existing file is never "
			"overwritten.",
		.end = "Exit: 0 done, 1 an answer is at fault or there is no such job, 2 wrong usage, 73 the file "
		       "cannot be created, 74 it cannot be written.",
		.operand = "new",
		.least = 1,
		.most = 1,
		.options = options,
	};
	struct text comment = {0}, others = {0};
	struct form form;

	command_line_read(&line, argc, argv);
	if (strcmp(argv[optind], "new") != 0)
		command_line_wrong(&line, "unknown plan command \"%s\"", argv[optind]);
	plan_form(&form);
	int code = fill(&form, &wish, &comment, &others);
	if (code < 0) {
		form.answered = plan_missing(&form, 1) < 0;
		form.more = text_string(&others);
		if (comment.length)
			form.comment = text_string(&comment);
		plan_defaults(&form);
		code = form_run(&form, wish.output);
	}
	text_free(&comment);
	text_free(&others);
	return code;
}
