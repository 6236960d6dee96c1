/* What comes after the mains, string by string. */
#include "sequence/internal.h"

bool is_long_side(const struct sequence *sequence, enum side side)
{
	return sequence->job->method == METHOD_ONE_PIECE && side == sequence->job->weave_side;
}

int mains_in_a_row(const struct sequence *sequence, enum side side)
{
	int half = pattern_half(sequence->pattern);

	return is_long_side(sequence, side) && sequence->route->delayed ? half - 1 : half;
}

enum frame_end sequence_mains_end(const struct sequence *sequence, enum side side)
{
	return pattern_main_end(sequence->mains_start, mains_in_a_row(sequence, side));
}

struct step cross_step(const struct sequence *sequence, int cross, enum side entry)
{
	return (struct step){
		.string = STRING_CROSS,
		.number = cross,
		.entry = entry,
		.exit = other_side(entry),
		.from = sequence->cross_hole[cross],
		.to = sequence->cross_hole[cross],
	};
}

struct step main_step(const struct sequence *sequence, enum frame_end from)
{
	const struct pattern *pattern = sequence->pattern;
	int main = pattern_half(pattern);

	return (struct step){
		.string = STRING_MAIN,
		.number = main,
		.entry = sequence->job->weave_side,
		.exit = sequence->job->weave_side,
		.from = {from, pattern->main_hole[from][main]},
		.to = {other_end(from), pattern->main_hole[other_end(from)][main]},
	};
}

void plan_steps(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	const struct route *route = sequence->route;
	enum side side = sequence->job->weave_side;

	builder->step_count = route ? route->count : sequence->pattern->crosses;
	for (int i = 0; i < builder->step_count; i++) {
		int cross = route ? route->steps[i] : i + 1;
		builder->steps[i] = cross ? cross_step(sequence, cross, side)
					  : main_step(sequence, route->main_from);
		side = builder->steps[i].exit;
	}
}

int run_length(const struct builder *builder, int from)
{
	const struct step *steps = builder->steps;
	int count = 1;

	while (from + count < builder->step_count && steps[from + count].string == STRING_CROSS &&
	       steps[from + count].number == steps[from + count - 1].number + 1)
		count++;
	return count;
}
