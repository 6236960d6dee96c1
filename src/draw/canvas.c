#include "draw/internal.h"

#include <stdlib.h>

struct canvas *canvas_new(enum canvas_format format, const struct page *page)
{
	return format == CANVAS_SVG ? svg_new(page) : paper_new(format, page);
}

void canvas_group(struct canvas *canvas, const char *attributes, const char *title)
{
	canvas->backend->group(canvas, attributes, title);
}

void canvas_end(struct canvas *canvas)
{
	canvas->backend->end(canvas);
}

void canvas_path(struct canvas *canvas, const struct path *path, const struct pen *pen,
		 const char *attributes)
{
	canvas->backend->path(canvas, path, pen, attributes);
}

void canvas_circle(struct canvas *canvas, struct spot centre, double radius_mm,
		   const struct pen *pen, const char *attributes)
{
	canvas->backend->circle(canvas, centre, radius_mm, pen, attributes);
}

void canvas_text(struct canvas *canvas, struct spot spot, const struct lettering *lettering,
		 const char *text, const char *attributes)
{
	canvas->backend->text(canvas, spot, lettering, text, attributes);
}

bool canvas_finish(struct canvas *canvas, struct text *bytes, const char **why)
{
	return canvas->backend->finish(canvas, bytes, why);
}

static void add_corner(struct path *path, struct spot spot, bool begins)
{
	if (path->count == path->capacity) {
		path->capacity = path->capacity ? 2 * path->capacity : 64;
		path->corners = memory_resize(path->corners, (size_t)path->capacity,
					      sizeof(path->corners[0]));
	}
	path->corners[path->count++] = (struct corner){spot, begins};
}

void path_begin(struct path *path, struct spot spot)
{
	add_corner(path, spot, true);
}

void path_to(struct path *path, struct spot spot)
{
	add_corner(path, spot, false);
}

void path_clear(struct path *path)
{
	path->count = 0;
	path->closed = false;
}

void path_free(struct path *path)
{
	free(path->corners);
	*path = (struct path){0};
}

void path_line(struct path *path, struct spot from, struct spot to)
{
	path_begin(path, from);
	path_to(path, to);
}

void path_box(struct path *path, struct spot centre, double half_width_mm, double half_height_mm,
	      struct spot direction)
{
	static const int across[] = {-1, 1, 1, -1}, along[] = {-1, -1, 1, 1};

	for (int i = 0; i < 4; i++) {
		double w = across[i] * half_width_mm, h = along[i] * half_height_mm;
		struct spot spot = {
			centre.x_mm + h * direction.x_mm - w * direction.y_mm,
			centre.y_mm + h * direction.y_mm + w * direction.x_mm,
		};
		add_corner(path, spot, i == 0);
	}
	path->closed = true;
}
