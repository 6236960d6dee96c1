#include "phrase/internal.h"

#include "base/base.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const plural_names[PLURALS + 1] = {
	[PLURAL_ONE] = "one",   [PLURAL_TWO] = "two",     [PLURAL_FEW] = "few",
	[PLURAL_MANY] = "many", [PLURAL_OTHER] = "other",
};

const char *plural_name(enum plural plural)
{
	return plural_names[plural];
}

const struct numeral *numerals_find(const struct numeral *items, int count, int number)
{
	const struct numeral *found = NULL;

	for (int i = 0; i < count && items[i].from <= number; i++)
		found = &items[i];
	return found;
}

static char *whole_words(const struct numerals *numerals, int number)
{
	struct text words = {0};

	numerals_say_whole(numerals, number, &words);
	return text_take(&words);
}

/* Ends for any number: what is counted is at least 2, so that the count is less than the number,
 * and so is the rest. */
void numerals_say_whole(const struct numerals *numerals, int number, struct text *out)
{
	struct field_values values = {0};
	const struct numeral *found = numerals_find(numerals->words, numerals->word_count, number);

	if (!found || found->from != number)
		found = numerals_find(numerals->rules, numerals->rule_count, number);
	bool counts = found->sentence.fields & FIELD(COUNT);
	int rest = found->from ? number % (counts ? found->unit : found->from) : 0;
	if (counts)
		values.words[FIELD_COUNT] = whole_words(numerals, number / found->unit);
	if (rest > 0)
		values.words[FIELD_REST] = whole_words(numerals, rest);
	sentence_fill(&found->sentence, &values, out);
	field_values_free(&values);
}

static void say_digit(const struct numerals *numerals, int digit, bool clear, struct text *out)
{
	if (clear && numerals->clear_digits[digit])
		text_add(out, numerals->clear_digits[digit]);
	else
		numerals_say_whole(numerals, digit, out);
}

void numerals_say_digits(const struct numerals *numerals, const char *digits, bool clear,
			 struct text *out)
{
	for (const char *digit = digits; *digit; digit++) {
		if (digit > digits)
			text_add(out, " ");
		say_digit(numerals, *digit - '0', clear, out);
	}
}

static char *digit_words(const struct numerals *numerals, const char *digits, bool clear)
{
	struct text words = {0};

	numerals_say_digits(numerals, digits, clear, &words);
	return text_take(&words);
}

/* Digits without a sign or a point. */
static char *part_words(const struct numerals *numerals, const char *digits,
			struct plainness plainness)
{
	struct field_values values = {0};
	struct text words = {0};

	if (digits[1] == '\0') {
		say_digit(numerals, digits[0] - '0', plainness.clear, &words);
		return text_take(&words);
	}
	values.words[FIELD_WORDS] = whole_words(numerals, (int)strtol(digits, NULL, 10));
	if (!plainness.again && !plainness.clear)
		return values.words[FIELD_WORDS];
	values.words[FIELD_DIGITS] = digit_words(numerals, digits, plainness.clear);
	sentence_fill(plainness.again ? &numerals->repeat : &numerals->clear, &values, &words);
	field_values_free(&values);
	return text_take(&words);
}

void numerals_say_decimal(const struct numerals *numerals, const char *whole, const char *decimals,
			  struct plainness plainness, struct text *out)
{
	struct field_values values = {0};

	values.words[FIELD_WHOLE] = part_words(numerals, whole, plainness);
	values.words[FIELD_DIGITS] = digit_words(numerals, decimals, plainness.clear);
	sentence_fill(&numerals->decimal, &values, out);
	field_values_free(&values);
}

void numerals_say(const struct numerals *numerals, double number, struct plainness plainness,
		  struct text *out)
{
	static const double number_max = 999999;
	char printed[QUANTITY_TEXT_MAX];

	/* Written so that NaN is 0 as well. */
	number_text(number > 0 ? fmin(number, number_max) : 0, printed);
	char *point = strchr(printed, '.');
	if (point) {
		*point = '\0';
		numerals_say_decimal(numerals, printed, point + 1, plainness, out);
	} else {
		char *words = part_words(numerals, printed, plainness);
		text_add(out, words);
		free(words);
	}
}

static bool is_in(const struct number_list *list, int number)
{
	for (int i = 0; i < list->count; i++)
		if (list->numbers[i] == number)
			return true;
	return false;
}

enum plural numerals_plural(const struct numerals *numerals, double number)
{
	if (!(number >= 0 && number < INT32_MAX) || number != floor(number))
		return PLURAL_OTHER;
	int whole = (int)number;
	for (enum plural plural = 0; plural < PLURAL_OTHER; plural++) {
		const struct plural_rule *rule = &numerals->plurals[plural];
		if (is_in(&rule->exactly, whole))
			return plural;
		if (is_in(&rule->last_digit, whole % 10) && !is_in(&rule->but_not, whole % 100))
			return plural;
	}
	return PLURAL_OTHER;
}
