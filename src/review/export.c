/* Exports: CSV, JSON Lines and XES, each by one query (export_*.sql) for one job at a time, which
 * keeps memory small. */
#include "review/internal.h"

#include <stdlib.h>
#include <string.h>

const char *const review_format_names[] = {"csv", "json", "xes", NULL};
const char *const review_table_names[] = {"jobs", "calls", "events", NULL};

static const char *text_of(sqlite3_stmt *row, int column)
{
	return (const char *)sqlite3_column_text(row, column);
}

/* ---- what a plan says ---- */

/* The SQL function plan_value(TEXT, KEYS, ...): the first value that the plan has, which may be old
 * (yaml_scalar). */
static void plan_value(sqlite3_context *context, int count, sqlite3_value **values)
{
	const char *plan = (const char *)sqlite3_value_text(values[0]), *value = NULL;
	struct faults faults = {0};
	struct yaml_document *document = yaml_read_text("plan", plan, &faults);

	for (int i = 1; document && !value && i < count; i++)
		value = yaml_scalar(document->root, (const char *)sqlite3_value_text(values[i]));
	if (value)
		sqlite3_result_text(context, value, -1, SQLITE_TRANSIENT);
	yaml_free(document);
	faults_free(&faults);
}

/* ---- CSV and JSON Lines ---- */

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
static void add_csv(struct text *line, const char *value)
{
	bool quoted = !*value || strpbrk(value, "\",\r\n");

	text_add(line, quoted ? "\"" : "");
	for (; *value; value++) {
		text_add(line, *value == '"' ? "\"" : "");
		text_add_char(line, *value);
	}
	text_add(line, quoted ? "\"" : "");
}

static void add_json(struct json *json, sqlite3_stmt *row, int i)
{
	const char *name = sqlite3_column_name(row, i);
	int type = sqlite3_column_type(row, i);

	if (type == SQLITE_INTEGER)
		json_int(json, name, sqlite3_column_int64(row, i));
	else if (type == SQLITE_FLOAT)
		json_number(json, name, sqlite3_column_double(row, i), 2);
	else
		json_string(json, name, text_of(row, i));
}

/* names: those of the columns instead, as CSV. */
static void write_row(sqlite3_stmt *row, bool as_json, bool names, FILE *out)
{
	struct text line = {0};
	struct json json = {.out = &line};

	text_add(&line, as_json ? "{" : "");
	for (int i = 0; i < sqlite3_column_count(row); i++) {
		const char *value = names ? sqlite3_column_name(row, i) : text_of(row, i);
		text_add(&line, i > 0 && !as_json ? "," : "");
		if (as_json)
			add_json(&json, row, i);
		else if (value)
			add_csv(&line, value);
	}
	text_add(&line, as_json ? "}\n" : "\r\n");
	write_utf8(text_string(&line), out);
	text_free(&line);
}

/* ---- XES ---- */

/* The SQL function xes(TYPE, KEY, VALUE, ...): attributes, without those of null. */
static void xes(sqlite3_context *context, int count, sqlite3_value **values)
{
	struct text xml = {0};

	for (int i = 0; i + 2 < count; i += 3) {
		const char *value = (const char *)sqlite3_value_text(values[i + 2]);
		if (!value)
			continue;
		text_add(&xml, "<");
		text_add(&xml, (const char *)sqlite3_value_text(values[i]));
		text_add(&xml, " key=\"");
		text_add(&xml, (const char *)sqlite3_value_text(values[i + 1]));
		text_add(&xml, "\" value=\"");
		xml_add(&xml, value);
		text_add(&xml, "\"/>");
	}
	sqlite3_result_text(context, text_take(&xml), -1, free);
}

/* ---- all of them ---- */

static enum journal_status write_jobs(struct journal *journal, const struct review_filter *filter,
				      const char *sql, enum review_format format, FILE *out)
{
	enum { FLAGS = SQLITE_UTF8 | SQLITE_DETERMINISTIC | SQLITE_DIRECTONLY };
	sqlite3_stmt *jobs = NULL, *rows = NULL;
	struct filter_fields wanted = review_filter_fields(filter);
	bool job = false, row = false;
	enum journal_status status =
		journal_query(journal,
			      "SELECT j.id FROM " REVIEW_WANTED " AS wanted CROSS JOIN job AS j "
			      "ON j.id = wanted.id ORDER BY j.created_us, j.id",
			      wanted.fields, &jobs);

	sqlite3 *database = journal_database(journal);
	sqlite3_create_function(database, "plan_value", -1, FLAGS, NULL, plan_value, NULL, NULL);
	sqlite3_create_function(database, "xes", -1, FLAGS, NULL, xes, NULL, NULL);
	if (status == JOURNAL_OK)
		status = journal_query(journal, sql, NULL, &rows);
	if (status == JOURNAL_OK && format == REVIEW_CSV)
		write_row(rows, false, true, out);
	while (status == JOURNAL_OK && (status = journal_step(journal, jobs, &job)) == JOURNAL_OK &&
	       job) {
		sqlite3_bind_int64(rows, 1, sqlite3_column_int64(jobs, 0));
		while ((status = journal_step(journal, rows, &row)) == JOURNAL_OK && row)
			if (format == REVIEW_XES)
				fprintf(out, "%s\n", text_of(rows, 0));
			else
				write_row(rows, format == REVIEW_JSON_LINES, false, out);
		sqlite3_reset(rows);
	}
	sqlite3_finalize(rows);
	sqlite3_finalize(jobs);
	return status;
}

enum journal_status review_export(struct journal *journal, const struct review_filter *filter,
				  enum review_table table, enum review_format format, FILE *out)
{
	static const char *const table_sql[] = {
		[REVIEW_JOBS] = export_jobs_sql,
		[REVIEW_CALLS] = export_calls_sql,
		[REVIEW_EVENTS] = export_events_sql,
	};
	bool is_xes = format == REVIEW_XES;

	journal_hold(journal);
	fputs(is_xes ? export_xes : "", out);
	enum journal_status status = write_jobs(
		journal, filter, is_xes ? export_xes_sql : table_sql[table], format, out);
	fputs(is_xes && status == JOURNAL_OK ? "</log>\n" : "", out);
	journal_let_go(journal);
	return status;
}
