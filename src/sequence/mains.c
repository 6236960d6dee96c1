/* The mains: from the centre outward, neither side running ahead by more than
 * `lead`. */
#include "sequence/internal.h"

static void unclamp_knot(struct builder *builder, enum side side)
{
	builder_unclamp(builder, CALL_UNCLAMP_KNOT,
			holding_clamp(&builder->holding, (enum strand)side));
}

static void build_tie_off(struct builder *builder, enum side side)
{
	const struct sequence *sequence = builder->sequence;
	int outermost = pattern_half(sequence->pattern);
	struct move move = main_move(sequence, DO_TIE_OFF, side, outermost);

	move.from = move.hole;
	move.hole = builder->tie_off[TIE_OFF_MAINS][side];
	move.suggested = builder->suggested[TIE_OFF_MAINS][side];
	builder_call(builder, CALL_TIE_OFF);
	builder_add(builder, CALL_TIE_OFF, &move);
	move.action = DO_KNOT;
	move.from.number = 0;
	builder_add(builder, CALL_KNOT, &move);
	unclamp_knot(builder, side);
}

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
	const struct grip *clamp = holding_clamp(&builder->holding, (enum strand)side);

	if (is_long_side(builder->sequence, side))
		return;
	if (!builder->holding.tied[side])
		build_tie_off(builder, side);
	else if (clamp)
		unclamp_knot(builder, side);
}

void build_mains(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	enum side first = sequence->job->first_side;
	int half = pattern_half(sequence->pattern);
	int lead = job_lead(sequence->job);

	build_start(builder);
	for (int from = 2; from <= half; from += lead) {
		build_mains_of(builder, first, from, from + lead - 1);
		build_mains_of(builder, other_side(first), from, from + lead - 1);
	}
	if (!builder->mains_counted)
		builder_chore(builder, CALL_CHECK_MAINS, PHASE_MAINS, DO_CHECK, SUBJECT_MAINS);
	end_side(builder, first);
	end_side(builder, other_side(first));
}
