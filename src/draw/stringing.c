/* The strung bed, read from the moves of a sequence, from the first up to a call; what a way back
 * has undone by then is not there. */
#include "draw/internal.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

/* The tip of the crosses' string, behind those of the mains by side. */
enum { TIP_CROSS = 2 };

/* ---- Moves that are undone ---- */

/* What a move undoes; DO_FEED stands for weaving, too, and DO_KNOT for tying off. */
static const enum action undone_by[ACTIONS] = {
	[DO_UNCLAMP] = DO_CLAMP, [DO_PULL] = DO_PULL, /* the string is pulled again */
	[DO_LET_DOWN] = DO_PULL, [DO_TAKE_OUT] = DO_FEED, [DO_UNTIE] = DO_KNOT,
};

static bool undoes(const struct move *move, const struct move *before)
{
	enum action action = before->action == DO_WEAVE     ? DO_FEED
			     : before->action == DO_TIE_OFF ? DO_KNOT
							    : before->action;
	bool knot = action == DO_KNOT, at_hole = knot || action == DO_CLAMP;

	return action == undone_by[move->action] && move->string == before->string &&
	       move->start == before->start && (knot || move->number == before->number) &&
	       (move->side == before->side || (move->string == STRING_CROSS && !at_hole)) &&
	       (!at_hole || hole_same(move->hole, before->hole));
}

static bool is_lost(const struct move *move, enum loss lost)
{
	return lost == LOSS_BED || (lost == LOSS_CROSSES && move->phase == PHASE_CROSSES);
}

static void undo_before(const struct sequence *sequence, int index, bool *undone)
{
	for (int i = 0; undone_by[sequence->moves[index].action] && i < index; i++)
		undone[i] |= undoes(&sequence->moves[index], &sequence->moves[i]);
}

static bool is_among(const struct strings *strings, const struct move *move)
{
	bool cross = move->string == STRING_CROSS;

	return (cross ? strings->crosses : strings->mains[move->side]) >> move->number & 1;
}

/* Marks the moves, of the first so many calls, whose effect is gone: a string was let down or taken
 * out, a knot untied, a clamp taken off. */
static void mark_undone(const struct sequence *sequence, int calls, bool *undone)
{
	struct bed_strings *beds = sequence_bed_strings(sequence), bed = beds[calls];

	for (int c = 0; c < calls; c++) {
		const struct call *call = &sequence->calls[c];
		for (int i = call->first; i <= call->last; i++) {
			undone[i] = call->abandoned;
			if (!call->abandoned)
				undo_before(sequence, i, undone);
		}
		for (int i = 0; i <= call->last; i++)
			undone[i] |= is_lost(&sequence->moves[i], call->lost);
	}
	for (int i = 0; calls && i <= sequence->calls[calls - 1].last; i++) {
		const struct move *move = &sequence->moves[i];
		if (move->action == DO_FEED || move->action == DO_WEAVE)
			undone[i] |= !is_among(&bed.in, move);
		if (move->action == DO_PULL)
			undone[i] |= !is_among(&bed.tensioned, move);
	}
	free(beds);
}

/* ---- Strings ---- */

static struct strand *add_strand(struct stringing *out, const struct move *move, bool next,
				 enum side from, enum side to)
{
	assert(out->strand_count < STRANDS_MAX);
	struct strand *strand = &out->strands[out->strand_count++];

	*strand = (struct strand){
		.move = move, .from = {move->from, from}, .to = {move->to, to}, .next = next};
	return strand;
}

/* The length that goes on to the crosses where no knot starts them: the one not tied off. */
static int tip_going_on(const struct stringing *out, enum side side)
{
	for (int i = 0; i < out->mark_count; i++) {
		const struct move *move = out->marks[i].move;
		if (move->action == DO_KNOT && move->string == STRING_MAIN && move->side == side)
			return (int)other_side(side);
	}
	return (int)side;
}

/* The string comes from where it was last, round the outside of the frame. */
static void move_tip(struct stringing *out, int tip, struct strand *strand)
{
	if (tip == TIP_CROSS && !out->tip[TIP_CROSS].hole.number)
		out->tip[TIP_CROSS] = out->tip[tip_going_on(out, strand->from.side)];
	strand->before = out->tip[tip];
	out->tip[tip] = strand->to;
}

static void read_main(struct stringing *out, const struct move *move, bool next)
{
	int half = pattern_half(out->sequence->pattern);
	bool late = move->phase == PHASE_CROSSES;
	struct strand *strand = add_strand(out, move, next, move->side, move->side);
	struct sided_hole *other_tip = &out->tip[other_side(move->side)];

	strand->column = move->side == SIDE_LEFT ? half + 1 - move->number : half + move->number;
	if (move->number == 1 && !other_tip->hole.number) {
		/* The first of the two centre mains: the string goes over to the other one. */
		*other_tip = strand->from;
		out->tip[move->side] = strand->to;
		return;
	}
	move_tip(out, late ? TIP_CROSS : (int)move->side, strand);
}

/* A main that comes later is not met, nor one that the cross passes by. */
static struct mains_met mains_met(const struct stringing *out, struct hole cross)
{
	struct mains_met mains = {MAINS_MAX, 0};

	for (int i = 0; i < out->strand_count; i++) {
		const struct strand *strand = &out->strands[i];
		if (strand->move->string != STRING_MAIN ||
		    !pattern_meets(out->sequence->pattern, cross, strand->move->number))
			continue;
		if (strand->column < mains.first)
			mains.first = strand->column;
		if (strand->column > mains.last)
			mains.last = strand->column;
	}
	return mains;
}

static void read_cross(struct stringing *out, const struct move *move, bool next)
{
	bool to_right = move->weave.travel == TRAVEL_LEFT_TO_RIGHT;
	struct strand *strand = add_strand(out, move, next, to_right ? SIDE_LEFT : SIDE_RIGHT,
					   to_right ? SIDE_RIGHT : SIDE_LEFT);

	strand->mains = mains_met(out, move->from);
	move_tip(out, TIP_CROSS, strand);
}

int pull_first(const struct move *move)
{
	bool several = move->action == DO_PULL && move->string == STRING_CROSS;

	return several ? move->pulls_first : move->number;
}

/* Whether the strand is one of those that the move is about. */
static bool is_about(const struct move *move, const struct strand *strand)
{
	return strand->move->string == move->string && strand->move->number >= pull_first(move) &&
	       strand->move->number <= move->number &&
	       (strand->move->string == STRING_CROSS || strand->move->side == move->side);
}

static void add_mark(struct stringing *out, const struct move *move, bool next)
{
	assert(out->mark_count < MARKS_MAX);
	out->marks[out->mark_count++] = (struct mark){move, next};
}

static void read_pull(struct stringing *out, const struct move *move, bool next)
{
	add_mark(out, move, next);
	out->pull_count++;
	for (int i = 0; i < out->strand_count; i++) {
		if (!is_about(move, &out->strands[i]))
			continue;
		out->strands[i].pull = out->pull_count;
		out->strands[i].pulled = !next;
	}
}

static void read_move(struct stringing *out, const struct move *move, bool next)
{
	switch (move->action) {
	case DO_FEED:
	case DO_WEAVE:
		(move->string == STRING_MAIN ? read_main : read_cross)(out, move, next);
		break;
	case DO_PULL:
		read_pull(out, move, next);
		break;
	case DO_KNOT:
		add_mark(out, move, next);
		if (move->start)
			out->tip[TIP_CROSS] = place_of(move);
		break;
	case DO_TIE_OFF:
		add_mark(out, move, next);
		break;
	case DO_CLAMP: /* when all is done none holds */
		if (!next && out->options->at_call)
			add_mark(out, move, next);
		break;
	default: /* nothing that is seen on the bed */
		break;
	}
}

/* ---- The call ---- */

/* The first call, from this one on, that has to do with a string. */
static const struct call *call_with_string(const struct sequence *sequence, int index)
{
	for (; index < sequence->call_count; index++) {
		const struct call *call = &sequence->calls[index];
		for (int i = call->first; i <= call->last; i++)
			if (sequence->moves[i].has_string)
				return call;
	}
	return NULL;
}

/* A call that threads nothing new is about strings that are there: those it pulls, clamps, draws
 * through, ties off or takes out. */
static void mark_strings(struct stringing *out, const struct call *call)
{
	const struct sequence *sequence = out->sequence;

	for (int i = call->first; i <= call->last; i++)
		if (sequence->moves[i].action == DO_FEED || sequence->moves[i].action == DO_WEAVE)
			return;
	const struct move *subject = &sequence->moves[call->subject];
	for (int i = 0; i < out->strand_count; i++) {
		if (!is_about(subject, &out->strands[i]))
			continue;
		out->strands[i].next = true;
		out->strands[i].out = subject->action == DO_TAKE_OUT;
	}
}

void stringing_read(const struct sequence *sequence, const struct draw_options *options,
		    struct stringing *out)
{
	int call = options->at_call;
	int done = call ? sequence->calls[call - 1].first : sequence->move_count;
	const struct call *next = call ? call_with_string(sequence, call - 1) : NULL;
	bool *undone = memory_new((size_t)sequence->move_count + 1, sizeof(*undone));

	*out = (struct stringing){.sequence = sequence, .options = options};
	mark_undone(sequence, call ? call - 1 : sequence->call_count, undone);
	for (int i = next ? next->first : 0; next && i <= next->last; i++)
		if (sequence->moves[i].action == DO_PULL)
			undo_before(sequence, i, undone);
	for (int i = 0; i < done; i++)
		if (!undone[i])
			read_move(out, &sequence->moves[i], false);
	free(undone);
	if (!next)
		return;
	for (int i = next->first; i <= next->last; i++)
		read_move(out, &sequence->moves[i], true);
	mark_strings(out, next);
}

int strands_read(const struct sequence *sequence, struct strand out[static STRANDS_MAX])
{
	const struct draw_options whole = {0};
	struct stringing stringing;

	stringing_read(sequence, &whole, &stringing);
	memcpy(out, stringing.strands, sizeof(stringing.strands));
	return stringing.strand_count;
}

bool strand_is_over(const struct strand *cross, const struct strand *main)
{
	bool to_right = cross->move->weave.travel == TRAVEL_LEFT_TO_RIGHT;
	/* 0 for the first one met; a main that came later lies before it. */
	int met = to_right ? main->column - cross->mains.first : cross->mains.last - main->column;

	return (met % 2 == 0) == cross->move->weave.first_over;
}

/* ---- Words ---- */

const char *shown(const struct stringing *stringing, const char *key)
{
	return phrasebook_shown(stringing->options->book, key);
}

const char *shown_side(const struct stringing *stringing, enum side side)
{
	const char *own = stringing->options->side_words[side];

	return own ? own : shown(stringing, side_names[side]);
}
