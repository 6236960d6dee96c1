/* Numbers and plural forms against Unicode's own data, through ICU: rule-based spell-out and CLDR
 * plural rules. German puts units before tens, French counts by scores and adds an s to what ends
 * in eighty: that the engine says them shows that no grammar of numbers is built into it. */
#include "phrase/internal.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unicode/unum.h>
#include <unicode/upluralrules.h>
#include <unicode/ustring.h>

#include <cmocka.h>

enum { SPOKEN_MAX = 400 };

#define REST_OF_FILE                                                                               \
	"decimal: '{whole} point {digits}'\nrepeat: '{digits}'\nclear: { number: '{words}' }\n"

static const char english_plural[] = "plural: { one: { exactly: [1] } }\n";

static const char german[] =
	"numbers: { 0: null, 1: eins, 2: zwei, 3: drei, 4: vier, 5: fünf, 6: sechs, 7: sieben,\n"
	"  8: acht, 9: neun, 10: zehn, 11: elf, 12: zwölf, 13: dreizehn, 14: vierzehn,\n"
	"  15: fünfzehn, 16: sechzehn, 17: siebzehn, 18: achtzehn, 19: neunzehn,\n"
	"  20: '[{rest}und]zwanzig', 30: '[{rest}und]dreißig', 40: '[{rest}und]vierzig',\n"
	"  50: '[{rest}und]fünfzig', 60: '[{rest}und]sechzig', 70: '[{rest}und]siebzig',\n"
	"  80: '[{rest}und]achtzig', 90: '[{rest}und]neunzig',\n"
	"  21: einundzwanzig, 31: einunddreißig, 41: einundvierzig, 51: einundfünfzig,\n"
	"  61: einundsechzig, 71: einundsiebzig, 81: einundachtzig, 91: einundneunzig,\n"
	"  100: 'einhundert[{rest}]', 200: '{count}hundert[{rest}]' }\n" REST_OF_FILE;

static const char french[] =
	"numbers: { 0: zéro, 1: un, 2: deux, 3: trois, 4: quatre, 5: cinq, 6: six, 7: sept,\n"
	"  8: huit, 9: neuf, 10: dix, 11: onze, 12: douze, 13: treize, 14: quatorze,\n"
	"  15: quinze, 16: seize, 17: dix-sept, 18: dix-huit, 19: dix-neuf,\n"
	"  20: 'vingt[-{rest}]', 30: 'trente[-{rest}]', 40: 'quarante[-{rest}]',\n"
	"  50: 'cinquante[-{rest}]', 60/20: 'soixante[-{rest}]', 80/20: 'quatre-vingt[-{rest}|s]',\n"
	"  21: vingt-et-un, 31: trente-et-un, 41: quarante-et-un, 51: cinquante-et-un,\n"
	"  61: soixante-et-un, 71: soixante-et-onze,\n"
	"  100: 'cent[ {rest}]', 200: '{count} cent[ {rest}|s]' }\n" REST_OF_FILE;

static struct numerals read_numerals(const char *text)
{
	struct faults faults = {0};
	struct numerals numerals = {0};
	struct yaml_document *document = yaml_read_bytes("n.yaml", text, strlen(text), &faults);

	assert_non_null(document);
	numerals_read(document->root, &numerals);
	yaml_free(document);
	faults_print(&faults, stderr);
	assert_int_equal(faults.errors, 0);
	return numerals;
}

static struct numerals read_file(const char *path)
{
	struct faults faults = {0};
	struct numerals numerals = {0};
	struct yaml_document *document = yaml_read(path, &faults);

	assert_non_null(document);
	numerals_read(document->root, &numerals);
	yaml_free(document);
	assert_int_equal(faults.errors, 0);
	return numerals;
}

/* The same words whether hyphens, soft hyphens or spaces join them. */
static void forget_joints(char *words)
{
	char *to = words;

	for (const char *at = words; *at; at++) {
		if ((unsigned char)at[0] == 0xc2 && (unsigned char)at[1] == 0xad)
			at++;
		else
			*to++ = (char)(*at == '-' ? ' ' : *at);
	}
	*to = '\0';
}

static void expect_as_icu(const struct numerals *numerals, const char *locale, int to)
{
	UErrorCode error = U_ZERO_ERROR;
	UNumberFormat *format = unum_open(UNUM_SPELLOUT, NULL, 0, locale, NULL, &error);

	assert_true(U_SUCCESS(error));
	for (int n = 0; n <= to; n++) {
		UChar wide[SPOKEN_MAX];
		char theirs[SPOKEN_MAX];
		unum_format(format, n, wide, SPOKEN_MAX, NULL, &error);
		u_strToUTF8(theirs, SPOKEN_MAX, NULL, wide, -1, &error);
		assert_true(U_SUCCESS(error));
		char *ours = numerals_say_whole(numerals, n);
		forget_joints(theirs);
		forget_joints(ours);
		assert_string_equal(ours, theirs);
		free(ours);
	}
	unum_close(format);
}

static void english_numbers(void **state)
{
	(void)state;
	struct numerals numerals = read_file(SOURCE_DIR "/voice/en.yaml");

	expect_as_icu(&numerals, "en", 99999);
	numerals_free(&numerals);
}

static void numbers_of_other_grammars(void **state)
{
	(void)state;
	static const struct {
		const char *locale;
		const char *text;
	} cases[] = {{"de", german}, {"fr", french}};

	for (size_t i = 0; i < 2; i++) {
		char text[4096];
		snprintf(text, sizeof(text), "%s%s", cases[i].text, english_plural);
		struct numerals numerals = read_numerals(text);
		expect_as_icu(&numerals, cases[i].locale, 999);
		numerals_free(&numerals);
	}
}

static void expect_plural_as_icu(const struct numerals *numerals, const UPluralRules *rules,
				 double number)
{
	UErrorCode error = U_ZERO_ERROR;
	UChar wide[SPOKEN_MAX];
	char theirs[SPOKEN_MAX];

	uplrules_select(rules, number, wide, SPOKEN_MAX, &error);
	u_strToUTF8(theirs, SPOKEN_MAX, NULL, wide, -1, &error);
	assert_true(U_SUCCESS(error));
	if (strcmp(plural_name(numerals_plural(numerals, number)), theirs) != 0)
		fail_msg("%g is \"%s\", not \"%s\"", number, theirs,
			 plural_name(numerals_plural(numerals, number)));
}

static void plural_forms(void **state)
{
	(void)state;
	static const struct {
		const char *locale;
		const char *plural;
	} cases[] = {
		{"en", "one: { exactly: [1] }"},
		{"fr", "one: { whole: [0, 1] }"},
		{"ja", ""},
		{"pl",
		 "one: { exactly: [1] }, few: { last_digit: [2, 3, 4], but_not: [12, 13, 14] },\n"
		 " many: { last_digit: [0, 1, 2, 3, 4, 5, 6, 7, 8, 9] }"},
		{"ru", "one: { last_digit: [1], but_not: [11] },\n"
		       " few: { last_digit: [2, 3, 4], but_not: [12, 13, 14] },\n"
		       " many: { last_digit: [0, 1, 2, 3, 4, 5, 6, 7, 8, 9] }"},
		{"se", "one: { exactly: [1] }, two: { exactly: [2] }"},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char text[4096];
		UErrorCode error = U_ZERO_ERROR;
		UPluralRules *rules = uplrules_open(cases[i].locale, &error);
		snprintf(text, sizeof(text), "%splural: { %s }\n", german, cases[i].plural);
		struct numerals numerals = read_numerals(text);
		for (int n = 0; n <= 999; n++) {
			expect_plural_as_icu(&numerals, rules, n);
			expect_plural_as_icu(&numerals, rules, n + 0.5);
		}
		numerals_free(&numerals);
		uplrules_close(rules);
	}
}

#define AGAIN                                                                                      \
	{                                                                                          \
		.again = true                                                                      \
	}
#define CLEAR                                                                                      \
	{                                                                                          \
		.clear = true                                                                      \
	}
#define BOTH                                                                                       \
	{                                                                                          \
		.again = true, .clear = true                                                       \
	}

static void decimals_and_repeats(void **state)
{
	(void)state;
	static const struct {
		double number;
		struct plainness plainness;
		const char *words;
	} cases[] = {
		{24.5, {0}, "twenty four point five"},
		{0.5, {0}, "zero point five"},
		{52.25, {0}, "fifty two point two five"},
		{6.05, {0}, "six point zero five"},
		{24.999, {0}, "twenty five"},
		{0, {0}, "zero"},
		{-3, {0}, "zero"},
		{52, AGAIN, "fifty two, five two"},
		{52, CLEAR, "five two"},
		{5, CLEAR, "five"},
		{24.5, CLEAR, "two four point five"},
		{52, BOTH, "fifty two, five two"},
		{7, AGAIN, "seven"},
		{24.5, AGAIN, "twenty four, two four point five"},
		{1e12, {0}, "nine hundred ninety nine thousand nine hundred ninety nine"},
		{110, AGAIN, "one hundred ten, one one zero"},
	};
	struct numerals numerals = read_file(SOURCE_DIR "/voice/en.yaml");

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char *words = numerals_say(&numerals, cases[i].number, cases[i].plainness);
		assert_string_equal(words, cases[i].words);
		free(words);
	}
	numerals_free(&numerals);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(english_numbers),
		cmocka_unit_test(numbers_of_other_grammars),
		cmocka_unit_test(plural_forms),
		cmocka_unit_test(decimals_and_repeats),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
