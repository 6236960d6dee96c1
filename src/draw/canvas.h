/* A page to draw on, whatever becomes of it: one small interface over an SVG writer and Cairo.
 *
 * Lengths are millimetres on the page, from its top left corner, y down. Attributes are SVG
 * attributes as they are written in a tag ("class=\"hole\" data-hole=\"7H\""), or NULL; they say
 * what a mark means to those who read the picture with a program, and other formats leave them out.
 */
#ifndef DRAW_CANVAS_H
#define DRAW_CANVAS_H

#include "base/text.h"

#include <stdbool.h>

struct spot {
	double x_mm;
	double y_mm;
};

/* Lines through corners, in one or several pieces. A zeroed struct is empty. */
struct path {
	struct corner {
		struct spot spot;
		bool begins; /* a new piece */
	} * corners;
	int count;
	int capacity;
	bool closed; /* every piece is */
};

/* 0xRRGGBB, or none. */
enum { COLOUR_NONE = -1 };

struct pen {
	int stroke;
	double width_mm;
	double dash_mm; /* dash and gap; 0: an unbroken line */
	bool round;     /* ends; corners are sharp where a path is closed, else round */
	int fill;       /* what two pieces enclose twice is not filled */
};

enum anchor { ANCHOR_START, ANCHOR_MIDDLE, ANCHOR_END };

struct lettering {
	double size_mm;
	int colour;
	bool bold;
	enum anchor anchor;
	int halo; /* a colour behind the letters, or COLOUR_NONE */
};

struct page {
	double width_mm;
	double height_mm;
	const char *title;
	const char *description;
	/* NULL: a file of its own. Else an SVG element within an HTML page, whose size, paper and
	 * font are the page's to say; the ids of title and description begin with this word. */
	const char *inside;
};

enum canvas_format { CANVAS_SVG, CANVAS_PDF, CANVAS_PNG };

struct canvas;

struct canvas *canvas_new(enum canvas_format format, const struct page *page);

/* What is drawn between group and end belongs together; title is its name for a reader, or NULL. */
void canvas_group(struct canvas *canvas, const char *attributes, const char *title);
void canvas_end(struct canvas *canvas);
void canvas_path(struct canvas *canvas, const struct path *path, const struct pen *pen,
		 const char *attributes);
void canvas_circle(struct canvas *canvas, struct spot centre, double radius_mm,
		   const struct pen *pen, const char *attributes);

/* The spot is on the base line of the letters. */
void canvas_text(struct canvas *canvas, struct spot spot, const struct lettering *lettering,
		 const char *text, const char *attributes);

/* The finished file, added to bytes. False with *why (static storage) if it could not be made. The
 * canvas is gone in either case. */
bool canvas_finish(struct canvas *canvas, struct text *bytes, const char **why);

void path_begin(struct path *path, struct spot spot);
void path_to(struct path *path, struct spot spot);
void path_clear(struct path *path);
void path_free(struct path *path);

/* Two corners; a box round a centre, turned so that its height points along a direction. */
void path_line(struct path *path, struct spot from, struct spot to);
void path_box(struct path *path, struct spot centre, double half_width_mm, double half_height_mm,
	      struct spot direction);

#endif
