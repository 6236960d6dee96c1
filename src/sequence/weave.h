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

enum travel { TRAVEL_LEFT_TO_RIGHT, TRAVEL_RIGHT_TO_LEFT };

/* What is announced: the stringer meets the mains in the direction of travel. */
struct weave {
	enum travel travel;
	bool first_over; /* at the first main met */
	bool last_over;  /* at the last */
};

/* The parity of c + m at which crosses are over, from how the first one starts: `over` at the first
 * main that cross 1 meets coming from `side`, of `mains` in all. */
int weave_parity(int mains, enum side side, bool over);

/* Whether cross c is over main m (from the left) in a bed of that parity. */
bool weave_is_over(int parity, int cross, int main);

/* How cross c goes when it is woven from `side`. */
struct weave weave_of(int parity, int mains, int cross, enum side side);

const char *travel_name(enum travel travel); /* "left-to-right", "right-to-left" */

#endif
