/* CSV and JSON Lines: one query for each table. */
#include "review/internal.h"

#include "base/base.h"

#include <stdlib.h>
#include <string.h>

/* Wall time as ISO 8601, in UTC and in local time; microseconds as minutes. */
#define UTC(column)     "strftime('%Y-%m-%dT%H:%M:%fZ', " column " / 1e6, 'unixepoch')"
#define LOCAL(column)   "strftime('%Y-%m-%dT%H:%M:%S', " column " / 1e6, 'unixepoch', 'localtime')"
#define MINUTES(column) "round(" column " / 60e6, 2)"

/* clang-format off */
static const char *const table_sql[] = {
	[REVIEW_JOBS] =
		"SELECT j.id AS job, j.uuid, j.name, j.stringer, j.pattern, j.sport, j.method, "
		"j.detail, "
		"plan_value(j.plan_text, 'tension', 'mains') AS tension_mains, "
		"plan_value(j.plan_text, 'tension', 'crosses') AS tension_crosses, "
		"plan_value(j.plan_text, 'string', 'mains') AS string_mains, "
		"plan_value(j.plan_text, 'string', 'crosses') AS string_crosses, "
		"j.racket, j.customer, j.due, j.notes, "
		"j.language, j.program, s.places AS calls, s.place - 1 AS done, s.state, s.runs, "
		"j.created_us, " UTC("j.created_us") " AS created, "
		LOCAL("j.created_us") " AS created_local, s.last_wall_us, t.work_us, "
		MINUTES("t.work_us") " AS work_min, t.pause_us, "
		MINUTES("t.pause_us") " AS pause_min, t.repeats, t.backs, t.undos, t.pauses "
		"FROM job AS j JOIN job_state AS s ON s.job = j.id "
		"LEFT JOIN (SELECT * FROM job_time WHERE job = ?1) AS t WHERE j.id = ?1",
	[REVIEW_CALLS] =
		"SELECT j.uuid, j.name, j.stringer, j.pattern, j.method, c.n, c.phase, c.kind, "
		"c.string, c.number, c.side, c.text, t.work_us, "
		MINUTES("t.work_us") " AS work_min, t.repeats, t.backs "
		"FROM job AS j JOIN call AS c ON c.job = j.id "
		"LEFT JOIN (SELECT * FROM call_time WHERE job = ?1) AS t ON t.n = c.n "
		"WHERE j.id = ?1 AND c.job = ?1 ORDER BY c.n",
	[REVIEW_EVENTS] =
		"SELECT j.uuid, j.name, j.stringer, j.pattern, j.method, e.seq, e.run, e.kind, "
		"e.call, e.working, e.steady_us, e.wall_us, " UTC("e.wall_us") " AS wall, "
		LOCAL("e.wall_us") " AS wall_local, e.response_us, e.detail, c.phase, "
		"c.kind AS call_kind, c.string, c.number, c.side, c.text "
		"FROM job AS j JOIN event AS e ON e.job = j.id "
		"LEFT JOIN call AS c ON c.job = e.job AND c.n = e.call "
		"WHERE j.id = ?1 AND e.job = ?1 ORDER BY e.seq",
};

/* clang-format on */

const char *const review_format_names[] = {"csv", "json", "xes", NULL};
const char *const review_table_names[] = {"jobs", "calls", "events", NULL};

/* What is not UTF-8 becomes U+FFFD. */
static void write_utf8(const char *text, FILE *out)
{
	while (*text) {
		const char *from = text;
		if (utf8_next(&text) == UTF8_BAD)
			fputs("\xef\xbf\xbd", out);
		else
			fwrite(from, 1, (size_t)(text - from), out);
	}
}

/* RFC 4180: quoted where necessary, quotes doubled. */
static void add_csv_text(struct text *line, const char *value)
{
	if (*value && !strpbrk(value, "\",\r\n")) {
		text_add(line, value);
		return;
	}
	text_add_char(line, '"');
	for (; *value; value++) {
		if (*value == '"')
			text_add_char(line, '"');
		text_add_char(line, *value);
	}
	text_add_char(line, '"');
}

static void write_csv_row(sqlite3_stmt *row, bool names, FILE *out)
{
	struct text line = {0};

	for (int i = 0; i < sqlite3_column_count(row); i++) {
		const char *value = names ? sqlite3_column_name(row, i)
					  : (const char *)sqlite3_column_text(row, i);
		if (i > 0)
			text_add_char(&line, ',');
		if (value)
			add_csv_text(&line, value);
	}
	text_add(&line, "\r\n");
	write_utf8(text_string(&line), out);
	text_free(&line);
}

/* A query that gives the rows of another one as JSON objects. The caller frees it. */
static char *objects_sql(struct journal *journal, const char *sql)
{
	sqlite3_stmt *rows = NULL;
	struct text objects = {0};

	text_add(&objects, "SELECT json_object(");
	if (journal_query(journal, sql, NULL, &rows) == JOURNAL_OK)
		for (int i = 0; i < sqlite3_column_count(rows); i++)
			text_format(&objects, "%s'%s', %s", i > 0 ? ", " : "",
				    sqlite3_column_name(rows, i), sqlite3_column_name(rows, i));
	text_format(&objects, ") || char(10) FROM (%s)", sql);
	sqlite3_finalize(rows);
	return text_take(&objects);
}

/* Writes the rows of one job. */
static enum journal_status export_rows(struct journal *journal, sqlite3_stmt *rows,
				       enum review_format format, FILE *out)
{
	enum journal_status status = JOURNAL_OK;
	bool row = false;

	while ((status = journal_step(journal, rows, &row)) == JOURNAL_OK && row) {
		if (format == REVIEW_CSV)
			write_csv_row(rows, false, out);
		else
			write_utf8((const char *)sqlite3_column_text(rows, 0), out);
	}
	return status;
}

/* One job at a time keeps memory small. */
static enum journal_status export_jobs(struct journal *journal, sqlite3_stmt *jobs,
				       sqlite3_stmt *rows, enum review_format format, FILE *out)
{
	enum journal_status status = JOURNAL_OK;
	bool job = false;

	if (format == REVIEW_CSV)
		write_csv_row(rows, true, out);
	while (status == JOURNAL_OK && (status = journal_step(journal, jobs, &job)) == JOURNAL_OK &&
	       job) {
		sqlite3_bind_int64(rows, 1, sqlite3_column_int64(jobs, 0));
		status = format == REVIEW_XES ? xes_trace(journal, rows, out)
					      : export_rows(journal, rows, format, out);
		sqlite3_reset(rows);
	}
	return status;
}

static enum journal_status write_jobs(struct journal *journal, const struct review_filter *filter,
				      const char *sql, enum review_format format, FILE *out)
{
	sqlite3_stmt *jobs = NULL, *rows = NULL;
	struct filter_fields wanted = review_filter_fields(filter);
	enum journal_status status =
		journal_query(journal,
			      "SELECT j.id FROM " REVIEW_WANTED " AS wanted CROSS JOIN job AS j "
			      "ON j.id = wanted.id ORDER BY j.created_us, j.id",
			      wanted.fields, &jobs);

	if (status == JOURNAL_OK) {
		plan_functions(sqlite3_db_handle(jobs));
		char *objects = format == REVIEW_JSON_LINES ? objects_sql(journal, sql) : NULL;
		status = journal_query(journal, objects ? objects : sql, NULL, &rows);
		free(objects);
	}
	if (status == JOURNAL_OK)
		status = export_jobs(journal, jobs, rows, format, out);
	sqlite3_finalize(rows);
	sqlite3_finalize(jobs);
	return status;
}

enum journal_status review_export(struct journal *journal, const struct review_filter *filter,
				  enum review_table table, enum review_format format, FILE *out)
{
	bool xes = format == REVIEW_XES;
	enum journal_status status = journal_hold(journal);

	if (status != JOURNAL_OK)
		return status;
	if (xes)
		xes_begin(out);
	status = write_jobs(journal, filter, xes ? xes_sql : table_sql[table], format, out);
	if (xes && status == JOURNAL_OK)
		xes_end(out);
	journal_let_go(journal);
	return status;
}
