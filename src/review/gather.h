/* What an overview is computed from: a few numbers for each finished job, and sums for each string.
 */
#ifndef REVIEW_GATHER_H
#define REVIEW_GATHER_H

#include "review/overview.h"

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

#endif
