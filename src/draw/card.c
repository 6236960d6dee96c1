/* The bench card. */
#include "draw/internal.h"

#include <stdlib.h>

static const double margin_mm = 12;
static const double facts_mm = 48;

static const char *const cautions[] = {
	"Wear eye protection while you pull, cut or use an awl: a string or clamp that lets go flies.",
	"Keep fingers out of the tension head. Never go beyond the maker's tension range.",
	"Stop at once if the frame creaks, twists or shifts in its mounts.",
	"The instructions of the frame's maker and of the machine's maker come before this card.",
};

/* In the unit of the job, and in kilograms or pounds beside it. */
static void fact_tension(struct column *column, const char *name, struct quantity tension)
{
	char text[QUANTITY_TEXT_MAX];
	struct quantity other =
		quantity_convert(tension, tension.unit == UNIT_KG ? UNIT_LB : UNIT_KG);

	column_fact(column, name, "%s (%.1f %s)", quantity_text(tension, text), other.value,
		    unit_name(other.unit));
}

/* Strings that follow each other and are pulled alike share a line. There is room for a few. */
static void facts_of_tension_of(struct column *column, const struct job *job,
				enum string_kind strings, int count)
{
	const char *kind = strings == STRING_MAIN ? "Mains" : "Crosses";
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
			column_fact(column, name, "vary: see the steps");
		else
			fact_tension(column, name, tension);
		free(name);
	}
}

static void facts_of_tension(struct column *column, const struct sequence *sequence)
{
	const struct pattern *pattern = sequence->pattern;
	char min[QUANTITY_TEXT_MAX], max[QUANTITY_TEXT_MAX];

	column_heading(column, "Tension");
	facts_of_tension_of(column, sequence->job, STRING_MAIN, pattern_half(pattern));
	facts_of_tension_of(column, sequence->job, STRING_CROSS, pattern->crosses);
	if (pattern->has_range)
		column_fact(column, "Maker's range", "%s to %s",
			    quantity_text(pattern->tension_min, min),
			    quantity_text(pattern->tension_max, max));
}

static void fact_string(struct column *column, const struct job *job, const struct move *move)
{
	static const char *const names[] = {[SUBJECT_MAINS] = "Mains",
					    [SUBJECT_CROSSES] = "Crosses",
					    [SUBJECT_WHOLE] = "Whole"};
	const struct string_length *length =
		job_length(job, move->subject == SUBJECT_CROSSES ? STRING_CROSS : STRING_MAIN);
	struct text value = {0};

	if (length->name)
		text_format(&value, ", %s", length->name);
	if (move->length_mm > 0)
		text_format(&value, ", cut %.2f m (estimate)", move->length_mm / 1000);
	if (length->prestretch > 0)
		text_format(&value, ", prestretch %g %%", 100 * length->prestretch);
	if (value.length)
		column_fact(column, names[move->subject], "%s", text_string(&value) + 2);
	text_free(&value);
}

static void facts_of_string(struct column *column, const struct sequence *sequence)
{
	const struct lengths *lengths = &sequence->lengths;

	column_heading(column, "String");
	for (int i = 0; i < sequence->move_count; i++)
		if (sequence->moves[i].action == DO_CUT)
			fact_string(column, sequence->job, &sequence->moves[i]);
	if (lengths->short_mm > 0)
		column_fact(column, "Short side", "%.2f m (estimate)", lengths->short_mm / 1000);
	if (lengths->long_mm > 0)
		column_fact(column, "Long side", "%.2f m (estimate)", lengths->long_mm / 1000);
}

/* The number of the first call of that kind; 0: the job has none. */
static int first_call(const struct sequence *sequence, enum call_kind kind)
{
	for (int i = 0; i < sequence->call_count; i++)
		if (sequence->calls[i].kind == kind)
			return i + 1;
	return 0;
}

/* The clamp that holds the first pull. */
static void fact_first_hold(struct column *column, const struct sequence *sequence)
{
	const struct move *move = sequence->moves;
	char hole[HOLE_TEXT_MAX];

	while (move->action != DO_CLAMP)
		move++;
	column_fact(column, "First hold", "%s clamp, main %d %s, %s at %s",
		    clamp_kind_name(move->with), move->number, side_name(move->side),
		    move->outside ? "outside" : "inside", hole_text(move->hole, hole));
}

static void facts_of_machine(struct column *column, const struct sequence *sequence)
{
	const struct machine *machine = &sequence->job->machine;
	int look = first_call(sequence, CALL_CHECK_MOUNTS);
	int set = first_call(sequence, CALL_SET_CLAMPS);

	column_heading(column, "Machine");
	column_fact(column, "Tension head", "%s", tension_head_names[machine->head]);
	column_fact(column, "Clamps", "%s", clamps_names[machine->clamps]);
	fact_first_hold(column, sequence);
	if (machine->clamps == CLAMPS_FLYING)
		column_fact(column, "Clamp across", "each string and the one before it");
	if (set)
		column_fact(column, "For crosses", "set the clamps, call %d", set);
	if (look)
		column_fact(column, "Mounts", "%d, look again at call %d", machine->mounts, look);
	else
		column_fact(column, "Mounts", "%d", machine->mounts);
}

static double draw_head(struct canvas *canvas, const struct stringing *stringing)
{
	const struct job *job = stringing->sequence->job;
	const struct pattern *pattern = stringing->sequence->pattern;
	struct column head =
		column_at(canvas, margin_mm, margin_mm, SHEET_WIDTH_MM - 2 * margin_mm, 3.2);
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
	struct column column =
		column_at(canvas, SHEET_WIDTH_MM - margin_mm - facts_mm, top_mm, facts_mm, 3);

	facts_of_bed(&column, stringing);
	facts_of_machine(&column, stringing->sequence);
	facts_of_tension(&column, stringing->sequence);
	facts_of_string(&column, stringing->sequence);
}

static void draw_cautions(struct canvas *canvas, double top_mm)
{
	struct column column =
		column_at(canvas, margin_mm, top_mm, SHEET_WIDTH_MM - 2 * margin_mm, 3.2);

	column_heading(&column, "Safety first");
	for (size_t i = 0; i < sizeof(cautions) / sizeof(cautions[0]); i++)
		column_text(&column, cautions[i], 3, INK, false);
}

/* Room for a pencil, if there is any. */
static void draw_notes(struct canvas *canvas, double top_mm, double bottom_mm, double width_mm)
{
	const double line_mm = 8;
	struct column column = column_at(canvas, margin_mm, top_mm, width_mm, 2.7);

	if (bottom_mm - top_mm < 2 * line_mm)
		return;
	column_heading(&column, "Notes");
	int lines = (int)((bottom_mm - column.y_mm + 2) / line_mm);
	for (int i = 1; i <= lines; i++) {
		struct spot left = {margin_mm, column.y_mm - 2 + i * line_mm};
		canvas_begin(canvas, left);
		canvas_to(canvas, spot_beside(left, width_mm, 0));
	}
	canvas_draw(canvas, pen_line(FAINT, HAIR_MM), NULL);
}

void card_draw(struct canvas *canvas, const struct stringing *stringing,
	       const struct draw_options *options)
{
	const double cautions_mm = 27, between_mm = 5, size_mm = 2.7;
	const int columns = 2;
	double width = SHEET_WIDTH_MM - 2 * margin_mm - facts_mm - between_mm;
	double bottom = SHEET_HEIGHT_MM - margin_mm - cautions_mm;
	double top = draw_head(canvas, stringing) + 2;
	double legend_mm =
		legend_draw(NULL, stringing, (struct spot){0, 0}, width, columns, size_mm);
	struct box bed = {margin_mm, top, width, bottom - top - legend_mm - 3 * between_mm};
	struct figure figure;

	figure_fit(stringing, options, &bed, 3, &figure);
	struct spot legend = {margin_mm, figure.bottom_mm + between_mm};
	figure_draw(canvas, &figure);
	scale_draw(canvas, &figure, (struct spot){margin_mm + width, figure.bottom_mm}, size_mm);
	legend_draw(canvas, stringing, legend, width, columns, size_mm);
	draw_notes(canvas, legend.y_mm + legend_mm + 2, bottom - 2, width);
	draw_facts(canvas, stringing, top);
	draw_cautions(canvas, bottom);
}
