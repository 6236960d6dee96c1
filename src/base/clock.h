/* The two clocks: steady time for intervals, wall time for people. Microseconds. */
#ifndef BASE_CLOCK_H
#define BASE_CLOCK_H

#include <stdint.h>

#define SECOND_US ((int64_t)1000000)
#define MS_US     ((int64_t)1000)

int64_t clock_steady_us(void); /* CLOCK_MONOTONIC: as kernel input events are stamped */
int64_t clock_wall_us(void);   /* since 1970-01-01 UTC */

#endif
