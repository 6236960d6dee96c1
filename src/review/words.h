/* How times, dates and words are put into a table. */
#ifndef REVIEW_WORDS_H
#define REVIEW_WORDS_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

enum { WORDS_TIME_MAX = 24, WORDS_DATE_MAX = 24 };

/* "0:07", "12:30", "1:02:05", rounded to the second; a time before zero has a minus sign. Returns
 * buffer. */
const char *words_time(int64_t us, char buffer[static WORDS_TIME_MAX]);

/* "2026-11-25 14:43", and its first ten letters, in the local time zone. Returns buffer. */
const char *words_date(int64_t wall_us, char buffer[static WORDS_DATE_MAX]);
const char *words_day(int64_t wall_us, char buffer[static WORDS_DATE_MAX]);

/* Prints UTF-8 text in exactly that many columns, or in at most that many if `fill` is not set: cut
 * with '~', control characters as '?'. Counts a column a character, which is right for the scripts
 * that the phrasebooks are written in. */
void words_print(FILE *out, const char *text, int columns, bool fill);

#endif
