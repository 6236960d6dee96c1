/* The page of a job, read back with expat, against the review and against sums by hand. */
#include "journal/journal.h"
#include "journal/sample.h"
#include "report/internal.h"
#include "report/page_read.h"
#include "report/report.h"
#include "report/shop.h"
#include "review/review.h"

#include <math.h>
#include <time.h>

enum { S = 1000000 };

static void read_page(struct journal *journal, const char *which, struct page_read *page)
{
	*page = (struct page_read){0};
	if (report_job(journal, which, sample_wall_us, &page->bytes) != JOURNAL_OK)
		fail_msg("%s", journal_message(journal));
	page_read(page);
}

static struct journal *shop_with(void **state, const struct shop_job *job)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));

	shop_string(journal, job);
	return journal;
}

/* ---- form ---- */

static void a_page_is_in_form(void **state)
{
	struct shop_job jobs[] = {shop_usual, shop_usual, shop_usual};
	struct page_read page;

	jobs[1].pattern = "badminton-22x22";
	jobs[1].detail = "learner";
	jobs[2].pattern = "squash-14x18";
	jobs[2].detail = "quick";
	jobs[2].left_open = true;
	for (size_t i = 0; i < 3; i++) {
		struct journal *journal = shop_with(state, &jobs[i]);
		char number[16];
		snprintf(number, sizeof number, "%zu", i + 1);
		read_page(journal, number, &page);
		page_is_in_form(&page);
		assert_int_equal(page_count(&page, "svg"), 2);
		page_free(&page);
		journal_close(journal);
	}
}

/* ---- numbers ---- */

static void numbers_of_pictures_are_in_tables(void **state)
{
	struct shop_job job = shop_usual;
	struct page_read page;

	for (job.seed = 1; job.seed <= 5; job.seed++) {
		struct journal *journal = shop_with(state, &job);
		char number[16];
		snprintf(number, sizeof number, "%d", (int)job.seed);
		read_page(journal, number, &page);
		assert_true(page_numbers_are_in_tables(&page) > 35 + 20);
		page_free(&page);
		journal_close(journal);
	}
}

/* How far a path reaches along each axis. */
static void extent(const struct element *path, double *wide, double *high)
{
	struct corner_read corners[8];
	int count = corners_read(element_get(path, "d"), corners, 8);
	double x0 = 1e9, x1 = -1e9, y0 = 1e9, y1 = -1e9;

	assert_int_equal(count, 4);
	for (int i = 0; i < count; i++) {
		x0 = fmin(x0, corners[i].x);
		x1 = fmax(x1, corners[i].x);
		y0 = fmin(y0, corners[i].y);
		y1 = fmax(y1, corners[i].y);
	}
	*wide = x1 - x0;
	*high = y1 - y0;
}

static double work_of(const struct review *review, const char *name)
{
	char kind[8], side[8] = "";
	int number;

	assert_true(sscanf(name, "%7s %d %7s", kind, &number, side) >= 2);
	int64_t work_us = review->string_us[review_string(kind[0] == 'm', number, side[0])];
	assert_true(work_us >= 0);
	return (double)work_us;
}

/* One scale for all: a bar's length over its time is the same for every string. An outlined bar is
 * half its outline shorter than it looks. */
static void bars_are_as_long_as_the_work(void **state)
{
	struct journal *journal = shop_with(state, &shop_usual);
	struct page_read page;
	struct review review;
	double least = 1e9, most = 0;
	int bars = 0;

	assert_int_equal(review_job(journal, "1", &review), JOURNAL_OK);
	read_page(journal, "1", &page);
	for (int i = 0; i < page.tree.count; i++) {
		const struct element *item = &page.tree.items[i];
		double wide, high;
		if (!element_is(item, "path", "bar"))
			continue;
		const char *name = element_get(item, "data-string");
		extent(item, &wide, &high);
		double length = name[0] == 'm' ? high : wide;
		if (strcmp(element_get(item, "fill"), "#c4cacf") == 0)
			length += 0.45;
		double scale = length / work_of(&review, name) * S;
		least = fmin(least, scale);
		most = fmax(most, scale);
		bars++;
	}
	assert_int_equal(bars, 16 + 19);
	assert_true(most / least < 1.005);
	review_free(&review);
	page_free(&page);
	journal_close(journal);
}

/* The blocks of the timeline, put end to end, are as long as all of the work. */
static void blocks_fill_the_timeline(void **state)
{
	struct journal *journal = shop_with(state, &shop_usual);
	const double gap = 0.7, outline = 0.9, line_us = 5 * 60.0 * S;
	struct page_read page;
	struct review review;
	double sum = 0;

	assert_int_equal(review_job(journal, "1", &review), JOURNAL_OK);
	read_page(journal, "1", &page);
	for (int i = 0; i < page.tree.count; i++) {
		const struct element *item = &page.tree.items[i];
		double wide, high;
		if (!element_is(item, "path", "block"))
			continue;
		extent(item, &wide, &high);
		sum += wide + gap + (element_get(item, "stroke") ? outline : 0);
	}
	double lines = (double)review.work_us / line_us;
	char last[DURATION_TEXT_MAX];
	duration_text(floor(lines) * line_us, last); /* the widest word in front of a line */
	double line = PICTURE_WIDTH - 7 - lettering_width_mm(last, PICTURE_LETTERS, false) - 5;
	assert_true(fabs(sum / line - lines) < 0.005 * lines);
	review_free(&review);
	page_free(&page);
	journal_close(journal);
}

/* ---- the course against the journal's views ---- */

/* One number asked of the views about a job; ?1 is a text. */
static int64_t ask(struct journal *journal, const char *sql, int64_t job, const char *text)
{
	sqlite3_stmt *statement = NULL;
	bool row = false;

	if (journal_query(journal, sql, NULL, &statement) != JOURNAL_OK)
		fail_msg("%s", journal_message(journal));
	sqlite3_bind_text(statement, 1, text, -1, SQLITE_STATIC);
	sqlite3_bind_int64(statement, 2, job);
	assert_int_equal(journal_step(journal, statement, &row), JOURNAL_OK);
	int64_t answer = sqlite3_column_int64(statement, 0);
	sqlite3_finalize(statement);
	return answer;
}

#define ASK(what, view, text)                                                                      \
	ask(journal, "SELECT " what " FROM " view " WHERE job = ?2", review->job.number, text)

static void as_the_views_say(struct journal *journal, const struct review *review)
{
	int64_t work_us = 0, pause_us = 0, away_us = 0;

	for (size_t i = 0; i < review->visit_count; i++) {
		assert_int_equal(review->visits[i].begin_us, work_us);
		work_us += review->visits[i].work_us;
		pause_us += review->visits[i].pause_us;
		away_us += review->visits[i].away_us;
	}
	assert_int_equal(work_us, review->work_us);
	assert_int_equal(review->work_us, ASK("work_us", "job_time", NULL));
	assert_int_equal(pause_us, ASK("sum(pause_us)", "pause_time", NULL));
	assert_int_equal(away_us, ASK("sum(away_us)", "away_time", NULL));
	assert_int_equal(review->repeats, ASK("repeats", "job_time", NULL));
	assert_int_equal(review->backs, ASK("backs", "job_time", NULL));
	assert_int_equal(review->undos, ASK("undos", "job_time", NULL));
	assert_int_equal(review->pauses + review->aways,
			 ASK("count(*)", "pause_time", NULL) + ASK("count(*)", "away_time", NULL));
	for (int n = 1; n <= review->job.calls; n++) {
		struct review_visit sum = {0};
		int backs = 0;
		char number[16];
		snprintf(number, sizeof number, "%d", n);
		for (size_t i = 0; i < review->visit_count; i++) {
			const struct review_visit *visit = &review->visits[i];
			if (visit->call.n != n)
				continue;
			sum.work_us += visit->work_us;
			sum.repeats += visit->repeats;
			backs += visit->left == JOURNAL_BACK;
		}
		assert_int_equal(sum.work_us, ASK("sum(work_us * (n = ?1))", "call_time", number));
		assert_int_equal(sum.repeats, ASK("sum(repeats * (n = ?1))", "call_time", number));
		assert_int_equal(backs, ASK("sum(backs * (n = ?1))", "call_time", number));
	}
}

static void the_course_is_what_the_views_say(void **state)
{
	struct shop_job job = shop_usual;

	for (job.seed = 100; job.seed < 110; job.seed++) {
		struct journal *journal = shop_with(state, &job);
		struct review review;
		char number[16];
		job.left_open = job.seed % 3 == 0;
		job.two_runs = job.seed % 2 == 0;
		snprintf(number, sizeof number, "%d", (int)job.seed - 99);
		assert_int_equal(review_job(journal, number, &review), JOURNAL_OK);
		as_the_views_say(journal, &review);
		review_free(&review);
		journal_close(journal);
	}
}

/* A step back within a pause, a repeat after it, a step taken back: marks and visits by hand. */
static void odd_steps(void **state)
{
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	static const struct {
		enum journal_kind kind;
		int call;
		bool working;
		int at_s;
	} events[] = {
		{JOURNAL_STARTED, 1, true, 0}, {JOURNAL_NEXT, 2, true, 10},
		{JOURNAL_PAUSE, 2, false, 14}, {JOURNAL_BACK, 1, false, 20},
		{JOURNAL_RESUME, 1, true, 30}, {JOURNAL_AGAIN, 1, true, 31},
		{JOURNAL_NEXT, 2, true, 33},   {JOURNAL_NEXT, 3, true, 40},
		{JOURNAL_UNDO, 2, true, 41},   {JOURNAL_STOPPED, 2, false, 45},
	};
	static const struct review_visit visits[] = {
		{{1}, 0, 10 * S, 0, 0, 0, JOURNAL_NEXT},
		{{2}, 10 * S, 4 * S, 0, 6 * S, 0, JOURNAL_BACK},
		{{1}, 14 * S, 3 * S, 1, 10 * S, 0, JOURNAL_NEXT},
		{{2}, 17 * S, 7 * S, 0, 0, 0, JOURNAL_NEXT},
		{{3}, 24 * S, 1 * S, 0, 0, 0, JOURNAL_UNDO},
		{{2}, 25 * S, 4 * S, 0, 0, 0, JOURNAL_STARTED},
	};
	static const char *const labels[] = {"1", "B", "A", "U"};
	struct review review;

	for (size_t i = 0; i < sizeof events / sizeof events[0]; i++)
		sample_append(journal, events[i].kind, events[i].call, events[i].working,
			      events[i].at_s * (int64_t)S);
	assert_int_equal(review_job(journal, "1", &review), JOURNAL_OK);
	as_the_views_say(journal, &review);
	assert_int_equal(review.visit_count, 6);
	for (size_t i = 0; i < 6; i++) {
		assert_int_equal(review.visits[i].call.n, visits[i].call.n);
		assert_int_equal(review.visits[i].begin_us, visits[i].begin_us);
		assert_int_equal(review.visits[i].work_us, visits[i].work_us);
		assert_int_equal(review.visits[i].repeats, visits[i].repeats);
		assert_int_equal(review.visits[i].pause_us, visits[i].pause_us);
		assert_int_equal(review.visits[i].left, visits[i].left);
	}
	assert_int_equal(review.mark_count, 4);
	for (size_t i = 0; i < 4; i++)
		assert_string_equal(review.marks[i].label, labels[i]);
	assert_true(review.parts[REVIEW_BREAKS].cells[4].value == 16 * S);
	review_free(&review);
	journal_close(journal);
}

/* ---- bad luck ---- */

static void hostile_names_stay_text(void **state)
{
	static const char nasty[] = "<script>alert('1')</script> &amp; \"x\" \x1b[2J \xff\xc0\xae";
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct script script = sample_script();
	struct script_line lines[SAMPLE_CALLS];
	struct page_read page;

	memcpy(lines, script.lines, sizeof lines);
	script.lines = lines;
	for (int i = 0; i < SAMPLE_CALLS; i++)
		lines[i].full_words = lines[i].phase = nasty;
	script.job = script.stringer = script.pattern = script.method = script.plan_file = nasty;
	script.language = "\"><script>";
	assert_int_equal(journal_begin(journal, &script, sample_wall_us), JOURNAL_OK);
	for (int call = 1; call < SAMPLE_CALLS; call++)
		sample_append(journal, call == 1 ? JOURNAL_STARTED : JOURNAL_NEXT, call, true,
			      call * (int64_t)S * 20);
	sample_append(journal, JOURNAL_BACK, SAMPLE_CALLS - 2, true, 1000 * (int64_t)S);
	read_page(journal, "1", &page);
	page_is_in_form(&page);
	assert_true(page_names(&page, "<script>alert('1')</script>") > 20);
	page_free(&page);
	journal_close(journal);
}

static void a_job_without_events_or_bed_has_a_page(void **state)
{
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	struct page_read page;

	read_page(journal, "1", &page);
	page_is_in_form(&page);
	assert_int_equal(page_count(&page, "svg"), 1);
	page_free(&page);
	for (int call = 1; call <= 18; call++)
		sample_append(journal, call == 1 ? JOURNAL_STARTED : JOURNAL_NEXT, call, true,
			      call * (int64_t)S);
	read_page(journal, "1", &page); /* its plan and its pattern are no files */
	page_is_in_form(&page);
	assert_int_equal(page_count(&page, "svg"), 1);
	assert_non_null(strstr(text_string(&page.bytes), "There is no picture of the bed"));
	page_free(&page);
	journal_close(journal);
}

/* Times that no job has must not take the picture with them. */
static void absurd_times_have_a_page(void **state)
{
	static const int64_t lengths[] = {
		1, 999, S, 86400 * (int64_t)S, 40000000 * (int64_t)S, INT64_C(1) << 60};

	for (size_t i = 0; i < sizeof lengths / sizeof lengths[0]; i++) {
		char name[20];
		struct page_read page;
		snprintf(name, sizeof name, "%zu.db", i);
		struct journal *journal = sample_begin(sample_path(state, name));
		sample_append(journal, JOURNAL_STARTED, 1, true, 0);
		sample_append(journal, JOURNAL_NEXT, 2, true, lengths[i]);
		sample_append(journal, JOURNAL_NEXT, 3, true, lengths[i] / 2); /* backwards */
		sample_append(journal, JOURNAL_PAUSE, 3, false, lengths[i]);
		sample_append(journal, JOURNAL_RESUME, 3, true, lengths[i] + lengths[i] / 3);
		read_page(journal, "1", &page);
		page_is_in_form(&page);
		assert_null(strstr(text_string(&page.bytes), "nan"));
		assert_true(page.bytes.length < 100000);
		page_free(&page);
		journal_close(journal);
	}
}

/* What is read while the journal is held, by however many, does not see what is written meanwhile.
 */
static void all_of_a_page_is_of_one_moment(void **state)
{
	const char *path = sample_path(state, "journal.db");
	struct journal *writer = sample_begin(path), *reader = NULL;
	char *error = NULL;

	sample_append(writer, JOURNAL_STARTED, 1, true, 0);
	sample_append(writer, JOURNAL_NEXT, 2, true, S);
	assert_int_equal(journal_open(path, JOURNAL_READ, &reader, &error), JOURNAL_OK);
	journal_hold(reader);
	for (int round = 0; round < 3; round++) {
		struct review review;
		if (round == 2)
			journal_let_go(reader);
		assert_int_equal(review_job(reader, "1", &review), JOURNAL_OK);
		assert_int_equal(review.work_us, round < 2 ? S : 9 * S);
		review_free(&review);
		if (round == 0)
			sample_append(writer, JOURNAL_NEXT, 3, true, 9 * S);
	}
	journal_close(reader);
	journal_close(writer);
}

static void no_job_no_page(void **state)
{
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	struct text bytes = {0};

	assert_int_equal(report_job(journal, "nobody's", 0, &bytes), JOURNAL_NONE);
	assert_int_equal(bytes.length, 0);
	journal_close(journal);
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, sample_setup, sample_teardown)
	const struct CMUnitTest tests[] = {
		TEST(a_page_is_in_form),
		TEST(numbers_of_pictures_are_in_tables),
		TEST(bars_are_as_long_as_the_work),
		TEST(blocks_fill_the_timeline),
		TEST(the_course_is_what_the_views_say),
		TEST(odd_steps),
		TEST(hostile_names_stay_text),
		TEST(a_job_without_events_or_bed_has_a_page),
		TEST(absurd_times_have_a_page),
		TEST(all_of_a_page_is_of_one_moment),
		TEST(no_job_no_page),
	};

	return cmocka_run_group_tests(tests, sample_utc, NULL);
}
