#include "report/page_read.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

void page_read(struct page_read *page)
{
	assert_true(picture_read(text_string(&page->bytes), page->bytes.length, &page->tree));
}

void page_free(struct page_read *page)
{
	picture_free(&page->tree);
	text_free(&page->bytes);
}

static void ids_are_unique(const struct picture *tree)
{
	for (int i = 0; i < tree->count; i++) {
		const char *id = element_get(&tree->items[i], "id");
		for (int j = 0; id && j < i; j++) {
			const char *other = element_get(&tree->items[j], "id");
			if (other && strcmp(id, other) == 0)
				fail_msg("id %s twice", id);
		}
	}
}

static void headings_go_down_one_by_one(const struct picture *tree)
{
	int level = 0, first = 0;

	for (int i = 0; i < tree->count; i++) {
		const char *name = tree->items[i].name;
		if (name[0] != 'h' || name[1] < '1' || name[1] > '6' || name[2])
			continue;
		assert_true(name[1] - '0' <= level + 1);
		level = name[1] - '0';
		first += level == 1;
	}
	assert_int_equal(first, 1);
}

/* Every picture says what it is, by ids that are there. */
static void pictures_are_named(const struct picture *tree)
{
	for (int i = 0; i < tree->count; i++) {
		const struct element *svg = &tree->items[i];
		char title[40], description[40];
		if (strcmp(svg->name, "svg") != 0)
			continue;
		assert_string_equal(element_get(svg, "role"), "img");
		assert_int_equal(sscanf(element_get(svg, "aria-labelledby"), "%39s %39s", title,
					description),
				 2);
		int first = picture_inside(tree, i, "title", NULL);
		int second = picture_inside(tree, i, "desc", NULL);
		assert_string_equal(element_get(&tree->items[first], "id"), title);
		assert_string_equal(element_get(&tree->items[second], "id"), description);
		assert_true(strlen(tree->items[first].text) > 5);
		assert_true(strlen(tree->items[second].text) > 20);
	}
}

/* No element that runs or fetches something, no attribute that could. */
static void nothing_runs_or_is_fetched(const struct page_read *page)
{
	static const char *const refused[] = {"script", "link",   "img",   "iframe", "object",
					      "embed",  "source", "audio", "video",  "base"};

	for (int i = 0; i < page->tree.count; i++) {
		const struct element *item = &page->tree.items[i];
		for (size_t k = 0; k < sizeof refused / sizeof refused[0]; k++)
			assert_string_not_equal(item->name, refused[k]);
		for (char **at = item->attributes; *at; at += 2) {
			assert_string_not_equal(at[0], "src");
			assert_string_not_equal(at[0], "href");
			assert_false(at[0][0] == 'o' && at[0][1] == 'n');
		}
	}
	assert_null(strstr(text_string(&page->bytes), "url("));
	assert_null(strstr(text_string(&page->bytes), "@import"));
	assert_non_null(strstr(text_string(&page->bytes), "default-src 'none'"));
}

/* A colour of a picture without a rule would stay as it is on dark paper. */
static void colours_have_rules(const struct page_read *page)
{
	static const char *const names[] = {"fill", "stroke"};

	for (int i = 0; i < 2 * page->tree.count; i++) {
		const char *colour = element_get(&page->tree.items[i / 2], names[i % 2]);
		if (!colour || strcmp(colour, "none") == 0)
			continue;
		char *rule = memory_format("svg [%s=\"%s\"] {", names[i % 2], colour);
		if (!strstr(text_string(&page->bytes), rule))
			fail_msg("the style has no rule %s", rule);
		free(rule);
	}
}

void page_is_in_form(const struct page_read *page)
{
	assert_string_equal(page->tree.items[0].name, "html");
	assert_string_equal(element_get(&page->tree.items[0], "lang"), "en");
	ids_are_unique(&page->tree);
	headings_go_down_one_by_one(&page->tree);
	pictures_are_named(&page->tree);
	nothing_runs_or_is_fetched(page);
	colours_have_rules(page);
}

int page_count(const struct page_read *page, const char *name)
{
	int count = 0;

	for (int i = 0; i < page->tree.count; i++)
		count += strcmp(page->tree.items[i].name, name) == 0;
	return count;
}

static bool is_in_a_cell(const struct picture *tree, const char *text)
{
	for (int i = 0; i < tree->count; i++) {
		const struct element *item = &tree->items[i];
		if ((strcmp(item->name, "td") == 0 || strcmp(item->name, "th") == 0) &&
		    strcmp(item->text, text) == 0)
			return true;
	}
	return false;
}

int page_numbers_are_in_tables(const struct page_read *page)
{
	int count = 0;

	for (int i = 0; i < page->tree.count; i++) {
		const struct element *item = &page->tree.items[i];
		if (!element_is(item, "text", "value") && !element_is(item, "text", "string"))
			continue;
		if (!is_in_a_cell(&page->tree, item->text))
			fail_msg("\"%s\" is in no table", item->text);
		count++;
	}
	return count;
}

int page_names(const struct page_read *page, const char *text)
{
	int count = 0;

	for (int i = 0; i < page->tree.count; i++) {
		const struct element *item = &page->tree.items[i];
		count += strcmp(item->name, "bdi") == 0 && strstr(item->text, text) != NULL;
	}
	return count;
}
