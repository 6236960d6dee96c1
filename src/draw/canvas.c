/* What is drawn becomes SVG, in which text stays text, so that it can be read, searched, spoken and
 * restyled; or it is painted on paper (paper.c). */
#include "draw/internal.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

/* What is on nearly every machine, in the order of looks; the layout leaves room for the widest. */
#define FONTS "Helvetica Neue, Helvetica, Arial, Liberation Sans, DejaVu Sans, sans-serif"

struct canvas {
	struct paper *paper; /* NULL: SVG */
	struct text out;     /* SVG so far */
	struct path path;
	bool drawn;       /* the path was; the next piece starts another */
	char *attributes; /* canvas_attributes made last */
};

/* ---- numbers and attributes ---- */

/* To the hundredth, written without printf: a decimal point whatever the locale, and most of a
 * picture is numbers. */
static void add_mm(struct text *out, double mm)
{
	char digits[24];
	char *at = digits + sizeof(digits);
	long hundredths = lround(mm * 100);
	unsigned long rest = (unsigned long)labs(hundredths);

	if (rest % 100) {
		if (rest % 10)
			*--at = (char)('0' + rest % 10);
		*--at = (char)('0' + rest / 10 % 10);
		*--at = '.';
	}
	rest /= 100;
	do
		*--at = (char)('0' + rest % 10);
	while (rest /= 10);
	if (hundredths < 0)
		*--at = '-';
	text_add_part(out, at, (size_t)(digits + sizeof(digits) - at));
}

/* The name comes with its space, equals sign and quote. */
static void add_mm_attribute(struct text *out, const char *name, double mm)
{
	text_add(out, name);
	add_mm(out, mm);
	text_add_char(out, '"');
}

static void add_colour(struct text *out, const char *name, int colour)
{
	text_add(out, name);
	if (colour == COLOUR_NONE)
		text_add(out, "none\"");
	else
		text_format(out, "#%06x\"", (unsigned)colour);
}

static void add_pen(struct text *out, const struct pen *pen)
{
	add_colour(out, " fill=\"", pen->fill);
	if (pen->stroke == COLOUR_NONE)
		return;
	add_colour(out, " stroke=\"", pen->stroke);
	add_mm_attribute(out, " stroke-width=\"", pen->width_mm);
	if (pen->dash_mm > 0)
		add_mm_attribute(out, " stroke-dasharray=\"", pen->dash_mm);
	if (pen->round)
		text_add(out, " stroke-linecap=\"round\"");
}

static void add_tag(struct text *out, const char *name, const char *attributes)
{
	text_add(out, name);
	if (attributes) {
		text_add_char(out, ' ');
		text_add(out, attributes);
	}
}

const char *canvas_attributes(struct canvas *canvas, const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	free(canvas->attributes);
	if (vasprintf(&canvas->attributes, format, arguments) < 0)
		memory_fail();
	va_end(arguments);
	return canvas->attributes;
}

/* ---- the file ---- */

static void open_svg(struct text *out, const struct page *page)
{
	const char *prefix = page->inside ? page->inside : "";

	if (!page->inside)
		text_add(out, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
	text_add(out, "<svg");
	if (!page->inside) {
		text_add(out, " xmlns=\"http://www.w3.org/2000/svg\" width=\"");
		add_mm(out, page->width_mm);
		text_add(out, "mm\" height=\"");
		add_mm(out, page->height_mm);
		text_add(out, "mm\"");
	}
	text_add(out, " viewBox=\"0 0 ");
	add_mm(out, page->width_mm);
	text_add_char(out, ' ');
	add_mm(out, page->height_mm);
	text_format(out,
		    "\" role=\"img\" aria-labelledby=\"%stitle %sdescription\">\n"
		    "<title id=\"%stitle\">",
		    prefix, prefix, prefix);
	xml_add(out, page->title);
	text_format(out, "</title>\n<desc id=\"%sdescription\">", prefix);
	xml_add(out, page->description);
	text_add(out, "</desc>\n");
	text_add(out, page->inside ? "<g>\n"
				   : "<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n"
				     "<g font-family=\"" FONTS "\">\n");
}

struct canvas *canvas_new(enum canvas_format format, const struct page *page)
{
	struct canvas *canvas = memory_new(1, sizeof(*canvas));

	if (format == CANVAS_SVG)
		open_svg(&canvas->out, page);
	else
		canvas->paper = paper_new(format, page);
	return canvas;
}

bool canvas_finish(struct canvas *canvas, struct text *bytes, const char **why)
{
	bool good = true;

	if (canvas->paper) {
		good = paper_finish(canvas->paper, bytes, why);
	} else {
		text_add(&canvas->out, "</g>\n</svg>\n");
		text_add_part(bytes, text_string(&canvas->out), canvas->out.length);
	}
	text_free(&canvas->out);
	free(canvas->path.corners);
	free(canvas->attributes);
	free(canvas);
	return good;
}

/* ---- marks ---- */

void canvas_group(struct canvas *canvas, const char *attributes, const char *title)
{
	add_tag(&canvas->out, "<g", attributes);
	text_add_char(&canvas->out, '>');
	if (title) {
		text_add(&canvas->out, "<title>");
		xml_add(&canvas->out, title);
		text_add(&canvas->out, "</title>");
	}
	text_add_char(&canvas->out, '\n');
}

void canvas_end(struct canvas *canvas)
{
	text_add(&canvas->out, "</g>\n");
}

static void add_corner(struct canvas *canvas, struct spot spot, bool begins)
{
	struct path *path = &canvas->path;

	if (canvas->drawn) {
		canvas->drawn = path->closed = false;
		path->count = 0;
	}
	if (path->count == path->capacity) {
		path->capacity = path->capacity ? 2 * path->capacity : 64;
		path->corners = memory_resize(path->corners, (size_t)path->capacity,
					      sizeof(path->corners[0]));
	}
	path->corners[path->count] = (struct corner){spot, begins || path->count == 0};
	path->count++;
}

void canvas_begin(struct canvas *canvas, struct spot spot)
{
	add_corner(canvas, spot, true);
}

void canvas_to(struct canvas *canvas, struct spot spot)
{
	add_corner(canvas, spot, false);
}

void canvas_close(struct canvas *canvas)
{
	canvas->path.closed = true;
}

void canvas_box(struct canvas *canvas, struct spot centre, double half_width_mm,
		double half_height_mm)
{
	canvas_begin(canvas, spot_beside(centre, -half_width_mm, -half_height_mm));
	canvas_to(canvas, spot_beside(centre, half_width_mm, -half_height_mm));
	canvas_to(canvas, spot_beside(centre, half_width_mm, half_height_mm));
	canvas_to(canvas, spot_beside(centre, -half_width_mm, half_height_mm));
	canvas_close(canvas);
}

void canvas_draw(struct canvas *canvas, struct pen pen, const char *attributes)
{
	const struct path *path = &canvas->path;
	struct text *out = &canvas->out;

	canvas->drawn = true;
	if (canvas->paper) {
		paper_path(canvas->paper, path, &pen);
		return;
	}
	add_tag(out, "<path", attributes);
	add_pen(out, &pen);
	if (pen.fill != COLOUR_NONE)
		text_add(out, " fill-rule=\"evenodd\"");
	if (!path->closed)
		text_add(out, " stroke-linejoin=\"round\"");
	text_add(out, " d=\"");
	for (int i = 0; i < path->count; i++) {
		const struct corner *corner = &path->corners[i];
		if (corner->begins && i > 0 && path->closed)
			text_add_char(out, 'Z');
		text_add_char(out, corner->begins ? 'M' : 'L');
		add_mm(out, corner->spot.x_mm);
		text_add_char(out, ' ');
		add_mm(out, corner->spot.y_mm);
	}
	text_add(out, path->closed ? "Z\"/>\n" : "\"/>\n");
}

void canvas_line(struct canvas *canvas, struct spot from, struct spot to, struct pen pen,
		 const char *attributes)
{
	canvas_begin(canvas, from);
	canvas_to(canvas, to);
	canvas_draw(canvas, pen, attributes);
}

void canvas_circle(struct canvas *canvas, struct spot centre, double radius_mm, struct pen pen,
		   const char *attributes)
{
	struct text *out = &canvas->out;

	if (canvas->paper) {
		paper_circle(canvas->paper, centre, radius_mm, &pen);
		return;
	}
	add_tag(out, "<circle", attributes);
	add_mm_attribute(out, " cx=\"", centre.x_mm);
	add_mm_attribute(out, " cy=\"", centre.y_mm);
	add_mm_attribute(out, " r=\"", radius_mm);
	add_pen(out, &pen);
	text_add(out, "/>\n");
}

void canvas_text(struct canvas *canvas, struct spot spot, struct lettering lettering,
		 const char *text, const char *attributes)
{
	static const char *const anchors[] = {"", " text-anchor=\"middle\"",
					      " text-anchor=\"end\""};
	struct text *out = &canvas->out;

	if (canvas->paper) {
		paper_text(canvas->paper, spot, &lettering, text);
		return;
	}
	add_tag(out, "<text", attributes);
	add_mm_attribute(out, " x=\"", spot.x_mm);
	add_mm_attribute(out, " y=\"", spot.y_mm);
	add_mm_attribute(out, " font-size=\"", lettering.size_mm);
	add_colour(out, " fill=\"", lettering.colour);
	if (lettering.bold)
		text_add(out, " font-weight=\"bold\"");
	text_format(out, "%s>", anchors[lettering.anchor]);
	xml_add(out, text);
	text_add(out, "</text>\n");
}

void canvas_label(struct canvas *canvas, struct spot centre, struct lettering lettering,
		  const char *text, const char *attributes)
{
	centre.y_mm += CAPITAL_SHARE * lettering.size_mm / 2;
	canvas_text(canvas, centre, lettering, text, attributes);
}
