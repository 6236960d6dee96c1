/* Statistics over arrays of times: pure functions, no memory kept, nothing read or written.
 *
 * Sums are compensated and spreads are taken from deviations, so that a small spread around a large
 * value comes out right (NIST's data sets NumAcc3 and NumAcc4 are the test). A result that the data
 * are too few for is NaN, or false. Values must be finite; checking that is the caller's part.
 */
#ifndef STATS_STATS_H
#define STATS_STATS_H

#include <stdbool.h>
#include <stddef.h>

/* ---- one sample ---- */

double stats_sum(const double *values, size_t count);
double stats_mean(const double *values, size_t count);
double stats_sd(const double *values, size_t count); /* divided by n - 1; needs 2 */

/* Autocorrelation at lag 1, as NIST defines it: the sum of the products of neighbouring deviations
 * from the mean, divided by the sum of their squares. Needs 2, and a spread. */
double stats_lag1(const double *values, size_t count);

/* Sorts in place, ascending. The functions below want sorted values. */
void stats_sort(double *values, size_t count);

/* Where the quantile p of n sorted values stands, counted from 1, between neighbours by
 * interpolation: Hyndman and Fan's type 7, 1 + (n - 1) p, which is R's default and the one used in
 * reports here; and their type 6, (n + 1) p, kept within the data, which NIST's handbook uses. */
enum stats_quantile_rule { STATS_QUANTILE_R7, STATS_QUANTILE_N1 };

double stats_quantile(const double *sorted, size_t count, double p, enum stats_quantile_rule rule);
double stats_median(const double *sorted, size_t count);

/* The median of the absolute deviations from the median, as it is. Multiplied by 1.4826 it
 * estimates the standard deviation of normal data. Works in `room`, of the same size. */
double stats_mad(const double *sorted, size_t count, double *room);

/* How many of a sample's values are wanted to describe it at a glance. */
struct stats_summary {
	size_t count;
	double mean;
	double sd;
	double min;
	double quartile1;
	double median;
	double quartile3;
	double max;
	double mad;
};

/* Sorts values. NaN where there are too few. */
struct stats_summary stats_summarise(double *values, size_t count);

/* ---- intervals ---- */

/* The value below which Student's t with these degrees of freedom (1 or more) stays with
 * probability p, 0 < p < 1. */
double stats_t_quantile(double p, double freedom);

struct stats_interval {
	double low;
	double high;
};

/* Where the mean that the values were drawn from lies, with this confidence (0.95), if they are
 * normal. Needs 2. */
bool stats_mean_interval(const double *values, size_t count, double confidence,
			 struct stats_interval *out);

/* What the next value will be: a middle, and the interval that holds it with this probability, if
 * the logarithms are normal, as times of work roughly are: they are never negative and stray
 * further upwards. The middle is the geometric mean. Needs 3 values, all positive. */
bool stats_next(const double *values, size_t count, double probability, double *middle,
		struct stats_interval *out);

/* ---- a straight line by least squares ---- */

struct stats_line {
	size_t count;
	double intercept;
	double slope;
	double intercept_sd; /* standard errors */
	double slope_sd;
	double residual_sd; /* divided by n - 2 */
	double r_squared;
	double mean_x;
	double spread_x; /* the sum of squared deviations of x */
};

/* y = intercept + slope x. Needs 3 points that do not share one x. */
bool stats_line_fit(const double *x, const double *y, size_t count, struct stats_line *out);

/* Where a further y at x will be, with this probability: the interval of prediction, not that of
 * the line. */
struct stats_interval stats_line_predict(const struct stats_line *line, double x,
					 double probability);

/* ---- individuals chart ---- */

/* Limits within which single values of a steady process stay: the mean, and 3 / 1.128 = 2.66 times
 * the mean moving range to each side (NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2).
 * Needs 2 values, in the order in which they arose. */
struct stats_chart {
	double centre;
	double mean_range;
	double low;
	double high;
};

bool stats_chart_limits(const double *values, size_t count, struct stats_chart *out);

/* ---- learning ---- */

/* Unit form: the n-th job takes first * n^b with b = log2(rate); a rate of 0.8 means that every
 * doubling of n brings the time down to 80 %. */
double stats_learning_unit(double first, double rate, double n);

/* Wright's form: the same expression is the average of the first n; and their total. */
double stats_learning_average(double first, double rate, double n);
double stats_learning_total(double first, double rate, double n);

/* The n at which the unit form reaches target; and the rate at which n = 1 takes first and
 * n = 2 takes second. */
double stats_learning_reach(double first, double rate, double target);
double stats_learning_rate(double first, double second);

enum stats_learning_better {
	STATS_LEARNING_ALIKE,
	STATS_LEARNING_POWER,
	STATS_LEARNING_EXPONENTIAL
};

/* The n-th time, n from 1, by two laws of two parameters each, neither with a floor:
 *   power law of practice (unit form): ln T = ln first + exponent ln n;
 *   exponential:                       ln T = ln first + exponent n;
 * each by least squares on the logarithms of the times, so that both are judged by one measure, the
 * spread of what is left. They count as alike when Akaike's criterion differs by less than 2.
 * Individual learners often follow the exponential rather than the power law (Heathcote, Brown and
 * Mewhort 2000): the fit is shown, not promised. Intervals are of 95 %. */
struct stats_law {
	struct stats_line line; /* ln T on ln n, or on n */
	double first;
	double exponent;
	struct stats_interval exponent_interval;
	double residual_sd; /* of ln T */
	double r_squared;
};

struct stats_learning {
	size_t count;
	struct stats_law power;
	struct stats_law exponential;
	double rate; /* of the power law: 2^exponent, with its interval */
	struct stats_interval rate_interval;
	bool shown; /* the better law's exponent is below 0 with its whole interval */
	enum stats_learning_better better;
};

enum { STATS_LEARNING_MIN = 5 };

/* Refuses fewer than STATS_LEARNING_MIN times, and times that are not positive. */
bool stats_learning_fit(const double *times, size_t count, struct stats_learning *out);

/* The time after the last one fitted, by the better law (the power law if they are alike): what it
 * says, and the interval that holds it with this probability. */
bool stats_learning_next(const struct stats_learning *fit, double probability, double *middle,
			 struct stats_interval *out);

/* ---- standard time ---- */

/* An allowance for rest and delays is a part of the working time, or a part of the whole shift. */
enum stats_allowance { STATS_ALLOWANCE_OF_WORK, STATS_ALLOWANCE_OF_SHIFT };

/* observed * rating, times 1 + allowance or divided by 1 - allowance. Rating 1 is the pace that is
 * expected. NaN for an allowance of the shift that leaves nothing of it. */
double stats_standard_time(double observed, double rating, double allowance,
			   enum stats_allowance of);

#endif
