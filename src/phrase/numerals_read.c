/* The rules of numbers and plural forms, read from a phrasebook and checked. */
#include "phrase/internal.h"

#include "base/base.h"

#include <stdlib.h>
#include <string.h>

enum { FROM_MAX = 1000000 };

/* The number of digits of a plain number at text, of at most FROM_MAX, which goes to *out; 0 if
 * there is none. */
static size_t parse_number(const char *text, int *out)
{
	size_t digits = strspn(text, "0123456789");

	if (digits == 0 || digits > 7 || (digits > 1 && text[0] == '0'))
		return 0;
	long number = strtol(text, NULL, 10);
	*out = (int)number;
	return number <= FROM_MAX ? digits : 0;
}

/* "200", "40/20" */
static bool parse_key(const struct yaml_node *node, struct numeral *out)
{
	const char *at = node->key;
	*out = (struct numeral){.unit = 1};
	size_t digits = parse_number(at, &out->from);
	bool good = digits > 0;

	at += digits;
	while (out->unit <= out->from / 10)
		out->unit *= 10;
	if (good && *at == '/') {
		digits = parse_number(at + 1, &out->unit);
		good = digits > 0;
		at += 1 + digits;
	}
	if (good && *at == '\0')
		return true;
	yaml_fault_key(node, "phrase-number",
		       "expected a number from 0 to %d, or two such as 40/20, not \"%s\"", FROM_MAX,
		       node->key);
	return false;
}

static void read_numeral(const struct yaml_node *node, struct numerals *out)
{
	static const struct field_rule rule = {.known = FIELD(COUNT) | FIELD(REST)};
	struct numeral item;

	if (!parse_key(node, &item) || !sentence_compile(node, "a number", &rule, &item.sentence))
		return;
	bool counts = item.sentence.fields & FIELD(COUNT);
	bool good_rule = item.from > 1 && item.unit <= item.from && (!counts || item.unit > 1);
	if (item.sentence.fields && !good_rule) {
		yaml_fault(node, "phrase-number", "%s cannot be a rule with %s", node->key,
			   counts ? "{count}" : "{rest}");
		sentence_free(&item.sentence);
		return;
	}
	out->items = memory_resize(out->items, (size_t)out->count + 1, sizeof(item));
	out->items[out->count++] = item;
}

/* A number with no word, or one whose rule would say another number as well. */
static void check_number(const struct yaml_node *map, const struct numerals *numerals, int number)
{
	const struct numeral *found = numerals_find(numerals, number);

	if (found && found->sentence.fields == 0)
		return;
	bool counts = found && found->sentence.fields & FIELD(COUNT);
	if (!found || (!counts && number >= found->from + found->unit)) {
		yaml_fault_key(map, "phrase-number", "there is no word for %d", number);
		return;
	}
	int rest = number % (counts ? found->unit : found->from);
	if (rest > 0 && !(found->sentence.fields & FIELD(REST)))
		yaml_fault_key(map, "phrase-number",
			       "%d would be said as %d: the rule for %d does not say {rest}",
			       number, number - rest, found->from);
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
	for (int n = 0; n <= NUMERAL_MIN && root->document->faults->errors == errors; n++)
		check_number(map, out, n);
}

static void read_joints(const struct yaml_node *map, struct numerals *out)
{
	static const struct field_rule words = {0};
	struct sentence to;

	if (map && map->kind != YAML_MAP)
		yaml_fault(map, "value-kind", "expected a map from words to words");
	for (const struct yaml_node *node = map ? map->first : NULL; node; node = node->next) {
		if (!sentence_compile(node, "a joint", &words, &to))
			continue;
		out->joints = memory_resize(out->joints, (size_t)out->joint_count + 1,
					    sizeof(*out->joints));
		out->joints[out->joint_count++] = (struct joint){memory_copy(node->key), to.text};
	}
}

static void read_set(const struct yaml_node *node, int max, bool set[NUMBER_SET])
{
	int number;

	if (!yaml_is_list(node))
		return;
	for (const struct yaml_node *item = node->first; item; item = item->next)
		if (yaml_int(item, 0, max, &number))
			set[number] = true;
}

static void read_plural(const struct yaml_node *node, struct plural_rule *out)
{
	static const char *const keys[] = {"exactly", "last_digit", "but_not", "whole", NULL};

	if (!yaml_is_map(node, keys))
		return;
	out->used = true;
	read_set(yaml_get(node, "exactly"), NUMBER_SET - 1, out->exactly);
	read_set(yaml_get(node, "last_digit"), 9, out->last_digit);
	read_set(yaml_get(node, "but_not"), NUMBER_SET - 1, out->but_not);
	read_set(yaml_get(node, "whole"), NUMBER_SET - 1, out->whole);
}

/* All but "other", which has no rule. */
static void read_plurals(const struct yaml_node *root, struct numerals *out)
{
	const struct yaml_node *map = yaml_need(root, "plural");
	const char *keys[PLURALS] = {0};

	for (enum plural plural = 0; plural < PLURAL_OTHER; plural++)
		keys[plural] = plural_name(plural);
	out->plurals[PLURAL_OTHER].used = true;
	if (yaml_is_map(map, keys))
		for (enum plural plural = 0; plural < PLURAL_OTHER; plural++)
			read_plural(yaml_get(map, plural_name(plural)), &out->plurals[plural]);
}

/* A number of several digits said more plainly. */
static void read_digits(const struct yaml_node *node, const char *what, struct sentence *out)
{
	static const struct field_rule rule = {.known = FIELD(WORDS) | FIELD(DIGITS)};

	if (sentence_compile(node, what, &rule, out) && out->fields == 0)
		yaml_fault(node, "phrase-missing", "expected {words}, {digits} or both");
}

static void read_clear(const struct yaml_node *map, struct numerals *out)
{
	static const char *const keys[] = {"number", "digits", NULL};
	static const char *const digits[] = {"0", "1", "2", "3", "4", "5",
					     "6", "7", "8", "9", NULL};
	static const struct field_rule word = {0};
	const struct yaml_node *words = yaml_get(map, "digits");

	if (!yaml_is_map(map, keys))
		return;
	read_digits(yaml_need(map, "number"), "a number in a loud shop", &out->clear);
	if (yaml_is_map(words, digits))
		for (int digit = 0; digits[digit]; digit++)
			sentence_compile(yaml_get(words, digits[digit]), "this word", &word,
					 &out->clear_digits[digit]);
}

void numerals_read(const struct yaml_node *root, struct numerals *out)
{
	static const struct field_rule decimal = {
		.known = FIELD(WHOLE) | FIELD(DIGITS),
		.needed = FIELD(WHOLE) | FIELD(DIGITS),
	};

	read_numbers(root, out);
	read_joints(yaml_get(root, "joints"), out);
	sentence_compile(yaml_need(root, "decimal"), "a decimal", &decimal, &out->decimal);
	read_digits(yaml_need(root, "repeat"), "a number said again", &out->repeat);
	read_clear(yaml_need(root, "clear"), out);
	read_plurals(root, out);
}

void numerals_free(struct numerals *numerals)
{
	for (int i = 0; i < numerals->count; i++)
		sentence_free(&numerals->items[i].sentence);
	free(numerals->items);
	for (int i = 0; i < numerals->joint_count; i++) {
		free(numerals->joints[i].from);
		free(numerals->joints[i].to);
	}
	free(numerals->joints);
	sentence_free(&numerals->decimal);
	sentence_free(&numerals->repeat);
	sentence_free(&numerals->clear);
	for (int digit = 0; digit < 10; digit++)
		sentence_free(&numerals->clear_digits[digit]);
}
