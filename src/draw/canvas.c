/* What is drawn becomes SVG, in which text stays text, so that it can be read, searched, spoken and
 * restyled; or Cairo paints it as PDF or PNG. */
#include "draw/internal.h"

#include <cairo-pdf.h>
#include <cairo.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

/* What is on nearly every machine, in the order of looks; the layout leaves room for the widest. */
#define FONTS "Helvetica Neue, Helvetica, Arial, Liberation Sans, DejaVu Sans, sans-serif"

/* fontconfig knows the name everywhere and gives what comes nearest on this machine. */
#define FONT "Helvetica"

static const double points_per_mm = 72 / 25.4;

/* 200 dots to the inch: an A4 page comes to 1654 x 2339, sharp on a phone and in print. */
static const double dots_per_mm = 200 / 25.4;

struct canvas {
	cairo_t *cairo;   /* NULL: SVG */
	struct text out;  /* the file so far */
	struct text path; /* SVG: the data of the path */
	bool png;
	bool closed;      /* the path is */
	bool drawn;       /* the path was; the next corner starts another */
	char *attributes; /* canvas_attributes made last */
};

/* ---- Attributes ---- */

/* To the hundredth. Without printf, because most of a picture is numbers. */
static void add_mm(struct text *out, double mm)
{
	char digits[24];
	char *at = digits + sizeof(digits);
	long hundredths = lround(mm * 100);
	unsigned long rest = (unsigned long)labs(hundredths);

	if (rest % 10)
		*--at = (char)('0' + rest % 10);
	if (rest % 100) {
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

static void add_length(struct text *out, const char *name, double mm)
{
	text_format(out, " %s=\"", name);
	add_mm(out, mm);
	text_add_char(out, '"');
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
	add_length(out, "stroke-width", pen->width_mm);
	if (pen->dash_mm > 0)
		add_length(out, "stroke-dasharray", pen->dash_mm);
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
	if (vasprintf(&canvas->attributes, format, arguments) < 0)
		memory_fail();
	va_end(arguments);
	return canvas->attributes;
}

/* ---- The file ---- */

static void open_svg(struct text *out, const struct page *page)
{
	const char *prefix = page->inside ? page->inside : "";

	if (!page->inside)
		text_add(out, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
	text_add(out, "<svg");
	if (!page->inside)
		text_format(out,
			    " xmlns=\"http://www.w3.org/2000/svg\" width=\"%gmm\" height=\"%gmm\"",
			    page->width_mm, page->height_mm);
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

static cairo_status_t write_bytes(void *out, const unsigned char *data, unsigned length)
{
	text_add_part(out, (const char *)data, length);
	return CAIRO_STATUS_SUCCESS;
}

static void set_colour(cairo_t *cairo, int colour)
{
	cairo_set_source_rgb(cairo, (colour >> 16 & 0xFF) / 255.0, (colour >> 8 & 0xFF) / 255.0,
			     (colour & 0xFF) / 255.0);
}

static void open_cairo(struct canvas *canvas, const struct page *page)
{
	double scale = canvas->png ? dots_per_mm : points_per_mm;
	double width = page->width_mm * scale, height = page->height_mm * scale;
	cairo_font_options_t *options = cairo_font_options_create();
	cairo_surface_t *surface;

	if (canvas->png) {
		surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)lround(width),
						     (int)lround(height));
	} else {
		surface = cairo_pdf_surface_create_for_stream(write_bytes, &canvas->out, width,
							      height);
		cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, page->title);
		cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_SUBJECT,
					       page->description);
	}
	canvas->cairo = cairo_create(surface);
	cairo_surface_destroy(surface); /* the context keeps it */
	cairo_scale(canvas->cairo, scale, scale);
	if (canvas->png) {
		set_colour(canvas->cairo, PAPER);
		cairo_paint(canvas->cairo);
	}
	cairo_set_fill_rule(canvas->cairo, CAIRO_FILL_RULE_EVEN_ODD);
	cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
	cairo_set_font_options(canvas->cairo, options);
	cairo_font_options_destroy(options);
}

struct canvas *canvas_new(enum canvas_format format, const struct page *page)
{
	struct canvas *canvas = memory_new(1, sizeof(*canvas));

	canvas->png = format == CANVAS_PNG;
	if (format == CANVAS_SVG)
		open_svg(&canvas->out, page);
	else
		open_cairo(canvas, page);
	return canvas;
}

static cairo_status_t finish_cairo(struct canvas *canvas)
{
	cairo_surface_t *surface = cairo_surface_reference(cairo_get_target(canvas->cairo));

	cairo_show_page(canvas->cairo);
	cairo_status_t status = cairo_status(canvas->cairo);
	cairo_destroy(canvas->cairo);
	if (status == CAIRO_STATUS_SUCCESS && canvas->png)
		status = cairo_surface_write_to_png_stream(surface, write_bytes, &canvas->out);
	cairo_surface_finish(surface);
	if (status == CAIRO_STATUS_SUCCESS)
		status = cairo_surface_status(surface);
	cairo_surface_destroy(surface);
	return status;
}

bool canvas_finish(struct canvas *canvas, struct text *bytes, const char **why)
{
	cairo_status_t status = CAIRO_STATUS_SUCCESS;

	if (canvas->cairo)
		status = finish_cairo(canvas);
	else
		text_add(&canvas->out, "</g>\n</svg>\n");
	if (status == CAIRO_STATUS_SUCCESS)
		text_add_part(bytes, text_string(&canvas->out), canvas->out.length);
	else
		*why = cairo_status_to_string(status);
	text_free(&canvas->out);
	text_free(&canvas->path);
	free(canvas->attributes);
	free(canvas);
	return status == CAIRO_STATUS_SUCCESS;
}

/* ---- Drawing ---- */

void canvas_group(struct canvas *canvas, const char *attributes, const char *title)
{
	if (canvas->cairo)
		return;
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
	if (!canvas->cairo)
		text_add(&canvas->out, "</g>\n");
}

static void start_path(struct canvas *canvas)
{
	if (!canvas->drawn)
		return;
	if (canvas->cairo)
		cairo_new_path(canvas->cairo);
	text_clear(&canvas->path);
	canvas->drawn = canvas->closed = false;
}

static void add_to_data(struct text *path, char letter, struct spot spot)
{
	text_add_char(path, path->length ? letter : 'M');
	add_mm(path, spot.x_mm);
	text_add_char(path, ' ');
	add_mm(path, spot.y_mm);
}

static void add_corner(struct canvas *canvas, char letter, struct spot spot)
{
	start_path(canvas);
	if (!canvas->cairo)
		add_to_data(&canvas->path, letter, spot);
	else if (letter == 'M')
		cairo_move_to(canvas->cairo, spot.x_mm, spot.y_mm);
	else
		cairo_line_to(canvas->cairo, spot.x_mm, spot.y_mm);
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
	if (canvas->cairo)
		cairo_close_path(canvas->cairo);
	else
		text_add_char(&canvas->path, 'Z');
	canvas->closed = true;
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

/* Keeps the path. */
static void paint(cairo_t *cairo, const struct pen *pen)
{
	if (pen->fill != COLOUR_NONE) {
		set_colour(cairo, pen->fill);
		cairo_fill_preserve(cairo);
	}
	if (pen->stroke != COLOUR_NONE) {
		set_colour(cairo, pen->stroke);
		cairo_set_line_width(cairo, pen->width_mm);
		cairo_set_line_cap(cairo, pen->round ? CAIRO_LINE_CAP_ROUND : CAIRO_LINE_CAP_BUTT);
		cairo_set_dash(cairo, &pen->dash_mm, pen->dash_mm > 0 ? 1 : 0, 0);
		cairo_stroke_preserve(cairo);
	}
}

void canvas_draw(struct canvas *canvas, struct pen pen, const char *attributes)
{
	struct text *out = &canvas->out;

	canvas->drawn = true;
	if (canvas->cairo) {
		cairo_set_line_join(canvas->cairo,
				    canvas->closed ? CAIRO_LINE_JOIN_MITER : CAIRO_LINE_JOIN_ROUND);
		paint(canvas->cairo, &pen);
		return;
	}
	add_tag(out, "path", attributes);
	add_pen(out, &pen);
	if (pen.fill != COLOUR_NONE)
		text_add(out, " fill-rule=\"evenodd\"");
	if (!canvas->closed)
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
	struct text *out = &canvas->out;

	if (canvas->cairo) {
		cairo_new_path(canvas->cairo);
		cairo_arc(canvas->cairo, centre.x_mm, centre.y_mm, radius_mm, 0, 2 * acos(-1));
		paint(canvas->cairo, &pen);
		cairo_new_path(canvas->cairo);
		return;
	}
	add_tag(out, "circle", attributes);
	add_length(out, "cx", centre.x_mm);
	add_length(out, "cy", centre.y_mm);
	add_length(out, "r", radius_mm);
	add_pen(out, &pen);
	text_add(out, "/>\n");
}

static void show_text(cairo_t *cairo, struct spot spot, const struct lettering *lettering,
		      const char *text)
{
	static const double before[] = {0, 0.5, 1}; /* the share of the text left of the spot */
	cairo_text_extents_t extents;

	cairo_select_font_face(cairo, FONT, CAIRO_FONT_SLANT_NORMAL,
			       lettering->bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
	cairo_set_font_size(cairo, lettering->size_mm);
	cairo_text_extents(cairo, text, &extents);
	set_colour(cairo, lettering->colour);
	cairo_move_to(cairo, spot.x_mm - extents.x_advance * before[lettering->anchor], spot.y_mm);
	cairo_show_text(cairo, text);
	cairo_new_path(cairo);
}

void canvas_text(struct canvas *canvas, struct spot spot, struct lettering lettering,
		 const char *text, const char *attributes)
{
	static const char *const anchors[] = {"", " text-anchor=\"middle\"",
					      " text-anchor=\"end\""};
	struct text *out = &canvas->out;

	if (canvas->cairo) {
		show_text(canvas->cairo, spot, &lettering, text);
		return;
	}
	add_tag(out, "text", attributes);
	add_length(out, "x", spot.x_mm);
	add_length(out, "y", spot.y_mm);
	add_length(out, "font-size", lettering.size_mm);
	add_colour(out, "fill", lettering.colour);
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
