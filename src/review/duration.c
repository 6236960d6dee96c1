/* Durations and dates as a person reads them. */
#include "review/review.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

const char *duration_text(double us, char buffer[static DURATION_TEXT_MAX])
{
	long long seconds = (llabs((int64_t)us) + SECOND_US / 2) / SECOND_US;
	const char *sign = us < 0 && seconds ? "-" : "";

	if (seconds < 3600)
		snprintf(buffer, DURATION_TEXT_MAX, "%s%lld:%02lld", sign, seconds / 60,
			 seconds % 60);
	else
		snprintf(buffer, DURATION_TEXT_MAX, "%s%lld:%02lld:%02lld", sign, seconds / 3600,
			 seconds / 60 % 60, seconds % 60);
	return buffer;
}

const char *date_text(int64_t wall_us, char buffer[static DATE_TEXT_MAX])
{
	time_t seconds = (time_t)(wall_us / SECOND_US);
	struct tm when;

	if (!localtime_r(&seconds, &when) ||
	    !strftime(buffer, DATE_TEXT_MAX, "%Y-%m-%d %H:%M", &when))
		snprintf(buffer, DATE_TEXT_MAX, "?"); /* a year that no calendar has */
	return buffer;
}

const char *day_text(int64_t wall_us, char buffer[static DATE_TEXT_MAX])
{
	date_text(wall_us, buffer);
	buffer[strcspn(buffer, " ")] = '\0';
	return buffer;
}
