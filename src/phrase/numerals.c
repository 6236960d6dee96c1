#include "phrase/numerals.h"

#include "base/memory.h"
#include "base/quantity.h"

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

/* The place of the last item at or below number, or NULL. */
static const struct numeral *find_numeral(const struct numeral *items, int count, int number)
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

/* Terminates: the rest is smaller than the rule's number, and so is the count than the number, as
 * no rule that counts stands at 0 or 1. */
void numerals_say_whole(const struct numerals *numerals, int number, struct text *out)
{
	struct field_values values = {0};
	const struct numeral *found = find_numeral(numerals->words, numerals->word_count, number);

	if (!found || found->from != number)
		found = find_numeral(numerals->rules, numerals->rule_count, number);
	if (found->from > 1) {
		if (found->sentence.fields & FIELD(COUNT))
			values.words[FIELD_COUNT] = whole_words(numerals, number / found->from);
		if (number % found->from > 0)
			values.words[FIELD_REST] = whole_words(numerals, number % found->from);
	}
	sentence_fill(&found->sentence, &values, out);
	field_values_free(&values);
}

void numerals_say_digits(const struct numerals *numerals, const char *digits, struct text *out)
{
	for (const char *digit = digits; *digit; digit++) {
		if (digit > digits)
			text_add(out, " ");
		numerals_say_whole(numerals, *digit - '0', out);
	}
}

static char *digit_words(const struct numerals *numerals, const char *digits)
{
	struct text words = {0};

	numerals_say_digits(numerals, digits, &words);
	return text_take(&words);
}

/* Digits without a sign or a point. */
static char *part_words(const struct numerals *numerals, const char *digits, bool again)
{
	struct field_values values = {0};
	struct text words = {0};

	numerals_say_whole(numerals, atoi(digits), &words);
	if (!again || digits[1] == '\0')
		return text_take(&words);
	values.words[FIELD_WORDS] = text_take(&words);
	values.words[FIELD_DIGITS] = digit_words(numerals, digits);
	sentence_fill(&numerals->repeat, &values, &words);
	field_values_free(&values);
	return text_take(&words);
}

void numerals_say(const struct numerals *numerals, double number, bool again, struct text *out)
{
	static const double number_max = 999999;
	char printed[QUANTITY_TEXT_MAX];
	struct field_values values = {0};

	/* Written so that NaN is 0 as well. */
	number_text(number > 0 ? fmin(number, number_max) : 0, printed);
	char *point = strchr(printed, '.');
	if (point)
		*point = '\0';
	values.words[FIELD_WHOLE] = part_words(numerals, printed, again);
	if (point) {
		values.words[FIELD_DIGITS] = digit_words(numerals, point + 1);
		sentence_fill(&numerals->decimal, &values, out);
	} else {
		text_add(out, values.words[FIELD_WHOLE]);
	}
	field_values_free(&values);
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

static bool parse_from(const struct yaml_node *node, int *out)
{
	static const int from_max = 1000000;
	size_t digits = strspn(node->key, "0123456789");
	bool good = digits > 0 && digits <= 7 && node->key[digits] == '\0' &&
		    (digits == 1 || node->key[0] != '0') && atoi(node->key) <= from_max;

	if (good)
		*out = atoi(node->key);
	else
		yaml_fault_key(node, "phrase-number", "expected a number from 0 to %d, not \"%s\"",
			       from_max, node->key);
	return good;
}

static int by_from(const void *a, const void *b)
{
	const struct numeral *left = a, *right = b;

	return (left->from > right->from) - (left->from < right->from);
}

static void add_numeral(struct numeral **items, int *count, struct numeral item)
{
	*items = memory_resize(*items, (size_t)*count + 1, sizeof(**items));
	(*items)[(*count)++] = item;
}

static void read_numeral(const struct yaml_node *node, struct numerals *out)
{
	static const struct field_rule rule = {
		.known = FIELD(COUNT) | FIELD(REST),
		.sometimes = FIELD(REST),
	};
	struct numeral item;

	if (!parse_from(node, &item.from) ||
	    !sentence_compile(node, "a number", &rule, &item.sentence))
		return;
	if (item.sentence.fields == 0) {
		add_numeral(&out->words, &out->word_count, item);
	} else if (item.from > 1) {
		add_numeral(&out->rules, &out->rule_count, item);
	} else {
		yaml_fault(node, "phrase-number", "%d cannot be a rule: write the word alone",
			   item.from);
		sentence_free(&item.sentence);
	}
}

/* A rule that would say two numbers alike. */
static void check_rule(const struct yaml_node *map, const struct numerals *numerals, int number)
{
	const struct numeral *rule = find_numeral(numerals->rules, numerals->rule_count, number);
	char key[16];

	if (!rule) {
		yaml_fault_key(map, "phrase-number", "there is no word for %d", number);
		return;
	}
	snprintf(key, sizeof(key), "%d", rule->from);
	if (number % rule->from > 0 && !(rule->sentence.fields & FIELD(REST)))
		yaml_fault(yaml_get(map, key), "phrase-number",
			   "%d would be said as %d: {rest} is missing", number,
			   number - number % rule->from);
	else if (number / rule->from > 1 && !(rule->sentence.fields & FIELD(COUNT)))
		yaml_fault(yaml_get(map, key), "phrase-number",
			   "%d would be said as %d: {count} is missing, or a rule for %d", number,
			   rule->from + number % rule->from, number / rule->from * rule->from);
}

static void read_numbers(const struct yaml_node *root, struct numerals *out)
{
	const struct yaml_node *map = yaml_need(root, "numbers");
	size_t errors = root->document->faults->errors;

	if (map && map->kind != YAML_MAP)
		yaml_fault(map, "value-kind", "expected a map from numbers to words");
	if (!map || map->kind != YAML_MAP)
		return;
	for (const struct yaml_node *node = map->first; node; node = node->next)
		read_numeral(node, out);
	if (out->word_count)
		qsort(out->words, (size_t)out->word_count, sizeof(*out->words), by_from);
	if (out->rule_count)
		qsort(out->rules, (size_t)out->rule_count, sizeof(*out->rules), by_from);
	for (int n = 0; n <= NUMERAL_MIN && root->document->faults->errors == errors; n++) {
		const struct numeral *word = find_numeral(out->words, out->word_count, n);
		if (!word || word->from != n)
			check_rule(map, out, n);
	}
}

static void read_list(const struct yaml_node *node, int max, struct number_list *out)
{
	int number;

	if (!yaml_is_list(node))
		return;
	for (const struct yaml_node *item = node->first; item; item = item->next) {
		if (!yaml_int(item, 0, max, &number))
			continue;
		if (out->count == PLURAL_NUMBERS_MAX) {
			yaml_fault(item, "phrase-plural", "more than %d numbers",
				   PLURAL_NUMBERS_MAX);
			return;
		}
		out->numbers[out->count++] = number;
	}
}

static void read_plural(const struct yaml_node *node, struct plural_rule *out)
{
	static const char *const keys[] = {"exactly", "last_digit", "but_not", NULL};

	if (!yaml_is_map(node, keys))
		return;
	out->used = true;
	read_list(yaml_get(node, "exactly"), NUMERAL_MIN, &out->exactly);
	read_list(yaml_get(node, "last_digit"), 9, &out->last_digit);
	read_list(yaml_get(node, "but_not"), 99, &out->but_not);
}

/* All but "other", which has no rule. */
static void read_plurals(const struct yaml_node *root, struct numerals *out)
{
	const struct yaml_node *map = yaml_need(root, "plural");
	const char *keys[PLURALS] = {0};

	for (enum plural plural = 0; plural < PLURAL_OTHER; plural++)
		keys[plural] = plural_names[plural];
	out->plurals[PLURAL_OTHER].used = true;
	if (yaml_is_map(map, keys))
		for (enum plural plural = 0; plural < PLURAL_OTHER; plural++)
			read_plural(yaml_get(map, plural_names[plural]), &out->plurals[plural]);
}

void numerals_read(const struct yaml_node *root, struct numerals *out)
{
	static const struct field_rule decimal = {
		.known = FIELD(WHOLE) | FIELD(DIGITS),
		.needed = FIELD(WHOLE) | FIELD(DIGITS),
	};
	static const struct field_rule repeat = {.known = FIELD(WORDS) | FIELD(DIGITS)};

	read_numbers(root, out);
	sentence_compile(yaml_need(root, "decimal"), "a decimal", &decimal, &out->decimal);
	const struct yaml_node *node = yaml_need(root, "repeat");
	if (sentence_compile(node, "a number said again", &repeat, &out->repeat) &&
	    out->repeat.fields == 0)
		yaml_fault(node, "phrase-missing", "expected {words}, {digits} or both");
	read_plurals(root, out);
}

void numerals_free(struct numerals *numerals)
{
	for (int i = 0; i < numerals->word_count; i++)
		sentence_free(&numerals->words[i].sentence);
	for (int i = 0; i < numerals->rule_count; i++)
		sentence_free(&numerals->rules[i].sentence);
	free(numerals->words);
	free(numerals->rules);
	sentence_free(&numerals->decimal);
	sentence_free(&numerals->repeat);
}
