/* Shared by the files of this room only. */
#ifndef REVIEW_INTERNAL_H
#define REVIEW_INTERNAL_H

#include "base/base.h"
#include "journal/journal.h"
#include "review/review.h"

#include <stdbool.h>
#include <stdio.h>

/* Adds text from a journal to a file that other programs read: a byte that is not part of
 * well-formed UTF-8 (RFC 3629) becomes U+FFFD. */
void clean_add(struct text *out, const char *text);

/* The six parameters that every statement with a filter has. */

/* ?1 stringer, ?2 pattern, ?3 method, ?4 since, ?5 until, ?6 how many (-1: all). The filter must
 * stay as it is while the statement is in use. */
void review_bind_filter(sqlite3_stmt *statement, const struct review_filter *filter);

/* The numbers of the jobs that pass, the newest first: a subquery. */
#define REVIEW_WANTED                                                                              \
	"(SELECT id FROM job WHERE (?1 IS NULL OR stringer = ?1) "                                 \
	"AND (?2 IS NULL OR pattern = ?2) AND (?3 IS NULL OR method = ?3) "                        \
	"AND (?4 = 0 OR created_us >= ?4) AND (?5 = 0 OR created_us < ?5) "                        \
	"ORDER BY created_us DESC, id DESC LIMIT ?6)"

/* What an overview is computed from: a few numbers for each finished job, and sums for each string.
 */

enum { GATHER_NUMBERS = 64 }; /* of strings of one kind; none has more */
enum { GATHER_MAINS_LEFT, GATHER_MAINS_RIGHT, GATHER_CROSSES, GATHER_KINDS };

struct gathered_job {
	int64_t job;
	int64_t created_us;
	const char *stringer; /* one pointer for one name, owned by the overview */
	const char *pattern;
	const char *method;
	double work_us;
	double pause_us;
	double phase_us[REVIEW_PHASES];
	double mains_ratio; /* NaN where there are too few */
	double crosses_ratio;
};

struct gathered {
	struct gathered_job *jobs; /* in the order in which they were begun */
	size_t count;
	size_t room;
	struct review_string_mean strings[GATHER_KINDS][GATHER_NUMBERS]; /* mean: the sum */
};

/* Reads the jobs that pass the filter; names, and the counts of jobs that are not finished, go to
 * the overview. */
enum journal_status gather(struct journal *journal, const struct review_filter *filter,
			   struct gathered *out, struct review_overview *overview);

/* A job as a trace of IEEE 1849 (XES). */

/* The rows of one job (?1) that xes_trace takes. */
extern const char xes_sql[];

void xes_begin(FILE *out);
enum journal_status xes_trace(struct journal *journal, sqlite3_stmt *rows, FILE *out);
void xes_end(FILE *out);

#endif
