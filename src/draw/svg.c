/* The SVG writer. Text stays text, so that it can be read, searched, spoken and restyled. */
#include "draw/internal.h"

#include <math.h>
#include <stdlib.h>

/* What is on nearly every machine, in the order of looks; the layout leaves room for the widest. */
#define FONTS "Helvetica Neue, Helvetica, Arial, Liberation Sans, DejaVu Sans, sans-serif"

struct svg {
	struct canvas canvas;
	struct text out;
};

static struct text *out_of(struct canvas *canvas)
{
	return &((struct svg *)canvas)->out;
}

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

static void add_attribute_mm(struct text *out, const char *name, double mm)
{
	text_format(out, " %s=\"", name);
	add_mm(out, mm);
	text_add_char(out, '"');
}

static void add_attributes(struct text *out, const char *attributes)
{
	if (attributes)
		text_format(out, " %s", attributes);
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
	add_attribute_mm(out, "stroke-width", pen->width_mm);
	if (pen->dash_mm > 0)
		add_attribute_mm(out, "stroke-dasharray", pen->dash_mm);
	if (pen->round)
		text_add(out, " stroke-linecap=\"round\"");
}

static void svg_group(struct canvas *canvas, const char *attributes, const char *title)
{
	struct text *out = out_of(canvas);

	text_add(out, "<g");
	add_attributes(out, attributes);
	text_add_char(out, '>');
	if (title) {
		text_add(out, "<title>");
		xml_add(out, title);
		text_add(out, "</title>");
	}
	text_add_char(out, '\n');
}

static void svg_end(struct canvas *canvas)
{
	text_add(out_of(canvas), "</g>\n");
}

static void svg_path(struct canvas *canvas, const struct path *path, const struct pen *pen,
		     const char *attributes)
{
	struct text *out = out_of(canvas);

	text_add(out, "<path");
	add_attributes(out, attributes);
	add_pen(out, pen);
	if (pen->fill != COLOUR_NONE)
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

static void svg_circle(struct canvas *canvas, struct spot centre, double radius_mm,
		       const struct pen *pen, const char *attributes)
{
	struct text *out = out_of(canvas);

	text_add(out, "<circle");
	add_attributes(out, attributes);
	add_attribute_mm(out, "cx", centre.x_mm);
	add_attribute_mm(out, "cy", centre.y_mm);
	add_attribute_mm(out, "r", radius_mm);
	add_pen(out, pen);
	text_add(out, "/>\n");
}

static void svg_text(struct canvas *canvas, struct spot spot, const struct lettering *lettering,
		     const char *text, const char *attributes)
{
	static const char *const anchors[] = {NULL, "middle", "end"};
	struct text *out = out_of(canvas);

	text_add(out, "<text");
	add_attributes(out, attributes);
	add_attribute_mm(out, "x", spot.x_mm);
	add_attribute_mm(out, "y", spot.y_mm);
	add_attribute_mm(out, "font-size", lettering->size_mm);
	add_colour(out, "fill", lettering->colour);
	if (lettering->bold)
		text_add(out, " font-weight=\"bold\"");
	if (anchors[lettering->anchor])
		text_format(out, " text-anchor=\"%s\"", anchors[lettering->anchor]);
	if (lettering->halo != COLOUR_NONE) {
		add_colour(out, "stroke", lettering->halo);
		add_attribute_mm(out, "stroke-width", lettering->size_mm / 4);
		text_add(out, " stroke-linejoin=\"round\" paint-order=\"stroke\"");
	}
	text_add_char(out, '>');
	xml_add(out, text);
	text_add(out, "</text>\n");
}

static bool svg_finish(struct canvas *canvas, struct text *bytes, const char **why)
{
	struct svg *svg = (struct svg *)canvas;

	(void)why;
	text_add(&svg->out, "</g>\n</svg>\n");
	text_add_part(bytes, text_string(&svg->out), svg->out.length);
	text_free(&svg->out);
	free(svg);
	return true;
}

static void add_view_box(struct text *out, const struct page *page)
{
	text_add(out, " viewBox=\"0 0 ");
	add_mm(out, page->width_mm);
	text_add_char(out, ' ');
	add_mm(out, page->height_mm);
	text_add_char(out, '"');
}

static void open_file(struct text *out, const struct page *page)
{
	text_add(out, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
		      "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"");
	add_mm(out, page->width_mm);
	text_add(out, "mm\" height=\"");
	add_mm(out, page->height_mm);
	text_add(out, "mm\"");
	add_view_box(out, page);
}

static void add_names(struct text *out, const struct page *page, const char *prefix)
{
	text_format(
		out,
		" role=\"img\" aria-labelledby=\"%stitle %sdescription\">\n<title id=\"%stitle\">",
		prefix, prefix, prefix);
	xml_add(out, page->title);
	text_format(out, "</title>\n<desc id=\"%sdescription\">", prefix);
	xml_add(out, page->description);
	text_add(out, "</desc>\n");
}

struct canvas *svg_new(const struct page *page)
{
	static const struct backend backend = {svg_group,  svg_end,  svg_path,
					       svg_circle, svg_text, svg_finish};
	struct svg *svg = memory_new(1, sizeof(*svg));
	struct text *out = &svg->out;

	svg->canvas.backend = &backend;
	if (page->inside) {
		text_add(out, "<svg");
		add_view_box(out, page);
		add_names(out, page, page->inside);
		text_add(out, "<g>\n");
		return &svg->canvas;
	}
	open_file(out, page);
	add_names(out, page, "");
	text_add(out, "<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n"
		      "<g font-family=\"" FONTS "\">\n");
	return &svg->canvas;
}
