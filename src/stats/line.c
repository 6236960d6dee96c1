#include "stats/stats.h"

#include <math.h>

/* From deviations from the means, never from raw sums of squares and products. */
bool stats_line_fit(const double *x, const double *y, size_t count, struct stats_line *out)
{
	double mean_x = stats_mean(x, count), mean_y = stats_mean(y, count);
	double xx = 0, xy = 0, yy = 0, residual = 0;

	if (count < 3)
		return false;
	for (size_t i = 0; i < count; i++) {
		double dx = x[i] - mean_x, dy = y[i] - mean_y;
		xx += dx * dx;
		xy += dx * dy;
		yy += dy * dy;
	}
	if (!(xx > 0))
		return false;
	double slope = xy / xx;
	/* Summed by themselves: yy - slope * xy would cancel where the fit is good. */
	for (size_t i = 0; i < count; i++) {
		double left = (y[i] - mean_y) - slope * (x[i] - mean_x);
		residual += left * left;
	}
	double variance = residual / (double)(count - 2);
	*out = (struct stats_line){
		.count = count,
		.intercept = mean_y - slope * mean_x,
		.slope = slope,
		.intercept_sd = sqrt(variance * (1 / (double)count + mean_x * mean_x / xx)),
		.slope_sd = sqrt(variance / xx),
		.residual_sd = sqrt(variance),
		.r_squared = yy > 0 ? 1 - residual / yy : NAN,
		.mean_x = mean_x,
		.spread_x = xx,
	};
	return true;
}

struct stats_interval stats_line_predict(const struct stats_line *line, double x,
					 double probability)
{
	double away = x - line->mean_x, y = line->intercept + line->slope * x;
	double t = stats_t_quantile((1 + probability) / 2, (double)(line->count - 2));
	double reach = t * line->residual_sd *
		       sqrt(1 + 1 / (double)line->count + away * away / line->spread_x);

	return (struct stats_interval){.low = y - reach, .high = y + reach};
}

bool stats_chart_limits(const double *values, size_t count, struct stats_chart *out)
{
	/* The mean range of two normal values, in standard deviations, as the tables print it. */
	static const double d2 = 1.128;
	double ranges = 0;

	if (count < 2)
		return false;
	for (size_t i = 1; i < count; i++)
		ranges += fabs(values[i] - values[i - 1]);
	double mean_range = ranges / (double)(count - 1);
	double centre = stats_mean(values, count);
	*out = (struct stats_chart){
		.centre = centre,
		.mean_range = mean_range,
		.low = centre - 3 * mean_range / d2,
		.high = centre + 3 * mean_range / d2,
	};
	return true;
}
