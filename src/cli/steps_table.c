/* A job, and the routes of a one-piece job, on paper. */
#include "cli/cli.h"
#include "sequence/sequence.h"

#include <stdlib.h>
#include <string.h>

enum { COLUMNS = 78, INDENT = 6, FACT_INDENT = 11, ROW = 10 };

/* ---- routes ---- */

/* Its strings in the order they are woven; crosses that follow each other as "crosses 1 to 8". */
static void add_route(struct text *out, const struct job *job, const struct pattern *pattern,
		      const struct route *route)
{
	char from[HOLE_TEXT_MAX], to[HOLE_TEXT_MAX];
	enum frame_end end = route->main_from;
	int half = pattern_half(pattern);

	for (int at = 0, next; at < route->count; at = next) {
		int first = route->steps[at];
		for (next = at + 1; first && next < route->count; next++)
			if (route->steps[next] != first + next - at)
				break;
		int last = first + next - at - 1;
		text_add(out, at ? ", " : "");
		if (first == 0)
			text_format(
				out, "main %d %s from %s to %s", half, side_names[job->weave_side],
				hole_text(pattern_main_hole(pattern, end, half), from),
				hole_text(pattern_main_hole(pattern, other_end(end), half), to));
		else if (first == last)
			text_format(out, "cross %d", first);
		else
			text_format(out, "crosses %d %s %d", first,
				    last == first + 1 ? "and" : "to", last);
	}
}

void routes_table(const struct job *job, const struct pattern *pattern, const struct routes *routes,
		  struct text *out)
{
	text_format(out, "%s (%s) in one piece, long side %s\n\n", job->name, pattern->name,
		    side_names[job->weave_side]);
	text_add(out, "route  breaks  outside  way of the long side after its mains\n");
	for (int i = 0; i < routes->count; i++) {
		const struct route *route = &routes->items[i];
		text_format(out, "%5d  %6d  %7d  ", i + 1, route->breaks, route->outside);
		add_route(out, job, pattern, route);
		text_format(out, "%s\n", i + 1 == job->route ? " (this plan's)" : "");
	}
	text_add(out, "\nbreaks: crosses not woven right after the one numbered one less. outside: "
		      "holes run\nalong outside the frame. To take another route, write "
		      "\"order: { route: NUMBER }\".\n");
	if (routes->more)
		text_add(out, "There are others with as few breaks.\n");
}

/* ---- holes ---- */

static void add_numbers(struct text *out, const char *title, int first, int last)
{
	text_format(out, "  %-8s", title);
	for (int n = first; n <= last; n++)
		text_format(out, "%5d", n);
	text_add_char(out, '\n');
}

static void add_holes(struct text *out, const char *title, const struct hole *holes, int first,
		      int last)
{
	char label[HOLE_TEXT_MAX];

	text_format(out, "  %-8s", title);
	for (int n = first; n <= last; n++)
		text_format(out, "%5s", hole_text(holes[n], label));
	text_add_char(out, '\n');
}

static void add_hole_map(struct text *out, const struct sequence *sequence)
{
	const struct pattern *pattern = sequence->pattern;
	int half = pattern_half(pattern), crosses = pattern->crosses;

	text_add(out, "\nHoles, the same on both sides\n");
	add_numbers(out, "main", 1, half);
	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++) {
		struct hole holes[MAINS_MAX / 2 + 1];
		for (int main = 1; main <= half; main++)
			holes[main] = pattern_main_hole(pattern, end, main);
		add_holes(out, end_names[end], holes, 1, half);
	}
	text_add_char(out, '\n');
	/* Rows of ten, so that the line fits and the tens can be counted. */
	for (int first = 1; first <= crosses; first += ROW) {
		int last = first + ROW - 1 < crosses ? first + ROW - 1 : crosses;
		add_numbers(out, "cross", first, last);
		add_holes(out, "hole", sequence->cross_hole, first, last);
	}
}

/* ---- facts ---- */

static void add_lengths(struct text *out, const struct lengths *lengths)
{
	bool two = lengths->mains_mm > 0;

	if (lengths->total_mm > 0)
		text_format(out, "  string   %s %.2f m, %s %.2f m, %.2f m in all (an estimate)\n",
			    two ? "mains" : "short side",
			    (two ? lengths->mains_mm : lengths->short_mm) / 1000,
			    two ? "crosses" : "long side",
			    (two ? lengths->crosses_mm : lengths->long_mm) / 1000,
			    lengths->total_mm / 1000);
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
	char one[QUANTITY_TEXT_MAX], other[QUANTITY_TEXT_MAX];
	struct text route = {0};

	text_format(out, "%s, %s, strung by %s\n%s: %s, %s\n\n", job->name,
		    method_names[job->method], job->stringer, pattern->name,
		    sport_names[pattern->sport], pattern->title);
	text_format(out, "  mains    %2d at %s, started at the %s, tied off at the %s\n",
		    pattern->mains, quantity_text(job->tension[STRING_MAIN], one),
		    end_names[sequence->mains_start], end_names[sequence->mains_end]);
	if (sequence->route)
		text_format(out, "           short side %s; the long side goes on from the %s\n",
			    side_names[other_side(job->weave_side)],
			    end_names[sequence_mains_end(sequence, job->weave_side)]);
	text_format(out, "  crosses  %2d at %s, from the %s, pulled %d behind\n", pattern->crosses,
		    quantity_text(job->tension[STRING_CROSS], one),
		    end_names[sequence->crosses_start], job->behind);
	add_adjustments(out, job);
	if (pattern->has_range)
		text_format(out, "  maker    %s to %s\n", quantity_text(pattern->tension_min, one),
			    quantity_text(pattern->tension_max, other));
	add_lengths(out, &sequence->lengths);
	if (sequence->route) {
		add_route(&route, job, pattern, sequence->route);
		text_add(out, "  route    ");
		text_add_wrapped(out, text_string(&route), FACT_INDENT, COLUMNS);
		text_free(&route);
	}
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
		text_format(out, " %s %d", string_names[move->string], move->number);
	if (move->has_side && move->action != DO_WEAVE)
		text_format(out, " %s", side_names[move->side]);
}

static void add_move(struct text *out, const struct move *move, int number)
{
	char label[HOLE_TEXT_MAX], other[HOLE_TEXT_MAX], tension[QUANTITY_TEXT_MAX];

	text_format(out, "%d %s", number, action_names[move->action]);
	if (subject_names[move->subject])
		text_format(out, " %s", subject_names[move->subject]);
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
		text_format(out, " outside, %s", clamp_kind_names[move->with]);
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
	add_facts(out, sequence);
	add_hole_map(out, sequence);
	for (int call = 0; call < sequence->call_count; call++) {
		enum phase phase = call_phase(sequence, call);
		if (call == 0 || phase != call_phase(sequence, call - 1))
			text_format(out, "\n%s\n", phase_names[phase]);
		add_call(out, sequence, book, options, call);
	}
}
