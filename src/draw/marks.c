/* The marks of holes, knots, clamps and pulls: each kind has a shape of its own. */
#include "draw/internal.h"

#include <string.h>

/* A hole left over: a circle struck out. */
static void draw_unused(struct canvas *canvas, struct spot spot, double radius_mm,
			const char *attributes)
{
	double arm = 0.62 * radius_mm;
	struct pen pen = {GREY, THIN_MM, 0, false, PAPER};
	struct path path = {0};

	canvas_circle(canvas, spot, radius_mm, &pen, attributes);
	path_line(&path, (struct spot){spot.x_mm - arm, spot.y_mm - arm},
		  (struct spot){spot.x_mm + arm, spot.y_mm + arm});
	path_line(&path, (struct spot){spot.x_mm - arm, spot.y_mm + arm},
		  (struct spot){spot.x_mm + arm, spot.y_mm - arm});
	pen = pen_line(GREY, THIN_MM);
	canvas_path(canvas, &path, &pen, NULL);
	path_free(&path);
}

/* A main and a cross: a disc in a ring. */
static void draw_shared(struct canvas *canvas, struct spot spot, double radius_mm,
			const char *attributes)
{
	struct pen ring = {INK, MEDIUM_MM, 0, false, PAPER}, disc = pen_fill(INK);

	canvas_circle(canvas, spot, 1.2 * radius_mm, &ring, attributes);
	canvas_circle(canvas, spot, 0.55 * radius_mm, &disc, NULL);
}

/* The mains pass over it: a square. */
static void draw_skipped(struct canvas *canvas, struct spot spot, double radius_mm,
			 const char *attributes)
{
	struct pen pen = {INK, MEDIUM_MM, 0, false, PAPER};
	struct path path = {0};

	path_box(&path, spot, radius_mm, radius_mm, (struct spot){0, 1});
	canvas_path(canvas, &path, &pen, attributes);
	path_free(&path);
}

void draw_hole(struct canvas *canvas, const struct pattern *pattern, struct hole hole,
	       struct spot spot, double radius_mm, const char *attributes)
{
	struct pen pen = {INK, THIN_MM, 0, false, PAPER};

	if (hole_in(&pattern->unused, hole))
		draw_unused(canvas, spot, radius_mm, attributes);
	else if (hole_in(&pattern->mains_skip, hole))
		draw_skipped(canvas, spot, radius_mm, attributes);
	else if (hole_in(&pattern->shared, hole))
		draw_shared(canvas, spot, radius_mm, attributes);
	else
		canvas_circle(canvas, spot, 0.85 * radius_mm, &pen, attributes);
}

/* A tie-off is a diamond, a starting knot a triangle; hollow where the hole is only suggested. */
void draw_knot(struct canvas *canvas, const struct knot *knot, struct spot spot, double radius_mm,
	       const char *attributes)
{
	static const struct spot diamond[] = {{0, -1.3}, {1.15, 0}, {0, 1.3}, {-1.15, 0}};
	static const struct spot triangle[] = {{0, -1.3}, {1.25, 0.9}, {-1.25, 0.9}};
	const struct spot *corners = knot->start ? triangle : diamond;
	int colour = knot->next ? ACCENT : INK;
	struct pen halo = {PAPER, 1.1, 0, true, PAPER};
	struct pen pen = {colour, MEDIUM_MM, 0, false, knot->suggested ? PAPER : colour};
	struct path path = {.closed = true};

	for (int i = 0; i < (knot->start ? 3 : 4); i++) {
		struct spot corner = {spot.x_mm + radius_mm * corners[i].x_mm,
				      spot.y_mm + radius_mm * corners[i].y_mm};
		if (i == 0)
			path_begin(&path, corner);
		else
			path_to(&path, corner);
	}
	canvas_path(canvas, &path, &halo, NULL);
	canvas_path(canvas, &path, &pen, attributes);
	path_free(&path);
}

/* Two jaws, one on each side of the string. */
void draw_clamp(struct canvas *canvas, struct spot spot, struct spot along, double radius_mm,
		const char *attributes)
{
	struct pen pen = {PAPER, THIN_MM, 0, false, INK};
	struct path path = {0};

	for (int sign = -1; sign <= 1; sign += 2) {
		double off = sign * 0.75 * radius_mm;
		struct spot jaw = {spot.x_mm - off * along.y_mm, spot.y_mm + off * along.x_mm};
		path_box(&path, jaw, 0.45 * radius_mm, radius_mm, along);
	}
	canvas_path(canvas, &path, &pen, attributes);
	path_free(&path);
}

void draw_pull(struct canvas *canvas, struct spot centre, double radius_mm, double size_mm,
	       const char *number, bool next, const char *attributes)
{
	struct pen disc = pen_fill(next ? ACCENT : INK), ring = pen_line(ACCENT, THIN_MM);
	/* Three digits are set smaller, to stay inside. */
	double letters_mm = strlen(number) > 2 ? 0.75 * size_mm : size_mm;
	struct lettering lettering = {letters_mm, PAPER, true, ANCHOR_MIDDLE, COLOUR_NONE};

	canvas_circle(canvas, centre, radius_mm, &disc, attributes);
	if (next)
		canvas_circle(canvas, centre, radius_mm + 0.45, &ring, NULL);
	centre.y_mm += CAPITAL_SHARE * letters_mm / 2;
	canvas_text(canvas, centre, &lettering, number, NULL);
}
