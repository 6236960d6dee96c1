/* Shared by the files of this room only. */
#ifndef DRAW_INTERNAL_H
#define DRAW_INTERNAL_H

#include "draw/draw.h"

/* What a format has to know how to do; only canvas.c and the formats look here. */

struct backend {
	void (*group)(struct canvas *canvas, const char *attributes, const char *title);
	void (*end)(struct canvas *canvas);
	void (*path)(struct canvas *canvas, const struct path *path, const struct pen *pen,
		     const char *attributes);
	void (*circle)(struct canvas *canvas, struct spot centre, double radius_mm,
		       const struct pen *pen, const char *attributes);
	void (*text)(struct canvas *canvas, struct spot spot, const struct lettering *lettering,
		     const char *text, const char *attributes);
	bool (*finish)(struct canvas *canvas, struct text *bytes, const char **why);
};

/* The first member of every format's own struct. */
struct canvas {
	const struct backend *backend;
};

struct canvas *svg_new(const struct page *page);
struct canvas *paper_new(enum canvas_format format, const struct page *page); /* Cairo */

/* Lines of text set one below the other. */

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

/* What the marks of a figure mean: only those that are in it. */

/* How much room it takes in so many columns. */
double legend_height_mm(const struct stringing *stringing, int columns, double size_mm);

void legend_draw(struct canvas *canvas, const struct stringing *stringing, struct spot top_left,
		 double width_mm, int columns, double size_mm);

/* A bar of 100 real millimetres, or why there is none. */
void scale_draw(struct canvas *canvas, const struct figure *figure, struct spot bottom_right,
		double size_mm);

/* What is put on a page: the picture alone, or the bench card. */

/* Upright A4 (ISO 216). */
#define SHEET_WIDTH_MM  210.0
#define SHEET_HEIGHT_MM 297.0

void sheet_title(struct text *out, const struct stringing *stringing);
void sheet_draw(struct canvas *canvas, const struct stringing *stringing,
		const struct draw_options *options);
void card_draw(struct canvas *canvas, const struct stringing *stringing,
	       const struct draw_options *options);

/* The words for the two sides. */
void sheet_sides(const struct draw_options *options, const char *words[static 2]);

#endif
