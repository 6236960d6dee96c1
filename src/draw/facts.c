/* What a picture shows, in words: for the card, and for those who hear the picture described. */
#include "draw/internal.h"

#include <stdlib.h>

/* These leave out the row where there is none. */
static void fact_holes(struct column *column, const char *name, const struct hole_set *set)
{
	struct hole holes[2 * HOLES_MAX];
	int count = 0;

	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++)
		for (int number = 1; number <= HOLES_MAX; number++)
			if (hole_in(set, (struct hole){end, number}))
				holes[count++] = (struct hole){end, number};
	char *list = hole_list(holes, count);
	if (count)
		column_fact(column, name, "%s", list);
	free(list);
}

static const struct move *knot_on(const struct stringing *stringing, enum string_kind string,
				  bool start, enum side side)
{
	for (int i = 0; i < stringing->knot_count; i++) {
		const struct move *move = stringing->knots[i].move;
		if (move->string == string && move->start == start && move->side == side)
			return move;
	}
	return NULL;
}

static void fact_knots(struct column *column, const char *name, const struct stringing *stringing,
		       enum string_kind string, bool start)
{
	const struct move *left = knot_on(stringing, string, start, SIDE_LEFT);
	const struct move *right = knot_on(stringing, string, start, SIDE_RIGHT);
	const struct move *one = left ? left : right;
	char text[HOLE_TEXT_MAX], other[HOLE_TEXT_MAX];

	if (!one)
		return;
	const char *note = one->suggested || (right && right->suggested) ? " (suggested)" : "";
	hole_text(one->hole, text);
	if (!left || !right)
		column_fact(column, name, "%s %s%s", text, side_name(one->side), note);
	else if (hole_same(left->hole, right->hole))
		column_fact(column, name, "%s left and right%s", text, note);
	else
		column_fact(column, name, "%s left, %s right%s", text,
			    hole_text(right->hole, other), note);
}

static void facts_of_frame(struct column *column, const struct pattern *pattern)
{
	column_heading(column, "Frame");
	column_fact(column, "Strings", "%d x %d", pattern->mains, pattern->crosses);
	column_fact(column, "Holes per side", "%d head, %d throat", pattern->holes[END_HEAD],
		    pattern->holes[END_THROAT]);
	if (pattern->bridge)
		column_fact(column, "Bridge", "%d holes", pattern->bridge);
	fact_holes(column, "Skipped", &pattern->mains_skip);
	fact_holes(column, "Shared", &pattern->shared);
	fact_holes(column, "Unused", &pattern->unused);
}

static void facts_of_mains(struct column *column, const struct stringing *stringing)
{
	const struct sequence *sequence = stringing->sequence;
	int lead = job_lead(sequence->job);

	column_heading(column, "Mains");
	column_fact(column, "Start", "%s, %s first", end_name(sequence->mains_start),
		    side_name(sequence->job->first_side));
	column_fact(column, "Ahead", "%d main%s at most", lead, lead == 1 ? "" : "s");
	column_fact(column, "Finish", "%s", end_name(sequence->mains_end));
	fact_knots(column, "Tie off", stringing, STRING_MAIN, false);
}

static const struct strand *first_cross(const struct stringing *stringing)
{
	for (int i = 0; i < stringing->strand_count; i++)
		if (stringing->strands[i].kind == STRING_CROSS)
			return &stringing->strands[i];
	return NULL;
}

static void facts_of_crosses(struct column *column, const struct stringing *stringing)
{
	const struct job *job = stringing->sequence->job;
	const struct strand *first = first_cross(stringing);
	enum frame_end end = stringing->sequence->cross_hole[1].end;
	const char *way = job->behind ? "one behind" : "as woven";
	char hole[HOLE_TEXT_MAX];

	column_heading(column, "Crosses");
	column_fact(column, "Direction", "%s to %s", end_name(end), end_name(other_end(end)));
	fact_knots(column, "Knot", stringing, STRING_CROSS, true);
	if (first)
		column_fact(column, "Cross 1", "%s from the %s, %s first",
			    hole_text(first->from.hole, hole), side_name(first->from.side),
			    job->weave_over ? "over" : "under");
	if (job_first_pull(job) > 1)
		column_fact(column, "Pull", "%s, 1 and %d at once", way, job_first_pull(job));
	else
		column_fact(column, "Pull", "%s", way);
	fact_knots(column, "Tie off", stringing, STRING_CROSS, false);
}

void facts_of_bed(struct column *column, const struct stringing *stringing)
{
	facts_of_frame(column, stringing->sequence->pattern);
	facts_of_mains(column, stringing);
	facts_of_crosses(column, stringing);
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

static void describe_pulls(struct text *out, const struct stringing *stringing)
{
	char text[HOLE_TEXT_MAX];

	if (stringing->pull_count)
		text_add(out, " Pulls in order:");
	for (int i = 0; i < stringing->pull_count; i++) {
		const struct move *move = stringing->pulls[i].move;
		text_format(out, "%s %d, ", i ? ";" : "", i + 1);
		if (pull_first(move) < move->number)
			text_format(out, "crosses %d to %d", pull_first(move), move->number);
		else
			text_format(out, "%s %d", string_name(move->string), move->number);
		text_format(out, " at %s %s%s", hole_text(move->hole, text), side_name(move->side),
			    stringing->pulls[i].next ? " (next)" : "");
	}
	if (stringing->pull_count)
		text_add(out, ".");
}

void facts_describe(struct text *out, const struct stringing *stringing)
{
	struct column column = {.words = out};

	text_add(out, "The string bed seen from the face, head at the top.");
	if (stringing->call)
		text_format(out, " As it stands at call %d of %d.", stringing->call,
			    stringing->sequence->call_count);
	facts_of_bed(&column, stringing);
	describe_pulls(out, stringing);
}
