/* One job reviewed: the numbers against sums by hand, the tables by the letter. */
#include "journal/journal.h"
#include "journal/sample.h"
#include "review/page.h"
#include "review/review.h"

#include <math.h>
#include <time.h>

enum { S = 1000000 };

/* A job whose times are easily added up: call n takes n seconds, with an interruption at call 5, a
 * doubt at 12, a step back at 15, a fault at 16 and a crash and a night at 18. */
static void write_job(struct journal *journal)
{
	int64_t at = 0;

	sample_append(journal, JOURNAL_STARTED, 1, true, at);
	for (int call = 1; call < 18; call++) {
		at += call * (int64_t)S;
		if (call == 5) {
			sample_append(journal, JOURNAL_PAUSE, 5, false, at);
			sample_append(journal, JOURNAL_ANNOUNCED, 5, false, at + 40 * S);
			at += 100 * (int64_t)S;
			sample_append(journal, JOURNAL_RESUME, 5, true, at);
		}
		if (call == 12)
			sample_append(journal, JOURNAL_AGAIN, 12, true, at - 3 * S);
		if (call == 15) {
			sample_append(journal, JOURNAL_BACK, 14, true, at - 5 * S);
			sample_append(journal, JOURNAL_NEXT, 15, true, at - S);
		}
		if (call == 16)
			sample_append(journal, JOURNAL_FAULT, 16, true, at - 2 * S);
		sample_append(journal, JOURNAL_NEXT, call + 1, true, at);
	}
}

static void go_on_the_next_day(struct journal *journal)
{
	struct journal_event event = sample_event(JOURNAL_STARTED, 18, true, 0);

	assert_int_equal(journal_resume(journal, 1), JOURNAL_OK);
	event.steady_us = 77; /* the machine was started anew */
	event.wall_us = sample_wall_us + 72000 * (int64_t)S;
	assert_int_equal(journal_append(journal, &event), JOURNAL_OK);
	for (int call = 18; call <= 20; call++) {
		event.kind = call < 20 ? JOURNAL_NEXT : JOURNAL_FINISHED;
		event.call = call + 1;
		event.working = call < 20;
		event.steady_us += call * (int64_t)S;
		event.wall_us += call * (int64_t)S;
		event.response_us = call * 1000;
		assert_int_equal(journal_append(journal, &event), JOURNAL_OK);
	}
}

static struct review reviewed(void **state)
{
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	struct review review;

	write_job(journal);
	go_on_the_next_day(journal);
	if (review_job(journal, "ridge-court-0042", &review) != JOURNAL_OK)
		fail_msg("%s", journal_message(journal));
	journal_close(journal);
	return review;
}

static const char *cell(const struct review *review, enum review_part part, size_t row,
			size_t column)
{
	const struct table *table = &review->parts[part];

	assert_true(row * table->column_count + column < table->cell_count);
	return table->cells[row * table->column_count + column].text;
}

/* What is told by that word; "" if nothing is. */
static const char *fact(const struct review *review, const char *word)
{
	for (size_t i = 0; i < review->facts.cell_count; i += 2)
		if (strcmp(review->facts.cells[i].text, word) == 0)
			return review->facts.cells[i + 1].text;
	return "";
}

static void times_add_up(void **state)
{
	struct review review = reviewed(state);
	/* 1+2; 3 to 10; 11 to 18; 19+20 */
	static const char *const phases[][3] = {{"prepare", "2", "0:03"},
						{"mains", "8", "0:52"},
						{"crosses", "8", "1:56"},
						{"finish", "2", "0:39"},
						{"all", "20", "3:30"}};

	assert_int_equal(review.work_us, 210 * (int64_t)S);
	assert_string_equal(fact(&review, "Work"), "3:30");
	for (size_t row = 0; row < 5; row++) {
		for (size_t column = 0; column < 3; column++)
			assert_string_equal(cell(&review, REVIEW_BY_PHASE, row, column),
					    phases[row][column]);
	}

	/* Call 3 is main 1 on the left, call 4 main 1 on the right; call 11 cross 1. The step back
	 * gave 4 of the seconds between call 15's beginning and its end to call 14. */
	assert_int_equal(review.string_us[review_string(true, 1, 'l')], 3 * S);
	assert_int_equal(review.string_us[review_string(true, 4, 'r')], 10 * S);
	assert_int_equal(review.string_us[review_string(false, 4, '\0')], 18 * S);
	assert_int_equal(review.string_us[review_string(false, 5, '\0')], 11 * S);
	review_free(&review);
}

static void interruptions_are_kept_apart(void **state)
{
	struct review review = reviewed(state);
	/* The last event of the first run was 153 + 100 s after its beginning. */
	const int64_t away_us = (72000 - 253) * (int64_t)S;
	const struct table *breaks = &review.parts[REVIEW_BREAKS];

	assert_int_equal(breaks->cell_count, 2 * 5);
	assert_string_equal(cell(&review, REVIEW_BREAKS, 0, 2), "paused");
	assert_string_equal(cell(&review, REVIEW_BREAKS, 0, 3), "5");
	assert_true(breaks->cells[4].value == 100 * S); /* one stretch, not two */
	assert_string_equal(cell(&review, REVIEW_BREAKS, 1, 2), "program closed");
	assert_string_equal(cell(&review, REVIEW_BREAKS, 1, 3), "18");
	assert_true(breaks->cells[9].value == (double)away_us);
	assert_string_equal(fact(&review, "Paused"), "1:40, 1 time; not in the work");
	assert_string_equal(fact(&review, "Program closed"),
			    "19:55:47, 1 time; not in the work"); /* away_us */
	assert_string_equal(fact(&review, "Asked again"), "1");
	assert_string_equal(fact(&review, "Stepped back"), "1");
	assert_string_equal(fact(&review, "Presses taken back"), "");
	assert_string_equal(fact(&review, "Faults of voice or pedal"), "1");
	assert_string_equal(cell(&review, REVIEW_UNSURE_CALLS, 0, 0), "12");
	assert_string_equal(cell(&review, REVIEW_UNSURE_CALLS, 0, 3), "1");
	assert_string_equal(cell(&review, REVIEW_UNSURE_CALLS, 1, 0), "15");
	assert_string_equal(cell(&review, REVIEW_UNSURE_CALLS, 1, 4), "1");
	review_free(&review);
}

static void slowest_and_halves(void **state)
{
	struct review review = reviewed(state);
	static const char *const slowest[] = {"20", "19", "14", "18", "17"};

	for (size_t i = 0; i < 5; i++)
		assert_string_equal(cell(&review, REVIEW_SLOWEST_CALLS, i, 0), slowest[i]);
	assert_true(review.parts[REVIEW_HALVES].cells[1].value == 4.5 * S);
	assert_true(review.parts[REVIEW_HALVES].cells[2].value == 8.5 * S);
	assert_string_equal(fact(&review, "First sound after a press"),
			    "median 19 ms, 95 % within 20 ms");
	review_free(&review);
}

static void an_empty_job_has_a_review(void **state)
{
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	struct review review;
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);

	assert_int_equal(review_job(journal, "1", &review), JOURNAL_OK);
	assert_int_equal(review.work_us, 0);
	assert_int_equal(review.parts[REVIEW_HALVES].cell_count, 0);
	review_print(&review, out);
	fclose(out);
	assert_non_null(strstr(text, "0 of 20"));
	free(text);
	review_free(&review);
	assert_int_equal(review_job(journal, "2", &review), JOURNAL_NONE);
	journal_close(journal);
}

static void reads_as_a_table(void **state)
{
	struct review review = reviewed(state);
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);

	review_print(&review, out);
	fclose(out);
	review_free(&review);
	page_compare(text, "review.txt");
	free(text);
}

static void lists_jobs_by_filter(void **state)
{
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	struct script script = sample_script();
	char *text = NULL;
	size_t size;

	write_job(journal);
	script.job = "a name that goes on and on \x1b[2J";
	script.stringer = "Zo\xc3\xab";
	script.pattern = "squash-14x18";
	assert_int_equal(journal_begin(journal, &script, sample_wall_us + 86400 * (int64_t)S),
			 JOURNAL_OK);
	sample_append(journal, JOURNAL_STARTED, 1, true, 0);
	sample_append(journal, JOURNAL_ABANDONED, 1, false, 3725 * (int64_t)S);

	/* The second job is half a year old, the first one a day older. */
	const int64_t now_us = sample_wall_us + 181 * 86400 * (int64_t)S;
	static const char head[] = "job  begun       ";
	static const char first[] = "  1  2026-11-18  ";
	static const char second[] = "  2  11-19 11:06  a name that goes on and on ?[2J";
	const struct {
		struct review_filter filter;
		const char *want[2];
	} cases[] = {
		{{0}, {first, second}},
		{{.stringer = "apprentice"}, {first, ""}},
		{{.pattern = "squash-14x18"}, {second, ""}},
		{{.method = "two-piece"}, {first, second}},
		{{.newest = 1}, {second, ""}},
		{{.newest = 7}, {first, second}},
		{{.since_us = sample_wall_us + 1}, {second, ""}},
		{{.until_us = sample_wall_us + 1}, {first, ""}},
	};
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		FILE *out = open_memstream(&text, &size);
		assert_int_equal(review_print_jobs(journal, &cases[i].filter, now_us, out),
				 JOURNAL_OK);
		fclose(out);
		const char *at = text;
		assert_memory_equal(at, head, strlen(head));
		for (int line = 0; line < 2 && *cases[i].want[line]; line++) {
			at = strchr(at, '\n') + 1;
			assert_memory_equal(at, cases[i].want[line], strlen(cases[i].want[line]));
		}
		assert_string_equal(strchr(at, '\n'), "\n");
		free(text);
	}
	FILE *out = open_memstream(&text, &size);
	const struct review_filter nobody = {.stringer = "nobody"};
	assert_int_equal(review_print_jobs(journal, &nobody, now_us, out), JOURNAL_OK);
	fclose(out);
	assert_string_equal(text, "no jobs\n");
	free(text);
	journal_close(journal);
}

/* A job that waits for its first press, and after its last call, has no pause. */
static void waiting_is_no_pause(void **state)
{
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	struct review review;

	sample_append(journal, JOURNAL_STARTED, 1, false, 0);
	sample_append(journal, JOURNAL_NEXT, 1, true, 600 * (int64_t)S);
	for (int call = 2; call <= SAMPLE_CALLS; call++)
		sample_append(journal, JOURNAL_NEXT, call, true, (600 + call) * (int64_t)S);
	sample_append(journal, JOURNAL_NEXT, SAMPLE_CALLS + 1, false, 700 * (int64_t)S);
	sample_append(journal, JOURNAL_FINISHED, SAMPLE_CALLS + 1, false, 900 * (int64_t)S);
	assert_int_equal(review_job(journal, "1", &review), JOURNAL_OK);
	assert_string_equal(fact(&review, "Paused"), "");
	assert_int_equal(review.mark_count, 0);
	assert_int_equal(review.work_us, 100 * (int64_t)S);
	review_free(&review);
	journal_close(journal);
}

/* The computer's clock was set back by a day while the program was closed. */
static void a_clock_that_was_set_back_makes_no_time_away(void **state)
{
	struct journal *journal = sample_begin(sample_path(state, "journal.db"));
	struct journal_event event = sample_event(JOURNAL_STARTED, 2, true, 0);
	struct review review;

	sample_append(journal, JOURNAL_STARTED, 1, true, 0);
	sample_append(journal, JOURNAL_NEXT, 2, true, 10 * (int64_t)S);
	assert_int_equal(journal_resume(journal, 1), JOURNAL_OK);
	event.wall_us -= 86400 * (int64_t)S;
	event.response_us = 10000;
	assert_int_equal(journal_append(journal, &event), JOURNAL_OK);
	event.response_us = 30000;
	event.kind = JOURNAL_AGAIN;
	assert_int_equal(journal_append(journal, &event), JOURNAL_OK);
	assert_int_equal(review_job(journal, "1", &review), JOURNAL_OK);
	assert_string_equal(fact(&review, "Program closed"), "0:00, 1 time; not in the work");
	assert_true(review.parts[REVIEW_BREAKS].cells[4].value == 0);
	for (size_t i = 0; i < review.visit_count; i++)
		assert_true(review.visits[i].away_us >= 0);
	assert_string_equal(fact(&review, "First sound after a press"),
			    "median 20 ms, 95 % within 30 ms");
	review_free(&review);
	journal_close(journal);
}

static void durations_in_words(void **state)
{
	(void)state;
	static const struct {
		int64_t us;
		const char *want;
	} times[] = {
		{0, "0:00"},
		{499999, "0:00"},
		{500000, "0:01"},
		{59499999, "0:59"},
		{59500000, "1:00"},
		{3599 * (int64_t)S, "59:59"},
		{3600 * (int64_t)S, "1:00:00"},
		{-400000, "0:00"},
		{-61 * (int64_t)S, "-1:01"},
	};
	char buffer[DURATION_TEXT_MAX];

	for (size_t i = 0; i < sizeof times / sizeof times[0]; i++)
		assert_string_equal(duration_text((double)times[i].us, buffer), times[i].want);
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, sample_setup, sample_teardown)
	const struct CMUnitTest tests[] = {
		TEST(times_add_up),
		TEST(interruptions_are_kept_apart),
		TEST(slowest_and_halves),
		TEST(an_empty_job_has_a_review),
		TEST(reads_as_a_table),
		TEST(lists_jobs_by_filter),
		TEST(waiting_is_no_pause),
		TEST(a_clock_that_was_set_back_makes_no_time_away),
		cmocka_unit_test(durations_in_words),
	};

	return cmocka_run_group_tests(tests, sample_utc, NULL);
}
