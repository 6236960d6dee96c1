/* What may reach the synthesiser. */
#include "base/base.h"
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
	{"ti\xE1\xBA\xBFng \xE1\xBC\x94\xCF\x87\xCF\x89",
	 "ti\xE1\xBA\xBFng \xE1\xBC\x94\xCF\x87\xCF\x89"},
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
	char words[SPOKEN_MAX];

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		assert_int_equal(spoken_text(cases[i].text, words), cases[i].words != NULL);
		if (cases[i].words)
			assert_string_equal(words, cases[i].words);
	}
}

/* In UTF-8, as a table of it in any textbook says. */
static void encode(uint32_t point, char out[static 4])
{
	if (point < 0x80) {
		memcpy(out, (char[]){(char)point, '\0'}, 2);
	} else if (point < 0x800) {
		memcpy(out, (char[]){(char)(0xc0 | point >> 6), (char)(0x80 | (point & 0x3f)), 0},
		       3);
	} else {
		memcpy(out,
		       (char[]){(char)(0xe0 | point >> 12), (char)(0x80 | (point >> 6 & 0x3f)),
				(char)(0x80 | (point & 0x3f)), 0},
		       4);
	}
}

static void every_letter_of_a_phrasebook_is_spoken(void **state)
{
	int letters = 0;

	(void)state;
	for (uint32_t point = 1; point < 0x10000; point++) {
		char text[4], spoken[SPOKEN_MAX];
		if (!utf8_is_letter(point))
			continue;
		encode(point, text);
		assert_true(spoken_text(text, spoken));
		assert_string_equal(spoken, text);
		letters++;
	}
	assert_true(letters > 1400); /* Latin, Greek and Cyrillic with their accents */
}

static void check_bounds(const char *words)
{
	size_t letters = 0;

	assert_true(strlen(words) < SPOKEN_MAX);
	assert_null(strpbrk(words, "<>&[]{}()|\\/*_^~`\"#$%@=+"));
	for (const char *at = words; *at; at++) {
		assert_true((unsigned char)*at >= ' ' && *at != 0x7F);
		letters = *at == ' ' ? 0 : letters + 1;
		assert_true(letters <= 3 * WORD_LETTERS_MAX);
	}
}

static void any_bytes(void **state)
{
	unsigned seed = 4711;

	(void)state;
	print_message("seed %u\n", seed);
	for (int run = 0; run < 20000; run++) {
		char text[3 * SPOKEN_MAX], words[SPOKEN_MAX], again[SPOKEN_MAX];
		size_t length = (unsigned)rand_r(&seed) % sizeof text;
		for (size_t i = 0; i < length; i++)
			text[i] = (char)(rand_r(&seed) >> 4);
		text[length ? length - 1 : 0] = '\0';
		spoken_text(text, words);
		check_bounds(words);
		spoken_text(words, again); /* what was cleaned is clean */
		assert_string_equal(again, words);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(table),
		cmocka_unit_test(every_letter_of_a_phrasebook_is_spoken),
		cmocka_unit_test(any_bytes),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
