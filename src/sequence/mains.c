/* The mains: from the centre outward, neither side running ahead by more than
 * `lead`. */
#include "sequence/internal.h"

static struct hole main_hole(const struct sequence *sequence, enum frame_end end, int main)
{
	return (struct hole){end, sequence->pattern->main_hole[end][main]};
}

/* Where main k comes out; it goes in at the other end. */
static struct hole exit_hole(const struct sequence *sequence, int main)
{
	return main_hole(sequence, pattern_main_end(sequence->mains_start, main), main);
}

static struct hole entry_hole(const struct sequence *sequence, int main)
{
	return main_hole(sequence, other_end(pattern_main_end(sequence->mains_start, main)), main);
}

static struct move main_move(enum action action, enum side side, int main)
{
	return (struct move){
		.action = action,
		.phase = PHASE_MAINS,
		.has_string = true,
		.string = STRING_MAIN,
		.number = main,
		.has_side = true,
		.side = side,
	};
}

static void add_feed(struct builder *builder, enum side side, int main, double length_mm)
{
	struct move move = main_move(DO_FEED, side, main);

	move.length_mm = length_mm;
	move.from = entry_hole(builder->sequence, main);
	move.to = exit_hole(builder->sequence, main);
	builder_add(builder, CALL_FEED, &move);
}

static void add_pull(struct builder *builder, enum side side, int main)
{
	struct move move = main_move(DO_PULL, side, main);

	move.hole = exit_hole(builder->sequence, main);
	move.tension = sequence_tension(builder->sequence, STRING_MAIN, main, side);
	builder_pull(builder, &move);
	builder_subject(builder);
}

static void add_clamp(struct builder *builder, enum action action, enum side side, int main)
{
	struct move move = main_move(action, side, main);

	move.hole = exit_hole(builder->sequence, main);
	builder_add(builder, action == DO_CLAMP ? CALL_CLAMP : CALL_UNCLAMP, &move);
}

static void add_start_clamp(struct builder *builder, enum action action, enum side side)
{
	struct move move = main_move(action, side, 1);

	move.hole = entry_hole(builder->sequence, 1);
	move.start = true;
	builder_add(builder, action == DO_CLAMP ? CALL_CLAMP_START : CALL_UNCLAMP_START, &move);
}

static void add_release(struct builder *builder, enum side side, int main)
{
	struct move move = main_move(DO_RELEASE, side, main);

	builder_add(builder, CALL_RELEASE, &move);
}

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

/* Both ends go in at the centre; a starting clamp on one centre main holds while the other is
 * pulled, and moves when the first one is pulled too. */
static void build_centre(struct builder *builder)
{
	enum side first = builder->sequence->job->first_side;
	enum side second = other_side(first);

	build_centre_feed(builder);

	builder_call(builder, CALL_CLAMP_START);
	add_start_clamp(builder, DO_CLAMP, second);

	builder_call(builder, CALL_CENTRE_MAIN);
	add_pull(builder, first, 1);
	add_clamp(builder, DO_CLAMP, first, 1);
	add_release(builder, first, 1);

	builder_call(builder, CALL_CENTRE_MAIN);
	add_pull(builder, second, 1);
	add_start_clamp(builder, DO_UNCLAMP, second);
	add_clamp(builder, DO_CLAMP, second, 1);
	add_release(builder, second, 1);
}

static void build_main(struct builder *builder, enum side side, int main)
{
	builder_tension(builder, PHASE_MAINS, STRING_MAIN, main, side);
	builder_call(builder, CALL_MAIN);
	add_feed(builder, side, main, 0);
	add_pull(builder, side, main);
	add_clamp(builder, DO_UNCLAMP, side, main - 1);
	add_clamp(builder, DO_CLAMP, side, main);
	add_release(builder, side, main);
}

static void build_tie_off(struct builder *builder, enum side side)
{
	const struct sequence *sequence = builder->sequence;
	int outermost = pattern_half(sequence->pattern);
	struct move move = main_move(DO_TIE_OFF, side, outermost);

	move.from = exit_hole(sequence, outermost);
	move.hole = builder->tie_off[TIE_OFF_MAINS][side];
	move.suggested = builder->suggested[TIE_OFF_MAINS][side];
	builder_call(builder, CALL_TIE_OFF);
	builder_add(builder, CALL_TIE_OFF, &move);
	move.action = DO_KNOT;
	move.from.number = 0;
	builder_add(builder, CALL_KNOT, &move);
	move = main_move(DO_UNCLAMP, side, outermost);
	move.hole = exit_hole(sequence, outermost);
	builder_add(builder, CALL_UNCLAMP_KNOT, &move);
}

static void build_mains_of(struct builder *builder, enum side side, int from, int to)
{
	int last = mains_in_a_row(builder->sequence, side);

	for (int main = from; main <= to && main <= last; main++)
		build_main(builder, side, main);
}

/* The long side goes on: its clamp stays where it is. */
static void end_side(struct builder *builder, enum side side)
{
	const struct sequence *sequence = builder->sequence;
	int last = mains_in_a_row(sequence, side);

	if (is_long_side(sequence, side))
		builder->held =
			(struct held){true, STRING_MAIN, last, side, exit_hole(sequence, last)};
	else
		build_tie_off(builder, side);
}

void build_mains(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	enum side first = sequence->job->first_side;
	int half = pattern_half(sequence->pattern);
	int lead = sequence->job->lead;

	build_centre(builder);
	for (int from = 2; from <= half; from += lead) {
		build_mains_of(builder, first, from, from + lead - 1);
		build_mains_of(builder, other_side(first), from, from + lead - 1);
	}
	builder_chore(builder, CALL_CHECK_MAINS, PHASE_MAINS, DO_CHECK, SUBJECT_MAINS);
	end_side(builder, first);
	end_side(builder, other_side(first));
}
