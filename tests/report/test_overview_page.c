/* The page of many jobs, read back with expat, against the overview that it shows. */
#include "journal/sample.h"
#include "report/page_read.h"
#include "report/report.h"
#include "report/shop.h"
#include "review/review.h"
#include "review/shop.h"

#include <math.h>
#include <time.h>

enum { S = 1000000 };

static const struct review_filter everything;

static void read_page(struct journal *journal, const struct review_filter *filter,
		      const struct review_standard *standard, struct page_read *page)
{
	*page = (struct page_read){0};
	if (report_overview(journal, filter, standard, sample_wall_us, &page->bytes) != JOURNAL_OK)
		fail_msg("%s", journal_message(journal));
	page_read(page);
}

/* A finished job of one call for each entry: minutes of work. */
static void add_jobs(struct journal *journal, const char *stringer, const double *minutes,
		     size_t count)
{
	struct script_line line = sample_lines()[2]; /* main 1 left */

	for (size_t i = 0; i < count; i++) {
		struct script script = sample_script();
		script.stringer = stringer;
		script.lines = &line;
		script.count = 1;
		assert_int_equal(
			journal_begin(journal, &script, sample_wall_us + (int64_t)i * 86400 * S),
			JOURNAL_OK);
		sample_append(journal, JOURNAL_STARTED, 1, true, 0);
		sample_append(journal, JOURNAL_FINISHED, 2, false, (int64_t)(minutes[i] * 60 * S));
	}
}

static void a_page_is_in_form(void **state)
{
	const char *path = sample_path(state, "journal.db");
	const struct review_filter filters[] = {
		{0},
		{.stringer = "mira"},
		{.pattern = "badminton-22x22", .method = "two-piece"},
		{.since_us = shop_opened_us, .until_us = shop_opened_us + 20 * 86400 * (int64_t)S},
		{.newest = 3},
		{.stringer = "nobody"},
	};
	static const struct review_standard standard = {1.1, 0.13};
	struct page_read page;

	shop_write_jobs(path);
	struct journal *journal = sample_open(path);
	for (size_t i = 0; i < sizeof filters / sizeof filters[0]; i++) {
		read_page(journal, &filters[i], i % 2 ? &standard : NULL, &page);
		page_is_in_form(&page);
		int pictures = page_count(&page, "svg");
		int numbers = page_numbers_are_in_tables(&page);
		if (filters[i].stringer && strcmp(filters[i].stringer, "nobody") == 0)
			assert_true(pictures == 0 && numbers == 0);
		else
			assert_true(page_count(&page, "table") >= 3);
		page_free(&page);
	}
	journal_close(journal);
}

static const struct element *next_of(const struct page_read *page, int *at, const char *name,
				     const char *class)
{
	for (++*at; *at < page->tree.count; ++*at) {
		if (element_is(&page->tree.items[*at], name, class))
			return &page->tree.items[*at];
	}
	fail_msg("no more %s of class %s", name, class);
	return NULL;
}

/* The height of a level line. */
static double level_of(const struct page_read *page, int *at)
{
	struct corner_read corners[2];
	const struct element *line = next_of(page, at, "path", "level");

	assert_int_equal(corners_read(element_get(line, "d"), corners, 2), 2);
	assert_true(corners[0].y == corners[1].y);
	return corners[0].y;
}

/* 10, 12, 11, 13, 12, 20 min: mean 13, mean moving range (2+1+2+1+8)/5 = 2.8, limits 13 -+ 2.66 *
 * 2.8 (3 / 1.128 = 2.6596, NIST/SEMATECH e-Handbook 6.3.2.2), 5.55 and 20.45: none is outside; with
 * 25 min for 20 the ranges are 3.8 and the mean 13.83, so that 23.94 leaves the last one out. */
static void a_chart_stands_where_its_numbers_say(void **state)
{
	static const double minutes[] = {10, 12, 11, 13, 12, 25};
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct page_read page;
	double height[6];
	int at = -1;

	add_jobs(journal, "mira", minutes, 6);
	read_page(journal, &everything, NULL, &page);
	double centre = level_of(&page, &at), low = level_of(&page, &at),
	       high = level_of(&page, &at);
	for (int i = 0; i < 6; i++)
		height[i] = element_number(next_of(&page, &at, "circle", "point"), "cy");
	double per_minute = (height[0] - height[5]) / 15;
	assert_true(per_minute > 1);
	for (int i = 0; i < 6; i++)
		assert_true(fabs(height[0] - height[i] - per_minute * (minutes[i] - 10)) < 0.02);
	double mean = 83.0 / 6, reach = 3 / 1.128 * 3.8;
	assert_true(fabs(height[0] - centre - per_minute * (mean - 10)) < 0.02);
	assert_true(fabs(height[0] - high - per_minute * (mean + reach - 10)) < 0.02);
	assert_true(fabs(height[0] - low - per_minute * (mean - reach - 10)) < 0.02);
	at = -1;
	assert_true(element_number(next_of(&page, &at, "circle", "outside"), "cy") == height[5]);
	/* It carries its number on the axis. */
	assert_string_equal(next_of(&page, &at, "text", "value")->text, "6");
	page_free(&page);
	journal_close(journal);
}

static int count_class(const struct page_read *page, const char *name, const char *class)
{
	int count = 0;

	for (int i = 0; i < page->tree.count; i++)
		count += element_is(&page->tree.items[i], name, class);
	return count;
}

/* Times that follow a law exactly lie on its curve; times that follow none have no better one. */
static void a_curve_goes_through_what_follows_it(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	static const double steady[] = {30, 31, 30, 29, 30, 31}, few[] = {30, 31, 29, 30};
	double power[9];
	struct corner_read curve[100];
	struct page_read page;
	int at = -1;

	for (int n = 1; n <= 9; n++)
		power[n - 1] = 60 * pow(n, log2(0.8));
	add_jobs(journal, "apprentice", power, 9);
	add_jobs(journal, "mira", steady, 6);
	add_jobs(journal, "noah", few, 4);
	read_page(journal, &everything, NULL, &page);
	assert_int_equal(count_class(&page, "path", "law"), 2);
	assert_non_null(strstr(text_string(&page.bytes), "<figcaption>Red: the law"));
	assert_int_equal(count_class(&page, "path", "better"), 1);
	const struct element *law = next_of(&page, &at, "path", "better");
	int corners = corners_read(element_get(law, "d"), curve, 100);
	for (int i = 0; i < 9; i++) {
		const struct element *point = next_of(&page, &at, "circle", "point");
		double x = element_number(point, "cx"), y = element_number(point, "cy");
		double nearest = 1e9;
		for (int k = 1; k < corners; k++) {
			double share = (x - curve[k - 1].x) / (curve[k].x - curve[k - 1].x);
			if (share >= -0.01 && share <= 1.01)
				nearest = fmin(nearest,
					       fabs(curve[k - 1].y +
						    share * (curve[k].y - curve[k - 1].y) - y));
		}
		assert_true(nearest < 0.3);
	}
	assert_non_null(
		strstr(text_string(&page.bytes), "getting faster: 60 to 30 min over 9 jobs"));
	assert_non_null(strstr(text_string(&page.bytes), "80 % (80 to 80)"));
	assert_non_null(strstr(text_string(&page.bytes), "no clear change"));
	assert_non_null(strstr(text_string(&page.bytes), "no trend from 4 jobs"));
	/* Limits, and rings for what is outside them, are for the steady hand alone. */
	assert_int_equal(count_class(&page, "path", "level"), 3);
	assert_int_equal(count_class(&page, "circle", "outside"), 0);
	page_free(&page);
	journal_close(journal);
}

static void many_jobs_stay_a_page(void **state)
{
	const char *path = sample_path(state, "journal.db");
	struct page_read page;

	shop_write(path, 2000);
	struct journal *journal = sample_open(path);
	read_page(journal, &everything, NULL, &page);
	page_is_in_form(&page);
	assert_true(page.bytes.length < 1000000);
	assert_non_null(strstr(text_string(&page.bytes), "The newest 50 of"));
	page_free(&page);
	journal_close(journal);
}

static void hostile_names_stay_text(void **state)
{
	static const double minutes[] = {10, 12, 11, 13, 12};
	static const char nasty[] = "</title><script>alert('1')</script>&\"\x1b \xff";
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	const struct review_filter filter = {.stringer = nasty};
	struct page_read page;

	add_jobs(journal, nasty, minutes, 5);
	read_page(journal, &filter, NULL, &page);
	page_is_in_form(&page);
	assert_true(page_names(&page, "<script>") >= 3);
	page_free(&page);
	journal_close(journal);
}

static void an_empty_journal_has_a_page(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct page_read page;

	read_page(journal, &everything, NULL, &page);
	page_is_in_form(&page);
	assert_non_null(strstr(text_string(&page.bytes), "0 finished jobs"));
	page_free(&page);
	journal_close(journal);
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, sample_setup, sample_teardown)
	const struct CMUnitTest tests[] = {
		TEST(a_page_is_in_form),
		TEST(a_chart_stands_where_its_numbers_say),
		TEST(a_curve_goes_through_what_follows_it),
		TEST(many_jobs_stay_a_page),
		TEST(hostile_names_stay_text),
		TEST(an_empty_journal_has_a_page),
	};

	return cmocka_run_group_tests(tests, sample_utc, NULL);
}
