/* What a review computes from times of work and the GNU Scientific Library does not have ready:
 * pure functions over arrays. Results are in the unit of the times. They return false where the
 * values are too few.
 */
#ifndef STATS_STATS_H
#define STATS_STATS_H

#include <stdbool.h>
#include <stddef.h>

/* ---- Individuals chart ---- */

/* Limits within which single values of a steady process stay: the mean, and 3 / 1.128 = 2.66 times
 * the mean moving range to each side (NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2). */
struct stats_limits {
	double centre;
	double low;
	double high;
};

/* Needs two values, in the order in which they arose. */
bool stats_limits_of(const double *values, size_t count, struct stats_limits *out);

/* ---- Learning ---- */

/* The n-th time, n from 1, by two laws of two parameters each:
 *   power law of practice (unit form): T = first * n^exponent;
 *   exponential:                       T = first * e^(exponent n).
 * Individual learners often follow the exponential rather than the power law (Heathcote, Brown and
 * Mewhort 2000), so both are fitted: the fit is shown, not promised. */
enum stats_law_name { STATS_POWER, STATS_EXPONENTIAL, STATS_LAWS };

/* Fitted by least squares on the logarithms of the times. */
struct stats_law {
	double first;
	double exponent;
	double exponent_low; /* interval of 95 % */
	double exponent_high;
	double r_squared;
};

enum stats_trend { STATS_NO_TREND, STATS_FASTER, STATS_SLOWER };

struct stats_learning {
	struct stats_law laws[STATS_LAWS];
	enum stats_law_name better; /* the power law, unless Akaike's criterion differs by 2 */
	/* Significant at 5 %: the interval of the better law's exponent leaves zero out. */
	enum stats_trend trend;
};

enum { STATS_LEARNING_MIN = 5 };

/* False for fewer than STATS_LEARNING_MIN times, and for times that are not positive. */
bool stats_learning_fit(const double *times, size_t count, struct stats_learning *out);

/* What a law says of the n-th time. */
double stats_law_at(const struct stats_learning *fit, enum stats_law_name law, double n);

#endif
