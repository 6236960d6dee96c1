#include "journal/internal.h"

#include "base/base.h"

#include <stdio.h>
#include <stdlib.h>

enum journal_status journal_run(struct journal *journal, const char *doing, const char *sql)
{
	int result = sqlite3_exec(journal->database, sql, NULL, NULL, NULL);

	return result == SQLITE_OK ? JOURNAL_OK : journal_fail_sql(journal, doing, result);
}

void journal_touch_nothing_on_close(struct journal *journal, bool on)
{
	sqlite3_db_config(journal->database, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, (int)on, NULL);
}

/* Events written to a file that was removed or renamed would be lost. */
static enum journal_status still_in_place(struct journal *journal)
{
	int moved = 0;

	sqlite3_file_control(journal->database, "main", SQLITE_FCNTL_HAS_MOVED, &moved);
	return moved ? journal_fail(journal, JOURNAL_IO, "it was moved or removed while in use")
		     : JOURNAL_OK;
}

enum journal_status journal_begin_transaction(struct journal *journal, const char *doing)
{
	enum journal_status status = still_in_place(journal);

	return status == JOURNAL_OK ? journal_run(journal, doing, "BEGIN IMMEDIATE") : status;
}

/* After some failures SQLite has rolled back by itself. A damaged file is not written to again, not
 * even on closing. */
enum journal_status journal_end_transaction(struct journal *journal, enum journal_status status,
					    const char *doing)
{
	if (status == JOURNAL_OK)
		status = journal_run(journal, doing, "COMMIT");
	if (status != JOURNAL_OK && !sqlite3_get_autocommit(journal->database))
		sqlite3_exec(journal->database, "ROLLBACK", NULL, NULL, NULL);
	if (status == JOURNAL_CORRUPT)
		journal_touch_nothing_on_close(journal, true);
	return status;
}

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

static enum journal_status prepare(struct journal *journal, const char *doing, const char *sql,
				   const struct journal_field *fields, sqlite3_stmt **out)
{
	int result = sqlite3_prepare_v2(journal->database, sql, -1, out, NULL);

	for (; result == SQLITE_OK && fields && fields->name; fields++)
		result = bind(*out, fields);
	if (result == SQLITE_OK)
		return JOURNAL_OK;
	enum journal_status status = journal_fail_sql(journal, doing, result);
	sqlite3_finalize(*out);
	*out = NULL;
	return status;
}

enum journal_status journal_query(struct journal *journal, const char *sql,
				  const struct journal_field *fields, sqlite3_stmt **out)
{
	return prepare(journal, "read it", sql, fields, out);
}

enum journal_status journal_do(struct journal *journal, const char *doing, const char *sql,
			       const struct journal_field *fields)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = prepare(journal, doing, sql, fields, &statement);

	if (status != JOURNAL_OK)
		return status;
	int result = sqlite3_step(statement);
	if (result != SQLITE_DONE && result != SQLITE_ROW)
		status = journal_fail_sql(journal, doing, result);
	sqlite3_finalize(statement);
	return status;
}

enum journal_status journal_change(struct journal *journal, const char *doing, const char *sql,
				   const struct journal_field *fields)
{
	enum journal_status status = journal_do(journal, doing, sql, fields);

	return status == JOURNAL_OK && sqlite3_changes(journal->database) == 0 ? JOURNAL_NONE
									       : status;
}

enum journal_status journal_insert(struct journal *journal, const char *doing, const char *table,
				   const struct journal_field *fields)
{
	struct text sql = {0};

	text_format(&sql, "INSERT INTO %s (%s", table, fields->name);
	for (const struct journal_field *field = fields + 1; field->name; field++)
		text_format(&sql, ", %s", field->name);
	text_format(&sql, ") VALUES (:%s", fields->name);
	for (const struct journal_field *field = fields + 1; field->name; field++)
		text_format(&sql, ", :%s", field->name);
	text_add_char(&sql, ')');
	enum journal_status status = journal_do(journal, doing, text_string(&sql), fields);
	text_free(&sql);
	return status;
}

static void add_statement(void *context, sqlite3_stmt *row)
{
	text_format(context, "%s;", (const char *)sqlite3_column_text(row, 0));
}

enum journal_status journal_run_made(struct journal *journal, const char *doing, const char *sql)
{
	struct text made = {0};
	enum journal_status status = journal_each(journal, sql, NULL, add_statement, &made);

	if (status == JOURNAL_OK)
		status = journal_run(journal, doing, text_string(&made));
	text_free(&made);
	return status;
}

char *journal_column_copy(sqlite3_stmt *statement, int column)
{
	return memory_copy((const char *)sqlite3_column_text(statement, column));
}

enum journal_status journal_step(struct journal *journal, sqlite3_stmt *statement, bool *row)
{
	int result = sqlite3_step(statement);

	*row = result == SQLITE_ROW;
	if (result == SQLITE_ROW || result == SQLITE_DONE)
		return JOURNAL_OK;
	return journal_fail_sql(journal, "read it", result);
}

enum journal_status journal_hold(struct journal *journal)
{
	return journal_run(journal, "read it", "SAVEPOINT held");
}

void journal_let_go(struct journal *journal)
{
	sqlite3_exec(journal->database, "RELEASE held", NULL, NULL, NULL);
}

enum journal_status journal_each(struct journal *journal, const char *sql,
				 const struct journal_field *fields, journal_row_taker *take,
				 void *context)
{
	sqlite3_stmt *row = NULL;
	bool more = false;
	enum journal_status status = journal_query(journal, sql, fields, &row);

	while (status == JOURNAL_OK && (status = journal_step(journal, row, &more)) == JOURNAL_OK &&
	       more)
		take(context, row);
	sqlite3_finalize(row);
	return status;
}

static void take_text(void *context, sqlite3_stmt *row)
{
	*(char **)context = journal_column_copy(row, 0);
}

enum journal_status journal_ask_text(struct journal *journal, const char *sql,
				     const struct journal_field *fields, char **out)
{
	*out = NULL;
	return journal_each(journal, sql, fields, take_text, out);
}

enum journal_status journal_ask_int(struct journal *journal, const char *sql, int64_t *out)
{
	char *text = NULL;
	enum journal_status status = journal_ask_text(journal, sql, NULL, &text);

	if (text)
		*out = strtoll(text, NULL, 10);
	free(text);
	return status;
}

int journal_copy_pages(sqlite3 *from, sqlite3 *to)
{
	sqlite3_backup *backup = sqlite3_backup_init(to, "main", from, "main");

	if (!backup)
		return sqlite3_errcode(to);
	sqlite3_backup_step(backup, -1);
	return sqlite3_backup_finish(backup);
}
