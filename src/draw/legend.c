/* What the marks of a figure mean, and its scale. */
#include "draw/internal.h"

static const double row_share = 1.85; /* from row to row, as a share of the size */

struct legend {
	struct canvas *canvas; /* NULL: entries are only counted */
	struct spot top_left;
	double column_mm;
	double size_mm;
	int rows;
	int count; /* entries so far */
	struct spot sample;
};

/* The next entry, if its mark is in the figure. True if it is to be drawn at legend->sample. */
static bool add_entry(struct legend *legend, bool shown, const char *meaning)
{
	const double sample_mm = 7, text_mm = 9.5;

	if (!shown)
		return false;
	int n = legend->count++;
	if (!legend->canvas)
		return false;
	int column = n / legend->rows, row = n % legend->rows;
	struct spot left = spot_beside(legend->top_left, column * legend->column_mm,
				       (row + 0.5) * row_share * legend->size_mm);
	legend->sample = spot_beside(left, sample_mm / 2, 0);
	canvas_label(legend->canvas, spot_beside(left, text_mm, 0),
		     (struct lettering){legend->size_mm, INK, ANCHOR_START, false}, meaning, NULL);
	return true;
}

/* A string from left to right, with a gap where another one runs over it. */
static void draw_string(struct canvas *canvas, struct spot spot, enum string_kind kind,
			enum strand_look look, bool gap)
{
	canvas_begin(canvas, spot_beside(spot, -3.2, 0));
	if (gap) {
		canvas_to(canvas, spot_beside(spot, -1, 0));
		canvas_begin(canvas, spot_beside(spot, 1, 0));
	}
	canvas_to(canvas, spot_beside(spot, 3.2, 0));
	draw_string_path(canvas, kind, look, 1);
}

static void draw_bridge(struct canvas *canvas, struct spot spot)
{
	canvas_box(canvas, spot, 3.2, 1.2);
	canvas_draw(canvas, pen_edge(INK, THIN_MM, PAPER), NULL);
	for (int i = 0; i < 6; i++) {
		canvas_begin(canvas, spot_beside(spot, -3 + 0.72 * i, 1.2));
		canvas_to(canvas, spot_beside(spot, -0.6 + 0.72 * i, -1.2));
	}
	canvas_draw(canvas, pen_line(GREY, HAIR_MM), NULL);
}

static void add_strings(struct legend *legend, const struct stringing *stringing)
{
	struct canvas *canvas = legend->canvas;
	bool mains = false, crosses = false, slack = false;

	for (int i = 0; i < stringing->strand_count; i++) {
		const struct strand *strand = &stringing->strands[i];
		mains |= strand->kind == STRING_MAIN;
		crosses |= strand->kind == STRING_CROSS;
		slack |= !strand->next && !strand_is_pulled(stringing, strand);
	}
	if (add_entry(legend, mains, "Main; broken where it runs under"))
		draw_string(canvas, legend->sample, STRING_MAIN, LOOK_PULLED, true);
	if (add_entry(legend, crosses, "Cross"))
		draw_string(canvas, legend->sample, STRING_CROSS, LOOK_PULLED, false);
	if (add_entry(legend, stringing->call > 0, "What is next"))
		draw_string(canvas, legend->sample, STRING_MAIN, LOOK_NEXT, false);
	if (add_entry(legend, slack, "In place, not pulled yet"))
		draw_string(canvas, legend->sample, STRING_MAIN, LOOK_THREADED, false);
}

static void add_frame(struct legend *legend, const struct pattern *pattern)
{
	static const char *const meanings[] = {"Hole, 1 at the centre", "Hole the mains skip",
					       "Shared: main and cross", "Unused hole"};
	bool shown[] = {true, false, false, false};

	for (int i = 0; i < pattern_hole_count(pattern); i++)
		shown[hole_look(pattern, pattern_hole_at(pattern, i))] = true;
	for (enum hole_look look = HOLE_PLAIN; look <= HOLE_UNUSED; look++)
		if (add_entry(legend, shown[look], meanings[look]))
			draw_hole(legend->canvas, look, legend->sample, 1.3, NULL);
	if (add_entry(legend, pattern->bridge > 0, "Bridge"))
		draw_bridge(legend->canvas, legend->sample);
}

static void add_knots(struct legend *legend, const struct stringing *stringing)
{
	static const char *const meanings[] = {"Tie-off", "The same, hole suggested only",
					       "Starting knot"};
	const struct move samples[] = {{0}, {.suggested = true}, {.start = true}};
	bool shown[3] = {false, false, false};

	for (int i = 0; i < stringing->knot_count; i++) {
		const struct move *knot = stringing->knots[i].move;
		shown[knot->start ? 2 : 0] = true;
		shown[1] |= knot->suggested;
	}
	for (int i = 0; i < 3; i++)
		if (add_entry(legend, shown[i], meanings[i]))
			draw_knot(legend->canvas, &samples[i], false, legend->sample, NULL);
}

static void add_words(struct legend *legend, const struct stringing *stringing)
{
	double size_mm = 0.86 * legend->size_mm;
	struct lettering name = {0.9 * legend->size_mm, GREY, ANCHOR_MIDDLE, false};
	bool single = false, across = false;

	for (int i = 0; stringing->call && i < stringing->clamp_count; i++) {
		single |= !stringing->clamps[i]->across;
		across |= stringing->clamps[i]->across > 0;
	}
	if (add_entry(legend, single, "Clamp"))
		draw_clamp(legend->canvas, legend->sample, STRING_MAIN, NULL);
	if (add_entry(legend, across, "Flying clamp, on two strings"))
		draw_clamp_across(legend->canvas, spot_beside(legend->sample, -2.4, 0),
				  spot_beside(legend->sample, 2.4, 0), STRING_MAIN);
	if (add_entry(legend, stringing->pull_count > 0,
		      stringing->by_call ? "Call that pulls it, where it is pulled"
					 : "Order of pulls, where it is pulled"))
		draw_pull(legend->canvas, legend->sample, size_mm, size_mm, "12",
			  stringing->by_call, false, NULL);
	if (add_entry(legend, stringing->strand_count > 0, "Main 4, cross 9: where it goes in"))
		canvas_label(legend->canvas, legend->sample, name, "M4 C9", NULL);
}

static void add_entries(struct legend *legend, const struct stringing *stringing)
{
	add_strings(legend, stringing);
	add_frame(legend, stringing->sequence->pattern);
	add_knots(legend, stringing);
	add_words(legend, stringing);
}

double legend_draw(struct canvas *canvas, const struct stringing *stringing, struct spot top_left,
		   double width_mm, int columns, double size_mm)
{
	struct legend legend = {NULL, top_left, width_mm / columns, size_mm, .rows = 0};

	add_entries(&legend, stringing);
	legend.rows = (legend.count + columns - 1) / columns;
	if (canvas) {
		legend.canvas = canvas;
		legend.count = 0;
		canvas_group(canvas, "class=\"legend\"", NULL);
		add_entries(&legend, stringing);
		canvas_end(canvas);
	}
	return legend.rows * row_share * size_mm;
}

void scale_draw(struct canvas *canvas, const struct figure *figure, struct spot bottom_right,
		double size_mm)
{
	struct lettering letters = {size_mm, GREY, ANCHOR_END, false};
	struct spot above = spot_beside(bottom_right, 0, -1.4 * size_mm);
	double bar_mm = 100 * figure->layout.scale;
	const double tick_mm = 1;

	if (figure->layout.assumed) {
		canvas_text(canvas, above, letters, "Not to scale:", NULL);
		canvas_text(canvas, bottom_right, letters, "head size not given", NULL);
		return;
	}
	canvas_text(canvas, bottom_right, letters, "100 mm", NULL);
	for (int i = 0; i <= 2; i++) {
		struct spot spot = spot_beside(above, -bar_mm * i / 2, 0);
		canvas_begin(canvas, spot_beside(spot, 0, -tick_mm));
		canvas_to(canvas, spot);
	}
	canvas_begin(canvas, spot_beside(above, -bar_mm, 0));
	canvas_to(canvas, above);
	canvas_draw(canvas, pen_line(INK, THIN_MM), NULL);
}
