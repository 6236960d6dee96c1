#include "stats/stats.h"

#include <math.h>
#include <stdlib.h>

/* Neumaier's compensated sum: what an addition drops is kept and added at the end. */
struct sum {
	double total;
	double dropped;
};

static void sum_add(struct sum *sum, double value)
{
	double total = sum->total + value;

	if (fabs(sum->total) >= fabs(value))
		sum->dropped += (sum->total - total) + value;
	else
		sum->dropped += (value - total) + sum->total;
	sum->total = total;
}

static double sum_of(const struct sum *sum)
{
	return sum->total + sum->dropped;
}

double stats_sum(const double *values, size_t count)
{
	struct sum sum = {0};

	for (size_t i = 0; i < count; i++)
		sum_add(&sum, values[i]);
	return sum_of(&sum);
}

double stats_mean(const double *values, size_t count)
{
	return count ? stats_sum(values, count) / (double)count : NAN;
}

/* The mean is rounded, so the deviations do not quite add up to zero: their own sum corrects the
 * sum of their squares. */
static double sum_of_squares(const double *values, size_t count, double mean)
{
	struct sum squares = {0}, rest = {0};

	for (size_t i = 0; i < count; i++) {
		double deviation = values[i] - mean;
		sum_add(&squares, deviation * deviation);
		sum_add(&rest, deviation);
	}
	return sum_of(&squares) - sum_of(&rest) * sum_of(&rest) / (double)count;
}

double stats_sd(const double *values, size_t count)
{
	if (count < 2)
		return NAN;
	return sqrt(sum_of_squares(values, count, stats_mean(values, count)) / (double)(count - 1));
}

double stats_lag1(const double *values, size_t count)
{
	if (count < 2)
		return NAN;
	double mean = stats_mean(values, count);
	struct sum products = {0};

	for (size_t i = 0; i + 1 < count; i++)
		sum_add(&products, (values[i] - mean) * (values[i + 1] - mean));
	return sum_of(&products) / sum_of_squares(values, count, mean);
}

static int by_value(const void *left, const void *right)
{
	double a = *(const double *)left, b = *(const double *)right;

	return (a > b) - (a < b);
}

void stats_sort(double *values, size_t count)
{
	qsort(values, count, sizeof *values, by_value);
}

double stats_quantile(const double *sorted, size_t count, double p, enum stats_quantile_rule rule)
{
	if (count == 0 || !(p >= 0 && p <= 1))
		return NAN;
	double place =
		rule == STATS_QUANTILE_R7 ? 1 + ((double)count - 1) * p : ((double)count + 1) * p;
	place = fmin(fmax(place, 1), (double)count);
	size_t below = (size_t)place;
	double part = place - (double)below;
	return below == count ? sorted[count - 1]
			      : sorted[below - 1] + part * (sorted[below] - sorted[below - 1]);
}

double stats_median(const double *sorted, size_t count)
{
	return stats_quantile(sorted, count, 0.5, STATS_QUANTILE_R7);
}

double stats_mad(const double *sorted, size_t count, double *room)
{
	double median = stats_median(sorted, count);

	for (size_t i = 0; i < count; i++)
		room[i] = fabs(sorted[i] - median);
	stats_sort(room, count);
	return stats_median(room, count);
}

struct stats_summary stats_summarise(double *values, size_t count)
{
	struct stats_summary summary = {
		.count = count,
		.mean = stats_mean(values, count),
		.sd = stats_sd(values, count),
	};

	stats_sort(values, count);
	summary.min = stats_quantile(values, count, 0, STATS_QUANTILE_R7);
	summary.quartile1 = stats_quantile(values, count, 0.25, STATS_QUANTILE_R7);
	summary.median = stats_median(values, count);
	summary.quartile3 = stats_quantile(values, count, 0.75, STATS_QUANTILE_R7);
	summary.max = stats_quantile(values, count, 1, STATS_QUANTILE_R7);
	summary.mad = stats_mad(values, count, values);
	return summary;
}
