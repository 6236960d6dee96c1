/* What the commands that read or change a journal share; pullcall journal and abandon. */
#include "cli/cli.h"
#include "job/job.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- which journal, which jobs ---- */

/* Midnight in local time, so many days after the given day. */
static bool read_day(const char *text, int days, int64_t *out_us)
{
	struct tm day;

	if (!clock_read_day(text, &day))
		return false;
	day.tm_mday += days;
	day.tm_isdst = -1;
	*out_us = (int64_t)mktime(&day) * SECOND_US;
	return true;
}

bool query_read_method(const char *value, void *out)
{
	*(const char **)out = value;
	return strcmp(value, method_names[METHOD_TWO_PIECE]) == 0 ||
	       strcmp(value, method_names[METHOD_ONE_PIECE]) == 0;
}

bool query_read_due(const char *value, void *out)
{
	struct tm day;

	*(const char **)out = value;
	return clock_read_day(value, &day);
}

bool query_read_since(const char *value, void *out)
{
	return read_day(value, 0, out);
}

bool query_read_until(const char *value, void *out)
{
	return read_day(value, 1, out);
}

/* Ends the program. Takes the sentence that says why. */
static _Noreturn void give_up(struct journal *journal, char *why, int code)
{
	fprintf(stderr, "pullcall: %s\n", why);
	free(why);
	journal_close(journal);
	exit(code);
}

/* A name that no job has is a slip rather than a wish for an empty list: ends the program. */
static void check_names(struct journal *journal, const struct review_filter *filter)
{
	char *unknown = NULL;
	const char *const names[] = {
		[REVIEW_STRINGER] = filter->stringer,
		[REVIEW_PATTERN] = filter->pattern,
		[REVIEW_RACKET] = filter->racket,
		[REVIEW_CUSTOMER] = filter->customer,
	};

	for (size_t i = 0; i < sizeof(names) / sizeof(names[0]) && !unknown; i++)
		if (names[i])
			unknown = review_unknown(journal, (enum review_name)i, names[i]);
	if (unknown)
		give_up(journal, unknown, EXIT_NO);
}

static bool exists(const struct query *query)
{
	char *path = query->journal ? memory_copy(query->journal) : journal_default_path();
	bool there = !path || access(path, F_OK) == 0;

	free(path);
	return there;
}

static struct journal *open_or_create(const struct query *query, enum journal_mode mode,
				      bool creates)
{
	char *path = query->journal ? memory_copy(query->journal) : journal_default_path();
	enum journal_status status = JOURNAL_IO;
	struct journal *journal = NULL;
	char *error = NULL;

	if (mode != JOURNAL_READ && !creates && !exists(query))
		status = JOURNAL_NONE;
	else if (path)
		status = journal_open(path, mode, &journal, &error);
	if (status == JOURNAL_NONE)
		fprintf(stderr,
			"pullcall: no job has been strung yet: %s %s%s (to bring a backup back: "
			"install -D BACKUP %s)\n",
			exists(query) ? "the journal" : "there is no journal", path,
			exists(query) ? " is empty" : "", path);
	else if (!journal)
		fprintf(stderr, "pullcall: %s\n",
			error ? error : "HOME is not set: name a journal with --journal FILE");
	if (status == JOURNAL_BUSY)
		fputs("pullcall: a job that is under way is closed with \"pullcall tell abandon "
		      "REASON\"; for anything else, end its run first with \"pullcall tell "
		      "stop\"\n",
		      stderr);
	free(error);
	free(path);
	if (!journal)
		exit(status == JOURNAL_NONE ? EXIT_NO : EXIT_IO);
	check_names(journal, &query->filter);
	return journal;
}

struct journal *query_open(const struct query *query, enum journal_mode mode)
{
	return open_or_create(query, mode, false);
}

void query_open_job(struct journal *journal, const char *which, struct journal_job *job)
{
	char *why = NULL;
	enum exit_code code = open_job_find(journal, which, job, &why);

	if (code != EXIT_DONE)
		give_up(journal, why, code);
}

int query_close(struct journal *journal, enum journal_status status)
{
	int code = status == JOURNAL_OK ? 0 : status == JOURNAL_NONE ? EXIT_NO : EXIT_IO;

	if (code)
		fprintf(stderr, "pullcall: %s\n", journal_message(journal));
	journal_close(journal);
	return code;
}

int task_run(const struct option_row *options, int argc, char **argv, const struct query *query,
	     const struct task *tasks, void *context)
{
	const struct command_syntax *line = command_read(options, NULL, argc, argv);
	const struct task *task = tasks;
	const char *name = argv[optind];
	const struct task_call call = {name, argc - optind - 1, argv + optind + 1, context};

	while (task->name && strcmp(name, task->name) != 0)
		task++;
	if (!task->name)
		command_line_wrong(line, "unknown %s command \"%s\"",
				   line->name + strlen("pullcall "), name);
	if (call.count < task->least || call.count > task->most)
		command_line_wrong(line, "%s takes %s", name, task->takes);
	if (task->none && !exists(query)) {
		puts(task->none);
		return EXIT_DONE;
	}
	struct journal *journal = open_or_create(query, task->mode, task->creates);
	return query_close(journal, task->run(journal, &call));
}

struct journal *journal_there(const char *path)
{
	char *found = path ? memory_copy(path) : journal_default_path(), *error = NULL;
	struct journal *journal = NULL;

	if (found)
		journal_open(found, JOURNAL_READ, &journal, &error);
	free(error);
	free(found);
	return journal;
}

void stringer_check(const struct yaml_document *plan, const char *journal_path)
{
	const struct yaml_node *stringer = yaml_get(plan->root, "stringer");
	struct journal *journal = journal_there(journal_path);
	char *other = NULL;

	if (stringer && stringer->kind == YAML_SCALAR && journal)
		other = review_other_spelling(journal, stringer->text);
	if (other)
		yaml_warn(stringer, "stringer-spelling",
			  "new stringer \"%s\"; the journal knows \"%s\"", stringer->text, other);
	journal_close(journal);
	free(other);
}

void reel_check(struct journal *journal, const struct reel_use *use, struct faults *faults)
{
	double left_mm;

	if (!use->reel || !*use->reel)
		return;
	enum journal_status status =
		journal_ask(journal, "SELECT left_mm FROM reel WHERE name = :name",
			    FIELDS(field_text("name", use->reel)), TARGETS(INTO(left_mm)));
	if (status != JOURNAL_OK)
		return;
	char *unknown = review_unknown(journal, REVIEW_REEL, use->reel);
	if (unknown)
		fault_add(faults, FAULT_ERROR, use->file, use->position, "reel-unknown", "%s",
			  unknown);
	else if (left_mm < use->cut_mm)
		fault_add(faults, FAULT_WARNING, use->file, use->position, "reel-short",
			  "reel %s has %.2f m left, and this job cuts %.2f m", use->reel,
			  left_mm / 1000, use->cut_mm / 1000);
	free(unknown);
}

/* ---- pullcall journal ---- */

static enum journal_status backup(struct journal *journal, const struct task_call *call)
{
	if (strcmp(call->operands[0], "-") == 0)
		give_up(journal,
			memory_copy("a backup is not written to standard output: name a file"),
			EXIT_USAGE);
	return journal_backup(journal, call->operands[0]);
}

static enum journal_status merge(struct journal *journal, const struct task_call *call)
{
	char **files = call->operands;
	enum journal_status status = JOURNAL_OK;

	for (int i = 0; i < call->count && status == JOURNAL_OK; i++) {
		struct journal_merged merged = {0};
		status = journal_merge(journal, files[i], &merged);
		if (status == JOURNAL_OK)
			printf("%s: jobs added %d, updated %d, already here %d\n", files[i],
			       merged.added, merged.lengthened, merged.known);
	}
	return status;
}

/* Other people, or the same one: whoever knows may go on. A line is "stringer kim lee". */
static void print_others(struct journal *journal, char *others)
{
	char *rest = NULL, *option = journal_option(journal_path(journal));

	for (char *line = strtok_r(others, "\n", &rest); line; line = strtok_r(NULL, "\n", &rest)) {
		const char *name = strchr(line, ' ') + 1;
		fprintf(stderr, "pullcall: the journal still has the %.*s \"",
			(int)(name - line - 1), line);
		words_print(name, stderr);
		fputs("\"; if that is the same person: pullcall journal anonymise \"", stderr);
		words_print(name, stderr);
		fprintf(stderr, "\"%s\n", option);
	}
	free(option);
}

/* Ends the program if the name is nearly somebody's, and says whose. */
static void check_meant(struct journal *journal, const char *name)
{
	static const enum review_name kinds[] = {REVIEW_STRINGER, REVIEW_CUSTOMER};

	for (int i = 0; i < 2; i++) {
		char *unknown = review_unknown(journal, kinds[i], name);
		if (unknown && strstr(unknown, "did you mean"))
			give_up(journal, unknown, EXIT_NO);
		free(unknown);
	}
}

static enum journal_status anonymise(struct journal *journal, const struct task_call *call)
{
	struct journal_anonymised done = {0};
	enum journal_status status = journal_anonymise(journal, call->operands[0], &done);

	if (status == JOURNAL_OK)
		printf("the name is now \"%s\": stringer of %d jobs, customer of %d jobs, named in "
		       "%d notes and plans\n",
		       done.alias, done.jobs, done.customer, done.texts);
	if (done.others)
		print_others(journal, done.others);
	free(done.others);
	if (done.set_aside)
		fprintf(stderr,
			"pullcall: damaged journals that were set aside may still hold it: %d\n",
			done.set_aside);
	if (status == JOURNAL_NONE)
		check_meant(journal, call->operands[0]);
	return status;
}

int command_journal(int argc, char **argv)
{
	static const struct task tasks[] = {
		{"backup", "one file", 1, 1, JOURNAL_READ, backup},
		{"merge", "at least one file", 1, 1000, JOURNAL_WRITE, merge},
		{"anonymise", "one name", 1, 1, JOURNAL_WRITE, anonymise},
		{0},
	};
	struct query query = {0};
	const struct option_row options[] = {QUERY_JOURNAL_ROW(&query), {0}};

	return task_run(options, argc, argv, &query, tasks, NULL);
}

/* Closes an open job where it stands. */
static enum journal_status abandon(struct journal *journal, const struct journal_job *job,
				   const char *reason)
{
	enum journal_status status = journal_resume(journal, job->number);
	const struct journal_event event = {
		.kind = JOURNAL_ABANDONED,
		.call = job->call,
		.steady_us = clock_steady_us(),
		.boot_us = clock_boot_us(),
		.wall_us = clock_wall_us(),
		.response_us = JOURNAL_NO_RESPONSE,
		.detail = reason,
	};

	return status == JOURNAL_OK ? journal_append(journal, &event) : status;
}

int command_abandon(int argc, char **argv)
{
	struct query query = {0};
	const struct option_row options[] = {QUERY_JOURNAL_ROW(&query), {0}};
	struct journal_job job = {0};

	const struct command_syntax *line = command_read(options, NULL, argc, argv);
	if (argc - optind != 2)
		command_line_wrong(
			line, "say which job and why, as in: pullcall abandon 4 \"wrong racket\"");
	struct journal *journal = query_open(&query, JOURNAL_WRITE);
	query_open_job(journal, argv[optind], &job);
	enum journal_status status = abandon(journal, &job, argv[optind + 1]);
	char *name = open_job_name(&job);
	if (status == JOURNAL_OK)
		printf("%s is closed at call %d of %d.\n", name, job.place, job.places);
	free(name);
	journal_job_free(&job);
	return query_close(journal, status);
}
