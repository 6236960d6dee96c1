/* CSV and JSON Lines: one statement for each table, written column by column. */
#include "review/internal.h"

#include "base/base.h"

#include <string.h>

/* Wall time as ISO 8601: in UTC, so that no reader need know where the bench stood, and in local
 * time; and microseconds in minutes. */
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
static void add_utf8(struct text *out, const char *text)
{
	while (*text) {
		const char *from = text;
		if (utf8_next(&text) == UTF8_BAD)
			text_add(out, "\xef\xbf\xbd");
		else
			text_add_part(out, from, (size_t)(text - from));
	}
}

/* RFC 4180: quoted where necessary, quotes doubled. */
static void add_csv_text(struct text *line, const char *value)
{
	if (*value && !strpbrk(value, "\",\r\n")) {
		add_utf8(line, value);
		return;
	}
	struct text clean = {0};
	add_utf8(&clean, value);
	text_add_char(line, '"');
	for (const char *at = text_string(&clean); *at; at++) {
		if (*at == '"')
			text_add_char(line, '"');
		text_add_char(line, *at);
	}
	text_add_char(line, '"');
	text_free(&clean);
}

static void add_csv_row(struct text *line, sqlite3_stmt *row)
{
	for (int i = 0; i < sqlite3_column_count(row); i++) {
		const char *value = (const char *)sqlite3_column_text(row, i);
		if (i > 0)
			text_add_char(line, ',');
		if (value)
			add_csv_text(line, value);
	}
	text_add(line, "\r\n");
}

static void add_csv_names(struct text *line, sqlite3_stmt *statement)
{
	for (int i = 0; i < sqlite3_column_count(statement); i++) {
		if (i > 0)
			text_add_char(line, ',');
		add_csv_text(line, sqlite3_column_name(statement, i));
	}
	text_add(line, "\r\n");
}

static void add_json_row(struct text *line, sqlite3_stmt *row)
{
	struct json json = {.out = line};
	struct text clean = {0};

	json_open(&json, NULL, '{');
	for (int i = 0; i < sqlite3_column_count(row); i++) {
		const char *name = sqlite3_column_name(row, i);
		if (sqlite3_column_type(row, i) == SQLITE_INTEGER) {
			json_int(&json, name, sqlite3_column_int64(row, i));
			continue;
		}
		if (sqlite3_column_type(row, i) == SQLITE_FLOAT) {
			json_number(&json, name, sqlite3_column_double(row, i), 2);
			continue;
		}
		const char *value = (const char *)sqlite3_column_text(row, i);
		text_clear(&clean);
		if (value)
			add_utf8(&clean, value);
		json_string(&json, name, value ? text_string(&clean) : NULL);
	}
	json_close(&json, '}');
	text_add_char(line, '\n');
	text_free(&clean);
}

/* Writes the rows of the job that is bound. */
static enum journal_status export_rows(struct journal *journal, sqlite3_stmt *rows,
				       enum review_format format, struct text *line, FILE *out)
{
	enum journal_status status = JOURNAL_OK;
	bool row = false;

	while ((status = journal_step(journal, rows, &row)) == JOURNAL_OK && row) {
		text_clear(line);
		if (format == REVIEW_CSV)
			add_csv_row(line, rows);
		else
			add_json_row(line, rows);
		fwrite(line->bytes, 1, line->length, out);
	}
	return status;
}

/* One job at a time keeps memory small. */
static enum journal_status export_jobs(struct journal *journal, sqlite3_stmt *jobs,
				       sqlite3_stmt *rows, enum review_format format, FILE *out)
{
	enum journal_status status = JOURNAL_OK;
	struct text line = {0};
	bool job = true;

	if (format == REVIEW_CSV) {
		add_csv_names(&line, rows);
		fwrite(line.bytes, 1, line.length, out);
	}
	while (status == JOURNAL_OK && job) {
		status = journal_step(journal, jobs, &job);
		if (status != JOURNAL_OK || !job)
			break;
		sqlite3_bind_int64(rows, 1, sqlite3_column_int64(jobs, 0));
		status = format == REVIEW_XES ? xes_trace(journal, rows, out)
					      : export_rows(journal, rows, format, &line, out);
		sqlite3_reset(rows);
	}
	text_free(&line);
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
		status = journal_query(journal, sql, NULL, &rows);
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
