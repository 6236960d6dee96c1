#include "report/internal.h"

#include "base/base.h"
#include "review/review.h"

#include <assert.h>
#include <math.h>
#include <stdarg.h>
#include <stdlib.h>

void html_open(struct text *out, const char *title)
{
	/* The policy holds the page to its word: nothing is fetched and nothing runs. */
	text_add(out, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n"
		      "<meta http-equiv=\"Content-Security-Policy\" "
		      "content=\"default-src 'none'; style-src 'unsafe-inline'\"/>\n"
		      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n"
		      "<meta name=\"generator\" content=\"pullcall " PULLCALL_VERSION "\"/>\n");
	html_element(out, "title", title);
	text_add(out, "<style>\n");
	style_add(out);
	text_add(out, "</style>\n</head>\n<body>\n<main>\n");
}

void html_close(struct text *out, int64_t made_us)
{
	char date[WORDS_DATE_MAX];

	text_format(
		out,
		"</main>\n<footer><p>Made by pullcall " PULLCALL_VERSION
		" from its journal, %s, local time. Times are of work, in minutes and "
		"seconds or in hours too; pauses and the time between runs are set apart.</p></footer>\n</body>\n</html>\n",
		words_date(made_us, date));
}

void html_element(struct text *out, const char *tag, const char *text)
{
	text_format(out, "<%s>", tag);
	xml_add(out, text);
	text_format(out, "</%s>\n", tag);
}

__attribute__((format(printf, 2, 0))) static void add_format(struct text *out, const char *format,
							     va_list values)
{
	char *text = NULL;

	if (vasprintf(&text, format, values) < 0)
		abort(); /* no memory: base/base.h */
	xml_add(out, text);
	free(text);
}

void html_format(struct text *out, const char *tag, const char *format, ...)
{
	va_list values;

	text_format(out, "<%s>", tag);
	va_start(values, format);
	add_format(out, format, values);
	va_end(values);
	text_format(out, "</%s>\n", tag);
}

void html_name(struct text *out, const char *name)
{
	text_add(out, "<bdi>");
	xml_add(out, name);
	text_add(out, "</bdi>");
}

void html_fact(struct text *out, const char *word, const char *format, ...)
{
	va_list values;

	text_add(out, "<div>");
	html_element(out, "dt", word);
	text_add(out, "<dd>");
	va_start(values, format);
	add_format(out, format, values);
	va_end(values);
	text_add(out, "</dd></div>\n");
}

void html_table_open(struct html_table *table, struct text *out, const char *caption,
		     const struct html_column *columns, size_t count)
{
	*table = (struct html_table){.out = out, .columns = columns, .count = count};
	text_add(out, "<table>\n");
	html_element(out, "caption", caption);
	text_add(out, "<thead><tr>");
	for (size_t i = 0; i < count; i++) {
		text_format(out, "<th scope=\"col\"%s>", columns[i].number ? " class=\"n\"" : "");
		xml_add(out, columns[i].heading);
		text_add(out, "</th>");
	}
	text_add(out, "</tr></thead>\n<tbody>\n");
}

static void end_row(struct html_table *table)
{
	if (!table->open)
		return;
	assert(table->at == table->count);
	text_add(table->out, "</tr>\n");
	table->open = false;
}

void html_table_close(struct html_table *table)
{
	end_row(table);
	text_add(table->out, "</tbody>\n</table>\n");
}

void html_row(struct html_table *table)
{
	end_row(table);
	text_add(table->out, "<tr>");
	table->open = true;
	table->at = 0;
}

void html_row_total(struct html_table *table)
{
	end_row(table);
	text_add(table->out, "<tr class=\"total\">");
	table->open = true;
	table->at = 0;
}

static void begin_cell(struct html_table *table)
{
	assert(table->at < table->count);
	text_add(table->out, table->at == 0 ? "<th scope=\"row\"" : "<td");
	text_add(table->out, table->columns[table->at].number ? " class=\"n\">" : ">");
}

static void end_cell(struct html_table *table)
{
	text_add(table->out, table->at == 0 ? "</th>" : "</td>");
	table->at++;
}

void html_cell(struct html_table *table, const char *format, ...)
{
	va_list values;

	begin_cell(table);
	va_start(values, format);
	add_format(table->out, format, values);
	va_end(values);
	end_cell(table);
}

void html_cell_words(struct html_table *table, const char *words, const char *language,
		     const char *remark)
{
	begin_cell(table);
	text_add(table->out, "<bdi lang=\"");
	xml_add(table->out, language);
	text_add(table->out, "\">");
	xml_add(table->out, words);
	text_add(table->out, "</bdi>");
	if (remark[0])
		html_element(table->out, "small", remark);
	end_cell(table);
}

void html_cell_time(struct html_table *table, int64_t us, double share)
{
	char time[WORDS_TIME_MAX];

	begin_cell(table);
	text_add(table->out, words_time(us, time));
	if (share >= 0)
		text_format(table->out, "<span class=\"bar\" style=\"width:%ld%%\"></span>",
			    lround(100 * fmin(share, 1)));
	end_cell(table);
}

void html_cell_count(struct html_table *table, int count)
{
	if (count)
		html_cell(table, "%d", count);
	else
		html_cell(table, "\xE2\x80\x93");
}

void html_fold_open(struct text *out, const char *summary)
{
	text_add(out, "<details>\n");
	html_element(out, "summary", summary);
}

void html_fold_close(struct text *out)
{
	text_add(out, "</details>\n");
}
