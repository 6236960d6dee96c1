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
	"AND (:since = 0 OR created_us >= :since) AND (:until = 0 OR created_us < :until) "        \
	"ORDER BY created_us DESC, id DESC LIMIT :newest)"

struct filter_fields {
	struct journal_field fields[7];
};

struct filter_fields review_filter_fields(const struct review_filter *filter);

/* ---- what a plan says ---- */

/* learner, bench or quick; bench where the plan does not say. */
const char *plan_detail(const char *plan);

/* Adds the SQL function plan_value(plan_text, 'tension' | 'string', 'mains' | 'crosses'). */
void plan_functions(sqlite3 *database);

/* ---- facts of a job, and of many ---- */

/* A row for the work that mishaps cost, in so many jobs; none if there was no mishap. */
void review_add_lost(struct table *table, const struct review_lost *lost, size_t jobs);

/* ---- the course of a job ---- */

/* Reads calls and events of review->job into the review: calls without their work, visits, marks,
 * totals and responses. */
enum journal_status review_read_course(struct journal *journal, struct review *review);

/* Adds a zeroed element to an array whose room doubles when it is full. */
void *review_one_more(void *things, size_t *count, size_t size);

/* ---- what an overview is computed from ---- */

enum { GATHER_NUMBERS = 64 }; /* more than any bed has mains on a side, or crosses */
enum { GATHER_MAINS_LEFT, GATHER_MAINS_RIGHT, GATHER_CROSSES, GATHER_KINDS };

/* Sums over the jobs of one kind. */
struct gathered_kind {
	struct review_kind kind; /* names belong to the overview */
	size_t jobs;
	struct review_string_mean strings[GATHER_KINDS][GATHER_NUMBERS]; /* mean_us: the sum */
};

struct gathered_job {
	struct review_time time;
	const char *stringer; /* belongs to the overview; equal names are equal pointers */
	size_t kind;          /* index */
	double phase_us[REVIEW_PHASES];
	double mains_ratio; /* NaN where there are too few strings */
	double crosses_ratio;
};

struct gathered {
	struct gathered_job *jobs; /* in the order in which they were begun */
	size_t count;
	size_t room;
	struct gathered_kind *kinds;
	size_t kind_count;
};

/* Reads the finished jobs that pass the filter, and counts the others in the overview, which owns
 * the names. The caller frees jobs and kinds in any case. */
enum journal_status gather(struct journal *journal, const struct review_filter *filter,
			   struct gathered *out, struct review_overview *overview);

/* ---- a job as a trace of XES ---- */

extern const char xes_sql[]; /* the rows of one job (?1) that xes_trace takes */

void xes_begin(FILE *out);
enum journal_status xes_trace(struct journal *journal, sqlite3_stmt *rows, FILE *out);
void xes_end(FILE *out);

#endif
