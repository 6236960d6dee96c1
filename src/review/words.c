#include "review/review.h"

#include "base/base.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

const char *words_time(int64_t us, char buffer[static WORDS_TIME_MAX])
{
	long long seconds = (llabs(us) + SECOND_US / 2) / SECOND_US;
	const char *sign = us < 0 && seconds ? "-" : "";

	if (seconds < 3600)
		snprintf(buffer, WORDS_TIME_MAX, "%s%lld:%02lld", sign, seconds / 60, seconds % 60);
	else
		snprintf(buffer, WORDS_TIME_MAX, "%s%lld:%02lld:%02lld", sign, seconds / 3600,
			 seconds / 60 % 60, seconds % 60);
	return buffer;
}

const char *words_date(int64_t wall_us, char buffer[static WORDS_DATE_MAX])
{
	time_t seconds = (time_t)(wall_us / SECOND_US);
	struct tm when;

	if (!localtime_r(&seconds, &when) ||
	    !strftime(buffer, WORDS_DATE_MAX, "%Y-%m-%d %H:%M", &when))
		snprintf(buffer, WORDS_DATE_MAX, "?"); /* a year that no calendar has */
	return buffer;
}

const char *words_day(int64_t wall_us, char buffer[static WORDS_DATE_MAX])
{
	words_date(wall_us, buffer);
	if (strlen(buffer) > 10)
		buffer[10] = '\0';
	return buffer;
}

static bool goes_on(char byte)
{
	return ((unsigned char)byte & 0xc0) == 0x80;
}

static int width(const char *text)
{
	int columns = 0;

	for (; *text; text++)
		columns += !goes_on(*text);
	return columns;
}

void words_print(FILE *out, const char *text, int columns, bool fill)
{
	int wide = width(text);
	int room = wide > columns ? columns - 1 : wide;
	int used = 0;

	for (; *text && (used < room || goes_on(*text)); text++) {
		unsigned char byte = (unsigned char)*text;
		used += !goes_on(*text);
		fputc(byte < 0x20 || byte == 0x7f ? '?' : byte, out);
	}
	if (wide > columns) {
		fputc('~', out);
		used++;
	}
	for (; fill && used < columns; used++)
		fputc(' ', out);
}
