#include "stats/stats.h"

#include "base/base.h"

#include <math.h>
#include <stdlib.h>

double stats_learning_unit(double first, double rate, double n)
{
	return first * pow(n, log2(rate));
}

double stats_learning_average(double first, double rate, double n)
{
	return stats_learning_unit(first, rate, n);
}

double stats_learning_total(double first, double rate, double n)
{
	return n * stats_learning_average(first, rate, n);
}

double stats_learning_reach(double first, double rate, double target)
{
	return pow(target / first, 1 / log2(rate));
}

double stats_learning_rate(double first, double second)
{
	return second / first;
}

static struct stats_law law_of(const struct stats_line *line)
{
	double reach = stats_t_quantile(0.975, (double)(line->count - 2)) * line->slope_sd;

	return (struct stats_law){
		.line = *line,
		.first = exp(line->intercept),
		.exponent = line->slope,
		.exponent_interval = {.low = line->slope - reach, .high = line->slope + reach},
		.residual_sd = line->residual_sd,
		.r_squared = line->r_squared,
	};
}

/* Both laws have two parameters, so that Akaike's criterion differs by n ln of the ratio of the
 * residual sums of squares. */
static enum stats_learning_better better_of(const struct stats_learning *fit)
{
	double power = fit->power.residual_sd, exponential = fit->exponential.residual_sd;

	if (power == exponential)
		return STATS_LEARNING_ALIKE;
	double difference = 2 * (double)fit->count * log(power / exponential);
	if (fabs(difference) < 2)
		return STATS_LEARNING_ALIKE;
	return difference < 0 ? STATS_LEARNING_POWER : STATS_LEARNING_EXPONENTIAL;
}

/* Fits ln T against x, which is n or ln n. */
static bool fit_law(const double *log_times, size_t count, double (*of)(double), double *room,
		    struct stats_law *out)
{
	struct stats_line line;

	for (size_t i = 0; i < count; i++)
		room[i] = of((double)(i + 1));
	if (!stats_line_fit(room, log_times, count, &line))
		return false;
	*out = law_of(&line);
	return true;
}

static double itself(double n)
{
	return n;
}

static bool all_positive(const double *values, size_t count)
{
	for (size_t i = 0; i < count; i++) {
		if (!(values[i] > 0))
			return false;
	}
	return true;
}

bool stats_learning_fit(const double *times, size_t count, struct stats_learning *out)
{
	if (count < STATS_LEARNING_MIN || !all_positive(times, count))
		return false;
	double *logs = memory_new(2 * count, sizeof *logs);
	for (size_t i = 0; i < count; i++)
		logs[i] = log(times[i]);
	*out = (struct stats_learning){.count = count};
	bool fits = fit_law(logs, count, log, logs + count, &out->power) &&
		    fit_law(logs, count, itself, logs + count, &out->exponential);
	free(logs);
	const struct stats_law *power = &out->power;
	out->rate = exp2(power->exponent);
	out->rate_interval = (struct stats_interval){.low = exp2(power->exponent_interval.low),
						     .high = exp2(power->exponent_interval.high)};
	out->better = better_of(out);
	const struct stats_law *law =
		out->better == STATS_LEARNING_EXPONENTIAL ? &out->exponential : power;
	out->shown = law->exponent_interval.high < 0;
	return fits;
}

bool stats_learning_next(const struct stats_learning *fit, double probability, double *middle,
			 struct stats_interval *out)
{
	double n = (double)fit->count + 1;
	bool exponential = fit->better == STATS_LEARNING_EXPONENTIAL;
	const struct stats_line *line = exponential ? &fit->exponential.line : &fit->power.line;
	double x = exponential ? n : log(n);
	struct stats_interval logs = stats_line_predict(line, x, probability);

	*middle = exp(line->intercept + line->slope * x);
	*out = (struct stats_interval){.low = exp(logs.low), .high = exp(logs.high)};
	return isfinite(*middle);
}

double stats_standard_time(double observed, double rating, double allowance,
			   enum stats_allowance of)
{
	double normal = observed * rating;

	if (of == STATS_ALLOWANCE_OF_WORK)
		return normal * (1 + allowance);
	return allowance < 1 ? normal / (1 - allowance) : NAN;
}
