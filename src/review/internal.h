/* What the files of this room share. */
#ifndef REVIEW_INTERNAL_H
#define REVIEW_INTERNAL_H

#include "base/base.h"
#include "journal/journal.h"
#include "review/review.h"

#include <stdbool.h>
#include <stdio.h>

/* ---- which jobs ---- */

/* A subquery for the jobs that pass a filter, the newest first; its parameters are the fields that
 * review_filter_fields fills. */
#define REVIEW_WANTED                                                                              \
	"(SELECT id FROM job WHERE (:stringer IS NULL OR stringer = :stringer) "                   \
	"AND (:pattern IS NULL OR pattern = :pattern) AND (:method IS NULL OR method = :method) "  \
	"AND (:sport IS NULL OR sport = :sport) AND (:detail IS NULL OR detail = :detail) "        \
	"AND (:racket IS NULL OR racket = :racket) "                                               \
	"AND (:customer IS NULL OR customer = :customer) AND (:due IS NULL OR due <= :due) "       \
	"AND (:since = 0 OR created_us >= :since) AND (:until = 0 OR created_us < :until) "        \
	"ORDER BY created_us DESC, id DESC LIMIT :newest)"

struct filter_fields {
	struct journal_field fields[12];
};

struct filter_fields review_filter_fields(const struct review_filter *filter);

/* ---- what a plan says ---- */

/* Adds the SQL function plan_value(plan_text, 'tension' | 'string', 'mains' | 'crosses'). */
void plan_functions(sqlite3 *database);

/* ---- facts of a job, and of many ---- */

/* A row for the work that mishaps cost, in so many jobs; none if there was no mishap. */
void review_add_lost(struct table *facts, const struct review_lost *lost, size_t jobs);

/* ---- one job ---- */

/* Reads calls, strings and events of review->job into the review, and sums them up. */
enum journal_status review_read_course(struct journal *journal, struct review *review);

/* Makes the facts and tables of a review that has all else. */
enum journal_status review_make_tables(struct journal *journal, struct review *review);

/* Adds a zeroed element to an array whose room doubles when it is full. */
void *review_one_more(void *things, size_t *count, size_t size);

/* ---- a job as a trace of XES ---- */

extern const char xes_sql[]; /* the rows of one job (?1) that xes_trace takes */

void xes_begin(FILE *out);
enum journal_status xes_trace(struct journal *journal, sqlite3_stmt *rows, FILE *out);
void xes_end(FILE *out);

#endif
