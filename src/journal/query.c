#include "journal/internal.h"

#include "base/base.h"

enum journal_status journal_run(struct journal *journal, const char *doing, const char *sql)
{
	int result = sqlite3_exec(journal->database, sql, NULL, NULL, NULL);

	return result == SQLITE_OK ? JOURNAL_OK : journal_fail_sql(journal, doing, result);
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
