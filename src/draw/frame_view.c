/* The frame: hoop, bridge, and where the handle goes on. */
#include "draw/internal.h"

#include <math.h>

static void add_edge(const struct layout *layout, struct path *path, double from, double to,
		     double out_mm)
{
	int corners = (int)ceil(fabs(to - from) / 4);

	for (int i = 0; i <= corners; i++)
		path_to(path, layout_spot(layout, from + (to - from) * i / corners, out_mm));
}

static void add_ring(const struct layout *layout, struct path *path, double out_mm)
{
	const int corners = 256;
	double whole_mm = 2 * rim_half_mm(&layout->bed.rim);

	path_begin(path, layout_spot(layout, 0, out_mm));
	for (int i = 1; i < corners; i++)
		path_to(path, layout_spot(layout, whole_mm * i / corners, out_mm));
}

static void draw_hoop(struct canvas *canvas, const struct layout *layout)
{
	struct pen pen = {INK, MEDIUM_MM, 0, false, PALE};
	struct path path = {.closed = true};

	add_ring(layout, &path, layout->band_mm);
	add_ring(layout, &path, 0);
	canvas_path(canvas, &path, &pen, "id=\"hoop\"");
	path_free(&path);
}

/* The bridge is a part of its own: hatched, as a part that is joined on. */
static void draw_bridge(struct canvas *canvas, const struct layout *layout)
{
	double from = layout->bridge_end[SIDE_RIGHT], to = layout->bridge_end[SIDE_LEFT];
	struct pen pen = {INK, MEDIUM_MM, 0, false, PAPER};
	struct path path = {.closed = true};

	path_begin(&path, layout_spot(layout, from, 0));
	add_edge(layout, &path, from, to, 0);
	add_edge(layout, &path, to, from, layout->band_mm);
	canvas_path(canvas, &path, &pen, "id=\"bridge\"");
	path_clear(&path);
	const double hatch_mm = 1.3;
	double hatch = hatch_mm / layout->scale;
	double slant = hatch * layout->band_mm / hatch_mm;
	int lines = (int)((to - from - slant) / hatch);
	for (int i = 0; i <= lines; i++)
		path_line(&path, layout_spot(layout, from + i * hatch, layout->band_mm),
			  layout_spot(layout, from + i * hatch + slant, 0));
	pen = pen_line(GREY, HAIR_MM);
	canvas_path(canvas, &path, &pen, NULL);
	path_free(&path);
}

/* The arms of the throat, cut off below the words. */
static void draw_arms(struct canvas *canvas, const struct layout *layout, double bottom_mm)
{
	struct pen pen = {INK, MEDIUM_MM, 0, false, PALE};
	double half = layout_arm_mm(layout) / 2;

	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		struct path path = {0};
		struct spot top = layout_arm(layout, side, 0);
		struct spot bottom = layout_arm(layout, side, bottom_mm - top.y_mm);
		path_begin(&path, (struct spot){bottom.x_mm - half, bottom.y_mm});
		path_to(&path, (struct spot){top.x_mm - half, top.y_mm});
		path_to(&path, (struct spot){top.x_mm + half, top.y_mm});
		path_to(&path, (struct spot){bottom.x_mm + half, bottom.y_mm});
		canvas_path(canvas, &path, &pen, "class=\"arm\"");
		path_free(&path);
	}
}

void draw_frame(struct canvas *canvas, const struct layout *layout, double bottom_mm)
{
	bool bridge = layout->bridge_end[SIDE_RIGHT] > 0;

	canvas_group(canvas, "class=\"frame\"", NULL);
	if (bridge)
		draw_arms(canvas, layout, bottom_mm);
	draw_hoop(canvas, layout);
	if (bridge)
		draw_bridge(canvas, layout);
	canvas_end(canvas);
}
