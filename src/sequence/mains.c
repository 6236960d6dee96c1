/* The mains: how the first two are held at the centre, then from there outward, neither side
 * running ahead by more than `lead` (common practice, no published source). */
#include "sequence/internal.h"

static const struct step *main_step(const struct builder *builder, enum side side, int main)
{
	return &builder->strands[side].steps[main - 1];
}

static void add_pull(struct builder *builder, enum side side, int main)
{
	const struct step *step = main_step(builder, side, main);
	struct move move = string_move(DO_PULL, step);

	move.tension = tension_of(builder, step);
	builder_pull(builder, &move);
	builder_subject(builder);
	builder_hold(builder);
}

/* Everybody looks at the mounts again after the third main of both sides. */
static void build_mounts_check(struct builder *builder)
{
	enum { MAINS_BEFORE = 3 };
	bool due = true;

	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		int last = mains_in_a_row(builder->sequence, side);
		due &= builder->strands[side].tensioned >=
		       (last < MAINS_BEFORE ? last : MAINS_BEFORE);
	}
	if (due && !builder->mounts_checked &&
	    pattern_half(builder->sequence->pattern) >= MAINS_BEFORE)
		builder_chore(builder, CALL_CHECK_MOUNTS, DO_CHECK, SUBJECT_MOUNTS);
}

static void build_main(struct builder *builder, enum side side, int main)
{
	const struct step *step = main_step(builder, side, main);
	struct move feed = string_move(DO_FEED, step);

	build_mounts_check(builder);
	builder_tension(builder, step);
	builder_call(builder, CALL_MAIN);
	if (builder->strands[side].in < main)
		builder_add(builder, CALL_FEED, &feed);
	add_pull(builder, side, main);
}

/* ---- The centre ---- */

/* In one-piece work the short side is left what it needs, and that is what has to be said. */
static void build_centre_feed(struct builder *builder, enum side first)
{
	const struct sequence *sequence = builder->sequence;

	builder_whole_call(builder, sequence->route ? CALL_FEED_SHORT : CALL_FEED_CENTRE);
	for (int i = 0; i < 2; i++) {
		enum side side = i == 0 ? first : other_side(first);
		bool short_side = sequence->route && !is_long_side(sequence, side);
		struct move feed = string_move(DO_FEED, main_step(builder, side, 1));
		feed.length_mm = short_side ? sequence->length_mm[STRING_MAIN] : 0;
		builder_add(builder, CALL_FEED, &feed);
		if (short_side)
			builder_subject(builder);
	}
}

static const struct grip *first_hold(const struct builder *builder)
{
	for (const struct grip *grip = builder->clamps; grip < builder->clamps + GRIPS; grip++)
		if (grip->strand && grip->first_hold)
			return grip;
	return NULL;
}

/* One centre main is held while the other is pulled. A fixed clamp holds inside the frame where the
 * string starts; the others hold outside it, where the string comes out. */
static void build_first_hold(struct builder *builder, enum side side)
{
	static const enum call_kind kinds[CLAMP_KINDS] = {
		[CLAMP_FIXED] = CALL_CLAMP_START,
		[CLAMP_FLYING] = CALL_CLAMP_SCRAP,
		[CLAMP_STARTING] = CALL_CLAMP_OUTSIDE,
	};
	const struct machine *machine = &builder->sequence->job->machine;
	const struct step *step = main_step(builder, side, 1);
	struct move move = string_move(DO_CLAMP, step);

	move.with = machine->starting_clamp            ? CLAMP_STARTING
		    : machine->clamps == CLAMPS_FLYING ? CLAMP_FLYING
						       : CLAMP_FIXED;
	move.outside = move.with != CLAMP_FIXED;
	if (!move.outside)
		move.hole = step->from;
	builder_single(builder, kinds[move.with], &move);
}

/* The one that was held is pulled beyond that hold, which then comes off. */
static void build_centre_main(struct builder *builder, enum side side)
{
	const struct grip *hold = first_hold(builder);
	bool beyond = hold->move.side == side && hold->move.outside;

	builder_tension(builder, main_step(builder, side, 1));
	builder_call(builder, beyond ? CALL_CENTRE_BEYOND : CALL_CENTRE_MAIN);
	add_pull(builder, side, 1);
}

static void build_centre(struct builder *builder, enum side first)
{
	const struct strand *one = &builder->strands[first];
	const struct strand *other = &builder->strands[other_side(first)];

	if (one->in == 0)
		build_centre_feed(builder, first);
	if (one->tensioned == 0) {
		if (!first_hold(builder))
			build_first_hold(builder, other_side(first));
		build_centre_main(builder, first);
	}
	/* A flying clamp for main 1 of the other side finds main 1 of this one held from beyond. */
	if (builder->sequence->job->machine.clamps == CLAMPS_FLYING && one->tensioned == 1 &&
	    other->tensioned == 0 && mains_in_a_row(builder->sequence, first) > 1)
		build_main(builder, first, 2);
	if (other->tensioned == 0)
		build_centre_main(builder, other_side(first));
}

/* ---- All of them ---- */

static void build_mains_of(struct builder *builder, enum side side, int from, int to)
{
	int last = mains_in_a_row(builder->sequence, side);

	for (int main = from; main <= to && main <= last; main++)
		if (main > builder->strands[side].tensioned)
			build_main(builder, side, main);
}

/* The long side goes on: its clamp stays where it is. */
static void end_side(struct builder *builder, enum side side)
{
	if (!is_long_side(builder->sequence, side))
		builder_tie_off(builder, &builder->strands[side]);
}

void build_mains(struct builder *builder)
{
	enum side first = builder->sequence->job->first_side;
	int half = pattern_half(builder->sequence->pattern);
	int lead = job_lead(builder->sequence->job);

	builder->phase = PHASE_MAINS;
	build_centre(builder, first);
	for (int from = 2; from <= half; from += lead) {
		build_mains_of(builder, first, from, from + lead - 1);
		build_mains_of(builder, other_side(first), from, from + lead - 1);
	}
	build_mounts_check(builder);
	if (!builder->mains_counted)
		builder_chore(builder, CALL_CHECK_MAINS, DO_CHECK, SUBJECT_MAINS);
	end_side(builder, first);
	end_side(builder, other_side(first));
}
