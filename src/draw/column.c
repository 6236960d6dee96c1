#include "draw/internal.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double line_share = 1.38; /* from line to line, as a share of the size */
static const double name_share = 0.4;  /* of the width, for the names of facts */

static void set_line(struct column *column, double x_mm, const char *text, size_t length,
		     struct lettering lettering)
{
	struct text line = {0};
	struct spot spot = {x_mm, column->y_mm + CAPITAL_SHARE * lettering.size_mm};

	text_add_part(&line, text, length);
	canvas_text(column->canvas, spot, lettering, text_string(&line), NULL);
	text_free(&line);
}

static void set_lines(struct column *column, double x_mm, double width_mm, const char *text,
		      struct lettering lettering)
{
	while (*text) {
		size_t length = lettering_line(text, lettering.size_mm, lettering.bold, width_mm);
		set_line(column, x_mm, text, length, lettering);
		column->y_mm += line_share * lettering.size_mm;
		text += length;
		text += strspn(text, " ");
	}
}

void column_text(struct column *column, const char *text, double size_mm, int colour, bool bold)
{
	set_lines(column, column->x_mm, column->width_mm, text,
		  (struct lettering){size_mm, colour, ANCHOR_START, bold});
}

void column_title(struct column *column, const char *text, double size_mm)
{
	struct lettering lettering = {size_mm, INK, ANCHOR_START, .bold = true};
	struct text line = {0};

	lettering_cut(&line, text, size_mm, true, column->width_mm);
	set_line(column, column->x_mm, text_string(&line), line.length, lettering);
	column->y_mm += line_share * size_mm;
	text_free(&line);
}

void column_heading(struct column *column, const char *text)
{
	struct spot left = {column->x_mm, column->y_mm + 0.8 * column->size_mm};

	canvas_line(column->canvas, left, spot_beside(left, column->width_mm, 0),
		    pen_line(INK, THIN_MM), NULL);
	column->y_mm = left.y_mm + 0.6 * column->size_mm;
	column_text(column, text, column->size_mm, INK, true);
}

void column_fact(struct column *column, const char *name, const char *format, ...)
{
	struct lettering quiet = {column->size_mm, GREY, ANCHOR_START, false};
	struct lettering plain = {column->size_mm, INK, ANCHOR_START, false};
	double name_mm = lettering_width_mm(name, column->size_mm, false);
	double left = fmax(name_share * column->width_mm, name_mm + 0.5 * column->size_mm);
	va_list arguments;
	char *value;

	va_start(arguments, format);
	if (vasprintf(&value, format, arguments) < 0)
		memory_fail();
	va_end(arguments);
	set_line(column, column->x_mm, name, strlen(name), quiet);
	set_lines(column, column->x_mm + left, column->width_mm - left, value, plain);
	free(value);
}
