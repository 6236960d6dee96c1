#include "stats/stats.h"

#include "base/base.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_fit.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>

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

static bool all_positive(const double *values, size_t count)
{
	for (size_t i = 0; i < count; i++) {
		if (!(values[i] > 0))
			return false;
	}
	return true;
}

/* Both laws have two parameters, so Akaike's criterion differs by n ln of the ratio of the residual
 * sums of squares. */
static void compare_laws(struct stats_learning *fit, double power, double exponential)
{
	double difference =
		power == exponential ? 0 : (double)fit->count * log(power / exponential);

	fit->alike = fabs(difference) < 2;
	fit->better = !fit->alike && difference > 0 ? STATS_EXPONENTIAL : STATS_POWER;
}

bool stats_learning_fit(const double *times, size_t count, struct stats_learning *out)
{
	if (count < STATS_LEARNING_MIN || !all_positive(times, count))
		return false;
	double *n = memory_new(3 * count, sizeof *n);
	double *log_n = n + count, *log_times = log_n + count;
	for (size_t i = 0; i < count; i++) {
		n[i] = (double)(i + 1);
		log_n[i] = log(n[i]);
		log_times[i] = log(times[i]);
	}
	*out = (struct stats_learning){.count = count};
	double power = fit_law(log_n, log_times, count, &out->laws[STATS_POWER]);
	double exponential = fit_law(n, log_times, count, &out->laws[STATS_EXPONENTIAL]);
	free(n);
	compare_laws(out, power, exponential);
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
