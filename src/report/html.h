/* The parts that a page is put together from. They are well-formed XML too. */
#ifndef REPORT_HTML_H
#define REPORT_HTML_H

#include "base/text.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Everything before the content, with the style; and everything after it. */
void html_open(struct text *out, const char *title);
void html_close(struct text *out, int64_t made_us);

/* <tag>text</tag>, the text escaped. */
void html_element(struct text *out, const char *tag, const char *text);
void html_format(struct text *out, const char *tag, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

/* A name that a person gave: whichever way its letters run, the words round it stay in order. */
void html_name(struct text *out, const char *name);

/* A fact in a list of facts: <div><dt>word</dt><dd>text</dd></div>. */
void html_fact(struct text *out, const char *word, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

struct html_column {
	const char *heading;
	bool number;
};

/* A table under construction; the first column names the row. */
struct html_table {
	struct text *out;
	const struct html_column *columns;
	size_t count;
	size_t at; /* the next cell's column */
	bool open; /* a row is */
};

void html_table_open(struct html_table *table, struct text *out, const char *caption,
		     const struct html_column *columns, size_t count);
void html_table_close(struct html_table *table);

/* A new row; every cell of it has to be given. */
void html_row(struct html_table *table);
void html_row_total(struct html_table *table); /* the same, set apart as a sum */
void html_cell(struct html_table *table, const char *format, ...)
	__attribute__((format(printf, 2, 3)));

/* Words in the language of that code ("": in none that is known), and below them a remark unless it
 * is empty. */
void html_cell_words(struct html_table *table, const char *words, const char *language,
		     const char *remark);

/* A time; with a bar of that share of the longest, 0 to 1. A share below 0 has none. */
void html_cell_time(struct html_table *table, int64_t us, double share);

/* A count, or a dash for 0. */
void html_cell_count(struct html_table *table, int count);

/* What is hidden until somebody asks for it; printed in any case. */
void html_fold_open(struct text *out, const char *summary);
void html_fold_close(struct text *out);

#endif
