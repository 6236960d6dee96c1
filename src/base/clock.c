/* Clocks and days. */
#include "base/base.h"

#include <string.h>

static int64_t read_us(clockid_t id)
{
	struct timespec now;

	clock_gettime(id, &now);
	return (int64_t)now.tv_sec * SECOND_US + now.tv_nsec / 1000;
}

int64_t clock_steady_us(void)
{
	return read_us(CLOCK_MONOTONIC);
}

int64_t clock_boot_us(void)
{
	return read_us(CLOCK_BOOTTIME);
}

int64_t clock_wall_us(void)
{
	return read_us(CLOCK_REALTIME);
}

bool clock_read_day(const char *text, struct tm *out)
{
	struct tm day = {.tm_isdst = -1};
	const char *end = strptime(text, "%Y-%m-%d", &day);

	if (!end || *end || strlen(text) != strlen("2026-11-25"))
		return false;
	int month = day.tm_mon;
	if (mktime(&day) == (time_t)-1 || day.tm_mon != month)
		return false; /* 31 February is none */
	*out = day;
	return true;
}
