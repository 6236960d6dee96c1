/* Which jobs there are. */
#include "review/review.h"

#include "review/internal.h"

static const char list_sql[] =
	"SELECT j.id, j.uuid, j.name, j.stringer, j.pattern, j.method, s.state, "
	"j.calls, s.call - 1, j.created_us, "
	"coalesce((SELECT sum(p.span_us) FROM span AS p WHERE p.job = j.id AND p.working), 0) "
	"FROM " REVIEW_WANTED " AS wanted CROSS JOIN job AS j ON j.id = wanted.id "
	"CROSS JOIN job_state AS s ON s.job = j.id ORDER BY j.created_us, j.id";

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
	review_bind_filter(statement, filter);
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
