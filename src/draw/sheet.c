#include "draw/internal.h"

static const double margin_mm = 9;

void sheet_title(struct text *out, const struct stringing *stringing)
{
	text_add(out, stringing->sequence->pattern->title);
	if (stringing->call)
		text_format(out, ", call %d of %d", stringing->call,
			    stringing->sequence->call_count);
}

/* Of the whole job: what it is, and how it goes. */
static void head_whole(struct column *column, const struct stringing *stringing)
{
	const struct pattern *pattern = stringing->sequence->pattern;
	struct text line = {0};

	column_title(column, pattern->title, 6);
	text_format(&line, "%s: %s, %d mains, %d crosses, ", pattern->name,
		    sport_name(pattern->sport), pattern->mains, pattern->crosses);
	if (pattern->bridge)
		text_format(&line, "%d bridge holes", pattern->bridge);
	else
		text_add(&line, "no bridge");
	column_text(column, text_string(&line), 3.2, GREY, false);
	text_clear(&line);
	facts_order(&line, stringing->sequence);
	column_text(column, text_string(&line), 3.2, INK, false);
	text_free(&line);
}

static void head_call(struct column *column, const struct stringing *stringing, const char *words)
{
	struct text line = {0};

	text_format(&line, "Call %d of %d", stringing->call, stringing->sequence->call_count);
	column_title(column, text_string(&line), 6);
	if (words)
		column_text(column, words, 4, ACCENT, true);
	column_text(column, stringing->sequence->pattern->title, 3.2, GREY, false);
	text_free(&line);
}

void sheet_draw(struct canvas *canvas, const struct stringing *stringing,
		const struct draw_options *options)
{
	const int columns = 3;
	const double size_mm = 2.9;
	double width = SHEET_WIDTH_MM - 2 * margin_mm, bottom = SHEET_HEIGHT_MM - margin_mm;
	struct column head = column_at(canvas, margin_mm, margin_mm, width, 3.2);
	struct figure figure;

	if (stringing->call)
		head_call(&head, stringing, options->call_words);
	else
		head_whole(&head, stringing);
	struct spot legend = {margin_mm, bottom};
	legend.y_mm -= legend_draw(NULL, stringing, legend, width, columns, size_mm);
	struct box bed = {margin_mm, head.y_mm + 3, width, legend.y_mm - head.y_mm - 8};
	figure_fit(stringing, options, &bed, 3.6, &figure);
	figure_draw(canvas, &figure);
	legend_draw(canvas, stringing, legend, width, columns, size_mm);
	scale_draw(canvas, &figure, (struct spot){margin_mm + width, figure.bottom_mm}, size_mm);
}
