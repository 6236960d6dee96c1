/* Comparing numbers by relative error. */
#ifndef TESTS_STATS_CHECK_H
#define TESTS_STATS_CHECK_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static inline double relative_error(double got, double want)
{
	return want == 0 ? fabs(got) : fabs(got - want) / fabs(want);
}

/* NaN is never close to anything. */
static inline void assert_close(const char *what, double got, double want, double tolerance)
{
	if (!(relative_error(got, want) <= tolerance))
		fail_msg("%s: got %.17g, want %.17g, relative error %.2g, allowed %.2g", what, got,
			 want, relative_error(got, want), tolerance);
}

#endif
