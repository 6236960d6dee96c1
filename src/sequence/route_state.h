/* How a search for routes stands when the crosses up to one of them have been given their places in
 * it: what the rest of the search has to know, and nothing else.
 *
 * Crosses are looked at in the order of their places, not in the order in which the string visits
 * them. Each is told where the string comes from and where it goes: to a cross looked at before, to
 * one still to come, or to one of the four loose ends (the start, the delayed main's way in and way
 * out, the end of the string). So what has been looked at is a set of pieces of string. A run
 * outside is short, so only the last few crosses can still be joined to, and only their pieces
 * matter: where each begins and ends, and whether it has an odd number of crosses, because each
 * changes the side. */
#ifndef SEQUENCE_ROUTE_STATE_H
#define SEQUENCE_ROUTE_STATE_H

#include "sequence/route.h"

#include <stdint.h>

/* What a piece of string begins or ends with: a slot (a cross that can still be joined to, from 0),
 * or: */
enum {
	SLOTS_MAX = ROUTE_REACH_MAX + 1,
	NOT_OPEN = SLOTS_MAX,
	AT_START,
	AT_WAY_OUT, /* of the delayed main: a piece begins there */
	AT_WAY_IN,  /* of the delayed main: a piece ends there */
	AT_END,
};

/* Where the string may come from or go to at a cross, beside the slots. */
enum { LATER = -1 };

struct slot {
	uint8_t far_end;   /* if a piece begins here: what it ends with, else NOT_OPEN */
	uint8_t far_begin; /* if a piece ends here: what it begins with, else NOT_OPEN */
	bool odd;          /* that piece has an odd number of crosses */
};

struct state {
	struct slot slots[SLOTS_MAX];
	int count;
	uint8_t used; /* which of the loose ends, as state_loose_end has them */
};

static inline uint8_t state_loose_end(int code)
{
	return (uint8_t)(1 << (code - AT_START));
}

/* One number for a state: equal exactly if the states are, given `count`. */
uint64_t state_pack(const struct state *state);
struct state state_unpack(uint64_t key, int count);

/* Puts the next cross into the last slot. `from` and `to` are a slot, LATER or a loose end. False
 * if that cannot be: a side taken already, a loose end used already, a ring, a piece that comes to
 * the main on the wrong side. `sides_matter` is false to leave that last rule out. */
bool state_add(struct state *state, int from, int to, bool sides_matter);

/* Forgets the slots before `keep`, if nothing waits to be joined to them. */
bool state_drop(struct state *state, int keep);

#endif
