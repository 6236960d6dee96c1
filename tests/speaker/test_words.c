/* What may reach the synthesiser. */
#include "speaker/speaker.h"

#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>

static const struct {
	const char *text;
	const char *words; /* NULL: nothing to be heard */
} cases[] = {
	{"Main four left, pull fifty two.", "Main four left, pull fifty two."},
	{"", NULL},
	{" .,; ", NULL},
	{"\x01\x02\x7F", NULL},
	{"tab\tnewline\nreturn\r.", "tab newline return ."},
	{"[[h@'loU]]", "h 'loU "},
	{"<speak>five &amp; six</speak>", "speak five amp; six speak "},
	{"caf\xC3\xA9 \xC3\x9F \xD0\xB4\xD0\xB0 \xCF\x80",
	 "caf\xC3\xA9 \xC3\x9F \xD0\xB4\xD0\xB0 \xCF\x80"},
	{"3\xC3\x97"
	 "4",
	 "3 4"},                                 /* the sign of multiplication */
	{"\xE2\x80\x9Cyes\xE2\x80\x9D", "yes "}, /* quotation marks */
	{"a\xF0\x9F\x8E\xBE"
	 "b",
	 "a b"},              /* a picture */
	{"cut \xC3", "cut "}, /* half a character at the end */
	{"\xC0\xAF\xE0\x80\xAF\xFF"
	 "a",
	 "a"}, /* overlong and impossible bytes */
	{"\xED\xA0\x80"
	 "a",
	 "a"}, /* half a surrogate pair */
	{"aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa",
	 "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa aa"},
};

static void table(void **state)
{
	char words[WORDS_MAX];

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		assert_int_equal(words_clean(cases[i].text, words), cases[i].words != NULL);
		if (cases[i].words)
			assert_string_equal(words, cases[i].words);
	}
}

static void check_bounds(const char *words)
{
	size_t letters = 0;

	assert_true(strlen(words) < WORDS_MAX);
	assert_null(strpbrk(words, "<>&[]{}()|\\/*_^~`\"#$%@=+"));
	for (const char *at = words; *at; at++) {
		assert_true((unsigned char)*at >= ' ' && *at != 0x7F);
		letters = *at == ' ' ? 0 : letters + 1;
		assert_true(letters <= 2 * WORD_LETTERS_MAX);
	}
}

static void any_bytes(void **state)
{
	unsigned seed = 4711;

	(void)state;
	print_message("seed %u\n", seed);
	for (int run = 0; run < 20000; run++) {
		char text[3 * WORDS_MAX], words[WORDS_MAX], again[WORDS_MAX];
		size_t length = (unsigned)rand_r(&seed) % sizeof text;
		for (size_t i = 0; i < length; i++)
			text[i] = (char)(rand_r(&seed) >> 4);
		text[length ? length - 1 : 0] = '\0';
		words_clean(text, words);
		check_bounds(words);
		words_clean(words, again); /* what was cleaned is clean */
		assert_string_equal(again, words);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {cmocka_unit_test(table), cmocka_unit_test(any_bytes)};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
