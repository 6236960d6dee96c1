/* Numbers, decimals and plural forms of every bundled language against Unicode's own data, through
 * ICU: rule-based spell-out and CLDR plural rules. */
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

static const char numbers_of_any_kind[] =
	"numbers: { 0: a, 1: b, 2: c, 3: d, 4: e, 5: f, 6: g, 7: h, 8: i, 9: j,\n"
	"  10: '{count}x[{rest}]', 100: '{count}y[{rest}]' }\n";

static const struct phrase_options plain = {0};

static const char *const languages[] = {"en", "de", "fr", "es", "it"};

enum { LANGUAGES = sizeof(languages) / sizeof(languages[0]) };

/* Only the numbers and the plural forms of a phrasebook. */
static struct phrasebook *read_text(const char *text)
{
	struct faults faults = {0};
	struct phrasebook *book = memory_new(1, sizeof *book);
	struct yaml_document *document = yaml_read_text("n.yaml", text, &faults);

	assert_non_null(document);
	read_numbers(document->root, book);
	yaml_free(document);
	faults_print(&faults, stderr);
	assert_int_equal(faults.errors, 0);
	return book;
}

static struct phrasebook *read_language(const char *language)
{
	struct faults faults = {0};
	char *path = memory_format(SOURCE_DIR "/voice/%s.yaml", language);
	struct phrasebook *book = phrasebook_read(yaml_read(path, &faults));

	assert_non_null(book);
	free(path);
	return book;
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

/* Every tenth up to 199, and whole numbers up to 999. */
static void numbers_are_said_as_icu_says_them(void **state)
{
	(void)state;
	for (int i = 0; i < LANGUAGES; i++) {
		struct phrasebook *book = read_language(languages[i]);
		UErrorCode error = U_ZERO_ERROR;
		UNumberFormat *format =
			unum_open(UNUM_SPELLOUT, NULL, 0, languages[i], NULL, &error);
		assert_true(U_SUCCESS(error));
		for (int tenths = 0; tenths < 9999; tenths += tenths < 1999 ? 1 : 10) {
			UChar wide[SPOKEN_MAX];
			char theirs[SPOKEN_MAX];
			if (tenths > 1999)
				tenths -= tenths % 10;
			unum_formatDouble(format, tenths / 10.0, wide, SPOKEN_MAX, NULL, &error);
			u_strToUTF8(theirs, SPOKEN_MAX, NULL, wide, -1, &error);
			assert_true(U_SUCCESS(error));
			char *ours = say_number(&(struct manner){book, &plain}, tenths / 10.0);
			forget_joints(theirs);
			forget_joints(ours);
			if (strcmp(ours, theirs) != 0)
				fail_msg("%s: %.1f is \"%s\", not \"%s\"", languages[i],
					 tenths / 10.0, theirs, ours);
			free(ours);
		}
		unum_close(format);
		phrasebook_free(book);
	}
}

static void expect_plural_as_icu(const struct phrasebook *book, const UPluralRules *rules,
				 double number)
{
	UErrorCode error = U_ZERO_ERROR;
	UChar wide[SPOKEN_MAX];
	char theirs[SPOKEN_MAX];

	uplrules_select(rules, number, wide, SPOKEN_MAX, &error);
	u_strToUTF8(theirs, SPOKEN_MAX, NULL, wide, -1, &error);
	assert_true(U_SUCCESS(error));
	if (strcmp(plural_names[plural_of(book, number)], theirs) != 0)
		fail_msg("%g is \"%s\", not \"%s\"", number, theirs,
			 plural_names[plural_of(book, number)]);
}

static void expect_plurals(struct phrasebook *book, const char *locale)
{
	UErrorCode error = U_ZERO_ERROR;
	UPluralRules *rules = uplrules_open(locale, &error);

	for (int n = 0; n <= 999; n++) {
		expect_plural_as_icu(book, rules, n);
		expect_plural_as_icu(book, rules, n + 0.5);
	}
	phrasebook_free(book);
	uplrules_close(rules);
}

/* Of the bundled languages, and of some with other forms. */
static void plural_forms(void **state)
{
	(void)state;
	static const struct {
		const char *locale;
		const char *plural;
	} cases[] = {
		{"ja", ""},
		{"pl",
		 "one: { exactly: [1] }, few: { last_digit: [2, 3, 4], but_not: [12, 13, 14] },\n"
		 " many: { last_digit: [0, 1, 2, 3, 4, 5, 6, 7, 8, 9] }"},
		{"ru", "one: { last_digit: [1], but_not: [11] },\n"
		       " few: { last_digit: [2, 3, 4], but_not: [12, 13, 14] },\n"
		       " many: { last_digit: [0, 1, 2, 3, 4, 5, 6, 7, 8, 9] }"},
		{"se", "one: { exactly: [1] }, two: { exactly: [2] }"},
	};

	for (int i = 0; i < LANGUAGES; i++)
		expect_plurals(read_language(languages[i]), languages[i]);
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char *text =
			memory_format("%splural: { %s }\n", numbers_of_any_kind, cases[i].plural);
		expect_plurals(read_text(text), cases[i].locale);
		free(text);
	}
}

static void decimals_and_repeats(void **state)
{
	(void)state;
	static const struct {
		double number;
		enum wording wording;
		bool clear;
		const char *words;
	} cases[] = {
		{24.5, WORDING_PLANNED, false, "twenty four point five"},
		{0.5, WORDING_PLANNED, false, "zero point five"},
		{52.25, WORDING_PLANNED, false, "fifty two point two five"},
		{6.05, WORDING_PLANNED, false, "six point zero five"},
		{24.999, WORDING_PLANNED, false, "twenty five"},
		{0, WORDING_PLANNED, false, "zero"},
		{-3, WORDING_PLANNED, false, "zero"},
		{52, WORDING_AGAIN, false, "fifty two, five two"},
		{52, WORDING_PLANNED, true, "five two"},
		{5, WORDING_PLANNED, true, "five"},
		{24.5, WORDING_PLANNED, true, "two four point five"},
		{52, WORDING_AGAIN, true, "fifty two, five two"},
		{7, WORDING_AGAIN, false, "seven"},
		{24.5, WORDING_AGAIN, false, "twenty four, two four point five"},
		{1e12, WORDING_PLANNED, false,
		 "nine hundred ninety nine thousand nine hundred ninety nine"},
		{110, WORDING_AGAIN, false, "one hundred ten, one one zero"},
	};
	struct phrasebook *book = read_language("en");

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		const struct phrase_options options = {.wording = cases[i].wording,
						       .clear = cases[i].clear};
		char *words = say_number(&(struct manner){book, &options}, cases[i].number);
		assert_string_equal(words, cases[i].words);
		free(words);
	}
	phrasebook_free(book);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(numbers_are_said_as_icu_says_them),
		cmocka_unit_test(plural_forms),
		cmocka_unit_test(decimals_and_repeats),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
