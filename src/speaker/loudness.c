#include "speaker/speaker.h"

#include <ebur128.h>
#include <math.h>

enum { SECONDS_MIN = 1 };

bool loudness_measure(const float *samples, size_t count, uint32_t rate_hz,
		      struct loudness *loudness)
{
	ebur128_state *state = ebur128_init(1, rate_hz, EBUR128_MODE_I | EBUR128_MODE_TRUE_PEAK);
	size_t times = count ? (size_t)rate_hz * SECONDS_MIN / count + 1 : 0;
	double peak = 0;

	if (!state)
		return false;
	bool good = count > 0;
	for (size_t i = 0; good && i < times; i++)
		good = ebur128_add_frames_float(state, samples, count) == EBUR128_SUCCESS;
	good = good && ebur128_loudness_global(state, &loudness->lufs) == EBUR128_SUCCESS &&
	       ebur128_true_peak(state, 0, &peak) == EBUR128_SUCCESS;
	ebur128_destroy(&state);
	loudness->peak_dbtp = 20 * log10(peak);
	return good && isfinite(loudness->lufs) && isfinite(loudness->peak_dbtp);
}

float gain_from_db(double db)
{
	return (float)pow(10, db / 20);
}
