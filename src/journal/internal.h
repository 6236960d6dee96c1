/* Shared by the files of this room. Each calls only files further down this list:
 *
 *   upkeep.c   backing up, merging, taking a person's name out
 *   open.c     opening, creating, bringing up to date, setting aside
 *   rack.c     the rack and the reels
 *   job.c      jobs and their events
 *   query.c    statements and transactions, and what their failures are called
 */
#ifndef JOURNAL_INTERNAL_H
#define JOURNAL_INTERNAL_H

#include "journal/journal.h"

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
	const char *doing; /* completes "cannot ..." in the message of a failure; NULL: reading */
	bool in_transaction;
	enum journal_status failed; /* the first failure in this transaction: no more is done */
	int version;                /* of the open database; an old file is read as a new one */
	int lock;                   /* descriptor of the lock file; -1: none */

	int64_t job; /* begun or resumed last */
	int64_t run;
	int64_t next_seq;
	bool untouched; /* it is new, not from the rack, and nobody has pressed yet */
	struct waiting *waiting;
	int waiting_count;
};

extern const char tables_sql[], views_sql[], migrate_from_sql[], migrate_to_sql[], merge_sql[];

/* ---- query.c ---- */

/* Turn errors of SQLite and the system into a status and a sentence. */
enum journal_status journal_fail(struct journal *journal, enum journal_status status,
				 const char *format, ...) __attribute__((format(printf, 3, 4)));
enum journal_status journal_fail_errno(struct journal *journal, const char *doing, int error);
enum journal_status journal_fail_sql(struct journal *journal, int result);

/* Runs statements, each with the fields whose parameters it has. */
enum journal_status journal_do(struct journal *journal, const char *sql,
			       const struct journal_field *fields);

/* A transaction. When something in it fails, what follows does nothing, and the end rolls back and
 * tells of that failure: what is done in between need not be checked. */
void journal_begin_transaction(struct journal *journal, const char *doing);
enum journal_status journal_end_transaction(struct journal *journal);

/* Inserts one row: the fields name its columns. */
void journal_insert(struct journal *journal, const char *table, const struct journal_field *fields);

/* Runs statements, and the rows of each are statements that are run then. */
void journal_do_made(struct journal *journal, const char *sql);

/* With `on`, closing leaves the log where it is: a damaged journal stays as it was found. */
void journal_touch_nothing_on_close(struct journal *journal, bool on);

/* ---- open.c ---- */

enum journal_status journal_sync_folder(struct journal *journal, const char *path);
int journal_count_set_aside(const struct journal *journal);

/* Reads every page and looks for damage. */
enum journal_status journal_check(struct journal *journal);

#endif
