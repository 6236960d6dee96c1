/* PDF and PNG, painted by Cairo. */
#include "draw/internal.h"

#include <cairo-pdf.h>
#include <cairo.h>
#include <math.h>
#include <stdlib.h>

/* fontconfig knows the name everywhere and gives what comes nearest on this machine. */
#define FONT "Helvetica"

static const double points_per_mm = 72 / 25.4;

/* 200 dots to the inch: an A4 page comes to 1654 x 2339, sharp on a phone and in print. */
static const double dots_per_mm = 200 / 25.4;

struct paper {
	enum canvas_format format;
	cairo_surface_t *surface;
	cairo_t *cairo;
	struct text bytes; /* what Cairo has written so far */
};

static cairo_status_t write_bytes(void *closure, const unsigned char *data, unsigned length)
{
	text_add_part(closure, (const char *)data, length);
	return CAIRO_STATUS_SUCCESS;
}

static void set_colour(cairo_t *cairo, int colour)
{
	cairo_set_source_rgb(cairo, (colour >> 16 & 0xFF) / 255.0, (colour >> 8 & 0xFF) / 255.0,
			     (colour & 0xFF) / 255.0);
}

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
	cairo_new_path(cairo);
}

void paper_path(struct paper *paper, const struct path *path, const struct pen *pen)
{
	cairo_t *cairo = paper->cairo;

	for (int i = 0; i < path->count; i++) {
		const struct corner *corner = &path->corners[i];
		if (corner->begins && i > 0 && path->closed)
			cairo_close_path(cairo);
		if (corner->begins)
			cairo_move_to(cairo, corner->spot.x_mm, corner->spot.y_mm);
		else
			cairo_line_to(cairo, corner->spot.x_mm, corner->spot.y_mm);
	}
	if (path->closed)
		cairo_close_path(cairo);
	cairo_set_line_join(cairo, path->closed ? CAIRO_LINE_JOIN_MITER : CAIRO_LINE_JOIN_ROUND);
	paint(cairo, pen);
}

void paper_circle(struct paper *paper, struct spot centre, double radius_mm, const struct pen *pen)
{
	cairo_arc(paper->cairo, centre.x_mm, centre.y_mm, radius_mm, 0, 2 * acos(-1));
	paint(paper->cairo, pen);
}

void paper_text(struct paper *paper, struct spot spot, const struct lettering *lettering,
		const char *text)
{
	static const double before[] = {0, 0.5, 1}; /* the share of the text left of the spot */
	cairo_t *cairo = paper->cairo;
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

struct paper *paper_new(enum canvas_format format, const struct page *page)
{
	struct paper *paper = memory_new(1, sizeof(*paper));
	double scale = format == CANVAS_PDF ? points_per_mm : dots_per_mm;
	double width = page->width_mm * scale, height = page->height_mm * scale;
	cairo_font_options_t *options = cairo_font_options_create();

	paper->format = format;
	if (format == CANVAS_PDF) {
		paper->surface = cairo_pdf_surface_create_for_stream(write_bytes, &paper->bytes,
								     width, height);
		cairo_pdf_surface_set_metadata(paper->surface, CAIRO_PDF_METADATA_TITLE,
					       page->title);
		cairo_pdf_surface_set_metadata(paper->surface, CAIRO_PDF_METADATA_SUBJECT,
					       page->description);
	} else {
		paper->surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)lround(width),
							    (int)lround(height));
	}
	paper->cairo = cairo_create(paper->surface);
	cairo_scale(paper->cairo, scale, scale);
	if (format == CANVAS_PNG) {
		set_colour(paper->cairo, PAPER);
		cairo_paint(paper->cairo);
	}
	cairo_set_fill_rule(paper->cairo, CAIRO_FILL_RULE_EVEN_ODD);
	cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
	cairo_set_font_options(paper->cairo, options);
	cairo_font_options_destroy(options);
	return paper;
}

bool paper_finish(struct paper *paper, struct text *bytes, const char **why)
{
	cairo_show_page(paper->cairo);
	cairo_status_t status = cairo_status(paper->cairo);
	cairo_destroy(paper->cairo);
	if (status == CAIRO_STATUS_SUCCESS && paper->format == CANVAS_PNG)
		status = cairo_surface_write_to_png_stream(paper->surface, write_bytes,
							   &paper->bytes);
	cairo_surface_finish(paper->surface);
	if (status == CAIRO_STATUS_SUCCESS)
		status = cairo_surface_status(paper->surface);
	cairo_surface_destroy(paper->surface);
	if (status == CAIRO_STATUS_SUCCESS)
		text_add_part(bytes, text_string(&paper->bytes), paper->bytes.length);
	else
		*why = cairo_status_to_string(status);
	text_free(&paper->bytes);
	free(paper);
	return status == CAIRO_STATUS_SUCCESS;
}
