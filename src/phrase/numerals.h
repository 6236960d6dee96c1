/* How a language composes its numbers: rules in the phrasebook, not in here.
 *
 * A rule stands at the number from which it holds, up to the next rule:
 *
 *     7: seven               names no field: this number alone, whatever the rules say
 *     20: twenty[ {rest}]    20 to 29; {rest} is what is above 20
 *     100: "{count} hundred[ {rest}]"    {count} is how many hundreds, {rest} what is left over
 *
 * The unit of a rule is the largest power of ten up to its number (hundreds for a rule at 200 too),
 * or what is written behind a slash: 60/20 counts scores. A rule that does not count holds for one
 * unit: 60/20 for 60 to 79.
 *
 * So units before tens, scores and irregular tens are all data.
 */
#ifndef PHRASE_NUMERALS_H
#define PHRASE_NUMERALS_H

#include "phrase/sentence.h"

/* Plural forms, named as in Unicode's CLDR; a language uses those that it needs, always "other". */
enum plural { PLURAL_ONE, PLURAL_TWO, PLURAL_FEW, PLURAL_MANY, PLURAL_OTHER, PLURALS };

enum { NUMERAL_MIN = 999, PLURAL_NUMBERS_MAX = 16 };

struct numeral {
	int from;
	int unit; /* 1 to from; at least 2 in a rule */
	struct sentence sentence;
};

/* A list of numbers in the phrasebook. */
struct number_list {
	int numbers[PLURAL_NUMBERS_MAX];
	int count;
};

/* When a plural form is taken: for these numbers, or for these last digits unless the last two are
 * among the others. */
struct plural_rule {
	bool used;
	struct number_list exactly;
	struct number_list last_digit;
	struct number_list but_not;
};

struct numerals {
	struct numeral *words; /* exact numbers, ascending */
	int word_count;
	struct numeral *rules; /* ascending */
	int rule_count;
	struct sentence decimal; /* "{whole} point {digits}" */
	struct sentence repeat;  /* a number of several digits, said again: {words}, {digits} */
	struct plural_rule plurals[PLURALS];
};

/* Reads the maps `numbers` and `plural` and the sentences `decimal` and `repeat` of a phrasebook's
 * root. */
void numerals_read(const struct yaml_node *root, struct numerals *out);
void numerals_free(struct numerals *numerals);

/* The last of ascending items that stands at number or below, or NULL. */
const struct numeral *numerals_find(const struct numeral *items, int count, int number);

/* A number as it is printed, to a hundredth; not negative. `again` takes the `repeat` form. */
void numerals_say(const struct numerals *numerals, double number, bool again, struct text *out);

/* The same from the digits before and after the point, as somebody wrote them: 1.30 */
void numerals_say_decimal(const struct numerals *numerals, const char *whole, const char *decimals,
			  bool again, struct text *out);

/* A whole number; its digits one by one. */
void numerals_say_whole(const struct numerals *numerals, int number, struct text *out);
void numerals_say_digits(const struct numerals *numerals, const char *digits, struct text *out);

/* The form of a noun after that number; `other` for one that is not whole. */
enum plural numerals_plural(const struct numerals *numerals, double number);

const char *plural_name(enum plural plural);

#endif
