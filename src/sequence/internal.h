/* Shared by the files of this room only. */
#ifndef SEQUENCE_INTERNAL_H
#define SEQUENCE_INTERNAL_H

#include "sequence/sequence.h"

#include <setjmp.h>

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

/* A working end of string: the two of the mains by side, and that of the crosses' own length. In
 * one-piece work the crosses go on with the long side's. */
enum strand { STRAND_LEFT, STRAND_RIGHT, STRAND_CROSSES, STRANDS, NO_STRAND };

enum { MACHINE_CLAMPS = 2, GRIPS = MACHINE_CLAMPS + 1 };

/* A clamp, or the tension head. */
struct grip {
	enum strand strand; /* NO_STRAND: free */
	int place;          /* of the string on its strand, from 1 */
	bool first_hold;    /* holds a string without tension of its own, for the first pull */
	struct move move;   /* that put it on */
};

/* What holds the strings under tension. Every move goes through holding_follow, which ends the
 * program where a move would let one go: that is a bug, and no bed should be lost to it. On the way
 * back from a mishap the job is refused instead (struct builder, refuse). */
struct holding {
	int tensioned[STRANDS]; /* so many strings, from the strand's first */
	bool tied[STRANDS];     /* its last knot holds it */
	struct grip clamps[GRIPS];
	struct grip head; /* the tension head */
};

struct builder {
	struct sequence *sequence;
	struct faults *faults;
	struct step steps[CROSSES_MAX + 1];
	int step_count;
	struct holding holding;
	const struct move *followed; /* by holding_follow */
	jmp_buf *refuse; /* where a move that may not be leads to; NULL: it ends the program */
	int parity;      /* of the weaving */
	bool all_in;     /* the delayed main is in, or none was delayed */
	uint64_t woven;  /* crosses: bit n is cross n */
	int fed[2];      /* mains, by side, but for a delayed one */
	int steps_in;    /* so many of the steps are woven or fed */
	int drawn;       /* so many of these are drawn through */
	uint64_t woven_checked; /* crosses that were in when the weave was looked at */
	bool led[STRANDS];      /* the end is led through the hole of its last knot */
	bool cutting;           /* a string broke, and is not cut out yet */
	struct strings redo;    /* strings that are still to come out on the way back */
	bool mounted;
	bool mounts_checked; /* after the third main */
	bool mains_counted;
	bool clamps_set; /* for the crosses */
	bool taken_up;   /* the crosses' string */
	bool start_knot;
	int move_capacity;
	int call_capacity;
	bool call_open;      /* the next move joins the last call */
	bool any_set[2];     /* by string_kind: the machine has been set for them */
	struct move setting; /* as it is set */
	struct move facing;  /* the frame is turned so that this string faces the tension head */
	struct hole tie_off[TIE_OFFS][2]; /* by side: chosen by tie_off... */
	bool suggested[TIE_OFFS][2];
};

/* Which strand a string is on, and where: 1 for its first string. */
enum strand strand_of(const struct builder *builder, const struct move *move);
int string_place(const struct builder *builder, const struct move *move);
enum strand strand_of_crosses(const struct builder *builder);
int step_index(const struct builder *builder, enum string_kind string, int number);

/* Mains of a side, and steps, that are under tension. */
int mains_pulled(const struct builder *builder, enum side side);
int steps_pulled(const struct builder *builder);

/* Follows a move with what holds the strings: holding.c. */
void holding_begin(struct holding *holding);
void holding_follow(struct builder *builder, const struct move *move);

/* The clamp on a string of this strand that is the furthest along it, or the one on a string; NULL:
 * none. The first hold is none of them: that is holding_first. */
const struct grip *holding_clamp(const struct holding *holding, enum strand strand);
const struct grip *holding_clamp_at(const struct holding *holding, enum strand strand, int place);
const struct grip *holding_first(const struct holding *holding);

/* The strand broke: nothing of it is under tension any more. */
void holding_lose(struct holding *holding, enum strand strand);

/* Follows a move that is done: what is in, and what holds it. */
void builder_follow(struct builder *builder, const struct move *move);

/* Where a job stands: stand.c. To be begun before its calls are followed one by one; what a broken
 * string takes with it is lost. */
void stand_begin(struct builder *builder);
void stand_follow(struct builder *builder, const struct call *call);
void stand_lose(struct builder *builder, enum loss lost);

/* Why a string cannot be strung again now, as the code of a fault; NULL: it can. */
const char *stand_refusal(const struct builder *builder, const struct mishap *redo);

/* Mains fed, crosses woven. */
struct strings strings_in(const struct builder *builder);

/* The strings of a set among which this one is: builder.c. */
uint64_t *strings_with(struct strings *strings, enum string_kind string, enum side side);

/* Clamps the string of a move at its hole, with the machine's clamps; or takes off a clamp. */
void builder_clamp(struct builder *builder, enum call_kind learner_kind, const struct move *string);
void builder_unclamp(struct builder *builder, enum call_kind learner_kind, const struct grip *grip);

/* A move of the same string at the same place. */
struct move move_like(const struct move *move, enum action action);

/* Clamps the string that the tension head holds, if it holds one, takes the clamps behind it off,
 * and releases it. */
void builder_hold(struct builder *builder);

/* Ties the end of a strand off, as far as that is not done; `last` is a move of its last string,
 * where that leaves the frame. */
void builder_tie_off(struct builder *builder, const struct move *last, enum tie_off tie_off);

/* The neighbour that a flying clamp holds a string by: for a cross one that comes before it in the
 * order of work, 0 if none does. */
int flying_neighbour(const struct builder *builder, enum string_kind string, int number);

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

/* Clamps on glide bars are turned or moved for strings of this kind, if they are not set so. A
 * learner looks at fixed ones, too, before the crosses; with flying ones there is nothing to set.
 */
void builder_set_clamps(struct builder *builder, enum phase phase, enum string_kind strings);

/* Sets the machine for the next pull of this string, if it is not set so already or this is the
 * first setting for strings of its kind: a call of its own. The side is a main's. */
void builder_tension(struct builder *builder, enum phase phase, enum string_kind strings,
		     int number, enum side side);

/* Adds a pull; for a learner after a turn of the frame, where the string leaves it elsewhere than
 * the one pulled last. */
void builder_pull(struct builder *builder, const struct move *pull);

/* When all moves are there: gives every change of tension among these the strings that it is for.
 */
void builder_name_changes(struct builder *builder, int from, int to);

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

/* Fills in the lengths to cut. False, with a fault, if there is less string on hand. */
bool string_suffices(struct sequence *sequence, struct faults *faults);

/* All ways of the long side, the best first. False with a fault if there is none. */
bool find_routes(const struct builder *builder, struct routes *out);

/* Each adds what is still to be done, whatever call the work stopped at. */
void build_mains(struct builder *builder);
void build_crosses(struct builder *builder);
void build_finish(struct builder *builder);

/* Parts of the preparation, for a bed that is begun anew too. */
void build_cuts(struct builder *builder, bool mains, bool crosses);
void build_mounting(struct builder *builder);

/* A move of a main strung before the crosses; `hole` is where it comes out. */
struct move main_move(const struct sequence *sequence, enum action action, enum side side,
		      int main);

/* A move of a step; `hole` is where it leaves the frame. */
struct move step_move(enum action action, const struct step *step);

/* How many crosses are pulled at once with the first of a run; `from` is its step. */
int first_pull_of(const struct builder *builder, int from);

/* Searching for one-piece routes (sequence.h).
 *
 * The search is exact: it tries all routes without a break, then all with one, and so on until some
 * are found. A frame in use takes it about a millisecond. A pattern unlike any frame can allow too
 * many attempts; then the search is given up, and says so.
 *
 * Everything here is a pure function of struct route_problem, which knows one side of a racket
 * frame as a row of places: holes from the middle of the head (0) round to the middle of the
 * throat.
 */

enum { ROUTE_PLACES_MAX = 2 * HOLES_MAX, ROUTE_REACH_MAX = 4 };

struct route_problem {
	int crosses;
	int cross[CROSSES_MAX + 1];    /* places, by number from 1: rising or falling */
	int start;                     /* place where the last early main comes out */
	int main[2];                   /* places of the delayed main's holes, by end */
	int gap;                       /* the bridge's gap lies behind this place; -1: none */
	int reach;                     /* longest run outside, in hole positions */
	int leftover[CROSSES_MAX + 1]; /* how bad a cross is to be woven last by itself, from 1 */
	bool knot_at_cross[CROSSES_MAX + 1]; /* has room for a knot if this cross is the last */
	bool knot_at_main[2]; /* has room if the delayed main is the last and comes out here */
	double run_mm[ROUTE_PLACES_MAX][ROUTE_PLACES_MAX]; /* string outside, by places; or all 0 */
};

/* Finds the best routes with the outermost main delayed. False if none was found. */
bool routes_find(const struct route_problem *problem, struct routes *out);

/* Which rules forbid a route where there is none: the fewest without which there would be one. */
enum route_rule {
	ROUTE_RULE_KNOT,   /* room for a knot where it ends */
	ROUTE_RULE_BRIDGE, /* not across the bridge's gap */
	ROUTE_RULE_SIDES,  /* every cross changes the side */
	ROUTE_RULE_REACH,  /* no longer run outside */
	ROUTE_RULES,
};

/* Bit n of *rules is rule n; with ROUTE_RULE_REACH, *reach is the least that would do. No bit:
 * even without the other rules and at ROUTE_REACH_MAX there is none. False if the search was given
 * up before that was clear. */
bool routes_forbidden_by(const struct route_problem *problem, unsigned *rules, int *reach);

/* Whether the string may run outside from one place to another. */
bool route_may_run(const struct route_problem *problem, int from, int to);

/* ---- weaving ---- */

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

#endif
