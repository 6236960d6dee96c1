/* Loudness as people hear it: ITU-R BS.1770 / EBU R 128, measured by libebur128. */
#ifndef SPEAKER_LEVEL_H
#define SPEAKER_LEVEL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct level {
	double lufs;      /* integrated, gated */
	double peak_dbtp; /* true peak */
};

/* One channel. Sound too short to be measured (a block is 400 ms) is measured as if it were
 * repeated. False: silence, or no memory. */
bool level_measure(const float *samples, size_t count, uint32_t rate_hz, struct level *level);

/* A factor for amplitudes from decibels. */
float level_factor(double db);

#endif
