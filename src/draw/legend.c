#include "draw/internal.h"

#include <stdlib.h>

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

static bool any_strand(const struct stringing *stringing, enum string_kind kind)
{
	for (int i = 0; i < stringing->strand_count; i++)
		if (stringing->strands[i].kind == kind)
			return true;
	return false;
}

static bool any_slack(const struct stringing *stringing)
{
	for (int i = 0; i < stringing->strand_count; i++)
		if (!strand_is_pulled(stringing, &stringing->strands[i]) &&
		    !stringing->strands[i].next)
			return true;
	return false;
}

static bool any_knot(const struct stringing *stringing, bool start, bool suggested)
{
	for (int i = 0; i < stringing->knot_count; i++)
		if (stringing->knots[i].start == start &&
		    (suggested ? stringing->knots[i].suggested : true))
			return true;
	return false;
}

static bool any_suggested(const struct stringing *stringing)
{
	return any_knot(stringing, true, true) || any_knot(stringing, false, true);
}

static bool is_shown(const struct stringing *stringing, enum entry entry)
{
	const struct pattern *pattern = stringing->sequence->pattern;

	switch (entry) {
	case ENTRY_MAIN:
	case ENTRY_NAME:
		return any_strand(stringing, STRING_MAIN);
	case ENTRY_CROSS:
		return any_strand(stringing, STRING_CROSS);
	case ENTRY_NEXT:
		return stringing->call > 0;
	case ENTRY_THREADED:
		return any_slack(stringing);
	case ENTRY_SKIPPED:
		return any_in(&pattern->mains_skip);
	case ENTRY_SHARED:
		return any_in(&pattern->shared);
	case ENTRY_UNUSED:
		return any_in(&pattern->unused);
	case ENTRY_BRIDGE:
		return pattern->bridge > 0;
	case ENTRY_TIE_OFF:
		return any_knot(stringing, false, false);
	case ENTRY_SUGGESTED:
		return any_suggested(stringing);
	case ENTRY_START:
		return any_knot(stringing, true, false);
	case ENTRY_CLAMP:
		return stringing->call > 0 && stringing->clamp_count > 0;
	case ENTRY_PULL:
		return stringing->pull_count > 0 && !stringing->by_call;
	case ENTRY_PULL_CALL:
		return stringing->pull_count > 0 && stringing->by_call;
	default:
		return true;
	}
}

/* A main over a cross, or the other way round. */
static void draw_weave(struct canvas *canvas, struct spot spot, enum string_kind kind)
{
	bool cross = kind == STRING_CROSS;
	struct spot left = {spot.x_mm - 3.2, spot.y_mm}, right = {spot.x_mm + 3.2, spot.y_mm};
	struct path path = {0};

	path_begin(&path, left);
	if (!cross) {
		path_to(&path, (struct spot){spot.x_mm - 1, spot.y_mm});
		path_begin(&path, (struct spot){spot.x_mm + 1, spot.y_mm});
	}
	path_to(&path, right);
	draw_pieces(canvas, &path, kind, LOOK_PULLED, 1);
	path_free(&path);
}

static void draw_line(struct canvas *canvas, struct spot spot, enum strand_look look)
{
	struct path path = {0};

	path_line(&path, (struct spot){spot.x_mm - 3.2, spot.y_mm},
		  (struct spot){spot.x_mm + 3.2, spot.y_mm});
	draw_pieces(canvas, &path, STRING_MAIN, look, 1);
	path_free(&path);
}

/* Any hole of the pattern that is of the kind. */
static void draw_sample_hole(struct canvas *canvas, const struct pattern *pattern,
			     const struct hole_set *set, struct spot spot)
{
	for (int i = 0; i < pattern_hole_count(pattern); i++) {
		struct hole hole = pattern_hole_at(pattern, i);
		if (!hole_in(set, hole))
			continue;
		draw_hole(canvas, pattern, hole, spot, 1.3, NULL);
		return;
	}
}

static void draw_sample_bridge(struct canvas *canvas, struct spot spot)
{
	struct pen pen = {INK, THIN_MM, 0, false, PAPER};
	struct path path = {0};

	path_box(&path, spot, 3.2, 1.2, (struct spot){0, 1});
	canvas_path(canvas, &path, &pen, NULL);
	path_clear(&path);
	for (int i = 0; i < 6; i++) {
		double x = spot.x_mm - 3 + 0.72 * i;
		path_line(&path, (struct spot){x, spot.y_mm + 1.2},
			  (struct spot){x + 2.4, spot.y_mm - 1.2});
	}
	pen = pen_line(GREY, HAIR_MM);
	canvas_path(canvas, &path, &pen, NULL);
	path_free(&path);
}

static void draw_sample_name(struct canvas *canvas, struct spot spot, double size_mm)
{
	struct lettering lettering = {size_mm, GREY, false, ANCHOR_MIDDLE, COLOUR_NONE};

	spot.y_mm += CAPITAL_SHARE * size_mm / 2;
	canvas_text(canvas, spot, &lettering, "M4 C9", NULL);
}

static void draw_sample(struct canvas *canvas, const struct pattern *pattern, enum entry entry,
			struct spot spot, double size_mm)
{
	struct hole_set plain = {{2, 2}}; /* 1H, 1T */
	struct knot tie_off = {0}, suggested = {.suggested = true}, start = {.start = true};

	switch (entry) {
	case ENTRY_MAIN:
		draw_weave(canvas, spot, STRING_MAIN);
		break;
	case ENTRY_CROSS:
		draw_weave(canvas, spot, STRING_CROSS);
		break;
	case ENTRY_NEXT:
		draw_line(canvas, spot, LOOK_NEXT);
		break;
	case ENTRY_THREADED:
		draw_line(canvas, spot, LOOK_THREADED);
		break;
	case ENTRY_HOLE:
		draw_sample_hole(canvas, pattern, &plain, spot);
		break;
	case ENTRY_SKIPPED:
		draw_sample_hole(canvas, pattern, &pattern->mains_skip, spot);
		break;
	case ENTRY_SHARED:
		draw_sample_hole(canvas, pattern, &pattern->shared, spot);
		break;
	case ENTRY_UNUSED:
		draw_sample_hole(canvas, pattern, &pattern->unused, spot);
		break;
	case ENTRY_BRIDGE:
		draw_sample_bridge(canvas, spot);
		break;
	case ENTRY_TIE_OFF:
		draw_knot(canvas, &tie_off, spot, 1.35, NULL);
		break;
	case ENTRY_SUGGESTED:
		draw_knot(canvas, &suggested, spot, 1.35, NULL);
		break;
	case ENTRY_START:
		draw_knot(canvas, &start, spot, 1.35, NULL);
		break;
	case ENTRY_CLAMP:
		draw_clamp(canvas, spot, (struct spot){0, 1}, 1.4, NULL);
		break;
	case ENTRY_PULL:
	case ENTRY_PULL_CALL:
		draw_pull(canvas, spot, 0.86 * size_mm, 0.86 * size_mm, "12", false, NULL);
		break;
	default:
		draw_sample_name(canvas, spot, 0.9 * size_mm);
		break;
	}
}

static int list_shown(const struct stringing *stringing, enum entry *shown)
{
	int count = 0;

	for (enum entry entry = 0; entry < ENTRIES; entry++)
		if (is_shown(stringing, entry))
			shown[count++] = entry;
	return count;
}

static int rows_of(int count, int columns)
{
	return (count + columns - 1) / columns;
}

static double row_mm(double size_mm)
{
	return 1.85 * size_mm;
}

double legend_height_mm(const struct stringing *stringing, int columns, double size_mm)
{
	enum entry shown[ENTRIES];

	return rows_of(list_shown(stringing, shown), columns) * row_mm(size_mm);
}

void legend_draw(struct canvas *canvas, const struct stringing *stringing, struct spot top_left,
		 double width_mm, int columns, double size_mm)
{
	const double sample_mm = 7, text_mm = 9.5;
	struct lettering lettering = {size_mm, INK, false, ANCHOR_START, COLOUR_NONE};
	enum entry shown[ENTRIES];
	int count = list_shown(stringing, shown), rows = rows_of(count, columns);

	canvas_group(canvas, "class=\"legend\"", NULL);
	for (int i = 0; i < count; i++) {
		int column = i / rows;
		double x = top_left.x_mm + column * width_mm / columns;
		double y = top_left.y_mm + (i % rows + 0.5) * row_mm(size_mm);
		draw_sample(canvas, stringing->sequence->pattern, shown[i],
			    (struct spot){x + sample_mm / 2, y}, size_mm);
		canvas_text(canvas, (struct spot){x + text_mm, y + CAPITAL_SHARE * size_mm / 2},
			    &lettering, meaning[shown[i]], NULL);
	}
	canvas_end(canvas);
}

static void draw_bar(struct canvas *canvas, struct spot right_end, double length_mm)
{
	struct pen pen = pen_line(INK, THIN_MM);
	struct path path = {0};
	const double tick_mm = 1;

	for (int i = 0; i <= 2; i++) {
		double x = right_end.x_mm - length_mm * i / 2;
		path_line(&path, (struct spot){x, right_end.y_mm - tick_mm},
			  (struct spot){x, right_end.y_mm});
	}
	path_line(&path, (struct spot){right_end.x_mm - length_mm, right_end.y_mm}, right_end);
	canvas_path(canvas, &path, &pen, NULL);
	path_free(&path);
}

void scale_draw(struct canvas *canvas, const struct figure *figure, struct spot bottom_right,
		double size_mm)
{
	struct lettering lettering = {size_mm, GREY, false, ANCHOR_END, COLOUR_NONE};
	struct spot above = {bottom_right.x_mm, bottom_right.y_mm - 1.4 * size_mm};

	if (figure->layout.assumed) {
		canvas_text(canvas, above, &lettering, "Not to scale:", NULL);
		canvas_text(canvas, bottom_right, &lettering, "head size not given", NULL);
		return;
	}
	canvas_text(canvas, bottom_right, &lettering, "100 mm", NULL);
	draw_bar(canvas, above, 100 * figure->layout.scale);
}
