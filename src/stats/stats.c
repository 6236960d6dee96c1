/* Limits of an individuals chart, and laws of learning fitted with GSL. */
#include "stats/stats.h"

#include "base/base.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_fit.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>

bool stats_limits_of(const double *values, size_t count, struct stats_limits *out)
{
	/* The mean range of two normal values in standard deviations, as published tables have it.
	 */
	static const double d2 = 1.128;
	double ranges = 0;

	if (count < 2)
		return false;
	for (size_t i = 1; i < count; i++)
		ranges += fabs(values[i] - values[i - 1]);
	double mean_range = ranges / (double)(count - 1);
	double centre = gsl_stats_mean(values, 1, count);
	*out = (struct stats_limits){
		.centre = centre,
		.low = centre - 3 * mean_range / d2,
		.high = centre + 3 * mean_range / d2,
	};
	return true;
}

/* A straight line through the logarithms; x is ln n for the power law, n for the exponential.
 * Returns the sum of squared residuals. */
static double fit_law(const double *x, const double *log_times, size_t count, struct stats_law *out)
{
	double intercept, slope, cov00, cov01, cov11, residual;

	gsl_fit_linear(x, 1, log_times, 1, count, &intercept, &slope, &cov00, &cov01, &cov11,
		       &residual);
	double reach = gsl_cdf_tdist_Pinv(0.975, (double)(count - 2)) * sqrt(cov11);
	*out = (struct stats_law){
		.first = exp(intercept),
		.exponent = slope,
		.exponent_low = slope - reach,
		.exponent_high = slope + reach,
		.r_squared = 1 - residual / gsl_stats_tss(log_times, 1, count),
	};
	return residual;
}

bool stats_learning_fit(const double *times, size_t count, struct stats_learning *out)
{
	if (count < STATS_LEARNING_MIN || !(gsl_stats_min(times, 1, count) > 0))
		return false;
	double *n = memory_new(3 * count, sizeof *n);
	double *log_n = n + count, *log_times = log_n + count;
	for (size_t i = 0; i < count; i++) {
		n[i] = (double)(i + 1);
		log_n[i] = log(n[i]);
		log_times[i] = log(times[i]);
	}
	*out = (struct stats_learning){0};
	double power = fit_law(log_n, log_times, count, &out->laws[STATS_POWER]);
	double exponential = fit_law(n, log_times, count, &out->laws[STATS_EXPONENTIAL]);
	free(n);
	/* Both laws have two parameters, so Akaike's criterion differs by n ln of the ratio of the
	 * residual sums of squares. Below 2 the laws fit alike. */
	if (power > exponential && (double)count * log(power / exponential) >= 2)
		out->better = STATS_EXPONENTIAL;
	const struct stats_law *law = &out->laws[out->better];
	out->trend = law->exponent_high < 0  ? STATS_FASTER
		     : law->exponent_low > 0 ? STATS_SLOWER
					     : STATS_NO_TREND;
	return true;
}

double stats_law_at(const struct stats_learning *fit, enum stats_law_name law, double n)
{
	const struct stats_law *fitted = &fit->laws[law];

	return fitted->first * exp(fitted->exponent * (law == STATS_POWER ? log(n) : n));
}
