/* The frame at a scale. */
#include "draw/internal.h"

#include <math.h>

/* ---- The frame ---- */

/* From memory: heads that are usual in the four sports, for a pattern that gives no size. */
static const struct head usual[] = {
	[SPORT_TENNIS] = {330, 248, 64000, 12},
	[SPORT_BADMINTON] = {246, 192, 38300, 8},
	[SPORT_SQUASH] = {335, 190, 49200, 10},
	[SPORT_RACQUETBALL] = {346, 251, 68400, 10},
};

static double whole_rim_mm(const struct layout *layout)
{
	return 2 * rim_half_mm(&layout->bed.rim);
}

static void place_bridge(struct layout *layout)
{
	int last = layout->pattern->bridge / 2;
	const double *hole_mm = layout->bed.hole_mm[END_THROAT];

	if (last == 0 || last >= layout->pattern->holes[END_THROAT])
		return;
	layout->bridge_end[SIDE_RIGHT] = (hole_mm[last] + hole_mm[last + 1]) / 2;
	layout->bridge_end[SIDE_LEFT] = whole_rim_mm(layout) - layout->bridge_end[SIDE_RIGHT];
}

void layout_fit(const struct pattern *pattern, struct spot top, double width_mm, double height_mm,
		struct layout *out)
{
	struct pattern sized = *pattern; /* with a head, whether the file gives one or not */
	struct head *head = &sized.head;

	*out = (struct layout){.pattern = pattern};
	out->assumed = head->length_mm <= 0 || head->width_mm <= 0;
	if (out->assumed)
		*head = usual[pattern->sport];
	if (!bed_of_pattern(&sized, &out->bed)) {
		/* An area that no hoop of that size has; pattern_read refuses such a file. */
		head->area_mm2 = 0;
		bed_of_pattern(&sized, &out->bed);
	}
	out->scale = fmin(width_mm / (head->width_mm + 2 * head->beam_mm),
			  height_mm / (head->length_mm + 2 * head->beam_mm));
	out->band_mm = head->beam_mm * out->scale;
	out->centre = spot_beside(top, 0, out->scale * head->length_mm / 2 + out->band_mm);
	place_bridge(out);
}

struct spot layout_outward(const struct layout *layout, double at)
{
	const double step_mm = 1;
	struct point before = rim_point(&layout->bed.rim, at - step_mm);
	struct point after = rim_point(&layout->bed.rim, at + step_mm);
	double x = after.x_mm - before.x_mm, y = after.y_mm - before.y_mm;
	double length = hypot(x, y);

	/* The way round is clockwise, and down the page is against y: outward is to its left. */
	return (struct spot){-y / length, -x / length};
}

struct spot layout_spot(const struct layout *layout, double at, double out_mm)
{
	struct point point = rim_point(&layout->bed.rim, at);
	struct spot spot = {layout->centre.x_mm + layout->scale * point.x_mm,
			    layout->centre.y_mm - layout->scale * point.y_mm};

	if (out_mm == 0)
		return spot;
	struct spot outward = layout_outward(layout, at);
	return (struct spot){spot.x_mm + out_mm * outward.x_mm, spot.y_mm + out_mm * outward.y_mm};
}

double layout_at(const struct layout *layout, struct sided_hole place)
{
	double at = layout->bed.hole_mm[place.hole.end][place.hole.number];

	return place.side == SIDE_RIGHT ? at : whole_rim_mm(layout) - at;
}

struct spot layout_hole(const struct layout *layout, struct sided_hole place)
{
	return layout_spot(layout, layout_at(layout, place), layout->band_mm / 2);
}

double layout_arm_mm(const struct layout *layout)
{
	return 0.7 * layout->band_mm;
}

struct spot layout_arm(const struct layout *layout, enum side side, double down_mm)
{
	struct spot spot = layout_spot(layout, layout->bridge_end[side], 0);
	double outward = layout_arm_mm(layout) / 2;

	spot.x_mm += side == SIDE_LEFT ? -outward : outward;
	spot.y_mm += down_mm;
	return spot;
}

struct spot layout_inner(const struct layout *layout, struct sided_hole place)
{
	return layout_spot(layout, layout_at(layout, place), 0);
}

/* ---- Drawing the frame ---- */

static void add_edge(struct canvas *canvas, const struct layout *layout, double from, double to,
		     double out_mm)
{
	int corners = (int)ceil(fabs(to - from) / 4);

	for (int i = 0; i <= corners; i++)
		canvas_to(canvas, layout_spot(layout, from + (to - from) * i / corners, out_mm));
}

static void add_ring(struct canvas *canvas, const struct layout *layout, double out_mm)
{
	canvas_begin(canvas, layout_spot(layout, 0, out_mm));
	add_edge(canvas, layout, 0, whole_rim_mm(layout), out_mm);
	canvas_close(canvas);
}

/* The bridge is a part of its own: hatched, as a part that is joined on. */
static void draw_bridge(struct canvas *canvas, const struct layout *layout)
{
	double from = layout->bridge_end[SIDE_RIGHT], to = layout->bridge_end[SIDE_LEFT];
	const double hatch_mm = 1.3;
	double hatch = hatch_mm / layout->scale;
	double slant = hatch * layout->band_mm / hatch_mm;
	int lines = (int)((to - from - slant) / hatch);

	add_edge(canvas, layout, from, to, 0);
	add_edge(canvas, layout, to, from, layout->band_mm);
	canvas_close(canvas);
	canvas_draw(canvas, pen_edge(INK, MEDIUM_MM, PAPER), "id=\"bridge\"");
	for (int i = 0; i <= lines; i++) {
		canvas_begin(canvas, layout_spot(layout, from + i * hatch, layout->band_mm));
		canvas_to(canvas, layout_spot(layout, from + i * hatch + slant, 0));
	}
	canvas_draw(canvas, pen_line(GREY, HAIR_MM), NULL);
}

/* The arms of the throat, cut off below the words. */
static void draw_arms(struct canvas *canvas, const struct layout *layout, double bottom_mm)
{
	double half = layout_arm_mm(layout) / 2;

	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		struct spot top = layout_arm(layout, side, 0);
		struct spot bottom = layout_arm(layout, side, bottom_mm - top.y_mm);
		canvas_begin(canvas, spot_beside(bottom, -half, 0));
		canvas_to(canvas, spot_beside(top, -half, 0));
		canvas_to(canvas, spot_beside(top, half, 0));
		canvas_to(canvas, spot_beside(bottom, half, 0));
		canvas_draw(canvas, pen_edge(INK, MEDIUM_MM, PALE), "class=\"arm\"");
	}
}

void draw_frame(struct canvas *canvas, const struct layout *layout, double bottom_mm)
{
	bool bridge = layout->bridge_end[SIDE_RIGHT] > 0;

	canvas_group(canvas, "class=\"frame\"", NULL);
	if (bridge)
		draw_arms(canvas, layout, bottom_mm);
	add_ring(canvas, layout, layout->band_mm);
	add_ring(canvas, layout, 0);
	canvas_draw(canvas, pen_edge(INK, MEDIUM_MM, PALE), "id=\"hoop\"");
	if (bridge)
		draw_bridge(canvas, layout);
	canvas_end(canvas);
}
