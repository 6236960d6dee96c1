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

/* Whether a string is the last of its length before a knot. */
static bool is_tied_off(const struct sequence *sequence, enum string_kind strings, int number,
			enum side side)
{
	const struct route *route = sequence->route;
	int half = pattern_half(sequence->pattern);

	if (route && (strings == STRING_CROSS || is_long_side(sequence, side))) {
		int last = route->steps[route->count - 1];
		return last == (strings == STRING_CROSS ? number : 0) &&
		       (strings == STRING_CROSS || number == half);
	}
	return number == (strings == STRING_MAIN ? half : sequence->pattern->crosses);
}

struct quantity sequence_tension(const struct sequence *sequence, enum string_kind strings,
				 int number, enum side side)
{
	return is_tied_off(sequence, strings, number, side)
		       ? job_tie_off_tension(sequence->job, strings, number)
		       : job_tension(sequence->job, strings, number);
}
