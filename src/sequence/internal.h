/* Shared by the files of this room only. */
#ifndef SEQUENCE_INTERNAL_H
#define SEQUENCE_INTERNAL_H

#include "sequence/sequence.h"

#include <stdint.h>

/* The sequence under construction: shared by the files of this room, and nobody else's business. */

/* One string after the mains, in the order of work: a cross, or the delayed main of one-piece work.
 */
struct step {
	enum string_kind string;
	int number;
	enum side entry;
	enum side exit;
	struct hole from;
	struct hole to;
};

/* What the clamp holds. */
struct held {
	bool any; /* else the starting knot holds */
	enum string_kind string;
	int number;
	enum side side;
	struct hole hole;
};

struct builder {
	struct sequence *sequence;
	struct faults *faults;
	struct step steps[CROSSES_MAX + 1];
	int step_count;
	struct held held;
	int parity;     /* of the weaving */
	bool all_in;    /* the delayed main is in, or none was delayed */
	uint64_t woven; /* crosses: bit n is cross n */
	int move_capacity;
	int call_capacity;
	bool call_open;  /* the next move joins the last call */
	bool any_set[2]; /* by string_kind: the machine has been set for them; it stands at: */
	struct quantity tension;
	double prestretch;
	struct move last_pull; /* the frame is turned so that this string faces the tension head */
	struct hole tie_off[TIE_OFFS][2]; /* by side: chosen by tie_off... */
	bool suggested[TIE_OFFS][2];
};

/* Starts a call of this kind; its moves follow. For a learner every move becomes a call of its own
 * instead, of the kind given to builder_add. */
void builder_call(struct builder *builder, enum call_kind kind);

/* The same for a call that even a learner gets as a whole. */
void builder_whole_call(struct builder *builder, enum call_kind kind);

/* Adds a move to the call under way. The first move of a call is the one whose values are said,
 * until builder_subject names the last move added. Copies the move. */
void builder_add(struct builder *builder, enum call_kind learner_kind, const struct move *move);
void builder_subject(struct builder *builder);

/* One move that has a call to itself in every detail. */
void builder_chore(struct builder *builder, enum call_kind kind, enum phase phase,
		   enum action action, enum subject subject);

/* Sets the machine for the next pull of this string, if it is not set so already or this is the
 * first setting for strings of its kind: a call of its own. The side is a main's. */
void builder_tension(struct builder *builder, enum phase phase, enum string_kind strings,
		     int number, enum side side);

/* Adds a pull; for a learner after a turn of the frame, where the string leaves it elsewhere than
 * the one pulled last. */
void builder_pull(struct builder *builder, const struct move *pull);

/* When all moves are there: gives every change of tension the strings that it is for. */
void builder_name_changes(struct builder *builder);

/* Holes for knots: the pattern's where it names them, else the nearest that will do. False with a
 * fault if there is none. In one-piece work the short side's comes before the route, which must
 * know what room it leaves. */
bool tie_offs_of_two_piece(struct builder *builder);
bool tie_off_of_short_side(struct builder *builder);
bool tie_off_of_long_side(struct builder *builder);

/* Whether there is room for the last knot if the string ends so. */
bool tie_off_has_room(const struct builder *builder, const struct step *last);

/* One-piece: whether this is the side that goes on to the crosses; two-piece: false. */
bool is_long_side(const struct sequence *sequence, enum side side);

/* How many mains a side strings before the crosses. */
int mains_in_a_row(const struct sequence *sequence, enum side side);

/* Fills the steps: of two-piece work, or of the route. */
void plan_steps(struct builder *builder);

/* What can be a step of one-piece work: a cross woven from a side, the delayed main entered at an
 * end. */
struct step cross_step(const struct sequence *sequence, int cross, enum side entry);
struct step main_step(const struct sequence *sequence, enum frame_end from);

/* How many steps from this one on are crosses that follow each other. */
int run_length(const struct builder *builder, int from);

/* All ways of the long side, the best first. False with a fault if there is none. */
bool find_routes(const struct builder *builder, struct routes *out);

void build_mains(struct builder *builder);
void build_crosses(struct builder *builder);

/* All states of a search for routes after one of the crosses: a set that numbers its members. */

/* A zeroed struct is an empty layer. */
struct layer {
	int slots;      /* of its states */
	uint64_t *keys; /* packed states, in the order in which they were added */
	int *breaks;    /* the fewest on the way to each */
	int64_t *rest;  /* the least cost still to come, by state; NULL until it is known */
	int count;
	int *table; /* indexes into keys, scattered; -1: free */
	int table_size;
};

/* Adds a state, or finds a way to it with fewer breaks. */
void layer_add(struct layer *layer, uint64_t key, int breaks);

/* The index of a state, or -1. */
int layer_find(const struct layer *layer, uint64_t key);

void layer_free(struct layer *layer);

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

/* Every state that a search for routes can come to, and what is the least that any way on from it
 * costs: with that known, routes are found without taking a step in vain. */

struct search {
	const struct route_frame *frame;
	enum frame_end main_from;             /* where the delayed main is entered */
	bool sides_matter;                    /* false: as if a cross did not change the side */
	int breaks_most;                      /* routes with more breaks are not looked for */
	bool cut;                             /* something was left out for that */
	bool found;                           /* there is a route */
	struct layer layers[CROSSES_MAX + 1]; /* by how many crosses have their places */
};

/* Breaks, a cross left over, run outside and string as one number, in that order of weight. */
int64_t cost_of(int breaks, int leftover, int outside, double mm);
int cost_breaks(int64_t cost);
int cost_leftover(int64_t cost);
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
