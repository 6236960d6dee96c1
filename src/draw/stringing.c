#include "draw/internal.h"

#include <assert.h>

/* The tip of the crosses' string, behind those of the mains by side. */
enum { TIP_CROSS = 2 };

static void add_run(struct stringing *out, const struct run *run)
{
	assert(out->run_count < RUNS_MAX);
	out->runs[out->run_count++] = *run;
}

static struct strand *add_strand(struct stringing *out, const struct move *move, bool next)
{
	assert(out->strand_count < STRANDS_MAX);
	struct strand *strand = &out->strands[out->strand_count++];
	*strand = (struct strand){
		.kind = move->string,
		.number = move->number,
		.side = move->side,
		.next = next,
	};
	return strand;
}

/* The length that goes on to the crosses where no knot starts them: the one not tied off. */
static int tip_going_on(const struct stringing *out, enum side side)
{
	for (int i = 0; i < out->knot_count; i++)
		if (out->knots[i].string == STRING_MAIN && out->knots[i].place.side == side)
			return (int)other_side(side);
	return (int)side;
}

/* The string comes from where it was last, round the outside of the frame. */
static void move_tip(struct stringing *out, int tip, const struct strand *strand)
{
	if (tip == TIP_CROSS && !out->tip[TIP_CROSS].hole.number)
		out->tip[TIP_CROSS] = out->tip[tip_going_on(out, strand->from.side)];
	if (out->tip[tip].hole.number)
		add_run(out, &(struct run){RUN_LOOP, strand->kind, out->tip[tip], strand->from,
					   strand->next});
	out->tip[tip] = strand->to;
}

static void read_main(struct stringing *out, const struct move *move, bool next)
{
	int half = pattern_half(out->sequence->pattern);
	bool late = move->phase == PHASE_CROSSES;
	struct strand *strand = add_strand(out, move, next);
	struct sided_hole *other_tip = &out->tip[other_side(move->side)];

	strand->column = move->side == SIDE_LEFT ? half + 1 - move->number : half + move->number;
	strand->from = (struct sided_hole){move->from, move->side};
	strand->to = (struct sided_hole){move->to, move->side};
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
		if (strand->kind != STRING_MAIN ||
		    !pattern_meets(out->sequence->pattern, cross, strand->number))
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
	struct strand *strand = add_strand(out, move, next);
	bool to_right = move->weave.travel == TRAVEL_LEFT_TO_RIGHT;

	strand->weave = move->weave;
	strand->mains = mains_met(out, move->from);
	strand->from = (struct sided_hole){move->from, to_right ? SIDE_LEFT : SIDE_RIGHT};
	strand->to = (struct sided_hole){move->to, to_right ? SIDE_RIGHT : SIDE_LEFT};
	move_tip(out, TIP_CROSS, strand);
}

/* The strings that a move is about. */
static struct pull strings_of(const struct move *move, bool next)
{
	bool range = move->action == DO_PULL && move->string == STRING_CROSS;

	return (struct pull){
		.string = move->string,
		.place = {move->hole, move->side},
		.first = range ? move->pulls_first : move->number,
		.last = range ? move->pulls_last : move->number,
		.next = next,
	};
}

static bool is_among(const struct strand *strand, const struct pull *strings)
{
	return strand->kind == strings->string && strand->number >= strings->first &&
	       strand->number <= strings->last &&
	       (strand->kind == STRING_CROSS || strand->side == strings->place.side);
}

static int call_of(const struct sequence *sequence, const struct move *move)
{
	int index = (int)(move - sequence->moves), call = 0;

	while (call < sequence->call_count && sequence->calls[call].last < index)
		call++;
	return call + 1;
}

static void read_pull(struct stringing *out, const struct move *move, bool next)
{
	assert(out->pull_count < STRANDS_MAX);
	struct pull *pull = &out->pulls[out->pull_count++];
	*pull = strings_of(move, next);
	pull->call = call_of(out->sequence, move);
	for (int i = 0; i < out->strand_count; i++)
		if (is_among(&out->strands[i], pull))
			out->strands[i].pull = out->pull_count;
}

static void read_knot(struct stringing *out, const struct move *move, bool next)
{
	assert(out->knot_count < KNOTS_MAX);
	struct sided_hole place = {move->hole, move->side};
	out->knots[out->knot_count++] = (struct knot){
		.place = place,
		.string = move->string,
		.start = move->start,
		.suggested = move->suggested,
		.next = next,
	};
	if (move->start)
		out->tip[TIP_CROSS] = place;
}

static void read_clamp(struct stringing *out, const struct move *move)
{
	assert(out->clamp_count < CLAMPS_MAX);
	out->clamps[out->clamp_count++] = (struct clamp){
		.string = move->string,
		.number = move->number,
		.side = move->side,
		.across = move->across,
		.outside = move->outside,
		.place = {move->hole, move->side},
	};
}

static void read_unclamp(struct stringing *out, const struct move *move)
{
	for (int i = 0; i < out->clamp_count; i++) {
		const struct clamp *clamp = &out->clamps[i];
		if (clamp->string != move->string || clamp->number != move->number ||
		    clamp->side != move->side || !hole_same(clamp->place.hole, move->hole))
			continue;
		out->clamps[i] = out->clamps[--out->clamp_count];
		return;
	}
}

static void read_tie_off(struct stringing *out, const struct move *move, bool next)
{
	struct sided_hole from = {move->from, move->side}, to = {move->hole, move->side};

	add_run(out, &(struct run){RUN_KNOT, move->string, from, to, next});
}

static void read_move(struct stringing *out, const struct move *move, bool next)
{
	switch (move->action) {
	case DO_FEED:
		read_main(out, move, next);
		break;
	case DO_WEAVE:
		if (move->string == STRING_MAIN)
			read_main(out, move, next);
		else
			read_cross(out, move, next);
		break;
	case DO_PULL:
		read_pull(out, move, next);
		break;
	case DO_KNOT:
		read_knot(out, move, next);
		break;
	case DO_TIE_OFF:
		read_tie_off(out, move, next);
		break;
	case DO_CLAMP:
		if (!next)
			read_clamp(out, move);
		break;
	case DO_UNCLAMP:
		if (!next)
			read_unclamp(out, move);
		break;
	default: /* nothing that is seen on the bed */
		break;
	}
}

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

static bool threads_something(const struct sequence *sequence, const struct call *call)
{
	for (int i = call->first; i <= call->last; i++)
		if (sequence->moves[i].action == DO_FEED || sequence->moves[i].action == DO_WEAVE)
			return true;
	return false;
}

/* A call that threads nothing new is about strings that are there: those it pulls, clamps, draws
 * through or ties off. */
static void mark_strings(struct stringing *out, const struct call *call)
{
	struct pull about = strings_of(&out->sequence->moves[call->subject], true);

	for (int i = 0; i < out->strand_count; i++)
		out->strands[i].next |= is_among(&out->strands[i], &about);
}

void stringing_read(const struct sequence *sequence, int call, struct stringing *out)
{
	int done = call ? sequence->calls[call - 1].first : sequence->move_count;
	const struct call *next = call ? call_with_string(sequence, call - 1) : NULL;

	*out = (struct stringing){.sequence = sequence, .call = call};
	for (int i = 0; i < done; i++)
		read_move(out, &sequence->moves[i], false);
	if (!next)
		return;
	for (int i = next->first; i <= next->last; i++)
		read_move(out, &sequence->moves[i], true);
	if (!threads_something(sequence, next))
		mark_strings(out, next);
}

bool strand_is_pulled(const struct stringing *stringing, const struct strand *strand)
{
	return strand->pull > 0 && !stringing->pulls[strand->pull - 1].next;
}

bool strand_is_over(const struct strand *cross, const struct strand *main)
{
	bool to_right = cross->weave.travel == TRAVEL_LEFT_TO_RIGHT;
	/* 0 for the first one met; a main that came later lies before it. */
	int met = to_right ? main->column - cross->mains.first : cross->mains.last - main->column;

	return met % 2 == 0 ? cross->weave.first_over : !cross->weave.first_over;
}
