/* The sequence under construction: shared by the files of this room, and nobody else's business. */
#ifndef SEQUENCE_BUILDER_H
#define SEQUENCE_BUILDER_H

#include "sequence/sequence.h"

struct builder {
	struct sequence *sequence;
	struct faults *faults;
	int move_capacity;
	int call_capacity;
	bool call_open;   /* the next move joins the last call */
	bool tension_set; /* the machine has been set, to: */
	struct quantity tension;
	double prestretch;
	struct hole tie_off[TIE_OFFS][2]; /* by side: chosen by tie_offs_choose */
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

/* Sets the machine for the next pull of this string, if it is not set so already: a call of its
 * own. */
void builder_tension(struct builder *builder, enum phase phase, enum string_kind strings,
		     int number);

/* Holes for all knots: the pattern's where it names them, else the nearest that will do. False with
 * a fault if there is none. */
bool tie_offs_choose(struct builder *builder);

/* The side where a cross is begun, and the one where it leaves the frame; crosses in weaving order.
 */
enum side cross_entry(const struct job *job, int cross);
enum side cross_exit(const struct job *job, int cross);

void build_mains(struct builder *builder);
void build_crosses(struct builder *builder);

#endif
