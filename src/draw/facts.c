#include "draw/internal.h"

#include <string.h>

void facts_holes(struct text *out, const char *label, const struct hole_set *set)
{
	char text[HOLE_TEXT_MAX];

	text_add(out, label);
	size_t before = out->length;

	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++) {
		for (int number = 1; number <= HOLES_MAX; number++) {
			struct hole hole = {end, number};
			if (!hole_in(set, hole))
				continue;
			text_format(out, "%s%s", out->length > before ? " " : "",
				    hole_text(hole, text));
		}
	}
	if (out->length == before)
		text_add(out, "none");
}

static const struct knot *knot_on(const struct stringing *stringing, enum string_kind string,
				  bool start, enum side side)
{
	for (int i = 0; i < stringing->knot_count; i++) {
		const struct knot *knot = &stringing->knots[i];
		if (knot->string == string && knot->start == start && knot->place.side == side)
			return knot;
	}
	return NULL;
}

void facts_knots(struct text *out, const char *label, const struct stringing *stringing,
		 enum string_kind string, bool start)
{
	const struct knot *left = knot_on(stringing, string, start, SIDE_LEFT);
	const struct knot *right = knot_on(stringing, string, start, SIDE_RIGHT);
	char text[HOLE_TEXT_MAX];

	text_add(out, label);
	if (left && right && hole_same(left->place.hole, right->place.hole)) {
		text_format(out, "%s left and right", hole_text(left->place.hole, text));
	} else {
		if (left)
			text_format(out, "%s left", hole_text(left->place.hole, text));
		if (left && right)
			text_add(out, ", ");
		if (right)
			text_format(out, "%s right", hole_text(right->place.hole, text));
		if (!left && !right)
			text_add(out, "none");
	}
	if ((left && left->suggested) || (right && right->suggested))
		text_add(out, " (suggested)");
}

void facts_counts(struct text *out, const struct pattern *pattern)
{
	text_format(out, "%d mains, %d crosses, ", pattern->mains, pattern->crosses);
	if (pattern->bridge)
		text_format(out, "%d bridge holes", pattern->bridge);
	else
		text_add(out, "no bridge");
}

void facts_order(struct text *out, const struct sequence *sequence)
{
	enum frame_end from = sequence->cross_hole[1].end;

	text_format(out, "Mains start at the %s, %s first, and finish at the %s",
		    end_name(sequence->mains_start), side_name(sequence->job->first_side),
		    end_name(sequence->mains_end));
	enum side long_side = sequence->job->weave_side;
	if (sequence_mains_end(sequence, long_side) != sequence->mains_end)
		text_format(out, ", on the %s at the %s", side_name(long_side),
			    end_name(sequence_mains_end(sequence, long_side)));
	text_format(out, ". Crosses run from the %s to the %s.", end_name(from),
		    end_name(other_end(from)));
}

static void describe_holes(struct text *out, const struct stringing *stringing)
{
	const struct pattern *pattern = stringing->sequence->pattern;

	text_format(out, " Holes a side: %d at the head, %d at the throat. ",
		    pattern->holes[END_HEAD], pattern->holes[END_THROAT]);
	facts_holes(out, "Skipped by the mains: ", &pattern->mains_skip);
	facts_holes(out, ". Shared: ", &pattern->shared);
	facts_holes(out, ". Unused: ", &pattern->unused);
	facts_knots(out, ". Tie-offs of the mains: ", stringing, STRING_MAIN, false);
	facts_knots(out, ". Starting knot of the crosses: ", stringing, STRING_CROSS, true);
	facts_knots(out, ". Tie-off of the crosses: ", stringing, STRING_CROSS, false);
	text_add(out, ".");
}

static void describe_pulls(struct text *out, const struct stringing *stringing)
{
	char text[HOLE_TEXT_MAX];

	if (stringing->pull_count)
		text_add(out, " Pulls in order:");
	for (int i = 0; i < stringing->pull_count; i++) {
		const struct pull *pull = &stringing->pulls[i];
		text_format(out, "%s %d, ", i ? ";" : "", i + 1);
		if (pull->first < pull->last)
			text_format(out, "crosses %d to %d", pull->first, pull->last);
		else
			text_format(out, "%s %d", string_name(pull->string), pull->last);
		text_format(out, " at %s %s%s", hole_text(pull->place.hole, text),
			    side_name(pull->place.side), pull->next ? " (next)" : "");
	}
	if (stringing->pull_count)
		text_add(out, ".");
}

void facts_describe(struct text *out, const struct stringing *stringing)
{
	const struct sequence *sequence = stringing->sequence;

	text_add(out, "The string bed seen from the face, head at the top: ");
	facts_counts(out, sequence->pattern);
	text_add(out, ". ");
	if (stringing->call) {
		text_format(out, "As it stands at call %d of %d. ", stringing->call,
			    sequence->call_count);
	}
	facts_order(out, sequence);
	describe_holes(out, stringing);
	describe_pulls(out, stringing);
}
