/* The facts of a job in words, one below the other in a column; and a picture in words, for
 * those who cannot see it. */
#include "draw/internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- The bed ---- */

static void fact_holes(struct column *column, const char *key, const struct hole_set *set)
{
	struct hole holes[2 * HOLES_MAX];
	int count = 0;

	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++)
		for (int number = 1; number <= HOLES_MAX; number++)
			if (hole_in(set, (struct hole){end, number}))
				holes[count++] = (struct hole){end, number};
	char *list = hole_list(holes, count);
	if (count)
		column_fact(column, key, "%s", list);
	free(list);
}

/* "8T left, 8T right". */
static void fact_knots(struct column *column, const char *key, const struct stringing *stringing,
		       enum string_kind string, bool start)
{
	struct text value = {0};
	char hole[HOLE_TEXT_MAX];

	for (int i = 0; i < stringing->mark_count; i++) {
		const struct move *move = stringing->marks[i].move;
		if (move->action != DO_KNOT || move->string != string || move->start != start)
			continue;
		text_format(&value, "%s%s %s", value.length ? ", " : "",
			    hole_text(move->hole, hole), shown_side(stringing, move->side));
		if (move->suggested)
			text_format(&value, " (%s)", column_word(column, "suggested"));
	}
	if (value.length)
		column_fact(column, key, "%s", text_string(&value));
	text_free(&value);
}

static void facts_of_frame(struct column *column, const struct pattern *pattern)
{
	column_heading(column, "frame");
	column_fact(column, "strings", "%d x %d", pattern->mains, pattern->crosses);
	column_fact(column, "holes_per_side", "%s %d, %s %d", column_word(column, "head"),
		    pattern->holes[END_HEAD], column_word(column, "throat"),
		    pattern->holes[END_THROAT]);
	if (pattern->bridge)
		column_fact(column, "bridge_holes", "%d", pattern->bridge);
	fact_holes(column, "skipped", &pattern->mains_skip);
	fact_holes(column, "shared_holes", &pattern->shared);
	fact_holes(column, "unused", &pattern->unused);
}

void facts_of_mains(struct column *column, const struct stringing *stringing)
{
	const struct sequence *sequence = stringing->sequence;
	enum side long_side = sequence->job->weave_side;
	enum frame_end end = sequence->mains_end,
		       long_end = sequence_mains_end(sequence, long_side);

	column_heading(column, "main_strings");
	column_fact(column, "start", "%s", column_word(column, end_names[sequence->mains_start]));
	column_fact(column, "first_side", "%s", shown_side(stringing, sequence->job->first_side));
	column_fact(column, "ahead", "%d", job_lead(sequence->job));
	if (long_end == end)
		column_fact(column, "ends_at", "%s", column_word(column, end_names[end]));
	else
		column_fact(column, "ends_at", "%s, %s %s", column_word(column, end_names[end]),
			    shown_side(stringing, long_side),
			    column_word(column, end_names[long_end]));
	fact_knots(column, "tie_off", stringing, STRING_MAIN, false);
}

static const struct strand *first_cross(const struct stringing *stringing)
{
	for (int i = 0; i < stringing->strand_count; i++)
		if (stringing->strands[i].move->string == STRING_CROSS)
			return &stringing->strands[i];
	return NULL;
}

void facts_of_crosses(struct column *column, const struct stringing *stringing)
{
	const struct job *job = stringing->sequence->job;
	const struct strand *first = first_cross(stringing);
	enum frame_end end = stringing->sequence->cross_hole[1].end;
	const char *way = column_word(column, job->behind ? "one_behind" : "as_woven");
	char hole[HOLE_TEXT_MAX];

	column_heading(column, "cross_strings");
	column_fact(column, "direction", "%s – %s", column_word(column, end_names[end]),
		    column_word(column, end_names[other_end(end)]));
	fact_knots(column, "starting_knot", stringing, STRING_CROSS, true);
	if (first)
		column_fact(column, "first_cross", "%s %s, %s", hole_text(first->from.hole, hole),
			    shown_side(stringing, first->from.side),
			    column_word(column, job->weave_start == WEAVE_OVER ? "over_first"
									       : "under_first"));
	if (job_first_pull(job) > 1)
		column_fact(column, "pull", "%s, 1–%d %s", way, job_first_pull(job),
			    column_word(column, "at_once"));
	else
		column_fact(column, "pull", "%s", way);
	fact_knots(column, "tie_off", stringing, STRING_CROSS, false);
}

static void facts_of_bed(struct column *column, const struct stringing *stringing)
{
	facts_of_frame(column, stringing->sequence->pattern);
	facts_of_mains(column, stringing);
	facts_of_crosses(column, stringing);
}

void add_call_number(struct text *out, const struct stringing *stringing)
{
	text_format(out, "%s %d %s %d", shown(stringing, "at_call"), stringing->options->at_call,
		    shown(stringing, "of"), stringing->sequence->call_count);
}

/* "1. main 1: 1H left; 17. cross 1–2: 9H left". */
static void describe_pulls(struct text *out, const struct stringing *stringing)
{
	char text[HOLE_TEXT_MAX];
	int pulls = 0;

	text_format(out, "\n%s:", shown(stringing, "legend_pulls"));
	for (int i = 0; i < stringing->mark_count; i++) {
		const struct mark *mark = &stringing->marks[i];
		const struct move *move = mark->move;
		if (move->action != DO_PULL)
			continue;
		text_format(out, "%s %d. %s %d", pulls ? ";" : "", pulls + 1,
			    shown(stringing, string_names[move->string]), pull_first(move));
		if (pull_first(move) < move->number)
			text_format(out, "–%d", move->number);
		text_format(out, ": %s %s%s", hole_text(move->hole, text),
			    shown_side(stringing, move->side), mark->next ? " *" : "");
		pulls++;
	}
	text_add_char(out, '.');
}

void picture_describe(const struct stringing *stringing, struct text *title, struct text *out)
{
	struct column column = {.words = out, .book = stringing->options->book};

	text_add(title, stringing->sequence->pattern->title);
	text_format(out, "%s.", shown(stringing, "bed_seen"));
	if (stringing->options->at_call) {
		text_add(title, ", ");
		add_call_number(title, stringing);
	}
	facts_of_bed(&column, stringing);
	if (stringing->pull_count)
		describe_pulls(out, stringing);
}

/* ---- Numbers ---- */

/* The printed number with the decimal mark of the language. */
static const char *localise(const struct column *column, char *number)
{
	char *point = strchr(number, '.');

	if (point)
		*point = column_word(column, "decimal")[1]; /* "n.n" */
	return number;
}

enum { LENGTH_TEXT_MAX = 32 };

static const char *metres(const struct column *column, double length_mm, char text[LENGTH_TEXT_MAX])
{
	snprintf(text, LENGTH_TEXT_MAX, "%.2f m", length_mm / 1000);
	return localise(column, text);
}

/* ---- Tensions ---- */

/* In the unit of the job, and in kilograms or pounds beside it. */
static void fact_tension(struct column *column, const char *name, const struct pattern *pattern,
			 struct quantity tension)
{
	char text[QUANTITY_TEXT_MAX], converted[QUANTITY_TEXT_MAX];
	enum unit unit = tension.unit == UNIT_KG ? UNIT_LB : UNIT_KG;
	struct quantity other = job_setting(pattern, quantity_convert(tension, unit));

	quantity_text(tension, text);
	quantity_text(other, converted);
	char *value = memory_format("%s (%s)", localise(column, text), localise(column, converted));
	column_fact_named(column, name, value);
	free(value);
}

/* What a string is pulled at, with the extra for a knot; the last time, if it is strung again. */
static struct quantity pulled_at(const struct sequence *sequence, enum string_kind strings,
				 enum side side, int number)
{
	struct quantity tension = job_tension(sequence->job, sequence->pattern, strings, number);

	for (const struct move *move = sequence->moves;
	     move < sequence->moves + sequence->move_count; move++) {
		bool cross = strings == STRING_CROSS;
		if (move->action == DO_PULL && move->string == strings &&
		    (cross ? move->pulls_first <= number && number <= move->pulls_last
			   : move->number == number && move->side == side))
			tension = move->tension;
	}
	return tension;
}

/* Strings that follow each other and are pulled alike share a line. There is room for a few on
 * paper. */
static void facts_of_tension(struct column *column, const struct stringing *stringing,
			     enum string_kind strings, int count)
{
	const struct sequence *sequence = stringing->sequence;
	const char *kind =
		column_word(column, strings == STRING_MAIN ? "main_strings" : "cross_strings");
	int lines_left = column->words ? 2 * count : 6;

	for (int from = 1, to; from <= count && lines_left > 0; from = to + 1) {
		struct quantity at[2]; /* by side */
		for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++)
			at[side] = pulled_at(sequence, strings, side, from);
		for (to = from; to < count; to++)
			if (!quantity_same(at[0],
					   pulled_at(sequence, strings, SIDE_LEFT, to + 1)) ||
			    !quantity_same(at[1], pulled_at(sequence, strings, SIDE_RIGHT, to + 1)))
				break;
		bool apart = !quantity_same(at[0], at[1]);
		lines_left -= 1 + apart;
		bool rest = lines_left <= 0 && (to < count || lines_left < 0);
		if (rest)
			to = count;
		char *name = from == 1 && to == count ? memory_copy(kind)
			     : from == to             ? memory_format("%s %d", kind, from)
						      : memory_format("%s %d–%d", kind, from, to);
		if (rest)
			column_fact_named(column, name, column_word(column, "vary"));
		for (enum side side = SIDE_LEFT; side <= (apart ? SIDE_RIGHT : SIDE_LEFT) && !rest;
		     side++) {
			char *one =
				apart ? memory_format("%s %s", name, shown_side(stringing, side))
				      : memory_copy(name);
			fact_tension(column, one, sequence->pattern, at[side]);
			free(one);
		}
		free(name);
	}
}

/* As the maker says it, and in the unit of the job. */
static void fact_range(struct column *column, const struct pattern *pattern, enum unit unit)
{
	char from[QUANTITY_TEXT_MAX], to[QUANTITY_TEXT_MAX];
	struct text value = {0};

	quantity_text(pattern->tension_min, from);
	quantity_text(pattern->tension_max, to);
	text_format(&value, "%s – %s", localise(column, from), localise(column, to));
	if (unit != pattern->tension_min.unit) {
		quantity_bounds(quantity_base(pattern->tension_min),
				quantity_base(pattern->tension_max), unit, from, to);
		text_format(&value, " (%s – %s)", localise(column, from), localise(column, to));
	}
	column_fact(column, "makers_range", "%s", text_string(&value));
	text_free(&value);
}

static void facts_of_tensions(struct column *column, const struct stringing *stringing)
{
	const struct sequence *sequence = stringing->sequence;
	const struct pattern *pattern = sequence->pattern;

	column_heading(column, "tensions");
	facts_of_tension(column, stringing, STRING_MAIN, pattern_half(pattern));
	facts_of_tension(column, stringing, STRING_CROSS, pattern->crosses);
	if (pattern->has_range)
		fact_range(column, pattern, sequence->job->tension[STRING_MAIN].unit);
}

/* ---- String and machine ---- */

static void fact_string(struct column *column, const struct job *job, const struct move *move)
{
	static const char *const names[] = {[SUBJECT_MAINS] = "main_strings",
					    [SUBJECT_CROSSES] = "cross_strings",
					    [SUBJECT_WHOLE] = "whole"};
	const struct string_length *length = move_length(job, move);
	struct text value = {0};
	char cut[LENGTH_TEXT_MAX];

	if (length->name)
		text_format(&value, ", %s", length->name);
	if (move->length_mm > 0)
		text_format(&value, ", %s %s (%s)", column_word(column, "cut"),
			    metres(column, move->length_mm, cut), column_word(column, "estimate"));
	if (length->prestretch > 0)
		text_format(&value, ", %s %g %%", column_word(column, "prestretch"),
			    100 * length->prestretch);
	if (value.length)
		column_fact(column, names[move->subject], "%s", text_string(&value) + 2);
	text_free(&value);
}

static void facts_of_string(struct column *column, const struct sequence *sequence)
{
	static const char *const sides[] = {"short_side", "long_side"};
	const char *estimate = column_word(column, "estimate");
	char metre[LENGTH_TEXT_MAX];

	column_heading(column, "string");
	for (int i = 0; i < sequence->move_count; i++)
		if (sequence->moves[i].action == DO_CUT)
			fact_string(column, sequence->job, &sequence->moves[i]);
	for (int i = 0; i < 2 && sequence->route && sequence->length_mm[i] > 0; i++)
		column_fact(column, sides[i], "%s (%s)",
			    metres(column, sequence->length_mm[i], metre), estimate);
}

/* The number of the first call of that kind; 0: the job has none. */
static int first_call(const struct sequence *sequence, enum call_kind kind)
{
	for (int i = 0; i < sequence->call_count; i++)
		if (sequence->calls[i].kind == kind)
			return i + 1;
	return 0;
}

static void facts_of_machine(struct column *column, const struct stringing *stringing)
{
	static const char *const kinds[] = {[CLAMP_FIXED] = "fixed_clamp",
					    [CLAMP_FLYING] = "flying_clamp",
					    [CLAMP_STARTING] = "starting_clamp"};
	const struct sequence *sequence = stringing->sequence;
	const struct machine *machine = &sequence->job->machine;
	const struct move *first = sequence->moves; /* the clamp that holds the first pull */
	int look = first_call(sequence, CALL_CHECK_MOUNTS);
	int set = first_call(sequence, CALL_SET_CLAMPS);
	char hole[HOLE_TEXT_MAX];

	while (first->action != DO_CLAMP)
		first++;
	column_heading(column, "machine");
	column_fact(column, "tension_head", "%s",
		    column_word(column, tension_head_names[machine->head]));
	column_fact(column, "clamps", "%s", column_word(column, clamps_names[machine->clamps]));
	column_fact(column, "first_hold", "%s, %s %d %s, %s %s",
		    column_word(column, kinds[first->with]), column_word(column, "main"),
		    first->number, shown_side(stringing, first->side),
		    column_word(column, first->outside ? "outside" : "inside"),
		    hole_text(first->hole, hole));
	if (machine->clamps == CLAMPS_FLYING)
		column_fact(column, "clamp_across", "%s", column_word(column, "across_how"));
	if (set)
		column_fact(column, "set_clamps", "%s %d", column_word(column, "call"), set);
	if (look)
		column_fact(column, "mounts", "%d, %s %d", machine->mounts,
			    column_word(column, "look_again"), look);
	else
		column_fact(column, "mounts", "%d", machine->mounts);
}

void facts_of_job(struct column *column, const struct stringing *stringing)
{
	facts_of_bed(column, stringing);
	facts_of_machine(column, stringing);
	facts_of_tensions(column, stringing);
	facts_of_string(column, stringing->sequence);
}

/* ---- A strung racket ---- */

/* The tension comes first, because a line that is too long is cut. */
void fact_pulled(struct column *column, const char *key, const struct job *job,
		 const struct pattern *pattern, enum string_kind strings, int count)
{
	const char *name = job_length(job, strings)->name;
	struct quantity least = job_tension(job, pattern, strings, 1), most = least;
	char from[QUANTITY_TEXT_MAX], to[QUANTITY_TEXT_MAX];

	for (int number = 2; number <= count; number++) {
		double value = job_tension(job, pattern, strings, number).value;
		least.value = fmin(least.value, value);
		most.value = fmax(most.value, value);
	}
	bool alike = quantity_same(least, most);
	number_text(least.value, from);
	quantity_text(most, to);
	column_fact(column, key, "%s%s%s %s", alike ? "" : localise(column, from), alike ? "" : "–",
		    localise(column, to), name ? name : "");
}
