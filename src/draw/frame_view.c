/* The frame: hoop, bridge, and where the handle goes on. */
#include "draw/internal.h"

#include <math.h>

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
	add_edge(canvas, layout, 0, 2 * rim_half_mm(&layout->bed.rim), out_mm);
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
