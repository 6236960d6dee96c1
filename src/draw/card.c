/* The bench card. */
#include "draw/internal.h"

#include <string.h>

static const double margin_mm = 12;
static const double facts_mm = 48;

static const char *const cautions[] = {
	"Wear eye protection while you pull, cut or use an awl: what lets go under tension flies.",
	"Keep fingers out of the tension head. Never go beyond the maker's tension range.",
	"Stop at once if the frame creaks, twists or shifts in its mounts.",
	"What the maker of the frame and the maker of the machine say comes before this card.",
};

/* A row, unless there is nothing to say. */
static void fact(struct column *column, const char *name, struct text *value)
{
	if (value->length > 0 && strcmp(text_string(value), "none") != 0)
		column_fact(column, name, text_string(value));
	text_clear(value);
}

static void facts_of_pattern(struct column *column, const struct pattern *pattern)
{
	struct text value = {0};

	column_heading(column, "Frame");
	text_format(&value, "%d x %d", pattern->mains, pattern->crosses);
	fact(column, "Strings", &value);
	text_format(&value, "%d head, %d throat", pattern->holes[END_HEAD],
		    pattern->holes[END_THROAT]);
	fact(column, "Holes per side", &value);
	if (pattern->bridge)
		text_format(&value, "%d holes", pattern->bridge);
	fact(column, "Bridge", &value);
	facts_holes(&value, &pattern->mains_skip);
	fact(column, "Skipped", &value);
	facts_holes(&value, &pattern->shared);
	fact(column, "Shared", &value);
	facts_holes(&value, &pattern->unused);
	fact(column, "Unused", &value);
	text_free(&value);
}

static void facts_of_mains(struct column *column, const struct stringing *stringing)
{
	const struct sequence *sequence = stringing->sequence;
	const struct job *job = sequence->job;
	struct text value = {0};

	column_heading(column, "Mains");
	text_format(&value, "%s, %s first", end_name(sequence->mains_start),
		    side_name(job->first_side));
	fact(column, "Start", &value);
	text_format(&value, "%d main%s at most", job->lead, job->lead == 1 ? "" : "s");
	fact(column, "Ahead", &value);
	text_add(&value, end_name(sequence->mains_end));
	fact(column, "Finish", &value);
	facts_knots(&value, stringing, STRING_MAIN, false);
	fact(column, "Tie off", &value);
	text_free(&value);
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
	char hole[HOLE_TEXT_MAX];
	struct text value = {0};

	column_heading(column, "Crosses");
	text_format(&value, "%s to %s", end_name(end), end_name(other_end(end)));
	fact(column, "Direction", &value);
	facts_knots(&value, stringing, STRING_CROSS, true);
	fact(column, "Knot", &value);
	if (first) {
		text_format(&value, "%s from the %s, %s first", hole_text(first->from.hole, hole),
			    side_name(first->from.side), job->weave_over ? "over" : "under");
		fact(column, "Cross 1", &value);
	}
	text_format(&value, "%s", job->behind ? "one behind" : "as woven");
	if (job->first_pull > 1)
		text_format(&value, ", 1 and %d at once", job->first_pull);
	fact(column, "Pull", &value);
	facts_knots(&value, stringing, STRING_CROSS, false);
	fact(column, "Tie off", &value);
	text_free(&value);
}

/* In the unit of the job, and in kilograms or pounds beside it. */
static void add_tension(struct text *out, struct quantity tension)
{
	char text[QUANTITY_TEXT_MAX];
	struct quantity other =
		quantity_convert(tension, tension.unit == UNIT_KG ? UNIT_LB : UNIT_KG);

	text_format(out, "%s", quantity_text(tension, text));
	text_format(out, " (%.1f %s)", other.value, unit_name(other.unit));
}

/* The last of the strings from this one on that are pulled alike. */
static int last_alike(const struct job *job, enum string_kind strings, int from, int count)
{
	struct quantity tension = job_tension(job, strings, from);
	int to = from;

	while (to < count && quantity_same(tension, job_tension(job, strings, to + 1)))
		to++;
	return to;
}

static void name_strings(struct text *out, enum string_kind strings, int from, int to, int count)
{
	text_add(out, strings == STRING_MAIN ? "Mains" : "Crosses");
	if (to == from)
		text_format(out, " %d", from);
	else if (to - from + 1 < count)
		text_format(out, " %d–%d", from, to);
}

/* Strings that follow each other and are pulled alike share a line. There is room for a few. */
static void facts_of_tension_of(struct column *column, const struct sequence *sequence,
				enum string_kind strings, int count)
{
	const int lines_max = 6;
	struct text name = {0}, value = {0};
	int lines = 0;

	for (int from = 1, to; from <= count; from = to + 1) {
		to = last_alike(sequence->job, strings, from, count);
		if (++lines == lines_max && to < count) {
			to = count;
			text_add(&value, "vary: see the steps");
		} else {
			add_tension(&value, job_tension(sequence->job, strings, from));
		}
		name_strings(&name, strings, from, to, count);
		fact(column, text_string(&name), &value);
		text_clear(&name);
	}
	text_free(&name);
	text_free(&value);
}

static void facts_of_tension(struct column *column, const struct sequence *sequence)
{
	const struct pattern *pattern = sequence->pattern;
	char min[QUANTITY_TEXT_MAX], max[QUANTITY_TEXT_MAX];
	struct text value = {0};

	column_heading(column, "Tension");
	facts_of_tension_of(column, sequence, STRING_MAIN, pattern_half(pattern));
	facts_of_tension_of(column, sequence, STRING_CROSS, pattern->crosses);
	if (pattern->has_range) {
		text_format(&value, "%s to %s", quantity_text(pattern->tension_min, min),
			    quantity_text(pattern->tension_max, max));
		fact(column, "Maker's range", &value);
	}
	text_free(&value);
}

static const struct string_length *length_of(const struct job *job, enum subject subject)
{
	switch (subject) {
	case SUBJECT_MAINS:
		return &job->length[STRING_MAIN];
	case SUBJECT_CROSSES:
		return &job->length[STRING_CROSS];
	default:
		return &job->whole;
	}
}

/* Of a one-piece length: how much of it goes to that side. */
static void add_side_length(struct column *column, const char *name, double length_mm)
{
	struct text value = {0};

	if (length_mm > 0)
		text_format(&value, "%.2f m (estimate)", length_mm / 1000);
	fact(column, name, &value);
	text_free(&value);
}

static void facts_of_string(struct column *column, const struct sequence *sequence)
{
	struct text value = {0};

	column_heading(column, "String");
	for (int i = 0; i < sequence->move_count; i++) {
		const struct move *move = &sequence->moves[i];
		if (move->action != DO_CUT)
			continue;
		const struct string_length *length = length_of(sequence->job, move->subject);
		if (length->name)
			text_add(&value, length->name);
		if (length->name && move->length_mm > 0)
			text_add(&value, ", ");
		if (move->length_mm > 0)
			text_format(&value, "cut %.2f m (estimate)", move->length_mm / 1000);
		if (length->prestretch > 0)
			text_format(&value, ", prestretch %g %%", 100 * length->prestretch);
		fact(column,
		     move->subject == SUBJECT_MAINS     ? "Mains"
		     : move->subject == SUBJECT_CROSSES ? "Crosses"
							: "Whole",
		     &value);
	}
	add_side_length(column, "Short side", sequence->lengths.short_mm);
	add_side_length(column, "Long side", sequence->lengths.long_mm);
	text_free(&value);
}

static double draw_head(struct canvas *canvas, const struct stringing *stringing)
{
	const struct job *job = stringing->sequence->job;
	const struct pattern *pattern = stringing->sequence->pattern;
	struct column head = {canvas, margin_mm, margin_mm, SHEET_WIDTH_MM - 2 * margin_mm, 3.2};
	struct text line = {0};

	column_title(&head, job->name, 7);
	column_text(&head, pattern->title, 3.6, INK, false);
	text_format(&line, "%s, %s, %s", pattern->name, sport_name(pattern->sport),
		    method_name(job->method));
	if (job->stringer)
		text_format(&line, ", stringer: %s", job->stringer);
	column_text(&head, text_string(&line), 3.2, GREY, false);
	text_free(&line);
	return head.y_mm;
}

static void draw_facts(struct canvas *canvas, const struct stringing *stringing, double top_mm)
{
	struct column column = {canvas, SHEET_WIDTH_MM - margin_mm - facts_mm, top_mm, facts_mm, 3};

	facts_of_pattern(&column, stringing->sequence->pattern);
	facts_of_mains(&column, stringing);
	facts_of_crosses(&column, stringing);
	facts_of_tension(&column, stringing->sequence);
	facts_of_string(&column, stringing->sequence);
}

static void draw_cautions(struct canvas *canvas, double top_mm)
{
	struct column column = {canvas, margin_mm, top_mm, SHEET_WIDTH_MM - 2 * margin_mm, 3.2};

	column_heading(&column, "Safety first");
	for (size_t i = 0; i < sizeof(cautions) / sizeof(cautions[0]); i++)
		column_text(&column, cautions[i], 3, INK, false);
}

/* Room for a pencil, if there is any. */
static void draw_notes(struct canvas *canvas, double top_mm, double bottom_mm, double width_mm)
{
	const double line_mm = 8;
	struct column column = {canvas, margin_mm, top_mm, width_mm, 2.7};
	struct pen pen = pen_line(FAINT, HAIR_MM);
	struct path path = {0};

	if (bottom_mm - top_mm < 2 * line_mm)
		return;
	column_heading(&column, "Notes");
	int lines = (int)((bottom_mm - column.y_mm + 2) / line_mm);
	for (int i = 1; i <= lines; i++) {
		double y = column.y_mm - 2 + i * line_mm;
		path_line(&path, (struct spot){margin_mm, y},
			  (struct spot){margin_mm + width_mm, y});
	}
	canvas_path(canvas, &path, &pen, NULL);
	path_free(&path);
}

void card_draw(struct canvas *canvas, const struct stringing *stringing,
	       const struct draw_options *options)
{
	const double cautions_mm = 27, between_mm = 5, size_mm = 2.7;
	const int columns = 2;
	double width = SHEET_WIDTH_MM - 2 * margin_mm - facts_mm - between_mm;
	double bottom = SHEET_HEIGHT_MM - margin_mm - cautions_mm;
	double top = draw_head(canvas, stringing) + 2;
	double legend_mm = legend_height_mm(stringing, columns, size_mm);
	struct box bed = {margin_mm, top, width, bottom - top - legend_mm - 3 * between_mm};
	const char *sides[2];
	struct figure figure;

	sheet_sides(options, sides);
	figure_fit(stringing, sides, &bed, 3, &figure);
	struct spot legend = {margin_mm, figure.bottom_mm + between_mm};
	figure_draw(canvas, &figure);
	scale_draw(canvas, &figure, (struct spot){margin_mm + width, figure.bottom_mm}, size_mm);
	legend_draw(canvas, stringing, legend, width, columns, size_mm);
	draw_notes(canvas, legend.y_mm + legend_mm + 2, bottom - 2, width);
	draw_facts(canvas, stringing, top);
	draw_cautions(canvas, bottom);
}
