#include "draw/internal.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Adds as much of the text as goes into a line; at least one word. Returns how many bytes that is.
 */
static size_t add_line(struct text *out, const char *text, double width_mm, bool cut,
		       struct lettering lettering)
{
	double size_mm = lettering.size_mm;
	size_t length = lettering_fit(text, size_mm, lettering.bold, width_mm);

	if (text[length] && cut) {
		length = lettering_fit(text, size_mm, lettering.bold, width_mm - size_mm);
		text_add_part(out, text, length);
		text_add(out, "…");
		return strlen(text);
	}
	if (text[length]) {
		while (length > 0 && text[length] != ' ')
			length--;
		length = length > 0 ? length : strcspn(text, " ");
	}
	text_add_part(out, text, length);
	return length;
}

static void set_lines(struct column *column, double x_mm, double width_mm, const char *text,
		      struct lettering lettering)
{
	struct text line = {0};

	while (*text) {
		struct spot spot = {x_mm, column->y_mm + CAPITAL_SHARE * lettering.size_mm};
		text += add_line(&line, text, width_mm, column->cut, lettering);
		text += strspn(text, " ");
		canvas_text(column->canvas, spot, lettering, text_string(&line), NULL);
		column->y_mm += LINE_SHARE * lettering.size_mm;
		text_clear(&line);
	}
	text_free(&line);
}

void column_text(struct column *column, const char *text, double size_mm, int colour, bool bold)
{
	set_lines(column, column->x_mm, column->width_mm, text,
		  (struct lettering){size_mm, colour, ANCHOR_START, bold});
}

void column_title(struct column *column, const char *text, double size_mm)
{
	bool cut = column->cut;

	column->cut = true;
	column_text(column, text, size_mm, INK, true);
	column->cut = cut;
}

void column_heading(struct column *column, const char *text)
{
	struct spot left = {column->x_mm, column->y_mm + 0.8 * column->size_mm};

	if (column->words) {
		text_format(column->words, "\n%s.", text);
		return;
	}
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
	double left = fmax((column->cut ? 0.25 : 0.4) * column->width_mm,
			   name_mm + 0.5 * column->size_mm);
	struct spot spot = {column->x_mm, column->y_mm + CAPITAL_SHARE * column->size_mm};
	va_list arguments;
	char *value;

	va_start(arguments, format);
	if (vasprintf(&value, format, arguments) < 0)
		memory_fail();
	va_end(arguments);
	if (column->words) {
		text_format(column->words, " %s: %s.", name, value);
	} else {
		canvas_text(column->canvas, spot, quiet, name, NULL);
		set_lines(column, column->x_mm + left, column->width_mm - left, value, plain);
	}
	free(value);
}
