/* Time axes: round steps and labels. */
#include "report/internal.h"

#include <math.h>

double round_step_us(double least_us)
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

double time_width(double one_us, double other_us)
{
	char time[DURATION_TEXT_MAX];
	double one = lettering_width_mm(duration_text(one_us, time), PICTURE_LETTERS, false);

	return fmax(one, lettering_width_mm(duration_text(other_us, time), PICTURE_LETTERS, false));
}

void time_label(struct canvas *canvas, struct spot spot, struct lettering letters, double us,
		const char *attributes)
{
	char time[DURATION_TEXT_MAX];

	canvas_label(canvas, spot, letters, duration_text(us, time), attributes);
}
