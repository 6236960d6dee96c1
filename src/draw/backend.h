/* What a format has to know how to do; only canvas.c and the formats look here. */
#ifndef DRAW_BACKEND_H
#define DRAW_BACKEND_H

#include "draw/canvas.h"

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

#endif
