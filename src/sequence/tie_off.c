/* Where the knots go. A hole takes two strings at most, a tie-off counting as one (common practice,
 * no published source), so the holes are counted before one is chosen. */
#include "sequence/internal.h"

#include <stdlib.h>

struct taken {
	int strings[2][2][HOLES_MAX + 1]; /* by side, end and hole number */
};

static const char *const what[TIE_OFFS] = {
	[TIE_OFF_MAINS] = "the mains",
	[TIE_OFF_CROSS_START] = "the start of the crosses",
	[TIE_OFF_CROSS_END] = "the end of the crosses",
};

/* One end of string to be tied. */
struct ending {
	enum tie_off tie_off;
	enum side side;
	struct hole near;  /* where its string comes out, or goes in */
	struct hole named; /* the pattern's, if it is of use here; else number 0 */
};

static void count_strings(const struct builder *builder, struct taken *taken)
{
	const struct pattern *pattern = builder->sequence->pattern;

	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		for (enum frame_end end = END_HEAD; end <= END_THROAT; end++)
			for (int number = 1; number <= pattern->holes[end]; number++)
				taken->strings[side][end][number] =
					pattern_strings_in(pattern, (struct hole){end, number});
		for (enum tie_off tie_off = 0; tie_off < TIE_OFFS; tie_off++) {
			struct hole hole = builder->sequence->tie_off[tie_off][side];
			taken->strings[side][hole.end][hole.number]++;
		}
	}
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

static void settle(struct builder *builder, const struct ending *knot, struct hole hole,
		   bool suggested)
{
	builder->sequence->tie_off[knot->tie_off][knot->side] = hole;
	builder->sequence->tie_off_suggested[knot->tie_off][knot->side] = suggested;
}

static bool suggest(struct builder *builder, const struct ending *knot, const struct taken *taken)
{
	const struct sequence *sequence = builder->sequence;
	enum frame_end end = knot->near.end;
	int number = find_hole(sequence->pattern, knot->near, knot->side, taken);

	if (number == 0) {
		fault_add(builder->faults, FAULT_ERROR, sequence->job->file,
			  sequence->job->pattern_position, "tie-off-none",
			  "%s has no hole left at the %s to tie off %s on the %s side: name one in "
			  "the pattern",
			  sequence->pattern->name, end_names[end], what[knot->tie_off],
			  side_names[knot->side]);
		return false;
	}
	settle(builder, knot, (struct hole){end, number}, true);
	if (abs(number - knot->near.number) > TIE_OFF_HOLES_USUAL)
		fault_add(builder->faults, FAULT_WARNING, sequence->job->file,
			  sequence->job->pattern_position, "tie-off-far",
			  "%s has no hole nearer than %d holes away to tie off %s on the %s side",
			  sequence->pattern->name, abs(number - knot->near.number),
			  what[knot->tie_off], side_names[knot->side]);
	return true;
}

/* The pattern's own first: a suggestion must not take the room that they need. */
static bool choose(struct builder *builder, const struct ending *endings, int count)
{
	bool good = true;

	for (int i = 0; i < count; i++)
		if (endings[i].named.number)
			settle(builder, &endings[i], endings[i].named, false);
	for (int i = 0; i < count; i++) {
		struct taken taken = {0};
		count_strings(builder, &taken);
		if (!builder->sequence->tie_off[endings[i].tie_off][endings[i].side].number)
			good &= suggest(builder, &endings[i], &taken);
	}
	return good;
}

static struct hole last_main_hole(const struct sequence *sequence)
{
	const struct pattern *pattern = sequence->pattern;
	enum frame_end end = sequence->mains_end;

	return (struct hole){end, pattern->main_hole[end][pattern_half(pattern)]};
}

/* Where the mains end is for the plan to say, so the pattern's hole is of use only at that end. */
static struct ending ending_of_mains(const struct sequence *sequence, enum side side)
{
	struct hole near = last_main_hole(sequence);
	struct hole named = sequence->pattern->tie_off[TIE_OFF_MAINS][side];

	if (named.end != near.end)
		named.number = 0;
	return (struct ending){TIE_OFF_MAINS, side, near, named};
}

/* Mains that end where the pattern names no hole for them are tied alike on both sides, even if the
 * start of the crosses has to find another hole than its own. Nothing is chosen if that cannot be.
 */
static void tie_mains_alike(struct builder *builder, const struct ending *main,
			    struct ending *start, const struct ending *end)
{
	const struct pattern *pattern = builder->sequence->pattern;
	struct taken taken = {0}, after = {0};

	count_strings(builder, &taken);
	taken.strings[end->side][end->named.end][end->named.number]++;
	for (int number = 1; number <= HOLES_MAX; number++) {
		int *left = &taken.strings[SIDE_LEFT][main->near.end][number];
		int right = taken.strings[SIDE_RIGHT][main->near.end][number];
		*left = *left > right ? *left : right;
	}
	struct hole hole = {main->near.end, find_hole(pattern, main->near, SIDE_LEFT, &taken)};
	if (!hole.number)
		return;
	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++)
		builder->sequence->tie_off[TIE_OFF_MAINS][side] = hole;
	count_strings(builder, &after);
	after.strings[end->side][end->named.end][end->named.number]++;
	bool own = after.strings[start->side][start->named.end][start->named.number] < 2;
	bool other = find_hole(pattern, start->near, start->side, &after) != 0;
	bool good = (start->named.number && own) || other;
	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		builder->sequence->tie_off[TIE_OFF_MAINS][side] = good ? hole : (struct hole){0};
		builder->sequence->tie_off_suggested[TIE_OFF_MAINS][side] = good;
	}
	if (good && !own)
		start->named.number = 0;
}

/* Crosses that the plan begins at the other end than the pattern: each knot takes the hole that the
 * pattern has for the other one, if a main goes through it. */
static struct ending ending_of_crosses(const struct sequence *sequence, enum tie_off tie_off,
				       enum side side, struct hole near)
{
	const struct pattern *pattern = sequence->pattern;
	bool turned = sequence->crosses_start != pattern->crosses_start;
	enum tie_off other =
		tie_off == TIE_OFF_CROSS_START ? TIE_OFF_CROSS_END : TIE_OFF_CROSS_START;
	struct hole named = pattern->tie_off[turned ? other : tie_off][side];

	if (turned && (!pattern_main_at(pattern, named) || hole_same(named, near)))
		named.number = 0;
	return (struct ending){tie_off, side, near, named};
}

bool tie_offs_of_two_piece(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	const struct step *first = builder->crosses->steps;
	const struct step *last = &builder->crosses->steps[builder->crosses->count - 1];
	struct ending endings[] = {
		ending_of_mains(sequence, SIDE_LEFT),
		ending_of_mains(sequence, SIDE_RIGHT),
		ending_of_crosses(sequence, TIE_OFF_CROSS_START, first->entry, first->from),
		ending_of_crosses(sequence, TIE_OFF_CROSS_END, last->exit, last->to),
	};

	if (!endings[0].named.number && !endings[1].named.number)
		tie_mains_alike(builder, &endings[0], &endings[2], &endings[3]);
	return choose(builder, endings, sizeof(endings) / sizeof(endings[0]));
}

/* Where the long side may end on this side too, what the pattern names there is left free if that
 * can be. */
bool tie_off_of_short_side(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	struct ending knot = ending_of_mains(sequence, other_side(sequence->job->weave_side));
	struct taken taken = {0};

	if (knot.named.number)
		return choose(builder, &knot, 1);
	count_strings(builder, &taken);
	for (enum tie_off tie_off = 0; tie_off < TIE_OFFS; tie_off++) {
		struct hole hole = sequence->pattern->tie_off[tie_off][knot.side];
		taken.strings[knot.side][hole.end][hole.number]++;
	}
	if (find_hole(sequence->pattern, knot.near, knot.side, &taken))
		return suggest(builder, &knot, &taken);
	return choose(builder, &knot, 1);
}

/* A route may end where the pattern has a knot in mind that a one-piece job does not tie. */
static struct hole named_near(const struct pattern *pattern, const struct step *last)
{
	enum tie_off tie_off = TIE_OFF_MAINS;

	if (last->string == STRING_CROSS && last->number == pattern->crosses)
		tie_off = TIE_OFF_CROSS_END;
	else if (last->string == STRING_CROSS && last->number == 1)
		tie_off = TIE_OFF_CROSS_START;
	else if (last->string == STRING_CROSS)
		return (struct hole){0};
	struct hole hole = pattern->tie_off[tie_off][last->exit];
	return hole.end == last->to.end ? hole : (struct hole){0};
}

static struct ending ending_of_long_side(const struct builder *builder, const struct step *last,
					 const struct taken *taken)
{
	struct hole named = named_near(builder->sequence->pattern, last);

	if (hole_same(named, last->to) || taken->strings[last->exit][named.end][named.number] > 1)
		named.number = 0;
	return (struct ending){TIE_OFF_CROSS_END, last->exit, last->to, named};
}

bool tie_off_has_room(const struct builder *builder, const struct step *last)
{
	struct taken taken = {0};

	count_strings(builder, &taken);
	struct ending knot = ending_of_long_side(builder, last, &taken);
	return knot.named.number ||
	       find_hole(builder->sequence->pattern, knot.near, knot.side, &taken);
}

bool tie_off_of_long_side(struct builder *builder)
{
	struct taken taken = {0};

	count_strings(builder, &taken);
	struct ending knot = ending_of_long_side(
		builder, &builder->crosses->steps[builder->crosses->count - 1], &taken);
	return choose(builder, &knot, 1);
}
