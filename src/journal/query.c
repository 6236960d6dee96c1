/* Statements, transactions, and their failures as a status for the program and a sentence for a
 * person. */
#include "journal/internal.h"

#include "base/base.h"

#include <errno.h>
#include <stdlib.h>

/* ---- failures ---- */

enum journal_status journal_fail(struct journal *journal, enum journal_status status,
				 const char *format, ...)
{
	char *what = NULL;
	va_list values;

	va_start(values, format);
	int length = vasprintf(&what, format, values);
	va_end(values);
	free(journal->message);
	journal->message =
		memory_format("journal %s: %s", journal->path, length < 0 ? "failed" : what);
	free(what);
	if (journal->in_transaction)
		journal->failed = status;
	return status;
}

static enum journal_status status_of_errno(int error)
{
	if (error == ENOSPC || error == EDQUOT)
		return JOURNAL_FULL;
	if (error == EACCES || error == EPERM || error == EROFS)
		return JOURNAL_READ_ONLY;
	if (error == EISDIR || error == ENOTDIR || error == ELOOP)
		return JOURNAL_NOT_OURS;
	return JOURNAL_IO;
}

enum journal_status journal_fail_errno(struct journal *journal, const char *doing, int error)
{
	return journal_fail(journal, status_of_errno(error), "cannot %s: %s", doing,
			    strerror(error));
}

/* SQLite does not always tell a full disk or a missing permission; errno does. */
static enum journal_status status_of_sql(struct journal *journal, int result)
{
	static const enum journal_status statuses[] = {
		[SQLITE_FULL] = JOURNAL_FULL,       [SQLITE_BUSY] = JOURNAL_BUSY,
		[SQLITE_LOCKED] = JOURNAL_BUSY,     [SQLITE_CORRUPT] = JOURNAL_CORRUPT,
		[SQLITE_NOTADB] = JOURNAL_NOT_OURS, [SQLITE_READONLY] = JOURNAL_READ_ONLY,
		[SQLITE_PERM] = JOURNAL_READ_ONLY,  [SQLITE_AUTH] = JOURNAL_READ_ONLY,
	};
	int code = result & 0xff, count = sizeof statuses / sizeof statuses[0];
	int error = journal->database ? sqlite3_system_errno(journal->database) : 0;

	if (code < count && statuses[code] != JOURNAL_OK)
		return statuses[code];
	return error && (code == SQLITE_IOERR || code == SQLITE_CANTOPEN) ? status_of_errno(error)
									  : JOURNAL_IO;
}

enum journal_status journal_fail_sql(struct journal *journal, int result)
{
	enum journal_status status = status_of_sql(journal, result);
	static const char *const reasons[] = {
		[JOURNAL_NOT_OURS] = "it is not a journal of pullcall",
		[JOURNAL_READ_ONLY] = "it may only be read",
		[JOURNAL_FULL] = "the disk is full",
		[JOURNAL_BUSY] = "another program is using it",
		[JOURNAL_CORRUPT] = "the file is damaged",
	};
	const char *reason = status != JOURNAL_IO ? reasons[status]
			     : journal->database  ? sqlite3_errmsg(journal->database)
						  : sqlite3_errstr(result);

	return journal_fail(journal, status, "cannot %s: %s",
			    journal->doing ? journal->doing : "read it", reason);
}

const char *journal_message(const struct journal *journal)
{
	return journal->message ? journal->message : "";
}

/* ---- statements ---- */

static int bind(sqlite3_stmt *statement, const struct journal_field *field)
{
	char name[32];

	snprintf(name, sizeof name, ":%s", field->name);
	int index = sqlite3_bind_parameter_index(statement, name);
	if (index == 0 || field->type == JOURNAL_NULL)
		return SQLITE_OK; /* without a value it is null already */
	if (field->type == JOURNAL_NUMBER)
		return sqlite3_bind_int64(statement, index, field->number);
	sqlite3_uint64 length = (sqlite3_uint64)field->number;
	if (field->type == JOURNAL_BYTES)
		return sqlite3_bind_blob64(statement, index, field->bytes, length, SQLITE_STATIC);
	return sqlite3_bind_text64(statement, index, field->bytes, length, SQLITE_STATIC,
				   SQLITE_UTF8);
}

/* The first statement of *sql, which goes on to the next; *out is NULL after the last. */
static enum journal_status prepare(struct journal *journal, const char **sql,
				   const struct journal_field *fields, sqlite3_stmt **out)
{
	*out = NULL;
	if (journal->failed != JOURNAL_OK)
		return journal->failed;
	int result = sqlite3_prepare_v2(journal->database, *sql, -1, out, sql);

	for (; result == SQLITE_OK && fields && fields->name; fields++)
		result = bind(*out, fields);
	if (result == SQLITE_OK)
		return JOURNAL_OK;
	enum journal_status status = journal_fail_sql(journal, result);
	sqlite3_finalize(*out);
	*out = NULL;
	return status;
}

sqlite3 *journal_database(const struct journal *journal)
{
	return journal->database;
}

enum journal_status journal_query(struct journal *journal, const char *sql,
				  const struct journal_field *fields, sqlite3_stmt **out)
{
	return prepare(journal, &sql, fields, out);
}

enum journal_status journal_step(struct journal *journal, sqlite3_stmt *statement, bool *row)
{
	int result = sqlite3_step(statement);

	*row = result == SQLITE_ROW;
	if (result == SQLITE_ROW || result == SQLITE_DONE)
		return JOURNAL_OK;
	return journal_fail_sql(journal, result);
}

enum journal_status journal_each(struct journal *journal, const char *sql,
				 const struct journal_field *fields, journal_row_taker *take,
				 void *context)
{
	sqlite3_stmt *row = NULL;
	bool more = false;
	enum journal_status status = prepare(journal, &sql, fields, &row);

	while (status == JOURNAL_OK && row) {
		while ((status = journal_step(journal, row, &more)) == JOURNAL_OK && more)
			if (take)
				take(context, row);
		sqlite3_finalize(row);
		row = NULL;
		if (status == JOURNAL_OK)
			status = prepare(journal, &sql, fields, &row);
	}
	return status;
}

/* ---- rows ---- */

const char *const journal_kind_names[JOURNAL_KINDS] = {
	[JOURNAL_STARTED] = "started",     [JOURNAL_ANNOUNCED] = "announced",
	[JOURNAL_NEXT] = "next",           [JOURNAL_AGAIN] = "again",
	[JOURNAL_BACK] = "back",           [JOURNAL_UNDO] = "undo",
	[JOURNAL_PAUSE] = "pause",         [JOURNAL_RESUME] = "resume",
	[JOURNAL_MISHAP] = "mishap",       [JOURNAL_WHY] = "why",
	[JOURNAL_FAULT] = "fault",         [JOURNAL_MENDED] = "mended",
	[JOURNAL_STOPPED] = "stopped",     [JOURNAL_FINISHED] = "finished",
	[JOURNAL_ABANDONED] = "abandoned", [JOURNAL_ANSWERED] = "answered",
	[JOURNAL_RIGHT] = "right",         [JOURNAL_WRONG] = "wrong",
	[JOURNAL_STATION] = "station",     [JOURNAL_PASSED] = "passed",
	[JOURNAL_FOUND] = "found",         [JOURNAL_NOTE] = "note",
};

bool journal_kind_parse(const char *name, enum journal_kind *out)
{
	for (int i = 0; i < JOURNAL_KINDS; i++) {
		if (strcmp(name, journal_kind_names[i]) == 0) {
			*out = (enum journal_kind)i;
			return true;
		}
	}
	return false;
}

void journal_take(sqlite3_stmt *row, const struct journal_target *targets)
{
	for (int i = 0; targets[i].variable; i++) {
		void *variable = targets[i].variable;
		const char *text = row && targets[i].type >= TARGET_TEXT
					   ? (const char *)sqlite3_column_text(row, i)
					   : NULL;
		switch (targets[i].type) {
		case TARGET_BOOL:
			*(bool *)variable = row && sqlite3_column_int(row, i);
			break;
		case TARGET_INT:
			*(int *)variable = row ? sqlite3_column_int(row, i) : 0;
			break;
		case TARGET_INT64:
			*(int64_t *)variable = row ? sqlite3_column_int64(row, i) : 0;
			break;
		case TARGET_DOUBLE:
			*(double *)variable = row ? sqlite3_column_double(row, i) : 0;
			break;
		case TARGET_TEXT:
			*(char **)variable = memory_copy(text);
			break;
		case TARGET_LETTER:
			*(char *)variable = text ? text[0] : '\0';
			break;
		case TARGET_KIND:
			*(enum journal_kind *)variable = JOURNAL_STARTED;
			journal_kind_parse(text ? text : "", variable);
		}
	}
}

enum journal_status journal_ask(struct journal *journal, const char *sql,
				const struct journal_field *fields,
				const struct journal_target *targets)
{
	sqlite3_stmt *statement = NULL;
	bool row = false;
	enum journal_status status = journal_query(journal, sql, fields, &statement);

	if (status == JOURNAL_OK)
		status = journal_step(journal, statement, &row);
	journal_take(row ? statement : NULL, targets);
	sqlite3_finalize(statement);
	return status;
}

enum journal_status journal_do(struct journal *journal, const char *sql,
			       const struct journal_field *fields)
{
	return journal_each(journal, sql, fields, NULL, NULL);
}

void journal_do_made(struct journal *journal, const char *sql)
{
	sqlite3_stmt *statement = NULL;
	struct text made = {0};
	bool row = false;

	while (prepare(journal, &sql, NULL, &statement) == JOURNAL_OK && statement) {
		while (journal_step(journal, statement, &row) == JOURNAL_OK && row)
			text_format(&made, "%s;", (const char *)sqlite3_column_text(statement, 0));
		sqlite3_finalize(statement);
		journal_do(journal, text_string(&made), NULL);
		text_clear(&made);
	}
	text_free(&made);
}

void journal_insert(struct journal *journal, const char *table, const struct journal_field *fields)
{
	struct text columns = {0}, values = {0};

	if (journal->failed != JOURNAL_OK)
		return;
	for (const struct journal_field *field = fields; field->name; field++) {
		text_format(&columns, "%s%s", field == fields ? "" : ", ", field->name);
		text_format(&values, "%s:%s", field == fields ? "" : ", ", field->name);
	}
	char *sql = memory_format("INSERT INTO %s (%s) VALUES (%s)", table, text_string(&columns),
				  text_string(&values));
	journal_do(journal, sql, fields);
	free(sql);
	text_free(&columns);
	text_free(&values);
}

/* ---- transactions ---- */

void journal_begin_transaction(struct journal *journal, const char *doing)
{
	int moved = 0;

	journal->doing = doing;
	journal->in_transaction = true;
	sqlite3_file_control(journal->database, "main", SQLITE_FCNTL_HAS_MOVED, &moved);
	if (moved) /* what is written now would be lost */
		journal_fail(journal, JOURNAL_IO, "it was moved or removed while in use");
	journal_do(journal, "BEGIN IMMEDIATE", NULL);
}

/* After some failures SQLite has rolled back by itself. A damaged file is not written to again, not
 * even on closing. */
enum journal_status journal_end_transaction(struct journal *journal)
{
	journal_do(journal, "COMMIT", NULL);
	enum journal_status status = journal->failed;

	if (status != JOURNAL_OK && !sqlite3_get_autocommit(journal->database))
		sqlite3_exec(journal->database, "ROLLBACK", NULL, NULL, NULL);
	if (status == JOURNAL_CORRUPT)
		journal_touch_nothing_on_close(journal, true);
	journal->doing = NULL;
	journal->in_transaction = false;
	journal->failed = JOURNAL_OK;
	return status;
}

void journal_touch_nothing_on_close(struct journal *journal, bool on)
{
	sqlite3_db_config(journal->database, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, (int)on, NULL);
}

void journal_hold(struct journal *journal)
{
	sqlite3_exec(journal->database, "SAVEPOINT held", NULL, NULL, NULL);
}

void journal_let_go(struct journal *journal)
{
	sqlite3_exec(journal->database, "RELEASE held", NULL, NULL, NULL);
}
