/* Lines of text set one below the other, with facts under headings; or the same as lines of
 * sentences. */
#include "draw/internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct column column_at(struct canvas *canvas, const struct phrasebook *book, double x_mm,
			double y_mm, double width_mm, double size_mm)
{
	return (struct column){.book = book,
			       .canvas = canvas,
			       .next = {x_mm, y_mm},
			       .width_mm = width_mm,
			       .size_mm = size_mm,
			       .indent_mm = 0.4 * width_mm};
}

/* Adds as much of the text as goes into a line, at least one word. Returns its length. */
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
		while (length > 0 && !text_may_break(text + length))
			length--;
		length = length > 0 ? length : strcspn(text, " ");
	}
	text_add_part(out, text, length);
	return length;
}

static void set_lines(struct column *column, double indent_mm, const char *text,
		      struct lettering lettering)
{
	struct text line = {0};

	while (*text) {
		struct spot spot =
			spot_beside(column->next, indent_mm, CAPITAL_SHARE * lettering.size_mm);
		text += add_line(&line, text, column->width_mm - indent_mm, column->cut, lettering);
		text += strspn(text, " ");
		if (column->canvas)
			canvas_text(column->canvas, spot, lettering, text_string(&line), NULL);
		column->next.y_mm += COLUMN_LINE_SHARE * lettering.size_mm;
		text_clear(&line);
	}
	text_free(&line);
}

void column_text(struct column *column, const char *text, double size_mm, int colour, bool bold)
{
	if (column->words)
		text_format(column->words, "%s%s", column->words->length ? "\n" : "", text);
	else
		set_lines(column, 0, text, (struct lettering){size_mm, colour, ANCHOR_START, bold});
}

void column_title(struct column *column, const char *text, double size_mm)
{
	bool cut = column->cut;

	column->cut = true;
	column_text(column, text, size_mm, INK, true);
	column->cut = cut;
}

const char *column_word(const struct column *column, const char *key)
{
	return phrasebook_shown(column->book, key);
}

void column_heading(struct column *column, const char *key)
{
	struct spot left = spot_beside(column->next, 0, 0.8 * column->size_mm);

	if (column->canvas)
		canvas_line(column->canvas, left, spot_beside(left, column->width_mm, 0),
			    pen_line(INK, THIN_MM), NULL);
	column->next.y_mm = left.y_mm + 0.6 * column->size_mm;
	column_text(column, column_word(column, key), column->size_mm, INK, true);
	if (column->words)
		text_add_char(column->words, '.');
}

void column_fact_named(struct column *column, const char *name, const char *value)
{
	struct lettering quiet = {column->size_mm, GREY, ANCHOR_START, false};
	struct lettering plain = {column->size_mm, INK, ANCHOR_START, false};
	double name_mm = lettering_width_mm(name, column->size_mm, false) + 0.5 * column->size_mm;

	if (column->words) {
		text_format(column->words, " %s: %s.", name, value);
		return;
	}
	if (column->canvas)
		canvas_text(column->canvas,
			    spot_beside(column->next, 0, CAPITAL_SHARE * column->size_mm), quiet,
			    name, NULL);
	column->names_mm = fmax(column->names_mm, name_mm);
	if (name_mm > column->indent_mm)
		column->next.y_mm += COLUMN_LINE_SHARE * column->size_mm;
	set_lines(column, column->indent_mm, value, plain);
}

void column_fact(struct column *column, const char *key, const char *format, ...)
{
	va_list arguments;

	va_start(arguments, format);
	char *value = memory_format_list(format, arguments);
	va_end(arguments);
	column_fact_named(column, column_word(column, key), value);
	free(value);
}
