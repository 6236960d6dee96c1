/* An SVG writer. Text stays text, so that it can be read, searched, spoken and restyled. */
#include "draw/internal.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What is on nearly every machine, in the order of looks; the layout leaves room for the widest. */
#define FONTS "Helvetica Neue, Helvetica, Arial, Liberation Sans, DejaVu Sans, sans-serif"

struct canvas {
	struct text out;  /* the file so far */
	struct text path; /* the data of the path */
	bool drawn;       /* the path was; the next corner starts another */
	char *attributes; /* canvas_attributes made last */
};

/* ---- The width of letters ---- */

/* Of a character, in ems, in four classes. */
static double width_of(uint32_t point, bool bold)
{
	bool is_ascii = point < 0x80;
	double width = 0.63;

	if (is_ascii && strchr(" ,.:;'|!ijlIfrt-()[]/", (int)point))
		width = 0.34;
	else if (is_ascii && strchr("mwMW@%", (int)point))
		width = 0.9;
	else if (!is_ascii || isupper((int)point))
		width = 0.7;
	return bold ? 1.11 * width : width;
}

double lettering_width_mm(const char *text, double size_mm, bool bold)
{
	double width = 0;

	while (*text)
		width += width_of(utf8_next(&text), bold);
	return width * size_mm;
}

size_t lettering_fit(const char *text, double size_mm, bool bold, double width_mm)
{
	const char *end = text, *next = text;

	for (double width = 0; *next; end = next) {
		width += width_of(utf8_next(&next), bold) * size_mm;
		if (width > width_mm)
			break;
	}
	return (size_t)(end - text);
}

/* ---- Attributes ---- */

/* To the hundredth, for %g. */
static double rounded(double mm)
{
	return (double)lround(mm * 100) / 100;
}

static void add_colour(struct text *out, const char *name, int colour)
{
	if (colour == COLOUR_NONE)
		text_format(out, " %s=\"none\"", name);
	else
		text_format(out, " %s=\"#%06x\"", name, (unsigned)colour);
}

static void add_pen(struct text *out, const struct pen *pen)
{
	add_colour(out, "fill", pen->fill);
	if (pen->stroke == COLOUR_NONE)
		return;
	add_colour(out, "stroke", pen->stroke);
	text_format(out, " stroke-width=\"%g\"", rounded(pen->width_mm));
	if (pen->dash_mm > 0)
		text_format(out, " stroke-dasharray=\"%g\"", rounded(pen->dash_mm));
	if (pen->round)
		text_add(out, " stroke-linecap=\"round\"");
}

static void add_tag(struct text *out, const char *name, const char *attributes)
{
	text_format(out, "<%s%s%s", name, attributes ? " " : "", attributes ? attributes : "");
}

const char *canvas_attributes(struct canvas *canvas, const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	free(canvas->attributes);
	canvas->attributes = memory_format_list(format, arguments);
	va_end(arguments);
	return canvas->attributes;
}

/* ---- The file ---- */

struct canvas *canvas_new(double width_mm, double height_mm, const char *title,
			  const char *description, const char *inside)
{
	struct canvas *canvas = memory_new(1, sizeof(*canvas));
	struct text *out = &canvas->out;
	const char *prefix = inside ? inside : "";

	width_mm = rounded(width_mm);
	height_mm = rounded(height_mm);
	if (inside)
		text_add(out, "<svg");
	else
		text_format(out,
			    "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
			    "<svg xmlns=\"http://www.w3.org/2000/svg\" "
			    "xmlns:xlink=\"http://www.w3.org/1999/xlink\" "
			    "width=\"%gmm\" height=\"%gmm\"",
			    width_mm, height_mm);
	text_format(
		out,
		" viewBox=\"0 0 %g %g\" role=\"img\" aria-labelledby=\"%stitle %sdescription\">\n"
		"<title id=\"%stitle\">",
		width_mm, height_mm, prefix, prefix, prefix);
	xml_add(out, title);
	text_format(out, "</title>\n<desc id=\"%sdescription\">", prefix);
	xml_add(out, description);
	text_add(out, "</desc>\n");
	if (!inside)
		text_format(out, "%s<rect width=\"100%%\" height=\"100%%\" fill=\"#ffffff\"/>\n",
			    symbols_svg);
	text_add(out, inside ? "<g>\n" : "<g font-family=\"" FONTS "\">\n");
	return canvas;
}

void canvas_finish(struct canvas *canvas, struct text *bytes)
{
	text_add(bytes, text_string(&canvas->out));
	text_add(bytes, "</g>\n</svg>\n");
	text_free(&canvas->out);
	text_free(&canvas->path);
	free(canvas->attributes);
	free(canvas);
}

/* ---- Drawing ---- */

void canvas_group(struct canvas *canvas, const char *attributes, const char *title)
{
	add_tag(&canvas->out, "g", attributes);
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

static void add_corner(struct canvas *canvas, char letter, struct spot spot)
{
	if (canvas->drawn) {
		text_clear(&canvas->path);
		canvas->drawn = false;
	}
	text_format(&canvas->path, "%c%g %g", canvas->path.length ? letter : 'M',
		    rounded(spot.x_mm), rounded(spot.y_mm));
}

void canvas_begin(struct canvas *canvas, struct spot spot)
{
	add_corner(canvas, 'M', spot);
}

void canvas_to(struct canvas *canvas, struct spot spot)
{
	add_corner(canvas, 'L', spot);
}

void canvas_close(struct canvas *canvas)
{
	text_add_char(&canvas->path, 'Z');
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
	struct text *out = &canvas->out;

	canvas->drawn = true;
	add_tag(out, "path", attributes);
	add_pen(out, &pen);
	if (pen.fill != COLOUR_NONE)
		text_add(out, " fill-rule=\"evenodd\"");
	if (!strchr(text_string(&canvas->path), 'Z'))
		text_add(out, " stroke-linejoin=\"round\"");
	text_format(out, " d=\"%s\"/>\n", text_string(&canvas->path));
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
	add_tag(&canvas->out, "circle", attributes);
	text_format(&canvas->out, " cx=\"%g\" cy=\"%g\" r=\"%g\"", rounded(centre.x_mm),
		    rounded(centre.y_mm), rounded(radius_mm));
	add_pen(&canvas->out, &pen);
	text_add(&canvas->out, "/>\n");
}

void canvas_symbol(struct canvas *canvas, const char *name, struct spot spot, double scale,
		   double degrees, const char *attributes)
{
	add_tag(&canvas->out, "use", attributes);
	text_format(&canvas->out,
		    " xlink:href=\"#%s\" transform=\"translate(%g %g) scale(%g) rotate(%g)\"/>\n",
		    name, rounded(spot.x_mm), rounded(spot.y_mm), rounded(scale), rounded(degrees));
}

void canvas_text(struct canvas *canvas, struct spot spot, struct lettering lettering,
		 const char *text, const char *attributes)
{
	static const char *const anchors[] = {"", " text-anchor=\"middle\"",
					      " text-anchor=\"end\""};
	struct text *out = &canvas->out;

	add_tag(out, "text", attributes);
	text_format(out, " x=\"%g\" y=\"%g\" font-size=\"%g\"", rounded(spot.x_mm),
		    rounded(spot.y_mm), rounded(lettering.size_mm));
	add_colour(out, "fill", lettering.colour);
	if (lettering.halo) {
		add_colour(out, "stroke", PAPER);
		text_format(out, " stroke-width=\"%g\" paint-order=\"stroke\"",
			    rounded(lettering.size_mm / 4));
	}
	text_format(out, "%s%s>", lettering.bold ? " font-weight=\"bold\"" : "",
		    anchors[lettering.anchor]);
	xml_add(out, text);
	text_add(out, "</text>\n");
}

void canvas_label(struct canvas *canvas, struct spot centre, struct lettering lettering,
		  const char *text, const char *attributes)
{
	centre.y_mm += CAPITAL_SHARE * lettering.size_mm / 2;
	canvas_text(canvas, centre, lettering, text, attributes);
}
