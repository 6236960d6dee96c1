/* What the marks of a figure mean, and its scale. */
#include "draw/internal.h"

enum entry {
	ENTRY_MAIN,
	ENTRY_CROSS,
	ENTRY_NEXT,
	ENTRY_THREADED,
	ENTRY_HOLE,
	ENTRY_SKIPPED,
	ENTRY_SHARED,
	ENTRY_UNUSED,
	ENTRY_BRIDGE,
	ENTRY_TIE_OFF,
	ENTRY_SUGGESTED,
	ENTRY_START,
	ENTRY_CLAMP,
	ENTRY_PULL,
	ENTRY_PULL_CALL,
	ENTRY_NAME,
	ENTRIES,
};

static const char *const meaning[ENTRIES] = {
	[ENTRY_MAIN] = "Main; broken where it runs under",
	[ENTRY_CROSS] = "Cross",
	[ENTRY_NEXT] = "What is next",
	[ENTRY_THREADED] = "In place, not pulled yet",
	[ENTRY_HOLE] = "Hole, 1 at the centre",
	[ENTRY_SKIPPED] = "Hole the mains skip",
	[ENTRY_SHARED] = "Shared: main and cross",
	[ENTRY_UNUSED] = "Unused hole",
	[ENTRY_BRIDGE] = "Bridge",
	[ENTRY_TIE_OFF] = "Tie-off",
	[ENTRY_SUGGESTED] = "The same, hole suggested only",
	[ENTRY_START] = "Starting knot",
	[ENTRY_CLAMP] = "Clamp",
	[ENTRY_PULL] = "Order of pulls, where it is pulled",
	[ENTRY_PULL_CALL] = "Call that pulls it, where it is pulled",
	[ENTRY_NAME] = "Main 4, cross 9: where it goes in",
};

static bool any_in(const struct hole_set *set)
{
	return set->bits[END_HEAD] || set->bits[END_THROAT];
}

/* Which marks the picture has. */
static void find_shown(const struct stringing *stringing, bool shown[static ENTRIES])
{
	const struct pattern *pattern = stringing->sequence->pattern;

	shown[ENTRY_HOLE] = true;
	shown[ENTRY_NEXT] = stringing->call > 0;
	shown[ENTRY_SKIPPED] = any_in(&pattern->mains_skip);
	shown[ENTRY_SHARED] = any_in(&pattern->shared);
	shown[ENTRY_UNUSED] = any_in(&pattern->unused);
	shown[ENTRY_BRIDGE] = pattern->bridge > 0;
	shown[ENTRY_CLAMP] = stringing->call > 0 && stringing->clamp_count > 0;
	shown[stringing->by_call ? ENTRY_PULL_CALL : ENTRY_PULL] = stringing->pull_count > 0;
	for (int i = 0; i < stringing->strand_count; i++) {
		const struct strand *strand = &stringing->strands[i];
		shown[strand->kind == STRING_MAIN ? ENTRY_MAIN : ENTRY_CROSS] = true;
		if (!strand->next && !strand_is_pulled(stringing, strand))
			shown[ENTRY_THREADED] = true;
	}
	shown[ENTRY_NAME] = shown[ENTRY_MAIN];
	for (int i = 0; i < stringing->knot_count; i++) {
		const struct knot *knot = &stringing->knots[i];
		shown[knot->start ? ENTRY_START : ENTRY_TIE_OFF] = true;
		if (knot->suggested)
			shown[ENTRY_SUGGESTED] = true;
	}
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

static void draw_sample(struct canvas *canvas, enum entry entry, struct spot spot, double size_mm)
{
	struct knot knot = {.suggested = entry == ENTRY_SUGGESTED, .start = entry == ENTRY_START};

	switch (entry) {
	case ENTRY_MAIN:
		draw_string(canvas, spot, STRING_MAIN, LOOK_PULLED, true);
		break;
	case ENTRY_CROSS:
		draw_string(canvas, spot, STRING_CROSS, LOOK_PULLED, false);
		break;
	case ENTRY_NEXT:
		draw_string(canvas, spot, STRING_MAIN, LOOK_NEXT, false);
		break;
	case ENTRY_THREADED:
		draw_string(canvas, spot, STRING_MAIN, LOOK_THREADED, false);
		break;
	case ENTRY_HOLE:
	case ENTRY_SKIPPED:
	case ENTRY_SHARED:
	case ENTRY_UNUSED:
		draw_hole(canvas, HOLE_PLAIN + (entry - ENTRY_HOLE), spot, 1.3, NULL);
		break;
	case ENTRY_BRIDGE:
		draw_bridge(canvas, spot);
		break;
	case ENTRY_TIE_OFF:
	case ENTRY_SUGGESTED:
	case ENTRY_START:
		draw_knot(canvas, &knot, spot, 1.35, NULL);
		break;
	case ENTRY_CLAMP:
		draw_clamp(canvas, spot, STRING_MAIN, 1.4, NULL);
		break;
	case ENTRY_PULL:
	case ENTRY_PULL_CALL:
		draw_pull(canvas, spot, 0.86 * size_mm, 0.86 * size_mm, "12", false, NULL);
		break;
	default:
		canvas_label(canvas, spot,
			     (struct lettering){0.9 * size_mm, GREY, ANCHOR_MIDDLE, false}, "M4 C9",
			     NULL);
		break;
	}
}

double legend_draw(struct canvas *canvas, const struct stringing *stringing, struct spot top_left,
		   double width_mm, int columns, double size_mm)
{
	const double sample_mm = 7, text_mm = 9.5, row_mm = 1.85 * size_mm;
	bool shown[ENTRIES] = {false};
	int count = 0, placed = 0;

	find_shown(stringing, shown);
	for (enum entry entry = 0; entry < ENTRIES; entry++)
		count += shown[entry];
	int rows = (count + columns - 1) / columns;
	if (!canvas)
		return rows * row_mm;
	canvas_group(canvas, "class=\"legend\"", NULL);
	for (enum entry entry = 0; entry < ENTRIES; entry++) {
		if (!shown[entry])
			continue;
		int column = placed / rows, row = placed % rows;
		struct spot spot =
			spot_beside(top_left, column * width_mm / columns, (row + 0.5) * row_mm);
		draw_sample(canvas, entry, spot_beside(spot, sample_mm / 2, 0), size_mm);
		canvas_label(canvas, spot_beside(spot, text_mm, 0),
			     (struct lettering){size_mm, INK, ANCHOR_START, false}, meaning[entry],
			     NULL);
		placed++;
	}
	canvas_end(canvas);
	return rows * row_mm;
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
