/* Time axes in round steps, and places on the timeline. */
#include "report/internal.h"

#include <math.h>

/* The least round step that is long enough: from a second to a day, then by tens. */
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

int time_scale_strokes(const struct time_scale *scale)
{
	return (int)lround((scale->to_us - scale->from_us) / scale->step_us);
}

double time_width(double one_us, double other_us)
{
	char time[DURATION_TEXT_MAX];
	double one = lettering_width_mm(duration_text(one_us, time), PICTURE_LETTERS, false);

	return fmax(one, lettering_width_mm(duration_text(other_us, time), PICTURE_LETTERS, false));
}

/* Clamped as a double: damaged times may be far beyond what an int holds. */
int timeline_line(const struct timeline *timeline, double at_us)
{
	return (int)fmin(fmax(ceil(at_us / timeline->line_us) - 1, 0), timeline->lines - 1);
}

struct spot timeline_spot(const struct timeline *timeline, int line, double at_us)
{
	double share = fmin(fmax(at_us / timeline->line_us - line, 0), 1);

	return (struct spot){timeline->left + (TIMELINE_RIGHT - timeline->left) * share,
			     TIMELINE_TOP + line * TIMELINE_PITCH};
}
