/* Shared by the files of this room. Each calls only files further down this list:
 *
 *   job.c        the review of one job
 *   teaching.c   what a trainer wants to know of a trainee
 *   overview.c   many jobs: trends, limits and quotes
 *   export.c     CSV, JSON Lines and XES
 *   list.c       lists of jobs, of the rack and the reels, and of names
 *   table.c      tables of text; durations and dates
 */
#ifndef REVIEW_INTERNAL_H
#define REVIEW_INTERNAL_H

#include "review/review.h"

/* ---- Which jobs ---- */

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

enum { FILTER_FIELDS = 11 };

struct filter_fields {
	struct journal_field fields[FILTER_FIELDS + 2]; /* room for one of the caller's */
};

struct filter_fields review_filter_fields(const struct review_filter *filter);

/* The strings that came out for a mishap m: of a way back that another one replaced, those that
 * were out by then. */
#define REVIEW_UNDONE                                                                              \
	"coalesce((SELECT count(c.n) FROM mishap AS later LEFT JOIN call AS c ON c.job = m.job "   \
	"AND c.mishap = m.n AND c.kind = 'take-out' AND c.n < later.found "                        \
	"WHERE later.job = m.job AND later.n = m.n + 1 GROUP BY later.n), m.undone)"

/* ---- Tables ---- */

/* The least time of which a change is told as a percentage, of a string and of a job; below that it
 * is told as time. */
enum { REVIEW_STRING_LEAST_US = 10000000, REVIEW_JOB_LEAST_US = 60000000 };

/* Adds a zeroed element to an array whose room doubles when it is full. */
void *review_one_more(void *things, size_t *count, size_t size);

/* Adds the rows of a query, or one from its `first` column on; null is an empty cell, for a number
 * a dash. */
void table_add_row(struct table *table, sqlite3_stmt *row, int first);
enum journal_status table_rows(struct table *table, struct journal *journal, const char *sql,
			       const struct journal_field *fields);

/* Without the columns that no row fills. In a terminal that is too narrow, the columns stand
 * closer, and if that is not enough, rows go on in a second line. */
void table_print_list(const struct table *table, FILE *out);

/* A blank line, the caption and the list, or nothing if the table is empty. */
void review_print_table(const struct table *table, FILE *out);

void facts_print(const struct table *facts, FILE *out);

/* ---- Files of this folder ---- */

extern const char job_facts_sql[], job_visits_sql[], job_marks_sql[], job_breaks_sql[],
	job_phases_sql[], job_strings_sql[], job_halves_sql[];
extern const char export_jobs_sql[], export_calls_sql[], export_events_sql[], export_xes_sql[],
	export_xes[], overview_sql[], rack_done_sql[], teach_shop_sql[];

#endif
