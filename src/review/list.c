/* Which jobs there are. */
#include "review/review.h"

#include "journal/query.h"
#include "review/words.h"

#include <string.h>

/* The newest that are wanted, then the oldest of them first. */
static const char list_sql[] =
	"SELECT * FROM (SELECT j.id, j.uuid, j.name, j.stringer, j.pattern, j.method, s.state, "
	"j.calls, s.call - 1, j.created_us, "
	"coalesce((SELECT t.work_us FROM job_time AS t WHERE t.job = j.id), 0) "
	"FROM job AS j JOIN job_state AS s ON s.job = j.id "
	"WHERE (?1 IS NULL OR j.stringer = ?1) AND (?2 IS NULL OR j.pattern = ?2) "
	"AND (?3 IS NULL OR j.method = ?3) AND (?4 = 0 OR j.created_us >= ?4) "
	"AND (?5 = 0 OR j.created_us < ?5) "
	"ORDER BY j.created_us DESC, j.id DESC LIMIT ?6) ORDER BY 10, 1";

static struct review_row row_of(sqlite3_stmt *row)
{
	return (struct review_row){
		.job = sqlite3_column_int64(row, 0),
		.uuid = (const char *)sqlite3_column_text(row, 1),
		.name = (const char *)sqlite3_column_text(row, 2),
		.stringer = (const char *)sqlite3_column_text(row, 3),
		.pattern = (const char *)sqlite3_column_text(row, 4),
		.method = (const char *)sqlite3_column_text(row, 5),
		.state = (const char *)sqlite3_column_text(row, 6),
		.calls = sqlite3_column_int(row, 7),
		.done = sqlite3_column_int(row, 8),
		.created_us = sqlite3_column_int64(row, 9),
		.work_us = sqlite3_column_int64(row, 10),
	};
}

enum journal_status review_each_job(struct journal *journal, const struct review_filter *filter,
				    void (*take)(const struct review_row *row, void *context),
				    void *context)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_prepare(journal, list_sql, &statement);
	bool more = false;

	if (status != JOURNAL_OK)
		return status;
	journal_bind_text(statement, 1, filter->stringer);
	journal_bind_text(statement, 2, filter->pattern);
	journal_bind_text(statement, 3, filter->method);
	sqlite3_bind_int64(statement, 4, filter->since_us);
	sqlite3_bind_int64(statement, 5, filter->until_us);
	sqlite3_bind_int(statement, 6, filter->newest > 0 ? filter->newest : -1);
	while ((status = journal_step(journal, statement, &more)) == JOURNAL_OK && more) {
		struct review_row row = row_of(statement);
		take(&row, context);
	}
	sqlite3_finalize(statement);
	return status;
}

struct list {
	FILE *out;
	int rows;
};

static void print_row(const struct review_row *row, void *context)
{
	struct list *list = context;
	char day[WORDS_DATE_MAX], time[WORDS_TIME_MAX];

	if (list->rows++ == 0)
		fprintf(list->out, "%4s %-10s %-16s %-10s %-10s %7s %-9s %7s\n", "job", "begun",
			"name", "stringer", "pattern", "calls", "state", "work");
	fprintf(list->out, "%4lld %-10s ", (long long)row->job, words_day(row->created_us, day));
	words_print(list->out, row->name, 16, true);
	fputc(' ', list->out);
	words_print(list->out, row->stringer, 10, true);
	fputc(' ', list->out);
	words_print(list->out, row->pattern, 10, true);
	fprintf(list->out, " %3d/%-3d %-9s %7s\n", row->done, row->calls, row->state,
		words_time(row->work_us, time));
}

enum journal_status review_print_jobs(struct journal *journal, const struct review_filter *filter,
				      FILE *out)
{
	struct list list = {.out = out};
	enum journal_status status = review_each_job(journal, filter, print_row, &list);

	if (status == JOURNAL_OK && list.rows == 0)
		fputs("no jobs\n", out);
	return status;
}
