/* The table that text and pages share, and its form as text; durations and dates. */
#include "review/internal.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>

const char *duration_text(double us, char buffer[static DURATION_TEXT_MAX])
{
	long long seconds = (llabs((int64_t)us) + SECOND_US / 2) / SECOND_US;
	const char *sign = us < 0 && seconds ? "-" : "";

	if (seconds < 3600)
		snprintf(buffer, DURATION_TEXT_MAX, "%s%lld:%02lld", sign, seconds / 60,
			 seconds % 60);
	else
		snprintf(buffer, DURATION_TEXT_MAX, "%s%lld:%02lld:%02lld", sign, seconds / 3600,
			 seconds / 60 % 60, seconds % 60);
	return buffer;
}

const char *date_text(int64_t wall_us, char buffer[static DATE_TEXT_MAX])
{
	time_t seconds = (time_t)(wall_us / SECOND_US);
	struct tm when;

	if (!localtime_r(&seconds, &when) ||
	    !strftime(buffer, DATE_TEXT_MAX, "%Y-%m-%d %H:%M", &when))
		snprintf(buffer, DATE_TEXT_MAX, "?"); /* a year that no calendar has */
	return buffer;
}

const char *day_text(int64_t wall_us, char buffer[static DATE_TEXT_MAX])
{
	date_text(wall_us, buffer);
	buffer[strcspn(buffer, " ")] = '\0';
	return buffer;
}

/* ---- making a table ---- */

void *review_one_more(void *things, size_t *count, size_t size)
{
	assert(things || *count == 0);
	if ((*count & (*count - 1)) == 0)
		things = memory_resize(things, *count ? 2 * *count : 1, size);
	memset((char *)things + *count * size, 0, size);
	++*count;
	return things;
}

void table_begin(struct table *table, const char *caption, const struct table_column *columns)
{
	*table = (struct table){.caption = memory_copy(caption), .columns = columns};
	while (columns[table->column_count].heading)
		table->column_count++;
	assert(table->column_count <= TABLE_COLUMNS_MAX);
}

void table_cell(struct table *table, const char *format, ...)
{
	struct table_cell cell = {.value = NAN};
	va_list values;

	va_start(values, format);
	cell.text = memory_format_list(format, values);
	va_end(values);
	table->cells = review_one_more(table->cells, &table->cell_count, sizeof *table->cells);
	table->cells[table->cell_count - 1] = cell;
}

void table_value(struct table *table, double value)
{
	static const char dash[] = "\xE2\x80\x93";
	char time[DURATION_TEXT_MAX];
	const struct table_column *column =
		&table->columns[table->cell_count % table->column_count];

	if (isnan(value) || (column->kind == COLUMN_COUNT && value == 0))
		table_cell(table, "%s", dash);
	else if (column->kind == COLUMN_TIME || column->kind == COLUMN_BAR)
		table_cell(table, "%s", duration_text(value, time));
	else if (column->kind == COLUMN_SHARE && value > 0 && value < 0.005)
		table_cell(table, "under 1 %%");
	else if (column->kind == COLUMN_SHARE || column->kind == COLUMN_CHANGE)
		table_cell(table, column->kind == COLUMN_SHARE ? "%.0f %%" : "%+.0f %%",
			   100 * value);
	else
		table_cell(table, "%.0f", value);
	table->cells[table->cell_count - 1].value = value;
}

void table_add_row(struct table *table, sqlite3_stmt *row, int first)
{
	for (size_t i = 0; i < table->column_count; i++) {
		int column = first + (int)i;
		const char *text = (const char *)sqlite3_column_text(row, column);
		enum column_kind kind = table->columns[i].kind;
		if (text ? kind >= COLUMN_NUMBER : kind == COLUMN_NUMBER)
			table_value(table, text ? sqlite3_column_double(row, column) : NAN);
		else
			table_cell(table, "%s", text ? text : "");
	}
}

static void add_row(void *context, sqlite3_stmt *row)
{
	table_add_row(context, row, 0);
}

enum journal_status table_rows(struct table *table, struct journal *journal, const char *sql,
			       const struct journal_field *fields)
{
	return journal_each(journal, sql, fields, add_row, table);
}

void table_remark(struct table *table, const char *remark)
{
	table->cells[table->cell_count - 1].remark = memory_copy(remark);
}

void facts_begin(struct table *facts)
{
	static const struct table_column columns[] = {{"", COLUMN_TEXT}, {"", COLUMN_TEXT}, {0}};

	table_begin(facts, NULL, columns);
}

void table_free(struct table *table)
{
	for (size_t i = 0; i < table->cell_count; i++) {
		free(table->cells[i].text);
		free(table->cells[i].remark);
	}
	free(table->cells);
	free(table->caption);
	*table = (struct table){0};
}

/* ---- printing it ---- */

/* How a table is set. */
struct setting {
	int widths[TABLE_COLUMNS_MAX]; /* 0: the column is left out */
	int gap;                       /* between columns */
	int columns;                   /* of the terminal; 0: as wide as needed */
};

static int columns_of(const char *text)
{
	return text_columns(text, strlen(text));
}

/* Control characters become '?'. */
static void add_text(struct text *out, const char *text)
{
	for (; *text; text++)
		text_add_char(out, (unsigned char)*text < 0x20 || *text == 0x7f ? '?' : *text);
}

void words_print(const char *words, FILE *out)
{
	struct text line = {0};

	add_text(&line, words);
	fputs(text_string(&line), out);
	text_free(&line);
}

static const char *cell_text(const struct table *table, size_t row, size_t column)
{
	return table->cells[row * table->column_count + column].text;
}

/* 0 if no row fills the column. */
static int column_width(const struct table *table, size_t column)
{
	int heading = columns_of(table->columns[column].heading), widest = 0;

	for (size_t row = 0; row < table->cell_count / table->column_count; row++) {
		const char *text = cell_text(table, row, column);
		bool none = table->columns[column].kind == COLUMN_NUMBER && *text &&
			    !strpbrk(text, "0123456789");
		int width = none ? 0 : columns_of(text);
		widest = width > widest ? width : widest;
	}
	return widest > 0 && heading > widest ? heading : widest;
}

static void add_padded(struct text *line, const struct table *table, size_t column,
		       const struct setting *setting, const char *text)
{
	bool right = column_is_right(&table->columns[column]);
	int used = columns_of(text), width = setting->widths[column];
	int blanks = used < width ? width - used : 0;

	text_format(line, "%*s", (column > 0 ? setting->gap : 0) + (right ? blanks : 0), "");
	add_text(line, text);
	text_format(line, "%*s", right ? 0 : blanks, "");
}

static void end_line(struct text *line, FILE *out)
{
	while (line->length > 0 && line->bytes[line->length - 1] == ' ')
		line->bytes[--line->length] = '\0';
	fprintf(out, "%s\n", text_string(line));
	text_clear(line);
}

/* Row -1 is the headings. Rows that are wider than the terminal go on in further lines. */
static void print_row(const struct table *table, const struct setting *setting, int row, FILE *out)
{
	const int *widths = setting->widths;
	const int columns = setting->columns, gap = setting->gap;
	struct text line = {0};
	int used = 0;

	for (size_t i = 0; i < table->column_count; i++) {
		if (widths[i] == 0)
			continue;
		if (columns > 0 && used > 0 && used + gap + widths[i] > columns) {
			end_line(&line, out);
			text_format(&line, "%*s", widths[0], "");
			used = widths[0];
		}
		add_padded(&line, table, i, setting,
			   row < 0 ? table->columns[i].heading : cell_text(table, (size_t)row, i));
		used += widths[i] + (i > 0 ? gap : 0);
	}
	end_line(&line, out);
	text_free(&line);
}

void table_print_list(const struct table *table, FILE *out)
{
	struct setting setting = {.gap = 2};
	struct winsize size;
	int width = -setting.gap;

	assert(table->column_count > 0);
	for (size_t i = 0; i < table->column_count; i++) {
		setting.widths[i] = column_width(table, i);
		width += setting.widths[i] ? setting.widths[i] + setting.gap : 0;
	}
	if (ioctl(fileno(out), TIOCGWINSZ, &size) == 0)
		setting.columns = size.ws_col;
	if (setting.columns > 0 && width > setting.columns)
		setting.gap = 1;
	for (int row = -1; row < (int)(table->cell_count / table->column_count); row++)
		print_row(table, &setting, row, out);
}

void facts_print(const struct table *facts, FILE *out)
{
	for (size_t row = 0; row < facts->cell_count / 2; row++)
		fprintf(out, "  %-28s %s\n", cell_text(facts, row, 0), cell_text(facts, row, 1));
}

void review_print_table(const struct table *table, FILE *out)
{
	if (!table->cell_count)
		return;
	fprintf(out, "\n%s%s", table->caption ? table->caption : "", table->caption ? "\n" : "");
	table_print_list(table, out);
}
