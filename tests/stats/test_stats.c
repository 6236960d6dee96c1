/* Limits and learning against published values; and the GNU Scientific
 * Library of this machine, which they are computed with, against NIST's certified ones. */
#include "stats/stats.h"

#include <gsl/gsl_fit.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

/* NaN is never close to anything. */
static void close_to(const char *what, double got, double want, double tolerance)
{
	double error = want == 0 ? fabs(got) : fabs(got - want) / fabs(want);

	if (!(error <= tolerance))
		fail_msg("%s: got %.17g, want %.17g, relative error %.2g, allowed %.2g", what, got,
			 want, error, tolerance);
}

/* ---- NIST's Statistical Reference Datasets ---- */

enum { VALUES_MAX = 1100, LINE_ROOM = 400, SETS = 8 };

struct data_set {
	char name[32];
	size_t count;
	int first_line;
	double mean, sd, lag1; /* certified */
	double min, median, max, p10, p90;
	double values[VALUES_MAX];
};

static FILE *open_data(const char *name, const char *suffix)
{
	char path[2 * LINE_ROOM];

	snprintf(path, sizeof path, SOURCE_DIR "/tests/stats/nist/%.40s%s", name, suffix);
	FILE *file = fopen(path, "r");
	if (!file)
		fail_msg("cannot open %s", path);
	return file;
}

static void read_values(struct data_set *set)
{
	FILE *file = open_data(set->name, ".dat");
	char line[LINE_ROOM];
	size_t count = 0;

	for (int number = 1; fgets(line, sizeof line, file); number++) {
		char *end;
		double value = strtod(line, &end);
		if (number < set->first_line || end == line)
			continue;
		assert_true(count < VALUES_MAX);
		set->values[count++] = value;
	}
	fclose(file);
	assert_int_equal(count, set->count);
}

/* certified.tsv: name, n, first line, then numbers, with the difficulty between them. */
static void read_sets(struct data_set sets[static SETS])
{
	FILE *file = open_data("certified", ".tsv");
	char line[LINE_ROOM];

	assert_non_null(fgets(line, sizeof line, file));
	for (int i = 0; i < SETS; i++) {
		struct data_set *set = &sets[i];
		assert_non_null(fgets(line, sizeof line, file));
		/* NOLINTNEXTLINE(cert-err34-c): the count of fields read is checked */
		assert_int_equal(sscanf(line, "%31s %zu %d %lf %lf %lf %*s %lf %lf %lf %lf %lf",
					set->name, &set->count, &set->first_line, &set->mean,
					&set->sd, &set->lag1, &set->min, &set->median, &set->max,
					&set->p10, &set->p90),
				 11);
		read_values(set);
	}
	fclose(file);
}

/* Tolerances as in GSL's own tests: what reading the digits of NumAcc3 and 4 as binary numbers
 * leaves. The percentiles are computed (R type 7), not certified. */
static void certified_values(void **state)
{
	(void)state;
	static struct data_set sets[SETS];

	read_sets(sets);
	for (int i = 0; i < SETS; i++) {
		struct data_set *set = &sets[i];
		double tolerance = strcmp(set->name, "NumAcc3") == 0   ? 1e-9
				   : strcmp(set->name, "NumAcc4") == 0 ? 1e-7
								       : 1e-12;
		double sd = gsl_stats_sd(set->values, 1, set->count);
		double lag1 = gsl_stats_lag1_autocorrelation(set->values, 1, set->count);
		close_to(set->name, sd, set->sd, tolerance);
		close_to(set->name, lag1, set->lag1, fmax(tolerance, 1e-9));
		close_to(set->name, gsl_stats_mean(set->values, 1, set->count), set->mean, 1e-13);
		gsl_sort(set->values, 1, set->count);
		const double quantiles[][3] = {{0, set->min, 1e-13},
					       {0.1, set->p10, 1e-12},
					       {0.5, set->median, 1e-12},
					       {0.9, set->p90, 1e-12},
					       {1, set->max, 1e-13}};
		for (size_t q = 0; q < COUNT(quantiles); q++)
			close_to(set->name,
				 gsl_stats_quantile_from_sorted_data(set->values, 1, set->count,
								     quantiles[q][0]),
				 quantiles[q][1], quantiles[q][2]);
	}
}

static void norris_line(void **state)
{
	(void)state;
	double x[36], y[36], b0, b1, c00, c01, c11, squares;
	char line[LINE_ROOM];
	size_t count = 0;
	FILE *file = open_data("Norris", ".dat");

	for (int number = 1; fgets(line, sizeof line, file); number++) {
		if (number < 61 || number > 96) /* as the file's own head says */
			continue;
		/* NOLINTNEXTLINE(cert-err34-c): the count of fields read is checked */
		assert_int_equal(sscanf(line, "%lf %lf", &y[count], &x[count]), 2);
		count++;
	}
	fclose(file);
	assert_int_equal(count, 36);
	gsl_fit_linear(x, 1, y, 1, count, &b0, &b1, &c00, &c01, &c11, &squares);
	close_to("intercept", b0, -0.262323073774029, 1e-10);
	close_to("slope", b1, 1.00211681802045, 1e-12);
	close_to("sd of slope", sqrt(c11), 0.429796848199937e-3, 1e-10);
	close_to("residual sd", sqrt(squares / 34), 0.884796396144373, 1e-10);
}

/* ---- what is computed here ---- */

/* NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, the flow rates of ten batches (quoted):
 * mean 50.81, limits 45.8159 and 55.8041. */
static void individuals_chart_of_the_handbook(void **state)
{
	(void)state;
	static const double flow[] = {49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
	struct stats_limits limits;

	assert_true(stats_limits_of(flow, COUNT(flow), &limits));
	close_to("centre", limits.centre, 50.81, 1e-12);
	assert_true(fabs(limits.low - 45.8159) < 0.00005);
	assert_true(fabs(limits.high - 55.8041) < 0.00005);
	assert_false(stats_limits_of(flow, 1, &limits));
}

/* The unit times of an 80 % curve, first unit 100, to four decimals (textbook). */
static void the_textbook_curve_is_found(void **state)
{
	(void)state;
	static const double units[] = {100, 80, 70.2104, 64, 59.5637};
	struct stats_learning fit;

	assert_true(stats_learning_fit(units, COUNT(units), &fit));
	assert_int_equal(fit.better, STATS_POWER);
	assert_int_equal(fit.trend, STATS_FASTER);
	close_to("first", fit.laws[STATS_POWER].first, 100, 1e-5);
	close_to("rate", exp2(fit.laws[STATS_POWER].exponent), 0.8, 1e-5);
	for (size_t i = 0; i < COUNT(units); i++)
		close_to("unit", stats_law_at(&fit, STATS_POWER, (double)i + 1), units[i], 1e-5);
	assert_false(stats_learning_fit(units, STATS_LEARNING_MIN - 1, &fit));
}

static void an_exponential_learner_is_found(void **state)
{
	(void)state;
	struct stats_learning fit;
	double times[12];

	for (int i = 0; i < 12; i++)
		times[i] = 90 * exp(-0.05 * (i + 1));
	assert_true(stats_learning_fit(times, 12, &fit));
	close_to("first", fit.laws[STATS_EXPONENTIAL].first, 90, 1e-12);
	close_to("exponent", fit.laws[STATS_EXPONENTIAL].exponent, -0.05, 1e-12);
	assert_int_equal(fit.better, STATS_EXPONENTIAL);
	assert_int_equal(fit.trend, STATS_FASTER);
	for (int i = 0; i < 6; i++) {
		double first = times[i];
		times[i] = times[11 - i];
		times[11 - i] = first;
	}
	assert_true(stats_learning_fit(times, 12, &fit));
	assert_int_equal(fit.trend, STATS_SLOWER);
	times[3] = 0;
	assert_false(stats_learning_fit(times, 12, &fit));
}

static void a_steady_hand_has_no_trend(void **state)
{
	(void)state;
	static const double steady[] = {31, 30, 32, 31, 29, 31, 32, 30};
	static const double same[] = {31, 31, 31, 31, 31};
	struct stats_learning fit;

	assert_true(stats_learning_fit(steady, COUNT(steady), &fit));
	assert_int_equal(fit.trend, STATS_NO_TREND);
	assert_int_equal(fit.better, STATS_POWER);
	assert_true(stats_learning_fit(same, COUNT(same), &fit));
	assert_int_equal(fit.trend, STATS_NO_TREND);
}

/* What significant at 5 % and an interval of 95 % mean, tried on drawn samples; a fixed seed. */
static void significance_is_what_it_says(void **state)
{
	(void)state;
	enum { TRIALS = 4000, SIZE = 7 };
	gsl_rng *draw = gsl_rng_alloc(gsl_rng_mt19937);
	int held = 0, trends = 0;

	gsl_rng_set(draw, 20260419);
	for (int trial = 0; trial < TRIALS; trial++) {
		double times[SIZE];
		struct stats_learning fit;
		for (int i = 0; i < SIZE; i++)
			times[i] = 60 * pow(i + 1, log2(0.9)) * gsl_ran_lognormal(draw, 0, 0.1);
		assert_true(stats_learning_fit(times, SIZE, &fit));
		const struct stats_law *law = &fit.laws[STATS_POWER];
		held += law->exponent_low <= log2(0.9) && log2(0.9) <= law->exponent_high;
		for (int i = 0; i < SIZE; i++)
			times[i] = gsl_ran_lognormal(draw, 3.4, 0.2);
		assert_true(stats_learning_fit(times, SIZE, &fit));
		trends += fit.trend != STATS_NO_TREND;
	}
	gsl_rng_free(draw);
	printf("rate held %.3f of 0.95; a trend where there is none: %.3f\n", held / (double)TRIALS,
	       trends / (double)TRIALS);
	/* Four standard deviations of a proportion of 4000. Choosing the better of two laws finds a
	 * trend a little oftener than one law would. */
	assert_true(fabs(held / (double)TRIALS - 0.95) < 0.014);
	assert_true(trends / (double)TRIALS < 0.08);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(certified_values),
		cmocka_unit_test(norris_line),
		cmocka_unit_test(individuals_chart_of_the_handbook),
		cmocka_unit_test(the_textbook_curve_is_found),
		cmocka_unit_test(an_exponential_learner_is_found),
		cmocka_unit_test(a_steady_hand_has_no_trend),
		cmocka_unit_test(significance_is_what_it_says),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
