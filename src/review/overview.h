/* What the journal says about many jobs: how long they take, where the minutes and the place get
 * lost, who is getting faster, and what to quote for the next one.
 *
 * Only finished jobs count: the others have no full time. All times are of work, in microseconds;
 * pauses and the time between runs are not in them.
 */
#ifndef REVIEW_OVERVIEW_H
#define REVIEW_OVERVIEW_H

#include "review/review.h"
#include "stats/stats.h"

enum { REVIEW_PHASES = 4, REVIEW_OUTSIDE_MAX = 5, REVIEW_QUOTE_MIN = 3, REVIEW_QUOTE_JOBS = 20 };

extern const char *const review_phase_names[REVIEW_PHASES]; /* prepare, mains, crosses, finish */

/* Jobs that have something in common: all of them, those of one stringer, of one pattern and
 * method, or of both. A name that is not common is NULL. */
struct review_group {
	const char *stringer;
	const char *pattern;
	const char *method;
	size_t count;
	struct stats_summary work;

	/* In the order in which the jobs were begun; needs STATS_LEARNING_MIN of them. */
	bool has_learning;
	struct stats_learning learning;

	/* Limits for the total time of single jobs, and the jobs outside, of which the first few
	 * are named. Needs STATS_LEARNING_MIN jobs too: limits from fewer say nothing. */
	bool has_chart;
	struct stats_chart chart;
	size_t outside_count;
	int64_t outside[REVIEW_OUTSIDE_MAX];

	/* The next job: a middle, and the interval that four in five stay within. From the better
	 * law of learning where one is shown, else from the newest REVIEW_QUOTE_JOBS (stats_next).
	 * Needs REVIEW_QUOTE_MIN. */
	bool has_quote;
	double quote_us;
	struct stats_interval quote_interval_us;
};

/* One string, over all jobs that had it. */
struct review_string_mean {
	bool is_main;
	char side; /* of a main: 'l', 'r'; of a cross: 0 */
	int number;
	int jobs;
	double mean_us; /* a job */
	int repeats;
	int backs;
};

struct review_overview {
	size_t finished;
	size_t open;
	size_t abandoned;
	int64_t first_us; /* when the first and the last of the finished jobs were begun */
	int64_t last_us;
	struct review_group all;
	struct review_group *stringers; /* the most jobs first, as in all three */
	size_t stringer_count;
	struct review_group *patterns; /* pattern and method */
	size_t pattern_count;
	struct review_group *pairs; /* stringer, pattern and method */
	size_t pair_count;
	struct stats_summary phases[REVIEW_PHASES];
	struct stats_summary pause;
	/* The second half of the crosses (of the mains) against the first: 1.1 is 10 % slower. */
	struct stats_summary mains_ratio;
	struct stats_summary crosses_ratio;
	struct review_string_mean *strings; /* mains left, mains right, crosses; by number */
	size_t string_count;
	int repeats;
	int backs;
	char **names; /* owns all names above */
	size_t name_count;
};

/* On failure journal_message tells why and *out is empty. */
enum journal_status review_overview(struct journal *journal, const struct review_filter *filter,
				    struct review_overview *out);
void review_overview_free(struct review_overview *overview);

/* How a standard time is to be reckoned (stats_standard_time). */
struct review_standard {
	double rating;    /* 1: the pace that is expected */
	double allowance; /* for rest and delays: 0.13 is 13 % */
};

/* As tables of at most 80 columns; standard NULL leaves that table out. */
void review_print_overview(const struct review_overview *overview,
			   const struct review_standard *standard, FILE *out);

/* One line for the counter about a group of one stringer, pattern and method, such as
 *   open-16x19, two-piece, mira: 31 min (26 to 38), from 14 jobs
 * or why there is no quote. "faster": the stringer is getting faster, and the quote follows. */
void review_print_quote(const struct review_group *pair, FILE *out);

/* The group for a stringer, a pattern and a method, or NULL. */
const struct review_group *review_find_pair(const struct review_overview *overview,
					    const char *stringer, const char *pattern,
					    const char *method);

#endif
