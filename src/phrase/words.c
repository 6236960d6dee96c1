/* Values in words, by the rules of a language, which are data. */
#include "phrase/internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

char *say(const struct manner *manner, const char *map, const char *key, struct field_values values)
{
	return sentence_fill(saying_find(manner->book, map, key), values);
}

char *say_words(const struct manner *manner, const char *map, const char *key)
{
	return say(manner, map, key, (struct field_values){0});
}

/* ---- numbers ---- */

/* The sentence with the values filled in, in which numbers meet each other or a noun: with the
 * joints made. */
static char *fill_joined(const struct phrasebook *book, const struct sentence *sentence,
			 struct field_values values)
{
	char *words = sentence_fill(sentence, values);

	for (int i = 0; i < book->joint_count; i++) {
		const struct joint *joint = &book->joints[i];
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
static char *say_whole(const struct phrasebook *book, int number)
{
	const struct numeral *found = numeral_find(book, number);
	struct field_values values = {0};
	bool counts = found->sentence.fields & FIELD(COUNT);
	int rest = found->from ? number % (counts ? found->unit : found->from) : 0;

	if (counts)
		values.words[FIELD_COUNT] = say_whole(book, number / found->unit);
	if (rest > 0)
		values.words[FIELD_REST] = say_whole(book, rest);
	return fill_joined(book, &found->sentence, values);
}

/* Adds a word, and frees it. */
static void add_word(struct text *words, char *word)
{
	text_format(words, "%s%s", words->length ? " " : "", word);
	free(word);
}

static char *say_each_digit(const struct phrasebook *book, const char *digits, bool clear)
{
	struct text words = {0};

	for (const char *at = digits; *at; at++) {
		const char digit[] = {*at, '\0'};
		const char *own = clear ? saying_find(book, "digits", digit)->text : NULL;
		add_word(&words, own ? memory_copy(own) : say_whole(book, *at - '0'));
	}
	return text_take(&words);
}

/* Digits without a sign or a point. */
static char *say_part(const struct manner *manner, const char *digits)
{
	const struct phrasebook *book = manner->book;
	bool one = digits[1] == '\0', clear = manner->options->clear;
	bool again = manner->options->wording == WORDING_AGAIN;

	if (one && clear)
		return say_each_digit(book, digits, true);
	char *words = say_whole(book, (int)strtol(digits, NULL, 10));
	if (one || (!again && !clear))
		return words;
	char *each = say_each_digit(book, digits, clear);
	return say(manner, again ? "" : "clear", again ? "repeat" : "number",
		   VALUES([FIELD_WORDS] = words, [FIELD_DIGITS] = each));
}

/* For the digits before and after the point, as a person wrote them: 1.30. */
static char *say_decimal(const struct manner *manner, const char *whole, const char *decimals)
{
	char *digits = say_each_digit(manner->book, decimals, manner->options->clear);

	return say(manner, "", "decimal",
		   VALUES([FIELD_WHOLE] = say_part(manner, whole), [FIELD_DIGITS] = digits));
}

char *say_number(const struct manner *manner, double number)
{
	static const double number_max = 999999;
	char printed[QUANTITY_TEXT_MAX];

	/* Written so that NaN is 0 as well. */
	number_text(number > 0 ? fmin(number, number_max) : 0, printed);
	char *point = strchr(printed, '.');
	if (!point)
		return say_part(manner, printed);
	*point = '\0';
	return say_decimal(manner, printed, point + 1);
}

enum plural plural_of(const struct phrasebook *book, double number)
{
	if (!(number >= 0 && number < INT32_MAX))
		return PLURAL_OTHER;
	int whole = (int)number;
	bool small = whole < NUMBER_SET;
	bool decimals = number != floor(number);
	for (enum plural plural = 0; plural < PLURAL_OTHER; plural++) {
		const struct plural_rule *rule = &book->plurals[plural];
		if (small && (rule->whole[whole] || (rule->exactly[whole] && !decimals)))
			return plural;
		if (rule->last_digit[whole % 10] && !rule->but_not[whole % 100] && !decimals)
			return plural;
	}
	return PLURAL_OTHER;
}

char *say_counted(const struct manner *manner, double count, const char *noun)
{
	const char *plural = plural_names[plural_of(manner->book, count)];

	return fill_joined(manner->book, saying_find(manner->book, noun, plural),
			   VALUES([FIELD_COUNT] = say_number(manner, count)));
}

/* ---- texts that have numbers in them ---- */

enum { NAME_NUMBER_DIGITS = 3 };

/* "16" is a number, "0042" and "20261101" are digits, "1.30" is a decimal. Returns what comes after
 * it. */
static const char *say_digits(const struct phrasebook *book, const char *at, struct text *out)
{
	const struct manner plain = {book, &(struct phrase_options){0}};
	size_t count = strspn(at, "0123456789");
	size_t after = at[count] == '.' ? strspn(at + count + 1, "0123456789") : 0;
	bool is_number = count <= NAME_NUMBER_DIGITS && (count == 1 || *at != '0');
	char *whole = memory_copy_part(at, count);

	at += count;
	if (is_number && after > 0 && after <= NAME_NUMBER_DIGITS) {
		char *decimals = memory_copy_part(at + 1, after);
		add_word(out, say_decimal(&plain, whole, decimals));
		free(decimals);
		at += 1 + after;
	} else if (is_number) {
		add_word(out, say_part(&plain, whole));
	} else {
		add_word(out, say_each_digit(book, whole, false));
	}
	free(whole);
	return at;
}

static bool is_digit(char byte)
{
	return byte >= '0' && byte <= '9';
}

/* `before`: the last byte of the text before it. */
static const char *say_letters(const struct phrasebook *book, const char *at, char before,
			       struct text *out)
{
	const char *end = at;

	if (*at == 'x' && is_digit(before) && is_digit(at[1])) { /* "16x19" */
		add_word(out, memory_copy(saying_find(book, "", "by")->text));
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

char *say_text(const struct manner *manner, const char *text, bool with_pauses)
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
		at = digit ? say_digits(manner->book, at, &words)
			   : say_letters(manner->book, at, at > text ? at[-1] : ' ', &words);
	}
	return words.length ? text_take(&words) : NULL;
}

/* ---- what has a unit or a place ---- */

/* In the unit that is spoken, as a machine can be set to it. */
static struct quantity as_said(const struct manner *manner, struct quantity tension)
{
	const struct phrase_options *options = manner->options;

	if (options->unit_chosen && unit_dimension(options->unit) == DIMENSION_TENSION)
		tension = quantity_convert(tension, options->unit);
	return job_setting(manner->pattern, tension);
}

char *say_tension(const struct manner *manner, struct quantity tension)
{
	struct quantity said = as_said(manner, tension);

	return say_counted(manner, said.value, unit_name(said.unit));
}

char *say_tension_number(const struct manner *manner, struct quantity tension)
{
	return say_number(manner, as_said(manner, tension).value);
}

char *say_side(const struct manner *manner, enum side side)
{
	char *chosen = say_text(manner, manner->options->side_words[side], false);

	return chosen ? chosen : say_words(manner, "sides", side_names[side]);
}

char *say_string(const struct manner *manner, const char *map, enum string_kind kind, int number,
		 enum side side)
{
	char *count = say_number(manner, number), *where = say_side(manner, side);

	return say(manner, map, string_names[kind],
		   VALUES([FIELD_NUMBER] = count, [FIELD_SIDE] = where));
}

char *say_hole(const struct manner *manner, struct hole hole)
{
	return say(manner, "", "hole",
		   VALUES([FIELD_NUMBER] = say_number(manner, hole.number),
			  [FIELD_END] = say_words(manner, "ends", end_names[hole.end])));
}
