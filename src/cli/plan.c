/* pullcall plan new: a job plan from a few questions, from options, or as a racket was strung
 * before. Its form is for the columns of `pullcall rack add --csv`, too. */
#include "cli/cli.h"
#include "frame/frame.h"
#include "job/job.h"
#include "sequence/sequence.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- the form ---- */

static bool read_plan(const char *file, struct faults *faults)
{
	struct plan plan;
	bool good = plan_read(&plan, "answers", file, NULL, &MACHINE_DEFAULT, faults);

	plan_free(&plan);
	return good;
}

static bool is_taken(const char *name)
{
	char *path = memory_format("%s.yaml", name);
	bool taken = access(path, F_OK) == 0;

	free(path);
	return taken;
}

/* A job that the new one is like, and where it is found. */
struct earlier {
	const char *journal; /* NULL: the usual one */
	char *name;          /* "job 3, ridge-court-0042, strung on 26 November 2026" */
	char answer[QUESTIONS_MAX][ANSWER_MAX];
	struct text others; /* what the form has no question for, as it was written */
	struct text comment;
};

/* What is another job's, at another time; and string that was on hand is cut. */
static const char *const anew[] = {"job",
				   "due",
				   "notes",
				   "string/mains/on_hand",
				   "string/crosses/on_hand",
				   "string/whole/on_hand"};

static bool is_anew(const char *key)
{
	for (size_t i = 0; i < sizeof(anew) / sizeof(anew[0]); i++)
		if (strcmp(anew[i], key) == 0)
			return true;
	return false;
}

/* Says what is changed of an earlier job. */
static void compare(struct form *form, struct earlier *earlier)
{
	const char *before = ", but for: ";

	text_clear(&earlier->comment);
	text_format(&earlier->comment, "As %s", earlier->name);
	for (int n = 0; form->questions[n].key; n++) {
		const struct question *question = &form->questions[n];
		const char *then = earlier->answer[n];
		if (!*then && question->standard)
			then = question->standard;
		if (is_anew(question->key) || strcmp(then, form->answer[n]) == 0)
			continue;
		text_format(&earlier->comment, "%s%s was %s", before, question->key,
			    *then ? then : "not given");
		before = ", ";
	}
	text_add_char(&earlier->comment, '.');
	form->comment = text_string(&earlier->comment);
}

/* Whether a job of that name is open or on the rack. */
static bool is_open(const struct earlier *earlier, const char *name)
{
	static const char sql[] =
		"SELECT 1 FROM rack WHERE name = :name UNION SELECT 1 FROM job "
		"JOIN job_state ON job = id WHERE name = :name AND state = 'open'";
	struct journal *journal = journal_there(earlier->journal);
	bool open = false;

	if (journal)
		journal_ask(journal, sql, FIELDS(field_text("name", name)), TARGETS(INTO(open)));
	journal_close(journal);
	return open;
}

/* Gives a plan what it needs and nobody said: a method, and a name made of its racket or pattern
 * and the minute. */
static void complete(struct form *form)
{
	const char *racket = form_answer(form, "racket");
	char *method = form_answer(form, "method"), *name = form->answer[0];
	struct earlier *earlier = form->context;
	time_t now = (time_t)(clock_wall_us() / SECOND_US);
	struct tm local;
	char minute[32];
	int length = 0;

	if (form->ask_changes)
		compare(form, earlier);
	if (!*method)
		snprintf(method, ANSWER_MAX, "%s", method_names[METHOD_TWO_PIECE]);
	if (*name || !localtime_r(&now, &local) ||
	    !strftime(minute, sizeof(minute), "-%Y%m%d-%H%M", &local))
		return;
	/* It becomes a file's name: letters, digits and hyphens, but none to begin with. */
	for (const char *at = *racket ? racket : form_answer(form, "pattern"); *at; at++)
		if (length < 40 && (isalnum((unsigned char)*at) || length > 0))
			name[length++] = (char)(isalnum((unsigned char)*at) ? *at : '-');
	length += sprintf(name + length, "%s", length ? minute : minute + 1);
	for (int n = 2; (is_taken(name) || is_open(earlier, name)) && n < 100; n++)
		snprintf(name + length, ANSWER_MAX - (size_t)length, "-%d", n);
}

void plan_form(struct form *form)
{
	static const struct question *questions;

	if (!questions)
		questions = form_questions(plan_questions_yaml);
	*form = (struct form){
		.what = "plan",
		.about = "Questions about a racket to be strung.",
		.comment = "Written from answers at the counter.",
		.then = "pullcall run",
		.questions = questions,
		.read = read_plan,
		.is_taken = is_taken,
		.complete = complete,
	};
}

/* ---- the command line ---- */

struct wish {
	const char *given[QUESTIONS_MAX]; /* what the options say, by the form's questions */
	char *help[QUESTIONS_MAX];        /* of these options */
	const char *like;
	const char *sport;
	const char *counts; /* "16x19" */
	const char *output;
	struct query query;
};

/* ---- as an earlier job ---- */

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

static void describe(const struct journal_job *job, struct earlier *earlier)
{
	time_t began = (time_t)(job->created_us / SECOND_US);
	struct tm local;
	char day[40] = "";

	if (localtime_r(&began, &local))
		strftime(day, sizeof(day), "%d %B %Y", &local);
	earlier->name = memory_format("job %lld, %s, %s on %s%s", (long long)job->number, job->name,
				      job->last == JOURNAL_FINISHED ? "strung" : "begun",
				      day + (day[0] == '0'),
				      job->open                       ? " and not finished yet"
				      : job->last != JOURNAL_FINISHED ? " and abandoned"
								      : "");
}

/* Fills the form as an earlier job was strung. */
static bool fill_like(struct form *form, const struct journal_job *job, struct earlier *earlier)
{
	struct faults faults = {0};
	struct yaml_document *plan = yaml_read_text(job->plan_file, job->plan_text, &faults);

	for (int n = 0; plan && form->questions[n].key; n++) {
		const char *value = yaml_scalar(plan->root, form->questions[n].key);
		if (value)
			snprintf(form->answer[n], ANSWER_MAX, "%s", value);
	}
	if (plan)
		keep_others(form, plan, &earlier->others);
	for (size_t i = 0; i < sizeof(anew) / sizeof(anew[0]); i++)
		form_answer(form, anew[i])[0] = '\0';
	memcpy(earlier->answer, form->answer, sizeof(earlier->answer));
	describe(job, earlier);
	yaml_free(plan);
	faults_report(&faults);
	return plan != NULL;
}

/* The job that the new one is to be like: the one named, or the last of the racket. */
static int find_job(const struct wish *wish, const char *racket, struct journal_job *job)
{
	static const char last[] = "SELECT id FROM job WHERE racket = :racket "
				   "ORDER BY created_us DESC LIMIT 1";
	char *number = NULL, *unknown = NULL;
	struct journal *journal = wish->like ? query_open(&wish->query, JOURNAL_READ)
					     : journal_there(wish->query.journal);
	enum journal_status status = JOURNAL_OK;

	if (!journal)
		return EXIT_DONE;
	if (!wish->like)
		status = journal_ask(journal, last, FIELDS(field_text("racket", racket)),
				     TARGETS(INTO(number)));
	const char *which = wish->like ? wish->like : number;
	if (status == JOURNAL_OK && which)
		status = journal_find(journal, which, job);
	else if (status == JOURNAL_OK)
		unknown = review_unknown(journal, REVIEW_RACKET, racket);
	/* No fault: a racket may be new. What may be meant instead stands behind its name. */
	if (unknown)
		fprintf(stderr,
			"pullcall: racket %s was not strung before: nothing is taken over%s\n",
			racket, strchr(unknown, ';') ? strrchr(unknown, ';') : "");
	free(unknown);
	free(number);
	return query_close(journal, status);
}

/* Fills the form as far as can be told. -1 to go on, else the exit code. */
static int fill(struct form *form, const struct wish *wish, struct earlier *earlier)
{
	const char *racket = wish->given[form_question(form, "racket")];
	struct journal_job job = {0};
	int code = wish->like || racket ? find_job(wish, racket, &job) : EXIT_DONE;

	if (code == EXIT_DONE && job.plan_text && !fill_like(form, &job, earlier))
		code = EXIT_NO;
	journal_job_free(&job);
	if (code != EXIT_DONE)
		return code;
	if (wish->counts &&
	    !pattern_of_counts(wish->counts, wish->sport, form_answer(form, "pattern")))
		return EXIT_NO;
	for (int n = 0; form->questions[n].key; n++)
		if (wish->given[n])
			snprintf(form->answer[n], ANSWER_MAX, "%s", wish->given[n]);
	return -1;
}

/* ---- the command ---- */

/* Adds an option for each question that has one. */
static void add_options(const struct question *questions, struct wish *wish,
			struct option_row *options)
{
	for (int n = 0; questions[n].key; n++)
		if (questions[n].option)
			*options++ = (struct option_row){
				questions[n].option,
				0,
				questions[n].value,
				wish->help[n] = memory_format("%s. %s", questions[n].ask,
							      questions[n].help),
				.text = &wish->given[n],
			};
}

int command_plan(int argc, char **argv)
{
	struct wish wish = {0};
	struct option_row options[QUESTIONS_MAX + 6] = {
		{"like", .text = &wish.like},   {"count", .text = &wish.counts},
		{"sport", .text = &wish.sport}, {"output", 'o', .text = &wish.output},
		QUERY_JOURNAL_ROW(&wish.query),
	};
	struct earlier earlier = {0};
	struct form form;

	plan_form(&form);
	add_options(form.questions, &wish, options + 5);
	const struct command_syntax *line = command_read(options, NULL, argc, argv);
	if (strcmp(argv[optind], "new") != 0)
		command_line_wrong(line, "unknown plan command \"%s\"", argv[optind]);
	earlier.journal = wish.query.journal;
	char *option = journal_option(wish.query.journal);
	char *then = memory_format("%s%s", form.then, option);
	form.then = then;
	int code = fill(&form, &wish, &earlier);
	form.context = &earlier;
	form.given = wish.given;
	form.ask_changes = earlier.name;
	form.more = text_string(&earlier.others);
	if (code < 0)
		code = form_run(&form, wish.output);
	free(then);
	free(option);
	free(earlier.name);
	text_free(&earlier.others);
	text_free(&earlier.comment);
	for (int n = 0; n < QUESTIONS_MAX; n++)
		free(wish.help[n]);
	return code;
}
