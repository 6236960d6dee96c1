/* Every state that a search for routes can come to, and what is the least that any way on from it
 * costs: with that known, routes are found without taking a step in vain. */
#ifndef SEQUENCE_ROUTE_SEARCH_H
#define SEQUENCE_ROUTE_SEARCH_H

#include "sequence/route_layer.h"
#include "sequence/route_state.h"

struct search {
	const struct route_frame *frame;
	enum frame_end main_from;             /* where the delayed main is entered */
	bool sides_matter;                    /* false: as if a cross did not change the side */
	int breaks_most;                      /* routes with more breaks are not looked for */
	bool cut;                             /* something was left out for that */
	bool found;                           /* there is a route */
	struct layer layers[CROSSES_MAX + 1]; /* by how many crosses have their places */
};

/* Breaks, run outside and string as one number, in that order of weight. */
int64_t cost_of(int breaks, int outside, double mm);
int cost_breaks(int64_t cost);
int cost_outside(int64_t cost);
double cost_mm(int64_t cost);

/* No route costs as much. */
#define NO_WAY (INT64_MAX / 4)

struct search *search_new(const struct route_frame *frame, enum frame_end main_from,
			  bool sides_matter, int breaks_most);
void search_free(struct search *search);

/* The least that a route costs; NO_WAY if none has so few breaks. */
int64_t search_least(const struct search *search);

/* One way to give the cross behind the first `done` its place. */
struct turn {
	int from; /* a slot, LATER or a loose end */
	int to;
	uint64_t after; /* the state */
	int64_t cost;   /* of what is added now */
	int64_t rest;   /* the least still to come */
};

enum { WAYS_MAX = SLOTS_MAX + 3, TURNS_MAX = WAYS_MAX * WAYS_MAX };

/* Those that lead to a route, in no order; returns how many. */
int search_turns(const struct search *search, int done, uint64_t key,
		 struct turn turns[static TURNS_MAX]);

/* When all crosses have their places: the cost of closing the route, which is NO_WAY for what is no
 * route. */
int64_t search_close(const struct search *search, uint64_t key);

/* The cross in a slot when the first `done` have their places. */
int search_cross(const struct search *search, int done, int slot);

#endif
