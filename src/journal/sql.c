#include "journal/internal.h"

#include "base/memory.h"

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

enum journal_status journal_ask_int(struct journal *journal, const char *sql, int64_t *out)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_prepare(journal, sql, &statement);

	if (status != JOURNAL_OK)
		return status;
	int result = sqlite3_step(statement);
	if (result == SQLITE_ROW)
		*out = sqlite3_column_int64(statement, 0);
	else
		status = journal_fail_sql(journal, "read it", result);
	sqlite3_finalize(statement);
	return status;
}
