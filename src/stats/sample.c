/* One sample: its summary, its limits, standard time. */
#include "stats/stats.h"

#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>

struct stats_summary stats_summarise(double *values, size_t count)
{
	struct stats_summary summary = {.count = count, .mean = NAN};
	const struct {
		double *quantile;
		double share;
	} quantiles[] = {
		{&summary.min, 0},      {&summary.decile1, 0.1},    {&summary.quartile1, 0.25},
		{&summary.median, 0.5}, {&summary.quartile3, 0.75}, {&summary.decile9, 0.9},
		{&summary.max, 1},
	};

	gsl_sort(values, 1, count);
	for (size_t i = 0; i < sizeof quantiles / sizeof quantiles[0]; i++)
		*quantiles[i].quantile = count ? gsl_stats_quantile_from_sorted_data(
							 values, 1, count, quantiles[i].share)
					       : NAN;
	if (count)
		summary.mean = gsl_stats_mean(values, 1, count);
	return summary;
}

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
		.mean_range = mean_range,
		.low = centre - 3 * mean_range / d2,
		.high = centre + 3 * mean_range / d2,
	};
	return true;
}

double stats_standard_time(double observed, double rating, double allowance,
			   enum stats_allowance of)
{
	double normal = observed * rating;

	if (of == STATS_ALLOWANCE_OF_WORK)
		return normal * (1 + allowance);
	return allowance < 1 ? normal / (1 - allowance) : NAN;
}
