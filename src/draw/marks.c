/* The marks of holes, knots, clamps and pulls: each kind has a shape of its own. */
#include "draw/internal.h"

#include <string.h>

const char *place_attributes(struct canvas *canvas, const char *class, struct sided_hole place)
{
	char text[HOLE_TEXT_MAX];

	return canvas_attributes(canvas, "class=\"%s\" data-hole=\"%s\" data-side=\"%s\"", class,
				 hole_text(place.hole, text), side_name(place.side));
}

enum hole_look hole_look(const struct pattern *pattern, struct hole hole)
{
	if (hole_in(&pattern->unused, hole))
		return HOLE_UNUSED;
	if (hole_in(&pattern->mains_skip, hole))
		return HOLE_SKIPPED;
	return hole_in(&pattern->shared, hole) ? HOLE_SHARED : HOLE_PLAIN;
}

/* A square where the mains skip it, a disc in a ring where it holds a main and a cross, crossed out
 * where it is unused. */
void draw_hole(struct canvas *canvas, enum hole_look look, struct spot spot, double radius_mm,
	       const char *attributes)
{
	double arm = 0.62 * radius_mm;

	switch (look) {
	case HOLE_PLAIN:
		canvas_circle(canvas, spot, 0.85 * radius_mm, pen_edge(INK, THIN_MM, PAPER),
			      attributes);
		break;
	case HOLE_SKIPPED:
		canvas_box(canvas, spot, radius_mm, radius_mm);
		canvas_draw(canvas, pen_edge(INK, MEDIUM_MM, PAPER), attributes);
		break;
	case HOLE_SHARED:
		canvas_circle(canvas, spot, 1.2 * radius_mm, pen_edge(INK, MEDIUM_MM, PAPER),
			      attributes);
		canvas_circle(canvas, spot, 0.55 * radius_mm, pen_fill(INK), NULL);
		break;
	case HOLE_UNUSED:
		canvas_circle(canvas, spot, radius_mm, pen_edge(GREY, THIN_MM, PAPER), attributes);
		canvas_begin(canvas, spot_beside(spot, -arm, -arm));
		canvas_to(canvas, spot_beside(spot, arm, arm));
		canvas_begin(canvas, spot_beside(spot, -arm, arm));
		canvas_to(canvas, spot_beside(spot, arm, -arm));
		canvas_draw(canvas, pen_line(GREY, THIN_MM), NULL);
		break;
	}
}

/* A tie-off is a diamond, a starting knot a triangle; hollow where the hole is only suggested. */
void draw_knot(struct canvas *canvas, const struct move *knot, bool next, struct spot spot,
	       const char *attributes)
{
	static const struct spot diamond[] = {{0, -1.3}, {1.15, 0}, {0, 1.3}, {-1.15, 0}};
	static const struct spot triangle[] = {{0, -1.3}, {1.25, 0.9}, {-1.25, 0.9}};
	const struct spot *corners = knot->start ? triangle : diamond;
	double size = next ? 1.8 : 1.35;
	int colour = next ? ACCENT : INK;
	struct pen halo = pen_edge(PAPER, 1.1, PAPER);

	halo.round = true;
	for (int i = 0; i < (knot->start ? 3 : 4); i++)
		canvas_to(canvas,
			  spot_beside(spot, size * corners[i].x_mm, size * corners[i].y_mm));
	canvas_close(canvas);
	canvas_draw(canvas, halo, NULL);
	canvas_draw(canvas, pen_edge(colour, MEDIUM_MM, knot->suggested ? PAPER : colour),
		    attributes);
}

/* Two jaws, one on each side of the string. */
void draw_clamp(struct canvas *canvas, struct spot spot, enum string_kind string,
		const char *attributes)
{
	const double half_mm = 1.6, off_mm = 1.2, thin_mm = 0.72;

	for (int sign = -1; sign <= 1; sign += 2) {
		if (string == STRING_MAIN)
			canvas_box(canvas, spot_beside(spot, sign * off_mm, 0), thin_mm, half_mm);
		else
			canvas_box(canvas, spot_beside(spot, 0, sign * off_mm), half_mm, thin_mm);
	}
	canvas_draw(canvas, pen_edge(PAPER, THIN_MM, INK), attributes);
}

void draw_clamp_across(struct canvas *canvas, struct spot spot, struct spot other,
		       enum string_kind string)
{
	draw_clamp(canvas, other, string, "class=\"clamp across\"");
	canvas_line(canvas, spot, other, pen_line(PAPER, 4 * MEDIUM_MM), NULL);
	canvas_draw(canvas, pen_line(INK, 2 * MEDIUM_MM), NULL);
	draw_clamp(canvas, spot, string, "class=\"clamp\"");
}

/* The number of a call in a square; the place in the order of the pulls in a disc. */
void draw_pull(struct canvas *canvas, struct spot centre, double radius_mm, double size_mm,
	       const char *number, bool is_call, bool next, const char *attributes)
{
	/* Three digits are set smaller, to stay inside. */
	double letters_mm = strlen(number) > 2 ? 0.75 * size_mm : size_mm;
	struct pen pen = pen_fill(next ? ACCENT : INK);

	if (is_call) {
		canvas_box(canvas, centre, radius_mm, 0.85 * radius_mm);
		canvas_draw(canvas, pen, attributes);
	} else {
		canvas_circle(canvas, centre, radius_mm, pen, attributes);
	}
	if (next)
		canvas_circle(canvas, centre, radius_mm + 0.45, pen_line(ACCENT, THIN_MM), NULL);
	canvas_label(canvas, centre,
		     (struct lettering){letters_mm, PAPER, ANCHOR_MIDDLE, .bold = true}, number,
		     NULL);
}
