/* What the journal says about one job, and which jobs there are.
 *
 * Work is the time between events while the clock of work ran; a pause is time within a run in
 * which it did not; away is the time between two runs (a crash, a night), by wall time. Nothing
 * here changes the journal, which may be open for reading only, and may be written meanwhile.
 */
#ifndef REVIEW_REVIEW_H
#define REVIEW_REVIEW_H

#include "journal/journal.h"
#include "stats/stats.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* Work on some calls: those of a phase, of a string, or a single one. */
struct review_work {
	int64_t work_us;
	int calls;
	int repeats; /* asked for again */
	int backs;   /* left by a step back */
};

struct review_phase {
	char *name; /* prepare, mains, crosses, finish */
	struct review_work work;
};

struct review_string {
	bool is_main;
	int number;
	char side; /* of a main: 'l', 'r'; of a cross: 0 */
	struct review_work work;
};

struct review_call {
	int n;
	char *text;
	struct review_work work;
};

struct review_break {
	int call;
	bool away;       /* between runs, else a pause */
	int64_t wall_us; /* when it began */
	int64_t length_us;
};

/* Mean work a string in the first and in the second half of the strings of one kind, in the order
 * in which they were begun; of an odd number the middle one is left out. NaN below two strings. */
struct review_halves {
	double first_us;
	double second_us;
};

enum { REVIEW_SLOWEST = 5 };

struct review {
	struct journal_place job;
	int64_t work_us;
	int64_t pause_us;
	int64_t away_us;
	int repeats;
	int backs;
	int undos;
	int faults;
	struct review_phase *phases; /* in the order in which they came */
	size_t phase_count;
	struct review_string *strings; /* likewise */
	size_t string_count;
	struct review_call slowest[REVIEW_SLOWEST];
	size_t slowest_count;
	struct review_call *unsure; /* calls asked for again or left by a step back, in order */
	size_t unsure_count;
	struct review_break *breaks;
	size_t break_count;
	struct review_halves mains;
	struct review_halves crosses;
	size_t response_count; /* of presses whose response was measured; else the next are NaN */
	double response_median_us;
	double response_p95_us;
};

/* The job of that number, UUID or name (journal_find). On failure journal_message tells why and
 * *out is empty. */
enum journal_status review_job(struct journal *journal, const char *which, struct review *out);
void review_free(struct review *review);

/* As tables of at most 80 columns. */
void review_print(const struct review *review, FILE *out);

/* Which jobs: a NULL or 0 takes all. */
struct review_filter {
	const char *stringer;
	const char *pattern;
	const char *method;
	int64_t since_us; /* begun at or after, wall time */
	int64_t until_us; /* begun before */
	int newest;       /* only this many, the newest */
};

/* A job in the list. The text is valid during the call that passes it. */
struct review_row {
	int64_t job;
	const char *uuid;
	const char *name;
	const char *stringer;
	const char *pattern;
	const char *method;
	const char *state; /* open, finished, abandoned */
	int calls;
	int done; /* calls before the current one */
	int64_t created_us;
	int64_t work_us;
};

/* Calls `take` for each job, the oldest first. */
enum journal_status review_each_job(struct journal *journal, const struct review_filter *filter,
				    void (*take)(const struct review_row *row, void *context),
				    void *context);

/* The list as a table of at most 80 columns, or a sentence that there is none. */
enum journal_status review_print_jobs(struct journal *journal, const struct review_filter *filter,
				      FILE *out);

/* The journal for other programs.
 *
 *   CSV         RFC 4180, UTF-8, a line of names first. Null is an empty field, an empty text is
 * "", which is how PostgreSQL's COPY ... (FORMAT csv, HEADER) reads them. JSON Lines  one object a
 * line, the same names. XES         IEEE 1849: one trace a job, one activity a call, for process
 * mining. A call starts, is suspended and resumed by pauses, and is completed by "next"; leaving it
 * by a step back aborts it. "Again" and faults are in it with the transition "unknown".
 *
 * What is no UTF-8 or may not stand in XML comes out as U+FFFD. The caller looks at ferror(out).
 */

enum review_format { REVIEW_CSV, REVIEW_JSON_LINES, REVIEW_XES };

/* What a line of CSV or JSON Lines is. */
enum review_table { REVIEW_JOBS, REVIEW_CALLS, REVIEW_EVENTS };

/* csv, json, xes; jobs, calls, events. */
bool review_format_parse(const char *name, enum review_format *out);
bool review_table_parse(const char *name, enum review_table *out);

/* Writes the jobs that pass the filter, the oldest first. XES has events only and ignores the
 * table.
 */
enum journal_status review_export(struct journal *journal, const struct review_filter *filter,
				  enum review_table table, enum review_format format, FILE *out);

/* What the journal says about many jobs: how long they take, where the minutes and the place get
 * lost, who is getting faster, and what to quote for the next one.
 *
 * Only finished jobs count: the others have no full time. All times are of work, in microseconds;
 * pauses and the time between runs are not in them.
 */

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

/* How times, dates and words are put into a table. */

enum { WORDS_TIME_MAX = 24, WORDS_DATE_MAX = 24 };

/* "0:07", "12:30", "1:02:05", rounded to the second; a time before zero has a minus sign. Returns
 * buffer. */
const char *words_time(int64_t us, char buffer[static WORDS_TIME_MAX]);

/* "2026-11-25 14:43", and its first ten letters, in the local time zone. Returns buffer. */
const char *words_date(int64_t wall_us, char buffer[static WORDS_DATE_MAX]);
const char *words_day(int64_t wall_us, char buffer[static WORDS_DATE_MAX]);

/* Prints UTF-8 text in exactly that many columns, or in at most that many if `fill` is not set: cut
 * with '~', control characters as '?'. Counts a column a character, which is right for the scripts
 * that the phrasebooks are written in. */
void words_print(FILE *out, const char *text, int columns, bool fill);

#endif
