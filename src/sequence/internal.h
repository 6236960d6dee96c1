/* Shared by the files of this room: the sequence under construction. Each calls only files further
 * on in this row: go_back, compile, mains and crosses, route, tie_off, builder, strands, calls. */
#ifndef SEQUENCE_INTERNAL_H
#define SEQUENCE_INTERNAL_H

#include "sequence/sequence.h"

/* One string, in the order of work. */
struct step {
	enum phase phase; /* of crosses: a cross, or the delayed main of one-piece work */
	enum string_kind string;
	int number;
	enum side entry;
	enum side exit;
	struct hole from;
	struct hole to;
};

/* A working end of string, and the strings that it becomes, first to last. */
struct strand {
	struct step steps[MAINS_MAX / 2 + CROSSES_MAX];
	int count;
	int in;        /* so many are fed or woven */
	int tensioned; /* so many of these are tensioned */
	int redo;      /* the first that is to come out on the way back, from 1; 0: none */
	bool led;      /* the end is led through the hole of its last knot... */
	bool tied;     /* ...and the knot holds it */
};

/* The strands of the mains, by side, and that of the crosses' own length. */
enum { STRAND_CROSSES = 2, STRANDS };

enum { GRIPS = 3 }; /* two clamps of the machine, and a starting clamp */

/* A clamp, or the tension head. */
struct grip {
	const struct strand *strand; /* NULL: free */
	int place;                   /* of the string on its strand, from 1 */
	bool first_hold;  /* holds a string without tension of its own, for the first pull */
	struct move move; /* that put it on */
};

struct builder {
	struct sequence *sequence;
	struct faults *faults;
	struct strand strands[STRANDS];
	struct strand *crosses; /* the strand of the crosses: in one-piece work the long side's */
	int mains_before;       /* so many of its strings are mains, strung before any cross */
	struct grip clamps[GRIPS];
	struct grip head; /* the tension head */
	enum phase phase; /* of the moves that have no string */
	bool loop;        /* the string woven last is not drawn through yet */
	bool unchecked;   /* crosses were woven since the weave was looked at */
	bool cutting;     /* a string broke, and is not cut out yet */
	int begun;        /* the call given up while it brought a string in, from 1; 0: none */
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
	int change; /* the move that changed it, while strings are pulled with that; 0: none */
	struct move facing; /* the frame is turned so that this string faces the tension head */
};

/* A fault or a warning at a position of the plan. */
#define builder_fault(builder, severity, position, ...)                                            \
	fault_add((builder)->faults, severity, (builder)->sequence->job->file, position,           \
		  __VA_ARGS__)

/* ---- The strings in the order of work, and how far the work is: strands.c ---- */

/* One-piece: whether this is the side that goes on to the crosses; two-piece: false. */
bool is_long_side(const struct sequence *sequence, enum side side);

/* How many mains a side strings before the crosses. */
int mains_in_a_row(const struct sequence *sequence, enum side side);

/* A cross woven from a side; the delayed main of one-piece work entered at an end. */
struct step cross_step(const struct sequence *sequence, int cross, enum side entry);
struct step late_main_step(const struct sequence *sequence, enum frame_end from);

/* Fills the strands, when the route is known. */
void builder_plan(struct builder *builder);

/* How many steps of the crosses' strand from this one on are crosses that follow each other; 1 for
 * a main. */
int run_length(const struct builder *builder, int from);

/* A move of a string where it leaves the frame, or for a feed or a weave where it enters. */
struct move string_move(enum action action, const struct step *step);

/* What the machine is set to for a string: adjusted, and higher before a tie-off if the plan wants
 * it. */
struct quantity tension_of(const struct builder *builder, const struct step *step);

/* The strand that a move's string is on, and where: 1 for its first string, more than all of them
 * if it is not on it. */
struct strand *strand_of(struct builder *builder, const struct move *move);
int string_place(const struct strand *strand, const struct move *move);

/* The neighbour that a flying clamp holds a string by: for a cross one that comes before it in the
 * order of work, 0 if none does. */
int flying_neighbour(const struct builder *builder, enum string_kind string, int number);

/* The clamp on a string of this strand that is the furthest along it, or the one on a string; NULL:
 * none. The first hold is none of them. */
const struct grip *furthest_clamp(const struct builder *builder, const struct strand *strand);
const struct grip *clamp_at(const struct builder *builder, const struct strand *strand, int place);

/* Follows a move that is done: what is in, and what holds it. A move that would let a string go is
 * a bug, which ends the program: no bed should be lost to it. */
void builder_follow(struct builder *builder, const struct move *move);

/* Follows a call of the job so far: its moves, unless it was given up, and what it lost. */
void builder_follow_call(struct builder *builder, const struct call *call);

/* A string broke: what it takes with it is lost. */
void builder_lose(struct builder *builder, enum loss lost);

/* Mains fed and crosses woven; the strings of a set among which this one is. */
struct strings strings_in(const struct builder *builder);
uint64_t *strings_with(struct strings *strings, enum string_kind string, enum side side);

/* ---- Moves and calls: builder.c ---- */

/* Starts a call of this kind; its moves follow. For a learner every move becomes a call of its own
 * instead, of the kind given to builder_add. */
void builder_call(struct builder *builder, enum call_kind kind);

/* The same for a call that even a learner gets as a whole. */
void builder_whole_call(struct builder *builder, enum call_kind kind);

/* Adds a move to the call under way. The first move of a call is the one whose values are said,
 * until builder_subject names the last move added. Copies the move. */
void builder_add(struct builder *builder, enum call_kind learner_kind, const struct move *move);
void builder_subject(struct builder *builder);

/* One move that has a call to itself in every detail; one without a string. */
void builder_single(struct builder *builder, enum call_kind kind, const struct move *move);
void builder_chore(struct builder *builder, enum call_kind kind, enum action action,
		   enum subject subject);

/* Clamps on glide bars are turned or moved for strings of this kind, if they are not set so. A
 * learner looks at fixed ones, too, before the crosses; on flying ones nothing is set. */
void builder_set_clamps(struct builder *builder, enum string_kind strings);

/* Sets the machine for the next pull of this string, if it is not set so already or this is the
 * first setting for strings of its kind: a call of its own. */
void builder_tension(struct builder *builder, const struct step *step);

/* A move of the same string at the same place. */
struct move move_like(const struct move *move, enum action action);

/* Clamps the string of a move at its hole, with the machine's clamps; or takes off a clamp. */
void builder_clamp(struct builder *builder, enum call_kind learner_kind, const struct move *string);
void builder_unclamp(struct builder *builder, enum call_kind learner_kind, const struct grip *grip);

/* Adds a pull; for a learner after a turn of the frame, where the string leaves it elsewhere than
 * the one pulled last. */
void builder_pull(struct builder *builder, const struct move *pull);

/* Releases the string that the tension head holds, if it holds one; builder_hold clamps it first,
 * and takes the clamps behind it off. */
void builder_release(struct builder *builder);
void builder_hold(struct builder *builder);

/* The knot that ends a strand; ties it, as far as that is not done. */
enum tie_off last_knot(const struct builder *builder, const struct strand *strand);
void builder_tie_off(struct builder *builder, const struct strand *strand);

/* ---- The parts of a job: compile.c, mains.c, crosses.c ---- */

/* Each adds what is still to be done, whatever call the work stopped at. */
void build_mains(struct builder *builder);
void build_crosses(struct builder *builder);
void build_finish(struct builder *builder);

/* Parts of the preparation, for a bed that is begun anew too. */
void build_cuts(struct builder *builder, bool mains, bool crosses);
void build_mounting(struct builder *builder);

/* How many crosses are pulled at once with the first of a run; `from` is its step. */
int first_pull_of(const struct builder *builder, int from);

/* ---- Holes for knots: tie_off.c ---- */

/* The pattern's where it names them, else the nearest that will do. False with a fault if there is
 * none. In one-piece work the short side's comes before the route, which must know what room it
 * leaves. */
bool tie_offs_of_two_piece(struct builder *builder);
bool tie_off_of_short_side(struct builder *builder);
bool tie_off_of_long_side(struct builder *builder);

/* Whether there is room for the last knot if the string ends so. */
bool tie_off_has_room(const struct sequence *sequence, const struct step *last);

/* ---- One-piece routes (sequence.h): route.c ----
 *
 * The search is exact: it tries all routes without a break, then all with one, and so on until some
 * are found. A frame in use takes it about a millisecond. A pattern unlike any frame can allow too
 * many attempts; then the search is given up, and says so.
 *
 * It is a pure function of struct route_problem, which knows one side of a racket frame as a row of
 * places: holes from the middle of the head (0) round to the middle of the throat.
 */

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
	double run_mm[2 * HOLES_MAX][2 * HOLES_MAX]; /* string outside, by places; or all 0 */
};

/* All ways of the long side, the best first. False with a fault if there is none. */
bool find_routes(const struct builder *builder, struct routes *out);

/* Finds the best routes with the outermost main delayed. False if none was found. */
bool routes_find(const struct route_problem *problem, struct routes *out);

#endif
