/* Where the knots go. A hole takes two strings at most, a tie-off counting as one (common practice,
 * no published source), so the holes are counted before one is chosen. */
#include "sequence/builder.h"

#include <stdlib.h>

struct taken {
	int strings[2][2][HOLES_MAX + 1]; /* by side, end and hole number */
};

static const char *const what[TIE_OFFS] = {
	[TIE_OFF_MAINS] = "the mains",
	[TIE_OFF_CROSS_START] = "the start of the crosses",
	[TIE_OFF_CROSS_END] = "the end of the crosses",
};

/* The hole that the knot should be near: where its string comes out or goes in. */
static struct hole place_of(const struct sequence *sequence, enum tie_off tie_off)
{
	const struct pattern *pattern = sequence->pattern;
	enum frame_end end = sequence->mains_end;

	switch (tie_off) {
	case TIE_OFF_CROSS_START:
		return sequence->cross_hole[1];
	case TIE_OFF_CROSS_END:
		return sequence->cross_hole[pattern->crosses];
	default:
		return (struct hole){end, pattern->main_hole[end][pattern_half(pattern)]};
	}
}

/* The sides on which a knot of this kind is tied. */
static bool is_tied(const struct sequence *sequence, enum tie_off tie_off, enum side side)
{
	const struct job *job = sequence->job;

	switch (tie_off) {
	case TIE_OFF_CROSS_START:
		return side == cross_entry(job, 1);
	case TIE_OFF_CROSS_END:
		return side == cross_exit(job, sequence->pattern->crosses);
	default:
		return true;
	}
}

static void count_strings(const struct pattern *pattern, struct taken *taken)
{
	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++) {
		for (int number = 1; number <= pattern->holes[end]; number++) {
			int strings = pattern_strings_in(pattern, (struct hole){end, number});
			taken->strings[SIDE_LEFT][end][number] = strings;
			taken->strings[SIDE_RIGHT][end][number] = strings;
		}
	}
}

/* A hole that the pattern names is of use if it is at the end where the string is. */
static bool use_named(struct builder *builder, enum tie_off tie_off, enum side side,
		      struct taken *taken)
{
	struct hole hole = builder->sequence->pattern->tie_off[tie_off][side];

	if (hole.number == 0)
		return false;
	if (tie_off == TIE_OFF_MAINS && hole.end != builder->sequence->mains_end)
		return false;
	builder->tie_off[tie_off][side] = hole;
	taken->strings[side][hole.end][hole.number]++;
	return true;
}

/* Nearest first, holes towards the centre before those away from it. */
static int distance(int place, int number)
{
	return number < place ? place - number : HOLES_MAX + number - place;
}

/* The nearest hole of a main that still has room; a main, because it is there and under tension
 * before any knot is tied. */
static int find_hole(const struct pattern *pattern, struct hole place, enum side side,
		     const struct taken *taken)
{
	int best = 0;

	for (int k = 1; k <= pattern_half(pattern); k++) {
		int number = pattern->main_hole[place.end][k];
		if (number == place.number || taken->strings[side][place.end][number] > 1)
			continue;
		if (best == 0 || distance(place.number, number) < distance(place.number, best))
			best = number;
	}
	return best;
}

static bool suggest(struct builder *builder, enum tie_off tie_off, enum side side,
		    struct taken *taken)
{
	const struct sequence *sequence = builder->sequence;
	struct hole place = place_of(sequence, tie_off);
	int number = find_hole(sequence->pattern, place, side, taken);

	if (number == 0) {
		fault_add(builder->faults, FAULT_ERROR, sequence->job->file,
			  sequence->job->pattern_position, "tie-off-none",
			  "%s has no hole left at the %s to tie off %s on the %s side: name one in "
			  "the pattern",
			  sequence->pattern->name, end_name(place.end), what[tie_off],
			  side_name(side));
		return false;
	}
	builder->tie_off[tie_off][side] = (struct hole){place.end, number};
	builder->suggested[tie_off][side] = true;
	taken->strings[side][place.end][number]++;
	return true;
}

bool tie_offs_choose(struct builder *builder)
{
	struct taken taken = {0};
	bool named[TIE_OFFS][2] = {0};
	bool good = true;

	count_strings(builder->sequence->pattern, &taken);
	/* The pattern's own first: a suggestion must not take the room that they need. */
	for (enum tie_off tie_off = 0; tie_off < TIE_OFFS; tie_off++)
		for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++)
			named[tie_off][side] = is_tied(builder->sequence, tie_off, side) &&
					       use_named(builder, tie_off, side, &taken);
	for (enum tie_off tie_off = 0; tie_off < TIE_OFFS; tie_off++)
		for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++)
			if (!named[tie_off][side] && is_tied(builder->sequence, tie_off, side))
				good &= suggest(builder, tie_off, side, &taken);
	return good;
}
