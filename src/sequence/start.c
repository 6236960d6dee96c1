/* The first pulls, at the centre: how the string is held for them depends on the machine (common
 * practice, no published source). One centre main is held while the other is pulled, and then it is
 * pulled itself while the hold comes off. */
#include "sequence/internal.h"

static enum clamp_kind hold_with(const struct machine *machine)
{
	if (machine->starting_clamp)
		return CLAMP_STARTING;
	return machine->clamps == CLAMPS_FLYING ? CLAMP_FLYING : CLAMP_FIXED;
}

static enum call_kind kind_of_hold(enum clamp_kind with)
{
	static const enum call_kind kinds[CLAMP_KINDS] = {
		[CLAMP_FIXED] = CALL_CLAMP_START,
		[CLAMP_FLYING] = CALL_CLAMP_SCRAP,
		[CLAMP_STARTING] = CALL_CLAMP_OUTSIDE,
	};

	return kinds[with];
}

/* A fixed clamp holds inside the frame where the string starts; the others hold outside it, where
 * the string comes out. */
static void add_hold(struct builder *builder, enum side side)
{
	const struct sequence *sequence = builder->sequence;
	struct move move = main_move(sequence, DO_CLAMP, side, 1);

	move.with = hold_with(&sequence->job->machine);
	move.outside = move.with != CLAMP_FIXED;
	if (!move.outside)
		move.hole = main_entry(sequence, 1);
	builder_call(builder, kind_of_hold(move.with));
	builder_add(builder, kind_of_hold(move.with), &move);
}

static void build_first(struct builder *builder, enum side side)
{
	builder_call(builder, CALL_CENTRE_MAIN);
	build_main_pull(builder, side, 1);
	builder_hold(builder);
}

static void build_second(struct builder *builder, enum side side)
{
	bool outside = holding_first(&builder->holding)->move.outside;

	builder_tension(builder, PHASE_MAINS, STRING_MAIN, 1, side);
	builder_call(builder, outside ? CALL_CENTRE_BEYOND : CALL_CENTRE_MAIN);
	build_main_pull(builder, side, 1);
	builder_hold(builder);
}

void build_start(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	enum side first = sequence->job->first_side;
	bool flying = sequence->job->machine.clamps == CLAMPS_FLYING;

	if (builder->fed[first] == 0)
		build_centre_feed(builder);
	if (mains_pulled(builder, first) == 0) {
		if (!holding_first(&builder->holding))
			add_hold(builder, other_side(first));
		build_first(builder, first);
	}
	/* A flying clamp for main 1 of the other side finds main 1 of this one held from beyond. */
	if (flying && mains_pulled(builder, first) == 1 &&
	    mains_pulled(builder, other_side(first)) == 0 && mains_in_a_row(sequence, first) > 1)
		build_main(builder, first, 2);
	if (mains_pulled(builder, other_side(first)) == 0)
		build_second(builder, other_side(first));
}
