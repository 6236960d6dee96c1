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

/* Whether the string may run outside from one place to another. */
bool route_may_run(const struct route_problem *problem, int from, int to);

#endif
