/* Lines of text set one below the other. */
#ifndef DRAW_COLUMN_H
#define DRAW_COLUMN_H

#include "draw/canvas.h"

struct column {
	struct canvas *canvas;
	double x_mm;
	double y_mm; /* the next line's top; moves down as lines are set */
	double width_mm;
	double size_mm;
};

/* A line of that size and colour, or as many as the text needs. */
void column_text(struct column *column, const char *text, double size_mm, int colour, bool bold);

/* One line, cut where it would be too long. */
void column_title(struct column *column, const char *text, double size_mm);

/* A heading with a rule above it. */
void column_heading(struct column *column, const char *text);

/* A name, and beside it a value of one or several lines. */
void column_fact(struct column *column, const char *name, const char *value);

#endif
