/* What the journal says about one job, and which jobs there are.
 *
 * Work is the time between events while the clock of work ran; a pause is time within a run in
 * which it did not; away is the time between two runs (a crash, a night), by wall time. Nothing
 * here changes the journal, which may be open for reading only, and may be written meanwhile.
 */
#ifndef REVIEW_REVIEW_H
#define REVIEW_REVIEW_H

#include "journal/journal.h"

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

#endif
