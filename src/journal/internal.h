/* Shared by the files of this room only. */
#ifndef JOURNAL_INTERNAL_H
#define JOURNAL_INTERNAL_H

#include "journal/journal.h"

#include <sqlite3.h>
#include <stddef.h>

/* "pulc", by which file(1) too can know a journal; and the version of tables.sql. */
enum { JOURNAL_APPLICATION = 0x70756c63, JOURNAL_VERSION = 2 };

enum { JOURNAL_BUSY_MS = 250 };

/* An event that is not on disk yet; detail is owned. */
struct waiting {
	struct journal_event event;
	char *detail;
};

struct journal {
	sqlite3 *database;
	char *path;
	char *uri; /* of the file as it was opened */
	char *message;
	bool was_left_open; /* a write-ahead log was found when opening to write */
	int version;        /* of the open database; an old file is read as a new one */
	int lock;           /* descriptor of the lock file, -1: none */

	int64_t job; /* begun or resumed last */
	int64_t run;
	int64_t next_seq;
	struct waiting *waiting;
	int waiting_count;
	int waiting_room;
};

extern const char tables_sql[], views_sql[]; /* tables.sql, views.sql */

/* result.c: turns errors of SQLite and the system into a status and a sentence. */
enum journal_status journal_fail(struct journal *journal, enum journal_status status,
				 const char *format, ...) __attribute__((format(printf, 3, 4)));
enum journal_status journal_fail_errno(struct journal *journal, const char *doing, int error);
enum journal_status journal_fail_sql(struct journal *journal, const char *doing, int result);

/* query.c: SQL. `doing` completes "cannot ..." in the message of a failure. */
enum journal_status journal_run(struct journal *journal, const char *doing, const char *sql);
enum journal_status journal_ask_int(struct journal *journal, const char *sql, int64_t *out);

/* Runs one statement with parameters. */
enum journal_status journal_do(struct journal *journal, const char *doing, const char *sql,
			       const struct journal_field *fields);

/* The same; JOURNAL_NONE if that changed nothing. */
enum journal_status journal_change(struct journal *journal, const char *doing, const char *sql,
				   const struct journal_field *fields);

/* Inserts one row: the fields name its columns. */
enum journal_status journal_insert(struct journal *journal, const char *doing, const char *table,
				   const struct journal_field *fields);

/* Runs the statements that are the rows of a query. */
enum journal_status journal_run_made(struct journal *journal, const char *doing, const char *sql);

/* A query for every table `t` of the journal that shares columns, except some, with the table that
 * pragma_table_info(OTHER) describes: its name, and the columns as a list. */
#define JOURNAL_SHARED_COLUMNS(other, except)                                                      \
	"SELECT t.name AS name, group_concat(a.name) AS columns FROM main.sqlite_schema AS t "     \
	"JOIN pragma_table_info(t.name, 'main') AS a JOIN pragma_table_info(" other ") AS b "      \
	"ON b.name = a.name WHERE t.type = 'table' AND a.name NOT IN (" except                     \
	") GROUP BY t.rowid"

/* With `on`, closing does not move the log into the file: a damaged journal stays as it was found.
 */
void journal_touch_nothing_on_close(struct journal *journal, bool on);

/* Commits if status is JOURNAL_OK, else rolls back. */
enum journal_status journal_begin_transaction(struct journal *journal, const char *doing);
enum journal_status journal_end_transaction(struct journal *journal, enum journal_status status,
					    const char *doing);

/* file.c: files and folders. */
enum journal_status journal_make_folders(struct journal *journal);
enum journal_status journal_lock(struct journal *journal);
enum journal_status journal_sync_folder(struct journal *journal, const char *path);
int journal_sync(const char *path); /* a file or a folder; 0 or an errno, as the next */
int journal_move(const char *from, const char *to, const char *suffix); /* added to both */
int journal_count_set_aside(const struct journal *journal);
bool journal_is_missing(const struct journal *journal); /* or empty */

/* create.c: creates journal->path, complete or not at all. */
enum journal_status journal_create(struct journal *journal);

/* query.c: makes one open database a copy of another; SQLite's result. */
int journal_copy_pages(sqlite3 *from, sqlite3 *to);

/* open.c: reads every page and looks for damage. */
enum journal_status journal_check(struct journal *journal);

/* migrate.c: writes the tables and views of a new journal; brings one of an earlier version up to
 * date. */
enum journal_status journal_write_schema(struct journal *journal, const char *doing);
enum journal_status journal_migrate(struct journal *journal);

/* write.c: tries to write the waiting events. */
enum journal_status journal_flush(struct journal *journal);

#endif
