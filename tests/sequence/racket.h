/* Made-up rackets: a pattern file and a job plan as texts, and beside them what they mean.
 *
 * A racket is made the other way round from how the program reads one: first it is decided which
 * hole takes which string, then the file that says so is written. So `struct racket` is a second
 * opinion on the hole map, the tensions and the order of work, not the program's own.
 */
#ifndef TESTS_SEQUENCE_RACKET_H
#define TESTS_SEQUENCE_RACKET_H

#include "base/base.h"
#include "job/job.h"
#include "random.h"

struct racket {
	int half; /* mains a side */
	int crosses;
	int holes[2]; /* by end */
	int bridge;
	int main_hole[2][MAINS_MAX / 2 + 1];     /* by end and main */
	struct hole cross_hole[CROSSES_MAX + 1]; /* from the head */
	enum frame_end crosses_start;            /* the plan's, else the pattern's */
	bool turned; /* the plan begins them at the other end than the pattern */
	struct hole tie_off[TIE_OFFS][2]; /* number 0: not named */

	struct machine machine;
	bool one_piece;
	bool start_forced;
	enum frame_end mains_start;
	enum side first_side;
	int lead;
	int outside;      /* one-piece: longest run outside the frame */
	bool route_named; /* one-piece: the plan takes the best route, however many breaks */
	enum side weave_side;
	bool weave_over;
	int behind;
	int first_pull;
	enum detail detail;
	int check_every;                   /* crosses between looks for misweaves; 0: none */
	double tie_off_extra;              /* share */
	double prestretch[2];              /* by string_kind */
	double newton[2][CROSSES_MAX + 1]; /* what each string is to be pulled at, by string_kind */

	struct text pattern; /* the file */
	struct text job;     /* the plan */
};

/* Clears what was there. */
void racket_make(struct racket *racket, struct random *random, bool one_piece);
void racket_free(struct racket *racket);

#endif
