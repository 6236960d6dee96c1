/* pullcall journal and abandon: changing the journal without a daemon. */
#include "journal/journal.h"
#include "cli/cli.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static enum journal_status backup(struct journal *journal, const struct task_call *call)
{
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

/* Other people, or the same one: whoever knows may go on. */
static void print_others(char *others)
{
	char *rest = NULL;

	for (char *name = strtok_r(others, "\n", &rest); name; name = strtok_r(NULL, "\n", &rest)) {
		fputs("pullcall: the journal still has the stringer \"", stderr);
		words_print(name, stderr);
		fputs("\"; if that is the same person: pullcall journal anonymise \"", stderr);
		words_print(name, stderr);
		fputs("\"\n", stderr);
	}
}

static enum journal_status anonymise(struct journal *journal, const struct task_call *call)
{
	struct journal_anonymised done = {0};
	enum journal_status status = journal_anonymise(journal, call->operands[0], &done);

	if (status == JOURNAL_NONE && !done.others) {
		char *unknown = review_unknown(journal, REVIEW_STRINGER, call->operands[0]);
		if (unknown)
			fprintf(stderr, "pullcall: %s\n", unknown);
		free(unknown);
	}
	if (status == JOURNAL_OK)
		printf("the name is now \"%s\": stringer of %d jobs, in the texts of %d\n",
		       done.alias, done.jobs, done.texts);
	if (done.others)
		print_others(done.others);
	free(done.others);
	if (done.set_aside)
		fprintf(stderr,
			"pullcall: damaged journals that were set aside may still hold it: %d\n",
			done.set_aside);
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
	char *why = NULL;

	const struct command_syntax *line = command_read(options, NULL, argc, argv);
	if (argc - optind != 2)
		command_line_wrong(
			line, "say which job and why, as in: pullcall abandon 4 \"wrong racket\"");
	struct journal *journal = query_open(&query, JOURNAL_WRITE);
	enum exit_code code = open_job_find(journal, argv[optind], &job, &why);
	if (code != EXIT_DONE) {
		fprintf(stderr, "pullcall: %s\n", why);
		free(why);
		journal_close(journal);
		return code;
	}
	enum journal_status status = abandon(journal, &job, argv[optind + 1]);
	if (status == JOURNAL_OK)
		printf("%s (%lld) is closed at call %d of %d.\n", job.name, (long long)job.number,
		       job.place, job.places);
	journal_job_free(&job);
	return query_close(journal, status);
}
