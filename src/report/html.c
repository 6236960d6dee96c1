/* HTML elements and tables. */
#include "report/internal.h"

#include <assert.h>
#include <math.h>

void html_open(struct text *out, const char *title)
{
	text_add(out, head_html);
	text_add(out, "<meta name=\"generator\" content=\"pullcall " PULLCALL_VERSION "\"/>\n");
	html_element(out, "title", title);
	text_format(out, "<style>\n%s</style>\n</head>\n<body>\n<main>\n", page_css);
}

void html_close(struct text *out, int64_t made_us)
{
	char date[DATE_TEXT_MAX];

	text_format(out,
		    "</main>\n<footer><p>Made by pullcall " PULLCALL_VERSION
		    " from its journal, %s, local time. Times are of work; pauses, and the time "
		    "the program was closed, are not in them.</p></footer>\n</body>\n</html>\n",
		    date_text(made_us, date));
}

void html_element(struct text *out, const char *tag, const char *text)
{
	text_format(out, "<%s>", tag);
	xml_add(out, text);
	text_format(out, "</%s>\n", tag);
}

void html_name(struct text *out, const char *tag, const char *name)
{
	text_format(out, "<%s><bdi>", tag);
	xml_add(out, name);
	text_format(out, "</bdi></%s>\n", tag);
}

static void add_cell(struct text *out, const struct table *table, size_t i, double most)
{
	const struct table_column *column = &table->columns[i % table->column_count];
	const struct table_cell *cell = &table->cells[i];
	bool spoken = column->kind == COLUMN_SPOKEN && table->language;
	const char *language = spoken ? table->language : "";
	const char *tag = i % table->column_count ? "td" : "th scope=\"row\"";
	bool isolated = column->kind == COLUMN_NAME || column->kind == COLUMN_SPOKEN;

	text_format(out, "<%s%s>", tag, column_is_right(column) ? " class=\"n\"" : "");
	if (isolated) {
		text_add(out, "<bdi lang=\"");
		xml_add(out, language);
		text_add(out, "\">");
	}
	xml_add(out, cell->text);
	if (isolated)
		text_add(out, "</bdi>");
	if (cell->remark)
		html_element(out, "small", cell->remark);
	if (most > 0)
		text_format(out, "<span class=\"bar\" style=\"width:%ld%%\"></span>",
			    lround(100 * cell->value / most));
	text_format(out, "</%.2s>", tag);
}

/* The largest value in a column of bars, the sum left out; else 0. */
static double largest(const struct table *table, size_t column)
{
	double most = 0;

	for (size_t i = column; table->columns[column].kind == COLUMN_BAR && i < table->cell_count;
	     i += table->column_count)
		if (i / table->column_count + 1 != table->total)
			most = fmax(most, table->cells[i].value);
	return most;
}

static void add_rows(struct text *out, const struct table *table)
{
	assert(table->column_count > 0);
	for (size_t i = 0; i < table->cell_count; i++) {
		size_t column = i % table->column_count, row = i / table->column_count + 1;
		bool total = row == table->total;
		if (column == 0)
			text_add(out, total ? "<tr class=\"total\">" : "<tr>");
		add_cell(out, table, i, total ? 0 : largest(table, column));
		if (column + 1 == table->column_count)
			text_add(out, "</tr>\n");
	}
}

void html_table(struct text *out, struct table *table)
{
	if (table->cell_count) {
		text_add(out, "<table>\n");
		html_element(out, "caption", table->caption);
		text_add(out, "<thead><tr>");
		for (size_t i = 0; i < table->column_count; i++) {
			text_format(out, "<th scope=\"col\"%s>",
				    column_is_right(&table->columns[i]) ? " class=\"n\"" : "");
			xml_add(out, table->columns[i].heading);
			text_add(out, "</th>");
		}
		text_add(out, "</tr></thead>\n<tbody>\n");
		add_rows(out, table);
		text_add(out, "</tbody>\n</table>\n");
	}
	table_free(table);
}

void html_facts(struct text *out, struct table *facts)
{
	text_add(out, "<dl>\n");
	for (size_t i = 0; i + 1 < facts->cell_count; i += 2) {
		text_add(out, "<div>");
		html_element(out, "dt", facts->cells[i].text);
		html_element(out, "dd", facts->cells[i + 1].text);
		text_add(out, "</div>\n");
	}
	text_add(out, "</dl>\n");
	table_free(facts);
}

void html_fold_table(struct text *out, const char *summary, struct table *table)
{
	text_add(out, "<details>\n");
	html_element(out, "summary", summary);
	html_table(out, table);
	text_add(out, "</details>\n");
}
