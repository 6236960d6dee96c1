/* Where the knots go. A hole takes two strings at most, a tie-off counting as one (common practice,
 * no published source), so the holes are counted before one is chosen. */
#include "sequence/internal.h"

#include <stdlib.h>

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

/* Whether a hole takes one more string on this side, with room for those knots too. */
static bool has_room(const struct sequence *sequence, struct hole hole, enum side side,
		     const struct hole reserved[TIE_OFFS][2])
{
	int strings = pattern_strings_in(sequence->pattern, hole);

	for (enum tie_off tie_off = 0; tie_off < TIE_OFFS; tie_off++) {
		strings += hole_same(sequence->tie_off[tie_off][side], hole);
		strings += reserved && hole_same(reserved[tie_off][side], hole);
	}
	return strings < 2;
}

/* Nearest first, holes towards the centre before those away from it. */
static int distance(int place, int number)
{
	return number < place ? place - number : HOLES_MAX + number - place;
}

/* The nearest hole of a main that still has room, or number 0; a main, because it is there and
 * under tension before any knot is tied. */
static struct hole find_hole(const struct sequence *sequence, struct hole place, enum side side,
			     const struct hole reserved[TIE_OFFS][2])
{
	struct hole best = {place.end, 0};

	for (int k = 1; k <= pattern_half(sequence->pattern); k++) {
		struct hole hole = pattern_main_hole(sequence->pattern, place.end, k);
		if (hole.number == place.number || !has_room(sequence, hole, side, reserved))
			continue;
		if (!best.number ||
		    distance(place.number, hole.number) < distance(place.number, best.number))
			best = hole;
	}
	return best;
}

static void settle(struct sequence *sequence, const struct ending *knot, struct hole hole,
		   bool suggested)
{
	sequence->tie_off[knot->tie_off][knot->side] = hole;
	sequence->tie_off_suggested[knot->tie_off][knot->side] = suggested;
}

static bool suggest(struct builder *builder, const struct ending *knot,
		    const struct hole reserved[TIE_OFFS][2])
{
	struct sequence *sequence = builder->sequence;
	struct hole hole = find_hole(sequence, knot->near, knot->side, reserved);
	int away = abs(hole.number - knot->near.number);

	if (hole.number == 0) {
		builder_fault(
			builder, FAULT_ERROR, sequence->job->pattern_position, "tie-off-none",
			"%s has no hole left at the %s to tie off %s on the %s side: name one in "
			"the pattern",
			sequence->pattern->name, end_names[hole.end], what[knot->tie_off],
			side_names[knot->side]);
		return false;
	}
	settle(sequence, knot, hole, true);
	if (away > TIE_OFF_HOLES_USUAL)
		builder_fault(
			builder, FAULT_WARNING, sequence->job->pattern_position, "tie-off-far",
			"%s has no hole nearer than %d holes away to tie off %s on the %s side",
			sequence->pattern->name, away, what[knot->tie_off], side_names[knot->side]);
	return true;
}

/* The pattern's own first: a suggestion must not take the room that they need. */
static bool choose(struct builder *builder, const struct ending *endings, int count)
{
	bool good = true;

	for (int i = 0; i < count; i++)
		if (endings[i].named.number)
			settle(builder->sequence, &endings[i], endings[i].named, false);
	for (int i = 0; i < count; i++)
		if (!builder->sequence->tie_off[endings[i].tie_off][endings[i].side].number)
			good &= suggest(builder, &endings[i], NULL);
	return good;
}

/* Where the mains end is for the plan to say, so the pattern's hole is of use only at that end. */
static struct ending ending_of_mains(const struct sequence *sequence, enum side side)
{
	const struct pattern *pattern = sequence->pattern;
	struct hole near = pattern_main_hole(pattern, sequence->mains_end, pattern_half(pattern));
	struct hole named = pattern->tie_off[TIE_OFF_MAINS][side];

	if (named.end != near.end)
		named.number = 0;
	return (struct ending){TIE_OFF_MAINS, side, near, named};
}

/* Mains that end where the pattern names no hole for them are tied alike on both sides, even if the
 * start of the crosses has to find another hole than its own. Nothing is chosen if that fails. */
static void tie_mains_alike(struct sequence *sequence, const struct ending *main,
			    struct ending *start, const struct ending *end)
{
	struct hole *knots = sequence->tie_off[TIE_OFF_MAINS];

	settle(sequence, end, end->named, false);
	/* The other side has this much room, too. */
	struct hole hole = find_hole(sequence, main->near, end->side, NULL);
	if (!hole.number)
		return;
	knots[SIDE_LEFT] = knots[SIDE_RIGHT] = hole;
	bool own = start->named.number && has_room(sequence, start->named, start->side, NULL);
	if (!own && !find_hole(sequence, start->near, start->side, NULL).number) {
		knots[SIDE_LEFT] = knots[SIDE_RIGHT] = (struct hole){0};
		return;
	}
	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++)
		sequence->tie_off_suggested[TIE_OFF_MAINS][side] = true;
	if (!own)
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
	struct sequence *sequence = builder->sequence;
	const struct step *first = builder->crosses->steps;
	const struct step *last = &first[builder->crosses->count - 1];
	struct ending endings[] = {
		ending_of_mains(sequence, SIDE_LEFT),
		ending_of_mains(sequence, SIDE_RIGHT),
		ending_of_crosses(sequence, TIE_OFF_CROSS_START, first->entry, first->from),
		ending_of_crosses(sequence, TIE_OFF_CROSS_END, last->exit, last->to),
	};

	if (!endings[0].named.number && !endings[1].named.number)
		tie_mains_alike(sequence, &endings[0], &endings[2], &endings[3]);
	return choose(builder, endings, sizeof(endings) / sizeof(endings[0]));
}

/* Where the long side may end on this side too, what the pattern names there is left free if that
 * can be. */
bool tie_off_of_short_side(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	const struct pattern *pattern = sequence->pattern;
	struct ending knot = ending_of_mains(sequence, other_side(sequence->job->weave_side));

	if (!knot.named.number &&
	    find_hole(sequence, knot.near, knot.side, pattern->tie_off).number)
		return suggest(builder, &knot, pattern->tie_off);
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

static struct ending ending_of_long_side(const struct sequence *sequence, const struct step *last)
{
	struct hole named = named_near(sequence->pattern, last);

	if (hole_same(named, last->to) || !has_room(sequence, named, last->exit, NULL))
		named.number = 0;
	return (struct ending){TIE_OFF_CROSS_END, last->exit, last->to, named};
}

bool tie_off_has_room(const struct sequence *sequence, const struct step *last)
{
	struct ending knot = ending_of_long_side(sequence, last);

	return knot.named.number || find_hole(sequence, knot.near, knot.side, NULL).number;
}

bool tie_off_of_long_side(struct builder *builder)
{
	const struct strand *strand = builder->crosses;
	struct ending knot =
		ending_of_long_side(builder->sequence, &strand->steps[strand->count - 1]);

	return choose(builder, &knot, 1);
}
