/* How a cross goes over and under the mains.
 *
 * The strings of a bed are alternately interlaced or bonded where they cross: ITF Rules of Tennis,
 * Appendix II b; BWF Laws of Badminton, Law 4; WSF racket specification. Nobody bonds them, so with
 * mains numbered 1 to M from left to right and crosses numbered from one end of the bed, cross c is
 * over main m exactly when c + m has one and the same parity over the whole bed.
 */
#ifndef SEQUENCE_WEAVE_H
#define SEQUENCE_WEAVE_H

#include "frame/hole.h"

#include <stdbool.h>

enum travel {
	TRAVEL_LEFT_TO_RIGHT,
	TRAVEL_RIGHT_TO_LEFT,
	TRAVEL_HEAD_TO_THROAT, /* a main that is woven when crosses are in already */
	TRAVEL_THROAT_TO_HEAD,
};

/* What is announced: the stringer meets the other strings in the direction of travel. */
struct weave {
	enum travel travel;
	bool first_over; /* at the first string met */
	bool last_over;  /* at the last */
};

/* The mains that a cross meets, numbered from the left. Not always all: a cross in a hole that the
 * mains skip passes by the mains that leave the frame beyond it (frame/pattern.h, pattern_meets).
 * It still has to interlace with its neighbours, so where an odd number a side is passed by, it
 * starts the other way. */
struct mains_met {
	int first;
	int last;
};

/* The main that a cross meets first, coming from that side. */
int weave_first_met(struct mains_met mains, enum side side);

/* The parity of c + m at which crosses are over, if cross c is to be `over` at main m. */
int weave_parity(int cross, int main, bool over);

/* Whether cross c is over main m (from the left) in a bed of that parity. */
bool weave_is_over(int parity, int cross, int main);

/* How cross c goes when it is woven from `side`. */
struct weave weave_of_cross(int parity, struct mains_met mains, int cross, enum side side);

/* How main m goes when it is woven through crosses that are in: from cross `first` to cross
 * `last`. */
struct weave weave_of_main(int parity, int main, int first, int last, enum travel travel);

const char *travel_name(enum travel travel); /* "left-to-right", "throat-to-head" ... */

#endif
