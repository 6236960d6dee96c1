#include "journal/internal.h"

#include "base/base.h"

enum journal_status journal_run(struct journal *journal, const char *doing, const char *sql)
{
	int result = sqlite3_exec(journal->database, sql, NULL, NULL, NULL);

	return result == SQLITE_OK ? JOURNAL_OK : journal_fail_sql(journal, doing, result);
}

enum journal_status journal_run_all(struct journal *journal, const char *doing,
				    const char *const *statements)
{
	enum journal_status status = JOURNAL_OK;

	for (; status == JOURNAL_OK && *statements; statements++)
		status = journal_run(journal, doing, *statements);
	return status;
}

void journal_touch_nothing_on_close(struct journal *journal, bool on)
{
	sqlite3_db_config(journal->database, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, (int)on, NULL);
}

/* Written to a file without a name, or under a name that nobody will look at, events are lost. */
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

/* SQLite ends the transaction itself after some failures, and then there is nothing to take back.
 * What is damaged is not written to again, not even on closing. */
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

enum journal_status journal_prepare(struct journal *journal, const char *sql, sqlite3_stmt **out)
{
	int result = sqlite3_prepare_v2(journal->database, sql, -1, out, NULL);

	return result == SQLITE_OK ? JOURNAL_OK : journal_fail_sql(journal, "read it", result);
}

/* The caller's text outlives the step, so that it need not be copied. */
void journal_bind_text(sqlite3_stmt *statement, int index, const char *text)
{
	sqlite3_bind_text(statement, index, text, -1, SQLITE_STATIC);
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
	if (journal->holds > 0) {
		journal->holds++;
		return JOURNAL_OK;
	}
	enum journal_status status = journal_run(journal, "read it", "BEGIN");
	if (status == JOURNAL_OK)
		journal->holds = 1;
	return status;
}

void journal_let_go(struct journal *journal)
{
	if (--journal->holds == 0 && !sqlite3_get_autocommit(journal->database))
		sqlite3_exec(journal->database, "COMMIT", NULL, NULL, NULL);
}

enum journal_status journal_ask_int(struct journal *journal, const char *sql, int64_t *out)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_prepare(journal, sql, &statement);

	if (status != JOURNAL_OK)
		return status;
	bool row = false;
	status = journal_step(journal, statement, &row);
	if (row)
		*out = sqlite3_column_int64(statement, 0);
	sqlite3_finalize(statement);
	return status;
}
