/* Intervals, charts, learning curves and standard time, against published values and GSL. */
#include "stats/check.h"
#include "stats/stats.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <stdio.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static void too_few_is_not_a_number(void **state)
{
	(void)state;
	const double one[] = {3};
	const double same[] = {2, 2, 2, 2, 2};
	struct stats_line line;
	struct stats_chart chart;
	struct stats_interval interval;
	struct stats_learning learning;
	double middle;

	assert_true(isnan(stats_mean(one, 0)));
	assert_true(isnan(stats_sd(one, 1)));
	assert_true(isnan(stats_lag1(one, 1)));
	assert_true(isnan(stats_lag1(same, 5)));
	assert_true(isnan(stats_quantile(one, 0, 0.5, STATS_QUANTILE_R7)));
	assert_true(isnan(stats_quantile(one, 1, 1.5, STATS_QUANTILE_R7)));
	assert_true(isnan(stats_quantile(one, 1, NAN, STATS_QUANTILE_R7)));
	assert_close("median of one", stats_median(one, 1), 3, 0);
	assert_false(stats_line_fit(same, same, 2, &line));
	assert_false(stats_line_fit(same, same, 5, &line)); /* all at one x */
	assert_false(stats_chart_limits(one, 1, &chart));
	assert_false(stats_mean_interval(one, 1, 0.95, &interval));
	assert_false(stats_next(same, 2, 0.8, &middle, &interval));
	assert_false(stats_learning_fit(same, STATS_LEARNING_MIN - 1, &learning));
	assert_true(isnan(stats_t_quantile(0, 5)));
	assert_true(isnan(stats_t_quantile(1, 5)));
	assert_true(isnan(stats_t_quantile(0.5, 0.5)));
}

static void t_quantile_as_gsl(void **state)
{
	(void)state;
	static const double ps[] = {0.001, 0.025, 0.1, 0.4, 0.5, 0.6, 0.9, 0.95, 0.975, 0.9995};
	static const double freedoms[] = {1, 2, 3, 4, 5, 10, 30, 100, 1000, 10000};

	for (size_t i = 0; i < COUNT(ps); i++) {
		for (size_t k = 0; k < COUNT(freedoms); k++) {
			double want = gsl_cdf_tdist_Pinv(ps[i], freedoms[k]);
			double got = stats_t_quantile(ps[i], freedoms[k]);
			if (!(fabs(got - want) <= 1e-9 * fmax(1, fabs(want))))
				fail_msg("p %g, %g degrees: got %.15g, GSL %.15g", ps[i],
					 freedoms[k], got, want);
		}
	}
}

/* NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, the flow rates of ten batches (quoted):
 * mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041. */
static void individuals_chart_of_the_handbook(void **state)
{
	(void)state;
	static const double flow[] = {49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
	struct stats_chart chart;

	assert_true(stats_chart_limits(flow, COUNT(flow), &chart));
	assert_close("centre", chart.centre, 50.81, 1e-12);
	assert_true(fabs(chart.mean_range - 1.8778) < 0.00005);
	assert_true(fabs(chart.low - 45.8159) < 0.00005);
	assert_true(fabs(chart.high - 55.8041) < 0.00005);
	assert_true(fabs(3 / 1.128 - 2.66) < 0.005);
}

/* An 80 % curve, first unit 100 (textbook table, see the values there to four decimals). */
static void both_forms_of_the_learning_curve(void **state)
{
	(void)state;
	static const double units[] = {100, 80, 70.2104, 64, 59.5637};
	static const struct {
		double n, average, total;
	} wright[] = {
		{1, 100, 100}, {2, 80, 160}, {4, 64, 256}, {8, 51.2, 409.6}, {16, 40.96, 655.36}};

	for (size_t i = 0; i < COUNT(units); i++)
		assert_true(fabs(stats_learning_unit(100, 0.8, (double)i + 1) - units[i]) < 5e-5);
	for (size_t i = 0; i < COUNT(wright); i++) {
		assert_close("average", stats_learning_average(100, 0.8, wright[i].n),
			     wright[i].average, 1e-12);
		assert_close("total", stats_learning_total(100, 0.8, wright[i].n), wright[i].total,
			     1e-12);
	}
}

/* Stevenson, Operations Management, supplement 7S, problem 16: 30 then 25 minutes; 18 is reached
 * by the 7th. */
static void learning_curve_through_two_points(void **state)
{
	(void)state;
	double rate = stats_learning_rate(30, 25);
	double n = stats_learning_reach(30, rate, 18);

	assert_true(fabs(rate - 0.8333) < 0.00005);
	assert_true(fabs(n - 6.97) < 0.005);
	assert_int_equal((int)ceil(n), 7);
}

static void standard_time_by_both_allowances(void **state)
{
	(void)state;
	/* A university's worked example: 20 s at a rating of 1.20 and an allowance of 20 %. */
	assert_close("of work", stats_standard_time(20, 1.2, 0.2, STATS_ALLOWANCE_OF_WORK), 28.8,
		     1e-14);
	assert_close("13 % of work", stats_standard_time(1, 1, 0.13, STATS_ALLOWANCE_OF_WORK), 1.13,
		     1e-14);
	assert_close("13 % of the shift", stats_standard_time(1, 1, 0.13, STATS_ALLOWANCE_OF_SHIFT),
		     1 / 0.87, 1e-14);
	assert_true(isnan(stats_standard_time(1, 1, 1, STATS_ALLOWANCE_OF_SHIFT)));
}

static void a_learner_without_noise_is_found_exactly(void **state)
{
	(void)state;
	struct stats_learning fit;
	double times[12];

	for (int i = 0; i < 12; i++)
		times[i] = stats_learning_unit(90, 0.85, i + 1);
	assert_true(stats_learning_fit(times, 12, &fit));
	assert_close("first", fit.power.first, 90, 1e-12);
	assert_close("rate", fit.rate, 0.85, 1e-12);
	assert_int_equal(fit.better, STATS_LEARNING_POWER);
	assert_true(fit.shown);

	for (int i = 0; i < 12; i++)
		times[i] = 90 * exp(-0.05 * (i + 1));
	assert_true(stats_learning_fit(times, 12, &fit));
	assert_close("first", fit.exponential.first, 90, 1e-12);
	assert_close("exponent", fit.exponential.exponent, -0.05, 1e-12);
	assert_int_equal(fit.better, STATS_LEARNING_EXPONENTIAL);
	assert_true(fit.shown);

	times[3] = 0;
	assert_false(stats_learning_fit(times, 12, &fit));
}

static void no_learning_is_not_shown(void **state)
{
	(void)state;
	static const double steady[] = {31, 30, 32, 31, 29, 31, 32, 30};
	static const double same[] = {31, 31, 31, 31, 31};
	struct stats_learning fit;

	assert_true(stats_learning_fit(steady, COUNT(steady), &fit));
	assert_false(fit.shown);
	assert_int_equal(fit.better, STATS_LEARNING_ALIKE);
	assert_true(stats_learning_fit(same, COUNT(same), &fit));
	assert_false(fit.shown);
}

/* What an interval of 95 % or 80 % means, tried on drawn samples: a fixed seed, printed. */
static void intervals_hold_as_often_as_they_say(void **state)
{
	(void)state;
	enum { TRIALS = 4000, SIZE = 7 };
	gsl_rng *draw = gsl_rng_alloc(gsl_rng_mt19937);
	int mean_held = 0, next_held = 0, rate_held = 0, learner_held = 0;

	gsl_rng_set(draw, 20260419);
	for (int trial = 0; trial < TRIALS; trial++) {
		double values[SIZE], times[SIZE], middle;
		struct stats_interval interval;
		struct stats_learning fit;
		for (int i = 0; i < SIZE; i++)
			values[i] = 40 + gsl_ran_gaussian(draw, 5);
		assert_true(stats_mean_interval(values, SIZE, 0.95, &interval));
		mean_held += interval.low <= 40 && 40 <= interval.high;
		for (int i = 0; i < SIZE; i++)
			values[i] = gsl_ran_lognormal(draw, 3.4, 0.2);
		assert_true(stats_next(values, SIZE, 0.8, &middle, &interval));
		double next = gsl_ran_lognormal(draw, 3.4, 0.2);
		next_held += interval.low <= next && next <= interval.high;
		for (int i = 0; i < SIZE; i++)
			times[i] = stats_learning_unit(60, 0.9, i + 1) *
				   gsl_ran_lognormal(draw, 0, 0.1);
		assert_true(stats_learning_fit(times, SIZE, &fit));
		rate_held += fit.rate_interval.low <= 0.9 && 0.9 <= fit.rate_interval.high;
		fit.better = STATS_LEARNING_POWER; /* what they were drawn from */
		assert_true(stats_learning_next(&fit, 0.8, &middle, &interval));
		next = stats_learning_unit(60, 0.9, SIZE + 1) * gsl_ran_lognormal(draw, 0, 0.1);
		learner_held += interval.low <= next && next <= interval.high;
	}
	gsl_rng_free(draw);
	printf("seed 20260419: mean %.3f of 0.95, rate %.3f of 0.95, next %.3f and learner's next "
	       "%.3f of 0.80\n",
	       mean_held / (double)TRIALS, rate_held / (double)TRIALS, next_held / (double)TRIALS,
	       learner_held / (double)TRIALS);
	/* Four standard deviations of a proportion of 4000. */
	assert_true(fabs(mean_held / (double)TRIALS - 0.95) < 0.014);
	assert_true(fabs(next_held / (double)TRIALS - 0.80) < 0.026);
	assert_true(fabs(learner_held / (double)TRIALS - 0.80) < 0.026);
	assert_true(fabs(rate_held / (double)TRIALS - 0.95) < 0.014);
}

static void summary_in_one(void **state)
{
	(void)state;
	double values[] = {9, 1, 4, 2, 7};
	struct stats_summary summary = stats_summarise(values, 5);

	assert_close("mean", summary.mean, 4.6, 1e-15);
	assert_close("min", summary.min, 1, 0);
	assert_close("quartile 1", summary.quartile1, 2, 0);
	assert_close("median", summary.median, 4, 0);
	assert_close("quartile 3", summary.quartile3, 7, 0);
	assert_close("max", summary.max, 9, 0);
	assert_close("mad", summary.mad, 3, 0);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(too_few_is_not_a_number),
		cmocka_unit_test(t_quantile_as_gsl),
		cmocka_unit_test(individuals_chart_of_the_handbook),
		cmocka_unit_test(both_forms_of_the_learning_curve),
		cmocka_unit_test(learning_curve_through_two_points),
		cmocka_unit_test(standard_time_by_both_allowances),
		cmocka_unit_test(a_learner_without_noise_is_found_exactly),
		cmocka_unit_test(no_learning_is_not_shown),
		cmocka_unit_test(intervals_hold_as_often_as_they_say),
		cmocka_unit_test(summary_in_one),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
