/* What the marks of a figure mean, and its scale. */
#include "draw/internal.h"

#include <math.h>

static const double row_share = 1.85; /* from row to row, as a share of the size */

struct legend {
	const struct stringing *stringing;
	struct canvas *canvas; /* NULL: entries are only counted */
	struct spot top_left;
	double column_mm;
	double size_mm;
	int rows;
	int count; /* entries so far */
	struct spot sample;
};

/* The next entry, if its mark is in the figure. True if it is to be drawn at legend->sample. A long
 * meaning is set smaller. */
static bool add_entry(struct legend *legend, bool there, const char *key)
{
	const double sample_mm = 7, text_mm = 9.5;

	if (!there)
		return false;
	int n = legend->count++;
	if (!legend->canvas)
		return false;
	const char *meaning = shown(legend->stringing, key);
	int column = n / legend->rows, row = n % legend->rows;
	struct spot left = spot_beside(legend->top_left, column * legend->column_mm,
				       (row + 0.5) * row_share * legend->size_mm);
	double fitting_mm =
		(legend->column_mm - text_mm - 1) / lettering_width_mm(meaning, 1, false);
	legend->sample = spot_beside(left, sample_mm / 2, 0);
	canvas_label(
		legend->canvas, spot_beside(left, text_mm, 0),
		(struct lettering){fmin(legend->size_mm, fitting_mm), INK, ANCHOR_START, false},
		meaning, NULL);
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

static void add_strings(struct legend *legend)
{
	const struct stringing *stringing = legend->stringing;
	struct canvas *canvas = legend->canvas;
	bool mains = false, crosses = false, slack = false;

	for (int i = 0; i < stringing->strand_count; i++) {
		const struct strand *strand = &stringing->strands[i];
		mains |= strand->move->string == STRING_MAIN;
		crosses |= strand->move->string == STRING_CROSS;
		slack |= !strand->next && !strand->pulled;
	}
	if (add_entry(legend, mains, "legend_main"))
		draw_string(canvas, legend->sample, STRING_MAIN, LOOK_PULLED, true);
	if (add_entry(legend, crosses, "legend_cross"))
		draw_string(canvas, legend->sample, STRING_CROSS, LOOK_PULLED, false);
	if (add_entry(legend, stringing->options->at_call > 0, "legend_next"))
		draw_string(canvas, legend->sample, STRING_MAIN, LOOK_NEXT, false);
	if (add_entry(legend, slack, "legend_slack"))
		draw_string(canvas, legend->sample, STRING_MAIN, LOOK_THREADED, false);
}

static void add_frame(struct legend *legend)
{
	static const char *const meanings[] = {"legend_hole", "legend_skipped", "legend_shared",
					       "legend_unused"};
	const struct pattern *pattern = legend->stringing->sequence->pattern;
	bool there[] = {true, false, false, false};

	for (int i = 0; i < pattern_hole_count(pattern); i++)
		there[hole_look(pattern, pattern_hole_at(pattern, i))] = true;
	for (enum hole_look look = HOLE_PLAIN; look <= HOLE_UNUSED; look++)
		if (add_entry(legend, there[look], meanings[look]))
			draw_hole(legend->canvas, look, legend->sample, 1.3, NULL);
	if (add_entry(legend, pattern->bridge > 0, "bridge"))
		draw_bridge(legend->canvas, legend->sample);
}

/* Knots, clamps and pulls. */
static void add_marks(struct legend *legend)
{
	static const char *const meanings[] = {"tie_off", "legend_suggested", "starting_knot"};
	const struct move samples[] = {{0}, {.suggested = true}, {.start = true}};
	const struct stringing *stringing = legend->stringing;
	struct canvas *canvas = legend->canvas;
	struct spot spot;
	double size_mm = 0.86 * legend->size_mm;
	bool knots[3] = {false, false, false}, clamps[2] = {false, false};
	bool card = stringing->options->card;

	for (int i = 0; i < stringing->mark_count; i++) {
		const struct move *move = stringing->marks[i].move;
		if (move->action == DO_KNOT) {
			knots[move->start ? 2 : 0] = true;
			knots[1] |= move->suggested;
		} else if (move->action == DO_CLAMP) {
			clamps[move->across > 0] = true;
		}
	}
	for (int i = 0; i < 3; i++)
		if (add_entry(legend, knots[i], meanings[i]))
			draw_knot(canvas, &samples[i], false, legend->sample, NULL);
	if (add_entry(legend, clamps[0], "legend_clamp"))
		draw_clamp(canvas, legend->sample, STRING_MAIN, NULL);
	if (add_entry(legend, clamps[1], "legend_across")) {
		spot = spot_beside(legend->sample, -2.4, 0);
		draw_clamp_across(canvas, spot, spot_beside(spot, 4.8, 0), STRING_MAIN);
	}
	if (add_entry(legend, stringing->pull_count > 0, card ? "legend_calls" : "legend_pulls"))
		draw_pull(canvas, legend->sample, size_mm, size_mm, "12", card, false, NULL);
	if (add_entry(legend, stringing->strand_count > 0, "legend_names"))
		canvas_label(canvas, legend->sample,
			     (struct lettering){0.9 * legend->size_mm, GREY, ANCHOR_MIDDLE, false},
			     "M4 C9", NULL);
}

static void add_entries(struct legend *legend)
{
	legend->count = 0;
	add_strings(legend);
	add_frame(legend);
	add_marks(legend);
}

double legend_draw(struct canvas *canvas, const struct stringing *stringing, struct spot top_left,
		   double width_mm, int columns, double size_mm)
{
	struct legend legend = {.stringing = stringing,
				.top_left = top_left,
				.column_mm = width_mm / columns,
				.size_mm = size_mm};

	add_entries(&legend);
	legend.rows = (legend.count + columns - 1) / columns;
	if (canvas) {
		legend.canvas = canvas;
		canvas_group(canvas, "class=\"legend\"", NULL);
		add_entries(&legend);
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
		canvas_text(canvas, above, letters, shown(figure->stringing, "not_to_scale"), NULL);
		canvas_text(canvas, bottom_right, letters, shown(figure->stringing, "no_head_size"),
			    NULL);
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
