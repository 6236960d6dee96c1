/* A page read back with expat, and what is true of every page. */
#ifndef TESTS_REPORT_PAGE_READ_H
#define TESTS_REPORT_PAGE_READ_H

#include "base/base.h"
#include "draw/picture.h"

struct page_read {
	struct text bytes;
	struct picture tree;
};

/* Reads page->bytes; fails the test if that is not well-formed. */
void page_read(struct page_read *page);
void page_free(struct page_read *page);

/* Ids are unique, headings go down one by one, every picture is named, and nothing in it runs or is
 * fetched. */
void page_is_in_form(const struct page_read *page);

int page_count(const struct page_read *page, const char *name);

/* Every number in a picture stands in a cell of a table. Returns how many there are. */
int page_numbers_are_in_tables(const struct page_read *page);

/* How many <bdi> hold that text. */
int page_names(const struct page_read *page, const char *text);

#endif
