/* Doubles compared as doubles: cmocka 1.1.5 compares them as floats. */
#ifndef TESTS_FRAME_NEAR_H
#define TESTS_FRAME_NEAR_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* Within `tolerance`; a NaN is near nothing. */
#define assert_near(value, expected, tolerance)                                                    \
	near_or_fail((value), (expected), (tolerance), #value, __FILE__, __LINE__)

static inline void near_or_fail(double value, double expected, double tolerance, const char *what,
				const char *file, int line)
{
	if (fabs(value - expected) <= tolerance)
		return;
	print_error("%s is %.15g, expected %.15g within %g\n", what, value, expected, tolerance);
	_fail(file, line);
}

#endif
