/* The pages: sheet, card and label, and their words. All words but names, holes ("7H") and units
 * are the phrasebook's. */
#include "draw/internal.h"

#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- Columns ---- */

/* Lines of text set one below the other, with facts under headings; or the same as lines of
 * sentences, added to `words`. */
struct column {
	struct text *words; /* NULL: they are set */
	const struct phrasebook *book;
	struct canvas *canvas; /* NULL: they are only measured */
	struct spot next;      /* the top left corner of the next line */
	double width_mm;
	double size_mm;
	double indent_mm; /* of the values of facts, at least */
	bool cut;         /* a long text is cut, else it goes on in the next line */
};

static struct column column_at(struct canvas *canvas, const struct phrasebook *book, double x_mm,
			       double y_mm, double width_mm, double size_mm)
{
	return (struct column){.book = book,
			       .canvas = canvas,
			       .next = {x_mm, y_mm},
			       .width_mm = width_mm,
			       .size_mm = size_mm,
			       .indent_mm = 0.4 * width_mm};
}

/* From line to line, as a share of the size of the letters. */
#define LINE_SHARE 1.38

/* At a space, but not between a number and its unit. A byte of the text is before it. */
static bool may_break(const char *at)
{
	return at[0] == ' ' && !(isdigit((unsigned char)at[-1]) && isalpha((unsigned char)at[1]));
}

/* Adds as much of the text as goes into a line; at least one word. Returns how many bytes that is.
 */
static size_t add_line(struct text *out, const char *text, double width_mm, bool cut,
		       struct lettering lettering)
{
	double size_mm = lettering.size_mm;
	size_t length = lettering_fit(text, size_mm, lettering.bold, width_mm);

	if (text[length] && cut) {
		length = lettering_fit(text, size_mm, lettering.bold, width_mm - size_mm);
		text_add_part(out, text, length);
		text_add(out, "…");
		return strlen(text);
	}
	if (text[length]) {
		while (length > 0 && !may_break(text + length))
			length--;
		length = length > 0 ? length : strcspn(text, " ");
	}
	text_add_part(out, text, length);
	return length;
}

static void set_lines(struct column *column, double indent_mm, const char *text,
		      struct lettering lettering)
{
	struct text line = {0};

	while (*text) {
		struct spot spot =
			spot_beside(column->next, indent_mm, CAPITAL_SHARE * lettering.size_mm);
		text += add_line(&line, text, column->width_mm - indent_mm, column->cut, lettering);
		text += strspn(text, " ");
		if (column->canvas)
			canvas_text(column->canvas, spot, lettering, text_string(&line), NULL);
		column->next.y_mm += LINE_SHARE * lettering.size_mm;
		text_clear(&line);
	}
	text_free(&line);
}

/* A line of that size and colour, or as many as the text needs. */
static void column_text(struct column *column, const char *text, double size_mm, int colour,
			bool bold)
{
	if (column->words)
		text_format(column->words, "%s%s", column->words->length ? "\n" : "", text);
	else
		set_lines(column, 0, text, (struct lettering){size_mm, colour, ANCHOR_START, bold});
}

/* One line, cut where it would be too long. */
static void column_title(struct column *column, const char *text, double size_mm)
{
	bool cut = column->cut;

	column->cut = true;
	column_text(column, text, size_mm, INK, true);
	column->cut = cut;
}

static const char *word(const struct column *column, const char *key)
{
	return phrasebook_shown(column->book, key);
}

/* With a rule above it. */
static void column_heading(struct column *column, const char *key)
{
	struct spot left = spot_beside(column->next, 0, 0.8 * column->size_mm);

	if (column->canvas)
		canvas_line(column->canvas, left, spot_beside(left, column->width_mm, 0),
			    pen_line(INK, THIN_MM), NULL);
	column->next.y_mm = left.y_mm + 0.6 * column->size_mm;
	column_text(column, word(column, key), column->size_mm, INK, true);
	if (column->words)
		text_add_char(column->words, '.');
}

/* A name, and beside it a value of one or several lines. */
static void add_fact(struct column *column, const char *name, const char *value)
{
	struct lettering quiet = {column->size_mm, GREY, ANCHOR_START, false};
	struct lettering plain = {column->size_mm, INK, ANCHOR_START, false};
	double name_mm = lettering_width_mm(name, column->size_mm, false);
	double indent_mm = fmax(column->indent_mm, name_mm + 0.5 * column->size_mm);

	if (column->words) {
		text_format(column->words, " %s: %s.", name, value);
		return;
	}
	if (column->canvas)
		canvas_text(column->canvas,
			    spot_beside(column->next, 0, CAPITAL_SHARE * column->size_mm), quiet,
			    name, NULL);
	set_lines(column, indent_mm, value, plain);
}

/* The name by its key in the phrasebook, the value as by printf. */
static void column_fact(struct column *column, const char *key, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

static void column_fact(struct column *column, const char *key, const char *format, ...)
{
	va_list arguments;
	char *value;

	va_start(arguments, format);
	if (vasprintf(&value, format, arguments) < 0)
		memory_fail();
	va_end(arguments);
	add_fact(column, word(column, key), value);
	free(value);
}

/* ---- What a picture shows, in words ---- */

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
			text_format(&value, " (%s)", word(column, "suggested"));
	}
	if (value.length)
		column_fact(column, key, "%s", text_string(&value));
	text_free(&value);
}

static void facts_of_frame(struct column *column, const struct pattern *pattern)
{
	column_heading(column, "frame");
	column_fact(column, "strings", "%d x %d", pattern->mains, pattern->crosses);
	column_fact(column, "holes_per_side", "%s %d, %s %d", word(column, "head"),
		    pattern->holes[END_HEAD], word(column, "throat"), pattern->holes[END_THROAT]);
	if (pattern->bridge)
		column_fact(column, "bridge_holes", "%d", pattern->bridge);
	fact_holes(column, "skipped", &pattern->mains_skip);
	fact_holes(column, "shared_holes", &pattern->shared);
	fact_holes(column, "unused", &pattern->unused);
}

static void facts_of_mains(struct column *column, const struct stringing *stringing)
{
	const struct sequence *sequence = stringing->sequence;
	enum side long_side = sequence->job->weave_side;
	enum frame_end end = sequence->mains_end,
		       long_end = sequence_mains_end(sequence, long_side);

	column_heading(column, "main_strings");
	column_fact(column, "start", "%s", word(column, end_names[sequence->mains_start]));
	column_fact(column, "first_side", "%s", shown_side(stringing, sequence->job->first_side));
	column_fact(column, "ahead", "%d", job_lead(sequence->job));
	if (long_end == end)
		column_fact(column, "ends_at", "%s", word(column, end_names[end]));
	else
		column_fact(column, "ends_at", "%s, %s %s", word(column, end_names[end]),
			    shown_side(stringing, long_side), word(column, end_names[long_end]));
	fact_knots(column, "tie_off", stringing, STRING_MAIN, false);
}

static const struct strand *first_cross(const struct stringing *stringing)
{
	for (int i = 0; i < stringing->strand_count; i++)
		if (stringing->strands[i].move->string == STRING_CROSS)
			return &stringing->strands[i];
	return NULL;
}

static void facts_of_crosses(struct column *column, const struct stringing *stringing)
{
	const struct job *job = stringing->sequence->job;
	const struct strand *first = first_cross(stringing);
	enum frame_end end = stringing->sequence->cross_hole[1].end;
	const char *way = word(column, job->behind ? "one_behind" : "as_woven");
	char hole[HOLE_TEXT_MAX];

	column_heading(column, "cross_strings");
	column_fact(column, "direction", "%s – %s", word(column, end_names[end]),
		    word(column, end_names[other_end(end)]));
	fact_knots(column, "starting_knot", stringing, STRING_CROSS, true);
	if (first)
		column_fact(column, "first_cross", "%s %s, %s", hole_text(first->from.hole, hole),
			    shown_side(stringing, first->from.side),
			    word(column,
				 job->weave_start == WEAVE_OVER ? "over_first" : "under_first"));
	if (job_first_pull(job) > 1)
		column_fact(column, "pull", "%s, 1–%d %s", way, job_first_pull(job),
			    word(column, "at_once"));
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

/* "Call 3 of 75". */
static void add_call(struct text *out, const struct stringing *stringing)
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

/* The title, and the whole picture in words: what it shows, the holes that are special, every pull
 * in order. */
static void picture_describe(const struct stringing *stringing, struct text *title,
			     struct text *out)
{
	struct column column = {.words = out, .book = stringing->options->book};

	text_add(title, stringing->sequence->pattern->title);
	text_format(out, "%s.", shown(stringing, "bed_seen"));
	if (stringing->options->at_call) {
		text_add(title, ", ");
		add_call(title, stringing);
	}
	facts_of_bed(&column, stringing);
	if (stringing->pull_count)
		describe_pulls(out, stringing);
}

/* Upright A4 (ISO 216). */
static const double page_width_mm = 210, page_height_mm = 297;

/* ---- The sheet ---- */

static const double sheet_margin_mm = 9;

/* Of the whole job: what it is, and how it goes. */
static void head_whole(struct column *column, const struct stringing *stringing)
{
	const struct pattern *pattern = stringing->sequence->pattern;
	struct text line = {0};
	struct column words = {.words = &line, .book = column->book};

	column_title(column, pattern->title, 6);
	text_format(&line, "%s: %s, %d x %d, %s: %d", pattern->name,
		    word(column, sport_names[pattern->sport]), pattern->mains, pattern->crosses,
		    word(column, "bridge_holes"), pattern->bridge);
	column_text(column, text_string(&line), 3.2, GREY, false);
	text_clear(&line);
	facts_of_mains(&words, stringing);
	column_text(column, text_string(&line), 2.7, INK, false);
	text_clear(&line);
	facts_of_crosses(&words, stringing);
	column_text(column, text_string(&line), 2.7, INK, false);
	text_free(&line);
}

/* A bare pattern has no plan, so its tensions are made up: its calls are not shown. */
static void head_call(struct column *column, const struct stringing *stringing)
{
	const struct draw_options *options = stringing->options;
	const struct sequence *sequence = stringing->sequence;
	struct text line = {0};

	add_call(&line, stringing);
	column_title(column, text_string(&line), 6);
	if (sequence->job->text) {
		char *words =
			phrase_call(options->book, sequence, options->at_call - 1, options->manner);
		column_text(column, words, 4, ACCENT, true);
		free(words);
	}
	column_text(column, sequence->pattern->title, 3.2, GREY, false);
	text_free(&line);
}

static void draw_sheet(struct canvas *canvas, const struct stringing *stringing)
{
	const int columns = 3;
	const double size_mm = 2.9, margin_mm = sheet_margin_mm;
	double width = page_width_mm - 2 * margin_mm, bottom = page_height_mm - margin_mm;
	struct column head =
		column_at(canvas, stringing->options->book, margin_mm, margin_mm, width, 3.2);

	(stringing->options->at_call ? head_call : head_whole)(&head, stringing);
	struct spot legend = {margin_mm, bottom};
	legend.y_mm -= legend_draw(NULL, stringing, legend, width, columns, size_mm);
	struct box bed = {margin_mm, head.next.y_mm + 2, width, legend.y_mm - head.next.y_mm - 6};
	figure_draw(canvas, stringing, &bed, 3.6);
	legend_draw(canvas, stringing, legend, width, columns, size_mm);
}

/* ---- The card ---- */

static const double margin_mm = 12, facts_mm = 48;

/* The printed number with the decimal mark of the language. */
static const char *localise(const struct column *column, char *number)
{
	char *point = strchr(number, '.');

	if (point)
		*point = word(column, "decimal")[1]; /* "n.n" */
	return number;
}

enum { LENGTH_TEXT_MAX = 32 };

static const char *metres(const struct column *column, double length_mm, char text[LENGTH_TEXT_MAX])
{
	snprintf(text, LENGTH_TEXT_MAX, "%.2f m", length_mm / 1000);
	return localise(column, text);
}

/* In the unit of the job, and in kilograms or pounds beside it. */
static void fact_tension(struct column *column, const char *name, struct quantity tension)
{
	char text[QUANTITY_TEXT_MAX], converted[QUANTITY_TEXT_MAX];
	struct quantity other =
		quantity_convert(tension, tension.unit == UNIT_KG ? UNIT_LB : UNIT_KG);

	quantity_text(tension, text);
	snprintf(converted, sizeof(converted), "%.1f %s", other.value, unit_name(other.unit));
	char *value = memory_format("%s (%s)", localise(column, text), localise(column, converted));
	add_fact(column, name, value);
	free(value);
}

/* Strings that follow each other and are pulled alike share a line. There is room for a few. */
static void facts_of_tension_of(struct column *column, const struct job *job,
				enum string_kind strings, int count)
{
	const char *kind = word(column, strings == STRING_MAIN ? "main_strings" : "cross_strings");
	int lines_left = 6;

	for (int from = 1, to; from <= count && lines_left > 0; from = to + 1) {
		struct quantity tension = job_tension(job, strings, from);
		for (to = from; to < count; to++)
			if (!quantity_same(tension, job_tension(job, strings, to + 1)))
				break;
		bool rest = --lines_left == 0 && to < count;
		if (rest)
			to = count;
		char *name = from == 1 && to == count ? memory_copy(kind)
			     : from == to             ? memory_format("%s %d", kind, from)
						      : memory_format("%s %d–%d", kind, from, to);
		if (rest)
			add_fact(column, name, word(column, "vary"));
		else
			fact_tension(column, name, tension);
		free(name);
	}
}

/* As the maker says it, and in the unit of the job, in tenths that are never outside. */
static void fact_range(struct column *column, const struct pattern *pattern, enum unit unit)
{
	struct quantity min = quantity_convert(pattern->tension_min, unit);
	struct quantity max = quantity_convert(pattern->tension_max, unit);
	char from[QUANTITY_TEXT_MAX], to[QUANTITY_TEXT_MAX];
	struct text value = {0};

	quantity_text(pattern->tension_min, from);
	quantity_text(pattern->tension_max, to);
	text_format(&value, "%s – %s", localise(column, from), localise(column, to));
	if (unit != pattern->tension_min.unit) {
		number_text(ceil(10 * min.value) / 10, from);
		quantity_text((struct quantity){floor(10 * max.value) / 10, unit}, to);
		text_format(&value, " (%s – %s)", localise(column, from), localise(column, to));
	}
	column_fact(column, "makers_range", "%s", text_string(&value));
	text_free(&value);
}

static void facts_of_tension(struct column *column, const struct sequence *sequence)
{
	const struct pattern *pattern = sequence->pattern;

	column_heading(column, "tensions");
	facts_of_tension_of(column, sequence->job, STRING_MAIN, pattern_half(pattern));
	facts_of_tension_of(column, sequence->job, STRING_CROSS, pattern->crosses);
	if (pattern->has_range)
		fact_range(column, pattern, job_tension(sequence->job, STRING_MAIN, 1).unit);
}

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
		text_format(&value, ", %s %s (%s)", word(column, "cut"),
			    metres(column, move->length_mm, cut), word(column, "estimate"));
	if (length->prestretch > 0)
		text_format(&value, ", %s %g %%", word(column, "prestretch"),
			    100 * length->prestretch);
	if (value.length)
		column_fact(column, names[move->subject], "%s", text_string(&value) + 2);
	text_free(&value);
}

static void facts_of_string(struct column *column, const struct sequence *sequence)
{
	static const char *const sides[] = {"short_side", "long_side"};
	const char *estimate = word(column, "estimate");
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
	column_fact(column, "tension_head", "%s", word(column, tension_head_names[machine->head]));
	column_fact(column, "clamps", "%s", word(column, clamps_names[machine->clamps]));
	column_fact(column, "first_hold", "%s, %s %d %s, %s %s", word(column, kinds[first->with]),
		    word(column, "main"), first->number, shown_side(stringing, first->side),
		    word(column, first->outside ? "outside" : "inside"),
		    hole_text(first->hole, hole));
	if (machine->clamps == CLAMPS_FLYING)
		column_fact(column, "clamp_across", "%s", word(column, "across_how"));
	if (set)
		column_fact(column, "set_clamps", "%s %d", word(column, "call"), set);
	if (look)
		column_fact(column, "mounts", "%d, %s %d", machine->mounts,
			    word(column, "look_again"), look);
	else
		column_fact(column, "mounts", "%d", machine->mounts);
}

static void add_head(struct column *column, const struct stringing *stringing)
{
	const struct job *job = stringing->sequence->job;
	const struct pattern *pattern = stringing->sequence->pattern;
	struct text line = {0};

	column_title(column, job->name, 7);
	column_text(column, pattern->title, 3.6, INK, false);
	if (job->racket)
		text_format(&line, "%s %s", word(column, "racket"), job->racket);
	if (job->customer)
		text_format(&line, "%s%s", line.length ? ", " : "", job->customer);
	if (line.length)
		column_text(column, text_string(&line), 3.6, INK, false);
	text_clear(&line);
	text_format(&line, "%s, %s, %s", pattern->name, word(column, sport_names[pattern->sport]),
		    word(column, method_names[job->method]));
	if (job->stringer)
		text_format(&line, ", %s: %s", word(column, "stringer"), job->stringer);
	column_text(column, text_string(&line), 3.2, GREY, false);
	text_free(&line);
}

static void add_facts(struct column *column, const struct stringing *stringing)
{
	facts_of_bed(column, stringing);
	facts_of_machine(column, stringing);
	facts_of_tension(column, stringing->sequence);
	facts_of_string(column, stringing->sequence);
}

/* As large as there is room for them. */
static void draw_facts(struct canvas *canvas, const struct stringing *stringing, double top_mm,
		       double bottom_mm)
{
	const double left_mm = page_width_mm - margin_mm - facts_mm;
	struct column column;
	double size_mm = 3.2;

	do {
		size_mm -= 0.2;
		column = column_at(NULL, stringing->options->book, left_mm, top_mm, facts_mm,
				   size_mm);
		add_facts(&column, stringing);
	} while (column.next.y_mm > bottom_mm && size_mm > 2);
	column.canvas = canvas;
	column.next.y_mm = top_mm;
	add_facts(&column, stringing);
}

static void add_cautions(struct column *column)
{
	static const char *const cautions[] = {"caution_eyes", "caution_hands", "caution_frame",
					       "caution_makers"};

	column_heading(column, "safety");
	for (size_t i = 0; i < sizeof(cautions) / sizeof(cautions[0]); i++)
		column_text(column, word(column, cautions[i]), 3, INK, false);
}

void card_words(const struct sequence *sequence, const struct draw_options *options,
		struct text *out)
{
	struct column column = {.words = out, .book = options->book};
	struct stringing stringing;

	stringing_read(sequence, options, &stringing);
	add_head(&column, &stringing);
	text_add_char(out, '\n');
	add_facts(&column, &stringing);
	text_add_char(out, '\n');
	add_cautions(&column);
}

/* Those of the plan, and room for a pencil, if there is any. */
static void draw_notes(struct canvas *canvas, const struct stringing *stringing, double top_mm,
		       double bottom_mm, double width_mm)
{
	const double line_mm = 8;
	struct column column =
		column_at(canvas, stringing->options->book, margin_mm, top_mm, width_mm, 2.7);

	if (bottom_mm - top_mm < 2 * line_mm)
		return;
	column_heading(&column, "notes");
	if (stringing->sequence->job->notes)
		column_text(&column, stringing->sequence->job->notes, 3, INK, false);
	int lines = (int)((bottom_mm - column.next.y_mm + 2) / line_mm);
	for (int i = 1; i <= lines; i++) {
		struct spot left = spot_beside(column.next, 0, i * line_mm - 2);
		canvas_begin(canvas, left);
		canvas_to(canvas, spot_beside(left, width_mm, 0));
	}
	canvas_draw(canvas, pen_line(FAINT, HAIR_MM), NULL);
}

static void draw_card(struct canvas *canvas, const struct stringing *stringing)
{
	const double cautions_mm = 27, between_mm = 5, size_mm = 2.7;
	const int columns = 2;
	const struct phrasebook *book = stringing->options->book;
	double page = page_width_mm - 2 * margin_mm, width = page - facts_mm - between_mm;
	double bottom = page_height_mm - margin_mm - cautions_mm;
	struct column head = column_at(canvas, book, margin_mm, margin_mm, page, 3.2);
	struct column cautions = column_at(canvas, book, margin_mm, bottom, page, 3.2);

	add_head(&head, stringing);
	add_cautions(&cautions);
	double top = head.next.y_mm + 2;
	double legend_mm =
		legend_draw(NULL, stringing, (struct spot){0, 0}, width, columns, size_mm);
	struct box bed = {margin_mm, top, width, bottom - top - legend_mm - 3 * between_mm};
	struct spot legend = {margin_mm, figure_draw(canvas, stringing, &bed, 3) + between_mm};
	legend_draw(canvas, stringing, legend, width, columns, size_mm);
	draw_notes(canvas, stringing, legend.y_mm + legend_mm + 2, bottom - 2, width);
	draw_facts(canvas, stringing, top, bottom);
}

/* ---- The page of a bed ---- */

enum exit_code draw_bed(const struct sequence *sequence, const struct draw_options *options,
			const char *path, struct faults *faults)
{
	struct text title = {0}, description = {0};
	struct stringing stringing;

	if (options->at_call < 0 || options->at_call > sequence->call_count) {
		fault_add(faults, FAULT_ERROR, path, (struct position){0, 0}, "draw-call",
			  "there is no call %d: the job has %d", options->at_call,
			  sequence->call_count);
		return EXIT_USAGE;
	}
	stringing_read(sequence, options, &stringing);
	picture_describe(&stringing, &title, &description);
	struct canvas *canvas = canvas_new(page_width_mm, page_height_mm, text_string(&title),
					   text_string(&description), NULL);
	(options->card ? draw_card : draw_sheet)(canvas, &stringing);
	text_free(&title);
	text_free(&description);
	return picture_save(canvas, path, faults);
}

/* A job as usual practice has it. The tensions are never shown: inside the maker's range, so that
 * nothing is said about them. */
static struct job usual_job(const struct pattern *pattern)
{
	struct quantity tension =
		pattern->has_range ? pattern->tension_min : (struct quantity){20, UNIT_KG};

	return (struct job){
		.file = pattern->file,
		.name = pattern->name,
		.pattern = pattern->name,
		.tension = {tension, tension},
		.behind = 1,
		.detail = DETAIL_BENCH,
	};
}

enum exit_code draw_pattern(const struct pattern *pattern, const struct draw_options *options,
			    const char *path, struct faults *faults)
{
	struct job job = usual_job(pattern);
	struct sequence *sequence = sequence_compile(&job, pattern, faults);

	if (!sequence)
		return EXIT_NO;
	enum exit_code code = draw_bed(sequence, options, path, faults);
	sequence_free(sequence);
	return code;
}

/* ---- The label for a strung racket ---- */

/* "54 lb co-polyester 1.25"; "50–54 lb" where not all are pulled alike. The tension comes first,
 * because a line that is too long is cut. */
static void fact_pulled(struct column *column, const char *key, const struct job *job,
			enum string_kind strings, int count)
{
	const char *name = job_length(job, strings)->name;
	struct quantity least = job_tension(job, strings, 1), most = least;
	char from[QUANTITY_TEXT_MAX], to[QUANTITY_TEXT_MAX];

	for (int number = 2; number <= count; number++) {
		double value = job_tension(job, strings, number).value;
		least.value = fmin(least.value, value);
		most.value = fmax(most.value, value);
	}
	bool alike = quantity_same(least, most);
	number_text(least.value, from);
	quantity_text(most, to);
	column_fact(column, key, "%s%s%s %s", alike ? "" : localise(column, from), alike ? "" : "–",
		    localise(column, to), name ? name : "");
}

enum exit_code draw_label(const struct job *job, const struct pattern *pattern,
			  const struct label *label, const char *path, struct faults *faults)
{
	static const char *const keys[] = {"racket",  "main_strings", "cross_strings",
					   "pattern", "stringer",     "strung"};
	const double edge_mm = 2, title_share = 1.3;
	double rows = 4 + (job->stringer != NULL) + (job->racket != NULL);
	double width = label->width_mm - 2 * edge_mm, height = label->height_mm - 2 * edge_mm;
	double size = height / (LINE_SHARE * (title_share + rows));
	struct canvas *canvas =
		canvas_new(label->width_mm, label->height_mm, job->name, pattern->title, NULL);
	struct column column =
		column_at(canvas, label->book, edge_mm, edge_mm, width, fmin(size, 0.06 * width));

	column.cut = true;
	column.indent_mm = 0;
	for (size_t i = 0; i < sizeof(keys) / sizeof(keys[0]); i++)
		column.indent_mm =
			fmax(column.indent_mm,
			     lettering_width_mm(word(&column, keys[i]), column.size_mm, false) +
				     0.5 * column.size_mm);
	column_title(&column, job->name, title_share * column.size_mm);
	if (job->racket)
		column_fact(&column, "racket", "%s", job->racket);
	fact_pulled(&column, "main_strings", job, STRING_MAIN, pattern_half(pattern));
	fact_pulled(&column, "cross_strings", job, STRING_CROSS, pattern->crosses);
	column_fact(&column, "pattern", "%s", pattern->name);
	if (job->stringer)
		column_fact(&column, "stringer", "%s", job->stringer);
	if (label->number)
		column_fact(&column, "strung", "%s, %s %d", label->date, word(&column, "job"),
			    label->number);
	else
		column_fact(&column, "strung", "%s", label->date);
	return picture_save(canvas, path, faults);
}
