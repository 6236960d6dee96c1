/* Many jobs reviewed: against the journal's views asked with SQL, against times that were made up
 * from a known law, and by the letter. */
#include "journal/journal.h"
#include "review/page.h"
#include "review/review.h"
#include "review/shop.h"

#include <math.h>
#include <time.h>

static struct journal *opened(const char *path)
{
	struct journal *journal = NULL;
	char *error = NULL;

	if (journal_open(path, JOURNAL_READ, &journal, &error) != JOURNAL_OK)
		fail_msg("%s", error);
	return journal;
}

static struct review_overview overview_of(struct journal *journal,
					  const struct review_filter *filter)
{
	struct review_overview overview;

	if (review_overview(journal, filter, &overview) != JOURNAL_OK)
		fail_msg("%s", journal_message(journal));
	return overview;
}

/* One number asked of the views; ?1 to ?3 are texts. */
static double ask(struct journal *journal, const char *sql, const char *a, const char *b,
		  const char *c)
{
	sqlite3_stmt *statement = NULL;
	bool row = false;

	if (journal_prepare(journal, sql, &statement) != JOURNAL_OK)
		fail_msg("%s", journal_message(journal));
	journal_bind_text(statement, 1, a);
	journal_bind_text(statement, 2, b);
	journal_bind_text(statement, 3, c);
	if (journal_step(journal, statement, &row) != JOURNAL_OK || !row)
		fail_msg("%s: %s", sql, journal_message(journal));
	double answer = sqlite3_column_double(statement, 0);
	sqlite3_finalize(statement);
	return answer;
}

static void same(double got, double want)
{
	if (!(fabs(got - want) <= 1e-9 * fabs(want)))
		fail_msg("got %.17g, want %.17g", got, want);
}

static const char mean_of_pair[] =
	"SELECT avg(t.work_us) FROM job_time AS t JOIN job AS j ON j.id = t.job "
	"WHERE j.stringer = ?1 AND j.pattern = ?2 AND j.method = ?3";

static void agrees_with_the_views(void **state)
{
	const char *path = sample_path(state, "journal.db");

	shop_write(path, 200);
	struct journal *journal = opened(path);
	struct review_overview overview = overview_of(journal, &(struct review_filter){0});
	assert_int_equal(overview.finished, 200);
	assert_int_equal(overview.stringer_count, 7);
	assert_int_equal(overview.pattern_count, 5);
	assert_int_equal(overview.pair_count, 35);
	same(overview.all.work.mean, ask(journal, "SELECT avg(work_us) FROM job_time", 0, 0, 0));
	same(overview.all.work.max, ask(journal, "SELECT max(work_us) FROM job_time", 0, 0, 0));
	same(overview.pause.mean, ask(journal, "SELECT avg(pause_us) FROM job_time", 0, 0, 0));
	for (size_t i = 0; i < overview.pair_count; i++) {
		const struct review_group *pair = &overview.pairs[i];
		same(pair->work.mean,
		     ask(journal, mean_of_pair, pair->stringer, pair->pattern, pair->method));
		assert_ptr_equal(
			review_find_pair(&overview, pair->stringer, pair->pattern, pair->method),
			pair);
	}
	assert_null(review_find_pair(&overview, "nobody", "pattern-1", "two-piece"));
	for (int i = 0; i < REVIEW_PHASES; i++)
		same(overview.phases[i].mean,
		     ask(journal, "SELECT sum(work_us) / 200.0 FROM phase_time WHERE phase = ?1",
			 review_phase_names[i], 0, 0));
	same(overview.repeats, ask(journal, "SELECT sum(repeats) FROM string_time", 0, 0, 0));
	same(overview.backs, ask(journal, "SELECT sum(backs) FROM string_time", 0, 0, 0));
	same((double)overview.string_count,
	     ask(journal,
		 "SELECT count(DISTINCT string || number || coalesce(side, '')) FROM string_time "
		 "WHERE work_us > 0",
		 0, 0, 0));
	for (size_t i = 0; i < overview.string_count; i++) {
		const struct review_string_mean *string = &overview.strings[i];
		char number[12];
		snprintf(number, sizeof number, "%d", string->number);
		same(string->mean_us * string->jobs,
		     ask(journal,
			 "SELECT sum(work_us) FROM string_time WHERE string = ?1 AND number = ?2 "
			 "AND side IS ?3",
			 string->is_main ? "main" : "cross", number,
			 string->side == 'l'   ? "left"
			 : string->side == 'r' ? "right"
					       : NULL));
	}
	review_overview_free(&overview);
	journal_close(journal);
}

static void filters_narrow(void **state)
{
	const char *path = sample_path(state, "journal.db");
	const int64_t hour_us = 3600000000, begin_us = 1700000000000000;

	shop_write(path, 70);
	struct journal *journal = opened(path);
	const struct {
		struct review_filter filter;
		size_t want;
	} cases[] = {
		{{.stringer = "stringer-3"}, 10},
		{{.pattern = "pattern-1"}, 14},
		{{.stringer = "stringer-3", .pattern = "pattern-1"}, 2},
		{{.method = "one-piece"}, 0},
		{{.since_us = begin_us + 61 * hour_us}, 10},
		{{.until_us = begin_us + 11 * hour_us}, 10},
		{{.newest = 12}, 12},
		{{.newest = 500}, 70},
	};
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct review_overview overview = overview_of(journal, &cases[i].filter);
		assert_int_equal(overview.finished, cases[i].want);
		review_overview_free(&overview);
	}
	journal_close(journal);
}

/* A finished job in which each of the 20 calls takes a twentieth of the time. */
static void write_timed(struct journal *journal, const char *stringer, int day, double minutes,
			enum journal_kind end)
{
	struct journal_job job = sample_job;
	int64_t at = day * 86400000000;
	int64_t call_us = (int64_t)(minutes * 60e6 / SAMPLE_CALLS);

	job.stringer = stringer;
	job.created_us += at;
	assert_int_equal(journal_begin(journal, &job, sample_calls(), SAMPLE_CALLS), JOURNAL_OK);
	sample_append(journal, JOURNAL_STARTED, 1, true, at);
	for (int call = 2; call <= SAMPLE_CALLS; call++)
		sample_append(journal, JOURNAL_NEXT, call, true, at + (call - 1) * call_us);
	sample_append(journal, end, SAMPLE_CALLS + 1, false, at + SAMPLE_CALLS * call_us);
}

/* An apprentice after a power law of 85 %, a hand that does not change, and one with few jobs. */
static void write_three_stringers(struct journal *journal)
{
	static const double steady[] = {30, 31, 29, 32, 30, 28, 31, 30, 29, 60};

	for (int i = 0; i < 12; i++)
		write_timed(journal, "apprentice", i, stats_learning_unit(62, 0.85, i + 1),
			    JOURNAL_FINISHED);
	for (int i = 0; i < 10; i++)
		write_timed(journal, "mira", i, steady[i], JOURNAL_FINISHED);
	for (int i = 0; i < 3; i++)
		write_timed(journal, "noah", i, 40 + i, JOURNAL_FINISHED);
	write_timed(journal, "noah", 4, 90, JOURNAL_ABANDONED);
	write_timed(journal, "noah", 5, 20, JOURNAL_NEXT);
}

static void learning_charts_and_quotes(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));

	write_three_stringers(journal);
	struct review_overview overview = overview_of(journal, &(struct review_filter){0});
	assert_int_equal(overview.finished, 25);
	assert_int_equal(overview.open, 1);
	assert_int_equal(overview.abandoned, 1);

	const struct review_group *apprentice = &overview.stringers[0];
	assert_string_equal(apprentice->stringer, "apprentice");
	assert_true(apprentice->has_learning);
	assert_true(fabs(apprentice->learning.rate - 0.85) < 1e-6);
	assert_true(fabs(apprentice->learning.power.first / 60e6 - 62) < 1e-3);
	assert_int_equal(apprentice->learning.better, STATS_LEARNING_POWER);
	/* The 13th is quoted, not the middle of the twelve before it. */
	double next_us = stats_learning_unit(62, 0.85, 13) * 60e6;
	assert_true(fabs(apprentice->quote_us - next_us) < 1e-3 * next_us);

	const struct review_group *mira = &overview.stringers[1];
	assert_false(mira->learning.shown);
	assert_true(mira->quote_us > 29 * 60e6 && mira->quote_us < 34 * 60e6);
	assert_true(mira->has_chart);
	assert_int_equal(mira->outside_count, 1);
	assert_int_equal(mira->outside[0], 22); /* the one of an hour */

	const struct review_group *noah = &overview.stringers[2];
	assert_int_equal(noah->count, 3);
	assert_false(noah->has_learning);
	assert_false(noah->has_chart);
	assert_true(noah->has_quote);
	double middle = cbrt(40.0 * 41 * 42) * 60e6; /* the geometric mean */
	assert_true(fabs(noah->quote_us - middle) < 1e-3 * middle);
	assert_true(noah->quote_interval_us.low < 40 * 60e6);
	assert_true(noah->quote_interval_us.high > 42 * 60e6);
	review_overview_free(&overview);
	journal_close(journal);
}

static void reads_as_tables(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	const struct review_standard standard = {.rating = 1.1, .allowance = 0.13};
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);

	write_three_stringers(journal);
	struct review_overview overview = overview_of(journal, &(struct review_filter){0});
	review_print_overview(&overview, &standard, out);
	fclose(out);
	review_overview_free(&overview);
	journal_close(journal);
	page_compare(text, "overview.txt");
	free(text);
}

static void nothing_to_review(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));
	struct review_overview overview = overview_of(journal, &(struct review_filter){0});
	char *text = NULL;
	size_t size;
	FILE *out = open_memstream(&text, &size);

	review_print_overview(&overview, NULL, out);
	fclose(out);
	assert_string_equal(text, "0 finished jobs\n");
	free(text);
	review_overview_free(&overview);
	journal_close(journal);
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, sample_setup, sample_teardown)
	const struct CMUnitTest tests[] = {
		TEST(agrees_with_the_views),      TEST(filters_narrow),
		TEST(learning_charts_and_quotes), TEST(reads_as_tables),
		TEST(nothing_to_review),
	};

	return cmocka_run_group_tests(tests, sample_utc, NULL);
}
