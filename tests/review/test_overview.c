/* Many jobs reviewed: against the journal's views asked with SQL, against times that were made up
 * from a known law, and by the letter. */
#include "journal/journal.h"
#include "review/page.h"
#include "review/review.h"
#include "review/shop.h"

#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
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

	if (review_overview(journal, filter, NULL, &overview) != JOURNAL_OK)
		fail_msg("%s", journal_message(journal));
	return overview;
}

/* A query of the views, whose ?1 is a text; the caller finalizes it. */
static sqlite3_stmt *asked(struct journal *journal, const char *sql, const char *text)
{
	sqlite3_stmt *statement = NULL;

	if (journal_query(journal, sql, NULL, &statement) != JOURNAL_OK)
		fail_msg("%s", journal_message(journal));
	sqlite3_bind_text(statement, 1, text, -1, SQLITE_STATIC);
	return statement;
}

static void same(double got, double want)
{
	if (!(fabs(got - want) <= 1e-9 * fabs(want)))
		fail_msg("got %.17g, want %.17g", got, want);
}

/* The rows of a table: count, median and quartiles, against those that the GNU Scientific Library
 * finds in what a query gives for each row's name. */
static void same_quartiles(struct journal *journal, const struct table *table, const char *sql)
{
	static double values[1000];

	assert_true(table->cell_count > 0);
	for (size_t at = 0; at < table->cell_count; at += table->column_count) {
		const struct table_cell *row = &table->cells[at];
		sqlite3_stmt *statement = asked(journal, sql, row[0].text);
		size_t count = 0;
		while (sqlite3_step(statement) == SQLITE_ROW)
			values[count++] = sqlite3_column_double(statement, 0);
		sqlite3_finalize(statement);
		gsl_sort(values, 1, count);
		assert_true(row[1].value == (double)count);
		same(row[2].value, gsl_stats_median_from_sorted_data(values, 1, count));
		same(row[3].value, gsl_stats_quantile_from_sorted_data(values, 1, count, 0.25));
		same(row[4].value, gsl_stats_quantile_from_sorted_data(values, 1, count, 0.75));
	}
}

/* The table of strings has the first rows of a query, as numbers. */
static void same_strings(struct journal *journal, const struct table *table, const char *order)
{
	char *sql = memory_format(
		"SELECT string || ' ' || number || coalesce(' ' || string_time.side, ''), "
		"count(*), avg(work_us), sum(repeats), sum(backs) FROM string_time "
		"JOIN job ON id = job WHERE pattern = 'pattern-0' GROUP BY 1 ORDER BY %s",
		order);
	sqlite3_stmt *statement = asked(journal, sql, NULL);

	assert_int_equal(table->cell_count, 5 * 5);
	for (size_t i = 0; i < 5; i++) {
		assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
		assert_string_equal(table->cells[5 * i].text, sqlite3_column_text(statement, 0));
		for (int column = 1; column < 5; column++)
			same(table->cells[5 * i + (size_t)column].value,
			     sqlite3_column_double(statement, column));
	}
	sqlite3_finalize(statement);
	free(sql);
}

#define WORK_OF "SELECT t.work_us FROM job_time AS t JOIN job AS j ON j.id = t.job WHERE "
#define KIND    "j.pattern || ', ' || j.method || ', ' || j.detail"

/* The aggregate with which jobs are listed, against the view. */
static const char same_work[] =
	"SELECT count(*) FROM job_time AS t WHERE work_us = (SELECT work(run, working, steady_us) "
	"FROM (SELECT * FROM event WHERE job = t.job ORDER BY seq))";

static void agrees_with_the_views(void **state)
{
	enum { STRINGERS, KINDS, PHASES, HALVES, SLOWEST, UNSURE };
	const char *path = sample_path(state, "journal.db");

	shop_write(path, 200);
	struct journal *journal = opened(path);
	struct review_overview overview = overview_of(journal, &(struct review_filter){0});
	assert_int_equal(sample_ask(journal, same_work), 200);
	assert_int_equal(overview.finished, 200);
	assert_int_equal(overview.group_count, 35);
	for (size_t i = 0; i < overview.group_count; i++) {
		const struct review_group *group = &overview.groups[i];
		sqlite3_stmt *mean = asked(journal,
					   "SELECT avg(work_us) FROM (" WORK_OF
					   "j.stringer || ': ' || " KIND " = ?1)",
					   group->name);
		assert_int_equal(sqlite3_step(mean), SQLITE_ROW);
		same(group->mean_us, sqlite3_column_double(mean, 0));
		sqlite3_finalize(mean);
	}
	same_quartiles(journal, &overview.statistics[STRINGERS],
		       WORK_OF "j.stringer || ': ' || " KIND " = ?1");
	same_quartiles(journal, &overview.statistics[KINDS], WORK_OF KIND " = ?1");
	/* What is told of strings and phases is of one kind of job; nothing was lost. */
	same_quartiles(journal, &overview.statistics[PHASES],
		       "SELECT CASE WHEN ?1 LIKE 'paused%' THEN pause_us WHEN ?1 LIKE 'lost%' "
		       "THEN 0 ELSE (SELECT p.work_us FROM phase_time AS p WHERE p.job = t.job "
		       "AND p.phase = ?1) END FROM job_time AS t JOIN job ON id = t.job "
		       "WHERE pattern = 'pattern-0'");
	assert_int_equal(overview.statistics[PHASES].cell_count, 6 * 5);
	same_strings(journal, &overview.statistics[SLOWEST],
		     "avg(work_us) DESC, string DESC, number, string_time.side");
	same_strings(journal, &overview.statistics[UNSURE],
		     "sum(repeats + backs) DESC, string DESC, number, string_time.side");
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
	assert_non_null(strstr(overview.span, "left out: 1 open, 1 abandoned"));

	/* The trend says less than the best of the last five, the newest: that is quoted. */
	const struct review_group *apprentice = &overview.groups[0];
	assert_string_equal(apprentice->name, "apprentice: open-16x19, two-piece, bench");
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
		const char *name;
		double minutes;
	} want[] = {{"mira: open-16x19, two-piece, bench", 30},
		    {"mira: open-16x19, two-piece, learner", 90},
		    {"mira: open-16x19, two-piece, quick", 10}};
	assert_int_equal(overview.group_count, 3);
	for (size_t i = 0; i < 3; i++) {
		const struct review_group *group = &overview.groups[i];
		assert_string_equal(group->name, want[i].name);
		assert_int_equal(group->count, 6);
		for (size_t job = 0; job < 6; job++)
			near(group->jobs[job].work_us, want[i].minutes);
	}
	review_overview_free(&overview);
	journal_close(journal);
}

static void a_job_without_work_has_no_logarithm(void **state)
{
	struct journal *journal = sample_open(sample_path(state, "journal.db"));

	for (int i = 0; i < 6; i++)
		write_timed(journal, "mira", bench, i, i == 2 ? 0 : 30, JOURNAL_FINISHED);
	struct review_overview overview = overview_of(journal, &(struct review_filter){0});
	const struct table *facts = &overview.groups[0].facts;
	assert_false(overview.groups[0].has_learning);
	assert_string_equal(facts->cells[facts->cell_count - 1].text,
			    "no trend: there is a job without work");
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
	struct review_overview overview;
	assert_int_equal(review_overview(journal, &(struct review_filter){0}, &standard, &overview),
			 JOURNAL_OK);
	review_print_overview(&overview, out);
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

	review_print_overview(&overview, out);
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
		TEST(a_job_without_work_has_no_logarithm),
		TEST(nothing_to_review),
	};

	return cmocka_run_group_tests(tests, sample_utc, NULL);
}
