/* What the marks of a figure mean: only those that are in it. */
#ifndef DRAW_LEGEND_H
#define DRAW_LEGEND_H

#include "draw/figure.h"

/* How much room it takes in so many columns. */
double legend_height_mm(const struct stringing *stringing, int columns, double size_mm);

void legend_draw(struct canvas *canvas, const struct stringing *stringing, struct spot top_left,
		 double width_mm, int columns, double size_mm);

/* A bar of 100 real millimetres, or why there is none. */
void scale_draw(struct canvas *canvas, const struct figure *figure, struct spot bottom_right,
		double size_mm);

#endif
