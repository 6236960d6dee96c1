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

	if (journal_query(journal, sql, NULL, &statement) != JOURNAL_OK)
		fail_msg("%s", journal_message(journal));
	sqlite3_bind_text(statement, 1, a, -1, SQLITE_STATIC);
	sqlite3_bind_text(statement, 2, b, -1, SQLITE_STATIC);
	sqlite3_bind_text(statement, 3, c, -1, SQLITE_STATIC);
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

static const char mean_of_group[] =
	"SELECT avg(t.work_us) FROM job_time AS t JOIN job AS j ON j.id = t.job "
	"WHERE j.stringer = ?1 AND j.pattern = ?2 AND j.method = ?3";

/* The aggregate with which jobs are listed, against the view. */
static const char same_work[] =
	"SELECT count(*) FROM job_time AS t WHERE work_us = (SELECT work(run, working, steady_us) "
	"FROM (SELECT * FROM event WHERE job = t.job ORDER BY seq))";

static void agrees_with_the_views(void **state)
{
	const char *path = sample_path(state, "journal.db");

	shop_write(path, 200);
	struct journal *journal = opened(path);
	struct review_overview overview = overview_of(journal, &(struct review_filter){0});
	assert_int_equal(sample_ask(journal, same_work), 200);
	assert_int_equal(overview.finished, 200);
	assert_int_equal(overview.kind_count, 5);
	assert_int_equal(overview.group_count, 35);
	for (size_t i = 0; i < overview.group_count; i++) {
		const struct review_group *group = &overview.groups[i];
		same(group->work.mean, ask(journal, mean_of_group, group->stringer,
					   group->kind.pattern, group->kind.method));
	}
	/* What is told of strings and phases is of one kind of job. */
	const char *pattern = overview.kinds[0].kind.pattern;
	int checked = 0;
	double pause_us = 0, phase_us[REVIEW_PHASES] = {0};
	for (size_t i = 0; i < overview.kinds[0].count; i++) {
		pause_us += overview.kinds[0].jobs[i].pause_us;
		for (int phase = 0; phase < REVIEW_PHASES; phase++)
			phase_us[phase] += overview.kinds[0].jobs[i].phase_us[phase];
	}
	same(pause_us,
	     ask(journal,
		 "SELECT sum(pause_us) FROM job_time JOIN job ON id = job WHERE pattern = ?1",
		 pattern, 0, 0));
	for (int i = 0; i < REVIEW_PHASES; i++)
		same(phase_us[i], ask(journal,
				      "SELECT sum(work_us) FROM phase_time JOIN job ON id = job "
				      "WHERE phase = ?1 AND pattern = ?2",
				      review_phase_names[i], pattern, 0));
	for (int i = 2; i < REVIEW_STRINGS; i++) {
		const struct review_string_sum *sum = &overview.kinds[0].strings[i];
		int cross = i - REVIEW_CROSSES;
		if (!sum->jobs)
			continue;
		char *which = cross > 0 ? memory_format("cross%d ", cross)
					: memory_format("main%d%c", i / 2, i % 2 ? 'r' : 'l');
		static const char sums[] =
			"SELECT %s FROM string_time JOIN job ON id = job WHERE pattern = ?1 AND "
			"string || number || coalesce(substr(string_time.side, 1, 1), ' ') = ?2";
		char sql[300];
		snprintf(sql, sizeof sql, sums, "sum(work_us)");
		same(sum->work_us, ask(journal, sql, pattern, which, 0));
		snprintf(sql, sizeof sql, sums, "sum(repeats)");
		same(sum->repeats, ask(journal, sql, pattern, which, 0));
		snprintf(sql, sizeof sql, sums, "sum(backs)");
		same(sum->backs, ask(journal, sql, pattern, which, 0));
		free(which);
		checked++;
	}
	assert_true(checked > 30);
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
static void write_timed(struct journal *journal, const char *stringer, const char *detail, int day,
			double minutes, enum journal_kind end)
{
	struct script script = sample_script();
	int64_t at = day * 86400000000;
	int64_t call_us = (int64_t)(minutes * 60e6 / SAMPLE_CALLS);

	script.stringer = stringer;
	script.detail = detail;
	assert_int_equal(journal_begin(journal, &script, sample_wall_us + at), JOURNAL_OK);
	sample_append(journal, JOURNAL_STARTED, 1, true, at);
	for (int call = 2; call <= SAMPLE_CALLS; call++)
		sample_append(journal, JOURNAL_NEXT, call, true, at + (call - 1) * call_us);
	sample_append(journal, end, SAMPLE_CALLS + 1, false, at + SAMPLE_CALLS * call_us);
}

static const char bench[] = "bench";

/* An apprentice after a power law of 85 %, a hand that does not change, and one with few jobs. */
static void write_three_stringers(struct journal *journal)
{
	static const double steady[] = {30, 31, 29, 32, 30, 28, 31, 30, 29, 60};

	for (int i = 0; i < 12; i++)
		write_timed(journal, "apprentice", bench, i, 62 * pow(i + 1, log2(0.85)),
			    JOURNAL_FINISHED);
	for (int i = 0; i < 10; i++)
		write_timed(journal, "mira", bench, i, steady[i], JOURNAL_FINISHED);
	for (int i = 0; i < 3; i++)
		write_timed(journal, "noah", bench, i, 40 + i, JOURNAL_FINISHED);
	write_timed(journal, "noah", bench, 4, 90, JOURNAL_ABANDONED);
	write_timed(journal, "noah", bench, 5, 20, JOURNAL_NEXT);
}

static void near(double us, double minutes)
{
	assert_true(fabs(us / 60e6 - minutes) < 1e-3);
}

static void quotes_trends_and_limits(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));

	write_three_stringers(journal);
	struct review_overview overview = overview_of(journal, &(struct review_filter){0});
	assert_int_equal(overview.finished, 25);
	assert_int_equal(overview.open, 1);
	assert_int_equal(overview.abandoned, 1);

	/* The trend says less than the best of the last five, the newest: that is quoted. */
	const struct review_group *apprentice = &overview.groups[0];
	assert_string_equal(apprentice->stringer, "apprentice");
	assert_int_equal(apprentice->learning.trend, STATS_FASTER);
	assert_int_equal(apprentice->learning.better, STATS_POWER);
	near(apprentice->learning.laws[STATS_POWER].first, 62);
	near(apprentice->quote_us, 62 * pow(12, log2(0.85)));
	assert_true(apprentice->usual_us > apprentice->quote_us);
	assert_false(apprentice->has_limits);

	/* 28 29 29 30 30 30 31 31 32 60: median 30, deciles 28.9 and 34.8. */
	const struct review_group *mira = &overview.groups[1];
	assert_int_equal(mira->learning.trend, STATS_NO_TREND);
	near(mira->quote_us, 30);
	near(mira->usual_us, 30);
	near(mira->quote_low_us, 28.9);
	near(mira->quote_high_us, 34.8);
	assert_true(mira->has_limits);
	for (size_t i = 0; i < mira->count; i++)
		assert_int_equal(review_is_outside(mira, i), i == 9);

	const struct review_group *noah = &overview.groups[2];
	assert_false(noah->has_learning);
	assert_false(noah->has_limits);
	assert_true(noah->has_quote);
	near(noah->quote_us, 41);
	review_overview_free(&overview);
	journal_close(journal);
}

/* Whatever the past was, a quote is never less than the best of the last five jobs. */
static void a_quote_is_never_below_what_was_done_of_late(void **state)
{
	static const double times[] = {20, 20, 20, 20, 20, 20, 20, 40, 41, 42, 43, 44};
	struct journal *journal = sample_open(sample_path(state, "journal.db"));

	for (int i = 0; i < 12; i++)
		write_timed(journal, "mira", bench, i, times[i], JOURNAL_FINISHED);
	struct review_overview overview = overview_of(journal, &(struct review_filter){0});
	assert_true(overview.groups[0].quote_us >= 40 * 60e6 - 1);
	assert_true(overview.groups[0].quote_us <= 44 * 60e6 + 1);
	review_overview_free(&overview);
	journal_close(journal);
}

static void unlike_jobs_are_never_mixed(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));

	for (int i = 0; i < 6; i++) {
		write_timed(journal, "mira", bench, i, 30, JOURNAL_FINISHED);
		write_timed(journal, "mira", "learner", i, 90, JOURNAL_FINISHED);
		write_timed(journal, "mira", "quick", i, 10, JOURNAL_FINISHED);
	}
	struct review_overview overview = overview_of(journal, &(struct review_filter){0});
	static const struct {
		const char *detail;
		size_t count;
		double minutes;
	} want[] = {{"bench", 6, 30}, {"learner", 6, 90}, {"quick", 6, 10}};
	assert_int_equal(overview.group_count, 3);
	for (size_t i = 0; i < 3; i++) {
		assert_string_equal(overview.groups[i].kind.detail, want[i].detail);
		assert_int_equal(overview.groups[i].count, want[i].count);
		near(overview.groups[i].work.max, want[i].minutes);
		near(overview.groups[i].work.min, want[i].minutes);
	}
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
		TEST(agrees_with_the_views),
		TEST(filters_narrow),
		TEST(quotes_trends_and_limits),
		TEST(reads_as_tables),
		TEST(a_quote_is_never_below_what_was_done_of_late),
		TEST(unlike_jobs_are_never_mixed),
		TEST(nothing_to_review),
	};

	return cmocka_run_group_tests(tests, sample_utc, NULL);
}
