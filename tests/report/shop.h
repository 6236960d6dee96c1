/* An invented shop whose jobs take as long as real ones: plans and patterns as they are read,
 * calls in the words of the phrasebook, times from chance with a fixed seed. */
#ifndef TESTS_REPORT_SHOP_H
#define TESTS_REPORT_SHOP_H

#include "journal/journal.h"

#include <stdbool.h>
#include <stdint.h>

struct shop_job {
	const char *name;
	const char *stringer;
	const char *pattern; /* of the bundled ones */
	const char *detail;  /* learner, bench, quick */
	int day;             /* since the shop was opened */
	double pace;         /* 1: a practised hand */
	uint64_t seed;
	bool smooth;    /* no interruptions, no doubts */
	bool left_open; /* in the middle of the crosses */
	bool two_runs;  /* a night between mains and crosses */
};

/* Noon of the day on which the shop was opened. */
extern const int64_t shop_opened_us;

/* Begins the job and appends all its events. Ends the program with a message if it cannot. */
void shop_string(struct journal *journal, const struct shop_job *job);

/* A job with all that a page can show. */
extern const struct shop_job shop_usual;

/* Twenty-eight jobs of four stringers and three patterns, some open; the first is shop_usual. */
void shop_write_jobs(const char *path);

#endif
