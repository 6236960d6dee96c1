#include "stats/stats.h"

#include <float.h>
#include <math.h>

/* The continued fraction of the incomplete beta function (NIST Digital Library of Mathematical
 * Functions, 8.17.22), evaluated from the front by Lentz's method. */
static double beta_fraction(double a, double b, double x)
{
	enum { STEPS_MAX = 1000 };
	double c = 1, d = 1 / (1 - (a + b) * x / (a + 1)), value = d;

	for (int m = 1; m < STEPS_MAX; m++) {
		double even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
		d = 1 / (1 + even * d);
		c = 1 + even / c;
		value *= c * d;
		double odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
		d = 1 / (1 + odd * d);
		c = 1 + odd / c;
		value *= c * d;
		if (fabs(c * d - 1) < DBL_EPSILON)
			break;
	}
	return value;
}

/* The regularised incomplete beta function. The fraction converges fast only on the near side of
 * the mean; the other side is its mirror. */
static double incomplete_beta(double a, double b, double x)
{
	if (x <= 0 || x >= 1)
		return x <= 0 ? 0 : 1;
	double front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x));
	if (x < (a + 1) / (a + b + 2))
		return front * beta_fraction(a, b, x) / a;
	return 1 - front * beta_fraction(b, a, 1 - x) / b;
}

/* P(T > t) for t >= 0. */
static double t_tail(double t, double freedom)
{
	return 0.5 * incomplete_beta(freedom / 2, 0.5, freedom / (freedom + t * t));
}

double stats_t_quantile(double p, double freedom)
{
	if (!(p > 0 && p < 1) || !(freedom >= 1))
		return NAN;
	if (p < 0.5)
		return -stats_t_quantile(1 - p, freedom);
	double low = 0, high = 1;
	while (t_tail(high, freedom) > 1 - p)
		high *= 2;
	for (int i = 0; i < 200 && high - low > DBL_EPSILON * high; i++) {
		double middle = low + (high - low) / 2;
		if (t_tail(middle, freedom) > 1 - p)
			low = middle;
		else
			high = middle;
	}
	return low + (high - low) / 2;
}

bool stats_mean_interval(const double *values, size_t count, double confidence,
			 struct stats_interval *out)
{
	if (count < 2)
		return false;
	double mean = stats_mean(values, count);
	double t = stats_t_quantile((1 + confidence) / 2, (double)(count - 1));
	double reach = t * stats_sd(values, count) / sqrt((double)count);

	*out = (struct stats_interval){.low = mean - reach, .high = mean + reach};
	return true;
}

/* The mean and the sum of squared deviations of the logarithms, in one pass (Welford's updating):
 * they are small numbers of one size, and no array for them is needed. */
bool stats_next(const double *values, size_t count, double probability, double *middle,
		struct stats_interval *out)
{
	double mean = 0, squares = 0;

	if (count < 3)
		return false;
	for (size_t i = 0; i < count; i++) {
		if (!(values[i] > 0))
			return false;
		double deviation = log(values[i]) - mean;
		mean += deviation / (double)(i + 1);
		squares += deviation * (log(values[i]) - mean);
	}
	double sd = sqrt(squares / (double)(count - 1));
	double t = stats_t_quantile((1 + probability) / 2, (double)(count - 1));
	double reach = t * sd * sqrt(1 + 1 / (double)count);
	*middle = exp(mean);
	*out = (struct stats_interval){.low = exp(mean - reach), .high = exp(mean + reach)};
	return true;
}
