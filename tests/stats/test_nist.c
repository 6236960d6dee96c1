/* NIST's Statistical Reference Datasets: certified values, and GSL on the same data. */
#include "stats/check.h"
#include "stats/stats.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_fit.h>
#include <gsl/gsl_statistics.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { VALUES_MAX = 1100, LINE_ROOM = 400 };

struct data_set {
	char name[32];
	size_t count;
	int first_line;
	double mean, sd, lag1;
	double min, median, max, p10_r7, p90_r7, p90_n1;
	double values[VALUES_MAX];
};

static FILE *open_data(const char *name, const char *suffix)
{
	char path[LINE_ROOM];

	snprintf(path, sizeof path, SOURCE_DIR "/tests/stats/nist/%s%s", name, suffix);
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
static int read_sets(struct data_set sets[static 8])
{
	FILE *file = open_data("certified", ".tsv");
	char line[LINE_ROOM], difficulty[16];
	int count = 0;

	assert_non_null(fgets(line, sizeof line, file));
	while (count < 8 && fgets(line, sizeof line, file)) {
		struct data_set *set = &sets[count++];
		/* NOLINTNEXTLINE(cert-err34-c): the count of fields read is checked */
		int fields = sscanf(line, "%31s %zu %d %lf %lf %lf %15s %lf %lf %lf %lf %lf %lf",
				    set->name, &set->count, &set->first_line, &set->mean, &set->sd,
				    &set->lag1, difficulty, &set->min, &set->median, &set->max,
				    &set->p10_r7, &set->p90_r7, &set->p90_n1);
		assert_int_equal(fields, 13);
		read_values(set);
	}
	fclose(file);
	return count;
}

/* As in GSL's own tests: what reading the digits of these two as binary numbers leaves. */
static double sd_tolerance(const char *name)
{
	if (strcmp(name, "NumAcc3") == 0)
		return 1e-9;
	return strcmp(name, "NumAcc4") == 0 ? 1e-7 : 1e-13;
}

static int sets_setup(void **state)
{
	struct data_set *sets = calloc(8, sizeof *sets);

	*state = sets;
	return sets && read_sets(sets) == 8 ? 0 : -1;
}

static int sets_teardown(void **state)
{
	free(*state);
	return 0;
}

static void certified_values(void **state)
{
	const struct data_set *sets = *state;

	for (int i = 0; i < 8; i++) {
		const struct data_set *set = &sets[i];
		double tolerance = sd_tolerance(set->name);
		assert_close(set->name, stats_mean(set->values, set->count), set->mean, 1e-14);
		assert_close(set->name, stats_sd(set->values, set->count), set->sd, tolerance);
		assert_close(set->name, stats_lag1(set->values, set->count), set->lag1, tolerance);
		printf("%-9s relative error: mean %.1e, sd %.1e, lag 1 %.1e\n", set->name,
		       relative_error(stats_mean(set->values, set->count), set->mean),
		       relative_error(stats_sd(set->values, set->count), set->sd),
		       relative_error(stats_lag1(set->values, set->count), set->lag1));
	}
}

/* The textbook's one pass, sum of squares minus square of sum: the check above must refuse it. */
static double one_pass_sd(const double *values, size_t count)
{
	double sum = 0, squares = 0;

	for (size_t i = 0; i < count; i++) {
		sum += values[i];
		squares += values[i] * values[i];
	}
	return sqrt(fmax(0, (squares - sum * sum / (double)count) / (double)(count - 1)));
}

static void one_pass_would_be_refused(void **state)
{
	const struct data_set *sets = *state;

	for (int i = 0; i < 8; i++) {
		const struct data_set *set = &sets[i];
		double got = one_pass_sd(set->values, set->count);
		if (strcmp(set->name, "NumAcc3") == 0 || strcmp(set->name, "NumAcc4") == 0)
			assert_true(relative_error(got, set->sd) > 1e-3);
	}
}

static void quantiles_as_listed(void **state)
{
	const struct data_set *sets = *state;
	static double sorted[VALUES_MAX];

	for (int i = 0; i < 8; i++) {
		const struct data_set *set = &sets[i];
		size_t n = set->count;
		memcpy(sorted, set->values, sizeof sorted);
		stats_sort(sorted, n);
		const struct {
			double p;
			enum stats_quantile_rule rule;
			double want;
		} cases[] = {
			{0, STATS_QUANTILE_R7, set->min},
			{0.5, STATS_QUANTILE_R7, set->median},
			{1, STATS_QUANTILE_R7, set->max},
			{0.1, STATS_QUANTILE_R7, set->p10_r7},
			{0.9, STATS_QUANTILE_R7, set->p90_r7},
			{0.9, STATS_QUANTILE_N1, set->p90_n1},
		};
		for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
			double got = stats_quantile(sorted, n, cases[k].p, cases[k].rule);
			assert_close(set->name, got, cases[k].want, 1e-12);
			if (cases[k].rule == STATS_QUANTILE_R7)
				assert_close(set->name, got,
					     gsl_stats_quantile_from_sorted_data(sorted, 1, n,
										 cases[k].p),
					     1e-12);
		}
	}
}

static void as_the_gnu_scientific_library(void **state)
{
	const struct data_set *sets = *state;
	static double room[VALUES_MAX], sorted[VALUES_MAX];

	for (int i = 0; i < 8; i++) {
		const struct data_set *set = &sets[i];
		const double *values = set->values;
		size_t n = set->count;
		assert_close(set->name, stats_mean(values, n), gsl_stats_mean(values, 1, n), 1e-12);
		assert_close(set->name, stats_sd(values, n), gsl_stats_sd(values, 1, n), 1e-7);
		memcpy(sorted, values, sizeof sorted);
		stats_sort(sorted, n);
		double mad = stats_mad(sorted, n, room);
		assert_close(set->name, mad, gsl_stats_mad0(values, 1, n, room), 1e-12);
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
		assert_true(count < 36);
		/* NOLINTNEXTLINE(cert-err34-c): the count of fields read is checked */
		assert_int_equal(sscanf(line, "%lf %lf", &y[count], &x[count]), 2);
		count++;
	}
	fclose(file);
	assert_int_equal(count, 36);

	struct stats_line fit;
	assert_true(stats_line_fit(x, y, count, &fit));
	assert_close("intercept", fit.intercept, -0.262323073774029, 1e-12);
	assert_close("slope", fit.slope, 1.00211681802045, 1e-13);
	assert_close("sd of intercept", fit.intercept_sd, 0.232818234301152, 1e-12);
	assert_close("sd of slope", fit.slope_sd, 0.429796848199937e-3, 1e-12);
	assert_close("residual sd", fit.residual_sd, 0.884796396144373, 1e-12);
	assert_close("R squared", fit.r_squared, 0.999993745883712, 1e-14);

	gsl_fit_linear(x, 1, y, 1, count, &b0, &b1, &c00, &c01, &c11, &squares);
	assert_close("intercept, GSL", fit.intercept, b0, 1e-10);
	assert_close("sd of slope, GSL", fit.slope_sd, sqrt(c11), 1e-10);

	/* A further value strays by its own noise and by the error of the line, which GSL tells. */
	double at, error;
	gsl_fit_linear_est(1200, b0, b1, c00, c01, c11, &at, &error);
	double reach = gsl_cdf_tdist_Pinv(0.9, 34) * hypot(fit.residual_sd, error);
	struct stats_interval predicted = stats_line_predict(&fit, 1200, 0.8);
	assert_close("prediction, low", predicted.low, at - reach, 1e-10);
	assert_close("prediction, high", predicted.high, at + reach, 1e-10);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(certified_values),
		cmocka_unit_test(one_pass_would_be_refused),
		cmocka_unit_test(quantiles_as_listed),
		cmocka_unit_test(as_the_gnu_scientific_library),
		cmocka_unit_test(norris_line),
	};

	return cmocka_run_group_tests(tests, sets_setup, sets_teardown);
}
