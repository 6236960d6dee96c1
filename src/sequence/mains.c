/* The mains: how the first two are held at the centre, then from there outward, neither side
 * running ahead by more than `lead` (common practice, no published source). */
#include "sequence/internal.h"

static struct hole main_hole(const struct sequence *sequence, enum frame_end end, int main)
{
	return (struct hole){end, sequence->pattern->main_hole[end][main]};
}

/* Where main k goes in; it comes out at the other end. */
static struct hole main_entry(const struct sequence *sequence, int main)
{
	return main_hole(sequence, other_end(pattern_main_end(sequence->mains_start, main)), main);
}

struct move main_move(const struct sequence *sequence, enum action action, enum side side, int main)
{
	return (struct move){
		.action = action,
		.phase = PHASE_MAINS,
		.has_string = true,
		.string = STRING_MAIN,
		.number = main,
		.has_side = true,
		.side = side,
		.hole = main_hole(sequence, pattern_main_end(sequence->mains_start, main), main),
	};
}

static void add_feed(struct builder *builder, enum side side, int main, double length_mm)
{
	struct move move = main_move(builder->sequence, DO_FEED, side, main);

	move.length_mm = length_mm;
	move.from = main_entry(builder->sequence, main);
	move.to = move.hole;
	move.hole.number = 0;
	builder_add(builder, CALL_FEED, &move);
}

static void add_pull(struct builder *builder, enum side side, int main)
{
	struct move move = main_move(builder->sequence, DO_PULL, side, main);

	move.tension = sequence_tension(builder->sequence, STRING_MAIN, main, side);
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
		due &= mains_pulled(builder, side) >= (last < MAINS_BEFORE ? last : MAINS_BEFORE);
	}
	if (due && !builder->mounts_checked &&
	    pattern_half(builder->sequence->pattern) >= MAINS_BEFORE)
		builder_chore(builder, CALL_CHECK_MOUNTS, PHASE_MAINS, DO_CHECK, SUBJECT_MOUNTS);
}

static void build_main(struct builder *builder, enum side side, int main)
{
	build_mounts_check(builder);
	builder_tension(builder, PHASE_MAINS, STRING_MAIN, main, side);
	builder_call(builder, CALL_MAIN);
	if (builder->fed[side] < main)
		add_feed(builder, side, main, 0);
	add_pull(builder, side, main);
}

/* --- The centre --- */

/* In one-piece work the short side is left what it needs, and that is what has to be said. */
static void build_centre_feed(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	enum side first = sequence->job->first_side;

	builder_whole_call(builder, sequence->route ? CALL_FEED_SHORT : CALL_FEED_CENTRE);
	for (int i = 0; i < 2; i++) {
		enum side side = i == 0 ? first : other_side(first);
		bool short_side = sequence->route && !is_long_side(sequence, side);
		add_feed(builder, side, 1, short_side ? sequence->lengths.short_mm : 0);
		if (short_side)
			builder_subject(builder);
	}
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
	struct move move = main_move(builder->sequence, DO_CLAMP, side, 1);

	move.with = machine->starting_clamp            ? CLAMP_STARTING
		    : machine->clamps == CLAMPS_FLYING ? CLAMP_FLYING
						       : CLAMP_FIXED;
	move.outside = move.with != CLAMP_FIXED;
	if (!move.outside)
		move.hole = main_entry(builder->sequence, 1);
	builder_call(builder, kinds[move.with]);
	builder_add(builder, kinds[move.with], &move);
}

/* The one that was held is pulled beyond that hold, which then comes off. */
static void build_centre_main(struct builder *builder, enum side side)
{
	const struct grip *hold = holding_first(&builder->holding);
	bool beyond = hold->move.side == side && hold->move.outside;

	builder_tension(builder, PHASE_MAINS, STRING_MAIN, 1, side);
	builder_call(builder, beyond ? CALL_CENTRE_BEYOND : CALL_CENTRE_MAIN);
	add_pull(builder, side, 1);
}

static void build_centre(struct builder *builder, enum side first)
{
	const struct sequence *sequence = builder->sequence;
	enum side second = other_side(first);

	if (builder->fed[first] == 0)
		build_centre_feed(builder);
	if (mains_pulled(builder, first) == 0) {
		if (!holding_first(&builder->holding))
			build_first_hold(builder, second);
		build_centre_main(builder, first);
	}
	/* A flying clamp for main 1 of the other side finds main 1 of this one held from beyond. */
	if (sequence->job->machine.clamps == CLAMPS_FLYING && mains_pulled(builder, first) == 1 &&
	    mains_pulled(builder, second) == 0 && mains_in_a_row(sequence, first) > 1)
		build_main(builder, first, 2);
	if (mains_pulled(builder, second) == 0)
		build_centre_main(builder, second);
}

/* --- All of them --- */

static void build_mains_of(struct builder *builder, enum side side, int from, int to)
{
	int last = mains_in_a_row(builder->sequence, side);

	for (int main = from; main <= to && main <= last; main++)
		if (main > mains_pulled(builder, side))
			build_main(builder, side, main);
}

/* The long side goes on: its clamp stays where it is. */
static void end_side(struct builder *builder, enum side side)
{
	const struct sequence *sequence = builder->sequence;
	struct move last = main_move(sequence, DO_TIE_OFF, side, pattern_half(sequence->pattern));

	if (!is_long_side(sequence, side))
		builder_tie_off(builder, &last, TIE_OFF_MAINS);
}

void build_mains(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	enum side first = sequence->job->first_side;
	int half = pattern_half(sequence->pattern);
	int lead = job_lead(sequence->job);

	build_centre(builder, first);
	for (int from = 2; from <= half; from += lead) {
		build_mains_of(builder, first, from, from + lead - 1);
		build_mains_of(builder, other_side(first), from, from + lead - 1);
	}
	build_mounts_check(builder);
	if (!builder->mains_counted)
		builder_chore(builder, CALL_CHECK_MAINS, PHASE_MAINS, DO_CHECK, SUBJECT_MAINS);
	end_side(builder, first);
	end_side(builder, other_side(first));
}
