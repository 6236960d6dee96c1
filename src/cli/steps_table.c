#include "cli/cli.h"
#include "sequence/sequence.h"

#include <stdlib.h>
#include <string.h>

enum { COLUMNS = 78, INDENT = 6, ROUTE_INDENT = 11 };

static void add_holes(struct text *out, const char *title, const struct hole *holes, int count,
		      int first)
{
	char label[HOLE_TEXT_MAX];

	/* Rows of ten, so that the line fits and the tens can be counted. */
	for (int from = 0; from < count; from += 10) {
		int to = from + 10 < count ? from + 10 : count;
		text_format(out, "  %-8s", title);
		for (int i = from; i < to; i++)
			text_format(out, "%5d", first + i);
		text_format(out, "\n  %-8s", "hole");
		for (int i = from; i < to; i++)
			text_format(out, "%5s", hole_text(holes[i], label));
		text_add(out, "\n");
	}
}

static void add_main_holes(struct text *out, const struct pattern *pattern)
{
	int half = pattern_half(pattern);

	for (int row = -1; row < 2; row++) {
		text_format(out, "  %-8s", row < 0 ? "main" : end_name((enum frame_end)row));
		for (int main = 1; main <= half; main++) {
			char label[HOLE_TEXT_MAX];
			if (row < 0)
				text_format(out, "%5d", main);
			else
				text_format(out, "%5s",
					    hole_text((struct hole){(enum frame_end)row,
								    pattern->main_hole[row][main]},
						      label));
		}
		text_add(out, "\n");
	}
}

static void add_lengths(struct text *out, const struct lengths *lengths)
{
	if (lengths->mains_mm > 0)
		text_format(
			out,
			"  string   mains %.2f m, crosses %.2f m, %.2f m in all (an estimate)\n",
			lengths->mains_mm / 1000, lengths->crosses_mm / 1000,
			lengths->total_mm / 1000);
	else if (lengths->short_mm > 0)
		text_format(out,
			    "  string   short side %.2f m, long side %.2f m, %.2f m in all (an "
			    "estimate)\n",
			    lengths->short_mm / 1000, lengths->long_mm / 1000,
			    lengths->total_mm / 1000);
}

static void add_route(struct text *out, const struct sequence *sequence)
{
	struct text words = {0};

	if (!sequence->route)
		return;
	route_words(sequence->job, sequence->pattern, sequence->route, &words);
	text_add(out, "  route    ");
	text_add_wrapped(out, text_string(&words), ROUTE_INDENT, COLUMNS);
	text_free(&words);
}

static void add_adjustments(struct text *out, const struct job *job)
{
	char by[QUANTITY_TEXT_MAX];

	for (int i = 0; i < job->adjustment_count; i++) {
		const struct adjustment *adjustment = &job->adjustments[i];
		bool main = adjustment->strings == STRING_MAIN;
		text_add(out, i == 0 ? "  adjust   " : "           ");
		text_format(out, "%s %d", main ? "mains" : "crosses", adjustment->first);
		if (adjustment->last > adjustment->first)
			text_format(out, " to %d", adjustment->last);
		text_format(out, " by %s%s\n", adjustment->by.value > 0 ? "+" : "",
			    quantity_text(adjustment->by, by));
	}
}

static void add_facts(struct text *out, const struct sequence *sequence)
{
	const struct pattern *pattern = sequence->pattern;
	const struct job *job = sequence->job;
	char mains[QUANTITY_TEXT_MAX], crosses[QUANTITY_TEXT_MAX];

	text_format(out, "%s, %s, strung by %s\n%s: %s, %s\n\n", job->name,
		    method_name(job->method), job->stringer, pattern->name,
		    sport_name(pattern->sport), pattern->title);
	text_format(out, "  mains    %2d at %s, started at the %s, tied off at the %s\n",
		    pattern->mains, quantity_text(job->tension[STRING_MAIN], mains),
		    end_name(sequence->mains_start), end_name(sequence->mains_end));
	if (sequence->route)
		text_format(out, "           short side %s; the long side goes on from the %s\n",
			    side_name(other_side(job->weave_side)),
			    end_name(sequence_mains_end(sequence, job->weave_side)));
	text_format(out, "  crosses  %2d at %s, from the %s, pulled %d behind\n", pattern->crosses,
		    quantity_text(job->tension[STRING_CROSS], crosses),
		    end_name(sequence->crosses_start), job->behind);
	add_adjustments(out, job);
	if (pattern->has_range) {
		char min[QUANTITY_TEXT_MAX], max[QUANTITY_TEXT_MAX];
		text_format(out, "  maker    %s to %s\n", quantity_text(pattern->tension_min, min),
			    quantity_text(pattern->tension_max, max));
	}
	add_lengths(out, &sequence->lengths);
	add_route(out, sequence);
	text_add(out, "\n  Wear eye protection. Keep fingers out of the tension head. Stop if the "
		      "frame\n  creaks, twists or shifts. The makers' instructions come first.\n");
}

/* ---- moves ---- */

static void add_weave(struct text *out, const struct move *move)
{
	static const char *const travels[] = {
		[TRAVEL_LEFT_TO_RIGHT] = "left to right",
		[TRAVEL_RIGHT_TO_LEFT] = "right to left",
		[TRAVEL_HEAD_TO_THROAT] = "head to throat",
		[TRAVEL_THROAT_TO_HEAD] = "throat to head",
	};
	char from[HOLE_TEXT_MAX], to[HOLE_TEXT_MAX];

	text_format(out, " %s %s to %s, %s first, %s last%s", travels[move->weave.travel],
		    hole_text(move->from, from), hole_text(move->to, to),
		    move->weave.first_over ? "over" : "under",
		    move->weave.last_over ? "over" : "under", move->loop ? ", leave a loop" : "");
	const char *before = ", leave room for ";
	for (int cross = 1; cross <= CROSSES_MAX; cross++) {
		if (!(move->missing >> cross & 1))
			continue;
		text_format(out, "%scross %d", before, cross);
		before = " and ";
	}
}

static void add_string(struct text *out, const struct move *move)
{
	if (move->pulls_last > move->pulls_first)
		text_format(out, " crosses %d to %d", move->pulls_first, move->pulls_last);
	else if (move->has_string)
		text_format(out, " %s %d", string_name(move->string), move->number);
	if (move->has_side && move->action != DO_WEAVE)
		text_format(out, " %s", side_name(move->side));
}

static void add_move(struct text *out, const struct move *move, int number)
{
	char label[HOLE_TEXT_MAX], other[HOLE_TEXT_MAX], tension[QUANTITY_TEXT_MAX];

	text_format(out, "%d %s", number, action_name(move->action));
	if (subject_name(move->subject))
		text_format(out, " %s", subject_name(move->subject));
	add_string(out, move);
	if (move->action == DO_WEAVE)
		add_weave(out, move);
	else if (move->action == DO_FEED)
		text_format(out, " %s to %s", hole_text(move->from, label),
			    hole_text(move->to, other));
	else if (move->hole.number)
		text_format(out, " at %s", hole_text(move->hole, label));
	if (move->tension.value != 0)
		text_format(out, ", %s", quantity_text(move->tension, tension));
	if (move->length_mm > 0)
		text_format(out, ", %.2f m", move->length_mm / 1000);
	if (move->across)
		text_format(out, " across %d", move->across);
	if (move->outside)
		text_format(out, " outside, %s", clamp_kind_name(move->with));
	if (move->start)
		text_add(out, " (start)");
	if (move->suggested)
		text_add(out, " (suggested)");
}

static void add_call(struct text *out, const struct sequence *sequence,
		     const struct phrasebook *book, const struct phrase_options *options, int index)
{
	const struct call *call = &sequence->calls[index];
	char *words = phrase_call(book, sequence, index, options);
	struct text moves = {0};

	for (int i = call->first; i <= call->last; i++) {
		if (i > call->first)
			text_add(&moves, "; ");
		add_move(&moves, &sequence->moves[i], i + 1);
	}
	text_format(out, "%4d  ", index + 1);
	text_add_wrapped(out, words, INDENT, COLUMNS);
	text_format(out, "%*s", INDENT + 2, "");
	text_add_wrapped(out, text_string(&moves), INDENT + 2, COLUMNS);
	text_free(&moves);
	free(words);
}

void steps_table(const struct sequence *sequence, const struct phrasebook *book,
		 const struct phrase_options *options, struct text *out)
{
	const struct pattern *pattern = sequence->pattern;

	add_facts(out, sequence);
	text_add(out, "\nHoles, the same on both sides\n");
	add_main_holes(out, pattern);
	text_add(out, "\n");
	add_holes(out, "cross", sequence->cross_hole + 1, pattern->crosses, 1);
	for (int call = 0; call < sequence->call_count; call++) {
		enum phase phase = call_phase(sequence, call);
		if (call == 0 || phase != call_phase(sequence, call - 1))
			text_format(out, "\n%s\n", phase_name(phase));
		add_call(out, sequence, book, options, call);
	}
}
