/* Reading a journal with SQL, for the rooms that tell what is in it. The tables and views are
 * described in schema.c and, with `.schema`, by the sqlite3 shell.
 */
#ifndef JOURNAL_QUERY_H
#define JOURNAL_QUERY_H

#include "journal/journal.h"

#include <sqlite3.h>

/* A statement ready to be bound and stepped; the caller finalizes it. NULL on failure. */
enum journal_status journal_prepare(struct journal *journal, const char *sql, sqlite3_stmt **out);

/* Goes to the next row; *row is false after the last one and on failure. */
enum journal_status journal_step(struct journal *journal, sqlite3_stmt *statement, bool *row);

/* Binds text (NULL: null) that must stay as it is until the statement is finalized or bound anew.
 */
void journal_bind_text(sqlite3_stmt *statement, int index, const char *text);

/* A column's text as a copy for the caller to free; NULL stays NULL. */
char *journal_column_copy(sqlite3_stmt *statement, int column);

/* Between the two, everything that is read is of one moment. They may be nested; what was held is
 * let go exactly as often. */
enum journal_status journal_hold(struct journal *journal);
void journal_let_go(struct journal *journal);

#endif
