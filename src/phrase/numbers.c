/* Numbers in words, by the rules of a language, which are data: reading them, and saying numbers
 * and texts that have numbers in them. */
#include "phrase/internal.h"

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

/* The word for that number alone, or else the rule that holds for it; NULL: there is none. */
static const struct numeral *find_rule(const struct numerals *numerals, int number)
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
static char *say_whole(const struct numerals *numerals, int number)
{
	const struct numeral *found = find_rule(numerals, number);
	struct field_values values = {0};
	bool counts = found->sentence.fields & FIELD(COUNT);
	int rest = found->from ? number % (counts ? found->unit : found->from) : 0;

	if (counts)
		values.words[FIELD_COUNT] = say_whole(numerals, number / found->unit);
	if (rest > 0)
		values.words[FIELD_REST] = say_whole(numerals, rest);
	return numerals_join(numerals, &found->sentence, values);
}

static char *say_each_digit(const struct numerals *numerals, const char *digits, bool clear)
{
	struct text words = {0};

	for (const char *at = digits; *at; at++) {
		const char *clear_word = numerals->clear_digits[*at - '0'].text;
		char *word = clear && clear_word ? memory_copy(clear_word)
						 : say_whole(numerals, *at - '0');
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
		return say_each_digit(numerals, digits, true);
	char *words = say_whole(numerals, (int)strtol(digits, NULL, 10));
	if (one || (!plainness.again && !plainness.clear))
		return words;
	char *each = say_each_digit(numerals, digits, plainness.clear);
	return sentence_fill(plainness.again ? &numerals->repeat : &numerals->clear,
			     VALUES([FIELD_WORDS] = words, [FIELD_DIGITS] = each));
}

/* For the digits before and after the point, as a person wrote them: 1.30. */
static char *say_decimal(const struct numerals *numerals, const char *whole, const char *decimals,
			 struct plainness plainness)
{
	return sentence_fill(
		&numerals->decimal,
		VALUES([FIELD_WHOLE] = say_part(numerals, whole, plainness),
		       [FIELD_DIGITS] = say_each_digit(numerals, decimals, plainness.clear)));
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
	return say_decimal(numerals, printed, point + 1, plainness);
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

/* ---- texts that have numbers in them ---- */

enum { NAME_NUMBER_DIGITS = 3 };

/* Adds a word, and frees it. */
static void add_word(struct text *words, char *word)
{
	text_format(words, "%s%s", words->length ? " " : "", word);
	free(word);
}

/* "16" is a number, "0042" and "20261101" are digits, "1.30" is a decimal. Returns what comes after
 * it. */
static const char *say_digits(const struct numerals *numerals, const char *at, struct text *out)
{
	size_t count = strspn(at, "0123456789");
	size_t after = at[count] == '.' ? strspn(at + count + 1, "0123456789") : 0;
	bool is_number = count <= NAME_NUMBER_DIGITS && (count == 1 || *at != '0');
	char *whole = memory_copy_part(at, count);

	at += count;
	if (is_number && after > 0 && after <= NAME_NUMBER_DIGITS) {
		char *decimals = memory_copy_part(at + 1, after);
		add_word(out, say_decimal(numerals, whole, decimals, (struct plainness){0}));
		free(decimals);
		at += 1 + after;
	} else if (is_number) {
		add_word(out, say_whole(numerals, (int)strtol(whole, NULL, 10)));
	} else {
		add_word(out, say_each_digit(numerals, whole, false));
	}
	free(whole);
	return at;
}

static bool is_digit(char byte)
{
	return byte >= '0' && byte <= '9';
}

/* `before`: the last byte of the text before it. */
static const char *say_letters(const struct numerals *numerals, const char *at, char before,
			       struct text *out)
{
	const char *end = at;

	if (*at == 'x' && is_digit(before) && is_digit(at[1])) { /* "16x19" */
		add_word(out, memory_copy(numerals->by.text));
		return at + 1;
	}

	for (const char *next = at;; end = next) {
		uint32_t point = utf8_next(&next);
		if (!utf8_is_letter(point) && point != '\'')
			break;
	}
	add_word(out, memory_copy_part(at, (size_t)(end - at)));
	return end;
}

/* What a mark behind a word becomes: a comma, a full stop or a question mark, which are all that
 * the synthesiser is given; 0: it is no pause. */
static char pause_of(const char *at)
{
	static const char marks[] = ",;:.!?", pauses[] = ",,,..?";
	const char *mark = at[1] == '\0' || at[1] == ' ' ? strchr(marks, *at) : NULL;

	return mark ? pauses[mark - marks] : '\0';
}

char *numerals_say_text(const struct numerals *numerals, const char *text, bool with_pauses)
{
	struct text words = {0};
	char pause = '\0';

	for (const char *at = text ? text : ""; *at;) {
		const char *next = at;
		bool digit = is_digit(*at);
		if (!digit && !utf8_is_letter(utf8_next(&next))) {
			if (with_pauses && words.length && pause_of(at))
				pause = pause_of(at);
			at = next;
			continue;
		}
		if (pause)
			text_add_char(&words, pause);
		pause = '\0';
		at = digit ? say_digits(numerals, at, &words)
			   : say_letters(numerals, at, at > text ? at[-1] : ' ', &words);
	}
	return words.length ? text_take(&words) : NULL;
}

/* ---- the rules, read from a phrasebook and checked ---- */

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
	const struct numeral *found = find_rule(numerals, number);

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
	static const struct field_rule words = {0}, decimal = {
							    .known = FIELD(WHOLE) | FIELD(DIGITS),
							    .needed = FIELD(WHOLE) | FIELD(DIGITS),
						    };

	read_numbers(root, out);
	read_joints(yaml_get(root, "joints"), out);
	sentence_compile(yaml_need(root, "decimal"), "a decimal", &decimal, &out->decimal);
	sentence_compile(yaml_need(root, "by"), "the x of 16x19", &words, &out->by);
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
	sentence_free(&numerals->by);
	sentence_free(&numerals->repeat);
	sentence_free(&numerals->clear);
	for (int digit = 0; digit < 10; digit++)
		sentence_free(&numerals->clear_digits[digit]);
}
