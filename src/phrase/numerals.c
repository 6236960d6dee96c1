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

const struct numeral *numerals_find(const struct numerals *numerals, int number)
{
	const struct numeral *rule = NULL;

	for (int i = 0; i < numerals->count; i++) {
		const struct numeral *item = &numerals->items[i];
		bool is_word = item->sentence.fields == 0;
		if (is_word && item->from == number)
			return item;
		if (!is_word && item->from <= number && (!rule || item->from > rule->from))
			rule = item;
	}
	return rule;
}

char *numerals_join(const struct numerals *numerals, const struct sentence *sentence,
		    struct field_values values)
{
	char *words = sentence_fill(sentence, values);

	for (int i = 0; i < numerals->joint_count; i++) {
		const struct joint *joint = &numerals->joints[i];
		const char *at = strstr(words, joint->from);
		if (!at)
			continue;
		char *joined = memory_format("%.*s%s%s", (int)(at - words), words, joint->to,
					     at + strlen(joint->from));
		free(words);
		words = joined;
	}
	return words;
}

/* Ends for any number: what is counted is at least 2, so that the count is less than the number,
 * and so is the rest. */
char *numerals_say_whole(const struct numerals *numerals, int number)
{
	const struct numeral *found = numerals_find(numerals, number);
	struct field_values values = {0};
	bool counts = found->sentence.fields & FIELD(COUNT);
	int rest = found->from ? number % (counts ? found->unit : found->from) : 0;

	if (counts)
		values.words[FIELD_COUNT] = numerals_say_whole(numerals, number / found->unit);
	if (rest > 0)
		values.words[FIELD_REST] = numerals_say_whole(numerals, rest);
	return numerals_join(numerals, &found->sentence, values);
}

char *numerals_say_digits(const struct numerals *numerals, const char *digits, bool clear)
{
	struct text words = {0};

	for (const char *at = digits; *at; at++) {
		const char *clear_word = numerals->clear_digits[*at - '0'].text;
		char *word = clear && clear_word ? memory_copy(clear_word)
						 : numerals_say_whole(numerals, *at - '0');
		text_format(&words, "%s%s", at > digits ? " " : "", word);
		free(word);
	}
	return text_take(&words);
}

/* Digits without a sign or a point. */
static char *say_part(const struct numerals *numerals, const char *digits,
		      struct plainness plainness)
{
	bool one = digits[1] == '\0';

	if (one && plainness.clear)
		return numerals_say_digits(numerals, digits, true);
	char *words = numerals_say_whole(numerals, (int)strtol(digits, NULL, 10));
	if (one || (!plainness.again && !plainness.clear))
		return words;
	return sentence_fill(
		plainness.again ? &numerals->repeat : &numerals->clear,
		(struct field_values){.words = {[FIELD_WORDS] = words,
						[FIELD_DIGITS] = numerals_say_digits(
							numerals, digits, plainness.clear)}});
}

char *numerals_say_decimal(const struct numerals *numerals, const char *whole, const char *decimals,
			   struct plainness plainness)
{
	return sentence_fill(&numerals->decimal,
			     (struct field_values){
				     .words = {[FIELD_WHOLE] = say_part(numerals, whole, plainness),
					       [FIELD_DIGITS] = numerals_say_digits(
						       numerals, decimals, plainness.clear)}});
}

char *numerals_say(const struct numerals *numerals, double number, struct plainness plainness)
{
	static const double number_max = 999999;
	char printed[QUANTITY_TEXT_MAX];

	/* Written so that NaN is 0 as well. */
	number_text(number > 0 ? fmin(number, number_max) : 0, printed);
	char *point = strchr(printed, '.');
	if (!point)
		return say_part(numerals, printed, plainness);
	*point = '\0';
	return numerals_say_decimal(numerals, printed, point + 1, plainness);
}

enum plural numerals_plural(const struct numerals *numerals, double number)
{
	if (!(number >= 0 && number < INT32_MAX))
		return PLURAL_OTHER;
	int whole = (int)number;
	bool small = whole < NUMBER_SET;
	bool decimals = number != floor(number);
	for (enum plural plural = 0; plural < PLURAL_OTHER; plural++) {
		const struct plural_rule *rule = &numerals->plurals[plural];
		if (small && (rule->whole[whole] || (rule->exactly[whole] && !decimals)))
			return plural;
		if (rule->last_digit[whole % 10] && !rule->but_not[whole % 100] && !decimals)
			return plural;
	}
	return PLURAL_OTHER;
}
