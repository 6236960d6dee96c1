/* The mains: from the centre outward, neither side running ahead by more than
 * `lead`. */
#include "sequence/internal.h"

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

	build_start(builder);
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
