/* Scales of times in steps that people count in. */
#include "report/internal.h"

#include "base/base.h"

#include <math.h>

/* No step is left out that a person would take between a second and a day; beyond, by tens. */
static double step_over(double least_us)
{
	static const int seconds[] = {1,   2,   5,    10,   15,   30,    60,    120,  300,
				      600, 900, 1800, 3600, 7200, 14400, 43200, 86400};
	double step_us = SECOND_US;

	for (size_t i = 0; i < sizeof seconds / sizeof seconds[0]; i++) {
		step_us = seconds[i] * (double)SECOND_US;
		if (step_us >= least_us)
			return step_us;
	}
	while (step_us < least_us)
		step_us *= 10;
	return step_us;
}

struct time_scale time_scale_for(double least_us, double most_us, int strokes)
{
	struct time_scale scale = {.step_us = step_over((most_us - least_us) / strokes)};

	scale.from_us = scale.step_us * floor(least_us / scale.step_us);
	scale.to_us = scale.step_us * ceil(most_us / scale.step_us);
	if (scale.to_us <= scale.from_us)
		scale.to_us = scale.from_us + scale.step_us;
	return scale;
}
