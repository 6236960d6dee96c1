/* One-piece routes: the way of the long side's string once its early mains are in.
 *
 * The short side strings its mains and ties off. The long side goes straight on to the crosses if
 * its last main comes out where they begin. Otherwise its outermost main is left for later, and the
 * string finds a way "around the world" (common practice, no published source):
 *   - it begins where the long side's last early main comes out, and visits every cross and the
 *     delayed main once; it leaves a cross on the side opposite to the one it entered, and a main
 *     at the other end;
 *   - from the hole it leaves to the one it enters it runs outside the frame, on the same side, at
 *     least one and at most `reach` hole positions along, never across the gap where the bridge
 *     ends (not back into the hole it came out of: nothing would hold it there);
 *   - it can end only where there is room for a knot.
 * A break is a cross that is not woven right after the cross numbered one less, or for cross 1 not
 * first. The best route has the fewest breaks, then the least run outside, then the least string.
 *
 * Everything here is a pure function of struct route_frame, which knows one side of a frame as a
 * row of places: holes from the middle of the head (0) round to the middle of the throat.
 */
#ifndef SEQUENCE_ROUTE_H
#define SEQUENCE_ROUTE_H

#include "frame/pattern.h"

#include <stdbool.h>

enum {
	ROUTE_PLACES_MAX = 2 * HOLES_MAX,
	ROUTE_REACH_MAX = 4,
	ROUTES_MAX = 40, /* so many are kept of those with the fewest breaks, the best */
};

struct route_frame {
	int crosses;
	int cross[CROSSES_MAX + 1]; /* places, by number from 1: rising or falling */
	int start;                  /* where the last early main comes out */
	int main[2];                /* the delayed main's holes, by end */
	int gap;                    /* the place behind which the bridge's gap lies, or -1 */
	int reach;                  /* longest run outside, in hole positions */
	bool knot_at_cross[CROSSES_MAX +
			   1]; /* there is room for a knot if this cross is the last */
	bool knot_at_main[2];  /* if the delayed main is, and comes out at this end */
	double run_mm[ROUTE_PLACES_MAX][ROUTE_PLACES_MAX]; /* string outside, by places; or all 0 */
};

struct route {
	bool delayed; /* the long side's outermost main is left for later, and one of the steps */
	int count;
	int steps[CROSSES_MAX + 1]; /* cross numbers in the order they are woven; 0: delayed main */
	enum frame_end main_from;   /* where the delayed main is entered */
	int breaks;
	int outside;       /* hole positions run outside the frame, in all */
	double outside_mm; /* the same as string; 0 if the frame is not measured */
};

struct routes {
	struct route
		items[ROUTES_MAX]; /* all of the same, least number of breaks; the best first */
	int count;
	bool more; /* there are others with as few breaks */
};

/* Finds the best routes with the outermost main delayed. False if there is none. */
bool routes_find(const struct route_frame *frame, struct routes *out);

/* Which rules stand in the way where there is no route: as few as can be, without which there would
 * be one. */
enum route_rule {
	ROUTE_RULE_KNOT,   /* room for a knot where it ends */
	ROUTE_RULE_BRIDGE, /* not across the bridge's gap */
	ROUTE_RULE_SIDES,  /* every cross changes the side */
	ROUTE_RULE_REACH,  /* no longer run outside */
	ROUTE_RULES,
};

/* Bit n of the result is rule n; with ROUTE_RULE_REACH, *reach is the least that would do. No bit:
 * even without the other rules and at ROUTE_REACH_MAX there is none. */
unsigned routes_forbidden_by(const struct route_frame *frame, int *reach);

#endif
