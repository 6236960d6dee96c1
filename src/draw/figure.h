/* The picture of a bed: the frame with its holes, the strings in it, the words round it. */
#ifndef DRAW_FIGURE_H
#define DRAW_FIGURE_H

#include "draw/canvas.h"
#include "draw/layout.h"
#include "draw/stringing.h"
#include "draw/tags.h"

struct box {
	double x_mm; /* left */
	double y_mm; /* top */
	double width_mm;
	double height_mm;
};

struct figure {
	const struct stringing *stringing;
	const char *const *side_words; /* by side */
	struct box box;
	double bottom_mm; /* where the picture ends: it may need less than the box */
	struct layout layout;
	struct tags tags;
};

/* As large as the box allows, with the largest letters up to that size for which there is room. */
void figure_fit(const struct stringing *stringing, const char *const side_words[2],
		const struct box *box, double size_mm, struct figure *out);

void figure_draw(struct canvas *canvas, const struct figure *figure);

/* The marks of a picture, for the figure and for its legend. */
void draw_hole(struct canvas *canvas, const struct pattern *pattern, struct hole hole,
	       struct spot spot, double radius_mm, const char *attributes);
void draw_knot(struct canvas *canvas, const struct knot *knot, struct spot spot, double radius_mm,
	       const char *attributes);
void draw_clamp(struct canvas *canvas, struct spot spot, struct spot along, double radius_mm,
		const char *attributes);
void draw_pull(struct canvas *canvas, struct spot centre, double radius_mm, double size_mm,
	       const char *number, bool next, const char *attributes);

/* The parts of the figure. */
void draw_frame(struct canvas *canvas, const struct figure *figure);
void draw_strands(struct canvas *canvas, const struct figure *figure);

/* A strand in several pieces: a main is a solid line, a cross an outline. */
enum strand_look { LOOK_PULLED, LOOK_THREADED, LOOK_NEXT };

void draw_pieces(struct canvas *canvas, const struct path *pieces, enum string_kind kind,
		 enum strand_look look, double width_mm);

/* How thick strings are drawn in this figure. */
double strand_width_mm(const struct figure *figure);

#endif
