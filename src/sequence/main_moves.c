/* What is done with one main: feed, pull, clamp. */
#include "sequence/internal.h"

static struct hole main_hole(const struct sequence *sequence, enum frame_end end, int main)
{
	return (struct hole){end, sequence->pattern->main_hole[end][main]};
}

/* Where main k comes out; it goes in at the other end. */
struct hole main_exit(const struct sequence *sequence, int main)
{
	return main_hole(sequence, pattern_main_end(sequence->mains_start, main), main);
}

struct hole main_entry(const struct sequence *sequence, int main)
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
		.hole = main_exit(sequence, main),
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

void build_main_pull(struct builder *builder, enum side side, int main)
{
	struct move move = main_move(builder->sequence, DO_PULL, side, main);

	move.tension = sequence_tension(builder->sequence, STRING_MAIN, main, side);
	builder_pull(builder, &move);
	builder_subject(builder);
}

/* In one-piece work the short side is left what it needs, and that is what has to be said. */
void build_centre_feed(struct builder *builder)
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

/* Everybody looks at the mounts again after the third main of both sides. */
void build_mounts_check(struct builder *builder)
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

void build_main(struct builder *builder, enum side side, int main)
{
	build_mounts_check(builder);
	builder_tension(builder, PHASE_MAINS, STRING_MAIN, main, side);
	builder_call(builder, CALL_MAIN);
	if (builder->fed[side] < main)
		add_feed(builder, side, main, 0);
	build_main_pull(builder, side, main);
	builder_hold(builder);
}
