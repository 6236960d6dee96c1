/* The decoder against glibc's, in the locale C.UTF-8. */
#include "base/base.h"

#include <limits.h>
#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <wchar.h>

#include <cmocka.h>

enum { RUNS = 20000, BYTES = 24 };

/* Walks text with both. */
static void check(const char *text)
{
	const char *at = text;

	while (*at) {
		const char *from = at;
		mbstate_t state = {0};
		wchar_t wide = 0;
		size_t length = mbrtowc(&wide, from, strlen(from), &state);
		uint32_t point = utf8_next(&at);
		/* -1 and -2: malformed, cut short. glibc also takes what lies beyond Unicode. */
		if (length > BYTES || wide > 0x10ffff) {
			assert_int_equal(point, UTF8_BAD);
			assert_ptr_equal(at, from + 1);
		} else {
			assert_int_equal(point, (uint32_t)wide);
			assert_ptr_equal(at, from + length);
		}
	}
	assert_int_equal(utf8_next(&at), 0);
	assert_int_equal(*at, '\0');
}

static void every_code_point(void **state)
{
	(void)state;
	for (uint32_t point = 1; point <= 0x10ffff; point++) {
		char text[MB_LEN_MAX + 1] = {0};
		mbstate_t shift = {0};
		if (wcrtomb(text, (wchar_t)point, &shift) == (size_t)-1)
			continue; /* a surrogate */
		check(text);
	}
}

/* Mostly lead and continuation bytes, where mistakes are made. */
static void any_bytes(void **state)
{
	unsigned seed = 1873;

	(void)state;
	for (int run = 0; run < RUNS; run++) {
		char text[BYTES] = {0};
		for (int i = 0; i < BYTES - 1; i++)
			text[i] = (char)(rand_r(&seed) % 4 ? 0x80 + rand_r(&seed) % 128
							   : 1 + rand_r(&seed) % 127);
		check(text);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(every_code_point),
		cmocka_unit_test(any_bytes),
	};

	if (!setlocale(LC_CTYPE, "C.UTF-8"))
		return 1;
	return cmocka_run_group_tests(tests, NULL, NULL);
}
