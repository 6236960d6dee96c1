/* Values as words: numbers, counts, tensions, sides, holes and names. */
#include "base/base.h"
#include "phrase/internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

char *say_number(const struct manner *manner, double number)
{
	const struct plainness plainness = {.again = manner->options->wording == WORDING_AGAIN,
					    .clear = manner->options->clear};

	return numerals_say(&manner->book->numerals, number, plainness);
}

char *say(const struct manner *manner, int saying, struct field_values values)
{
	return sentence_fill(&manner->book->sayings[saying], values);
}

char *say_words(const struct manner *manner, int saying)
{
	return say(manner, saying, (struct field_values){0});
}

char *say_counted(const struct manner *manner, double count, enum noun noun)
{
	const struct phrasebook *book = manner->book;
	enum plural plural = numerals_plural(&book->numerals, count);

	return numerals_join(
		&book->numerals, &book->nouns[noun][plural],
		(struct field_values){.words = {[FIELD_COUNT] = say_number(manner, count)}});
}

/* As it is said: another unit than the written one is rounded to what a tension head can be set to:
 * a tenth of a pound or of a kilo, a newton. */
static struct quantity as_said(const struct manner *manner, struct quantity tension)
{
	const struct phrase_options *options = manner->options;

	if (!options->unit_chosen || options->unit == tension.unit ||
	    unit_dimension(options->unit) != DIMENSION_TENSION)
		return tension;
	struct quantity said = quantity_convert(tension, options->unit);
	double steps = said.unit == UNIT_N ? 1 : 10;
	said.value = round(said.value * steps) / steps;
	return said;
}

char *say_tension(const struct manner *manner, struct quantity tension)
{
	struct quantity said = as_said(manner, tension);
	enum noun noun = said.unit == UNIT_LB   ? NOUN_POUND
			 : said.unit == UNIT_KG ? NOUN_KILO
						: NOUN_NEWTON;

	return say_counted(manner, said.value, noun);
}

char *say_tension_number(const struct manner *manner, struct quantity tension)
{
	return say_number(manner, as_said(manner, tension).value);
}

char *say_side(const struct manner *manner, enum side side)
{
	char *chosen = say_name(manner, manner->options->side_words[side]);

	return chosen ? chosen : say_words(manner, SAID_SIDES + side);
}

char *say_string(const struct manner *manner, int saying, int number, enum side side)
{
	return say(manner, saying,
		   (struct field_values){.words = {[FIELD_NUMBER] = say_number(manner, number),
						   [FIELD_SIDE] = say_side(manner, side)}});
}

char *say_hole(const struct manner *manner, struct hole hole)
{
	return say(manner, SAID_HOLE,
		   (struct field_values){
			   .words = {[FIELD_NUMBER] = say_number(manner, hole.number),
				     [FIELD_END] = say_words(manner, SAID_ENDS + hole.end)}});
}

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
		add_word(out,
			 numerals_say_decimal(numerals, whole, decimals, (struct plainness){0}));
		free(decimals);
		at += 1 + after;
	} else if (is_number) {
		add_word(out, numerals_say_whole(numerals, (int)strtol(whole, NULL, 10)));
	} else {
		add_word(out, numerals_say_digits(numerals, whole, false));
	}
	free(whole);
	return at;
}

static const char *say_letters(const char *at, struct text *out)
{
	const char *end = at;

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

static char *say_text(const struct manner *manner, const char *text, bool with_pauses)
{
	struct text words = {0};
	char pause = '\0';

	for (const char *at = text ? text : ""; *at;) {
		const char *next = at;
		bool digit = *at >= '0' && *at <= '9';
		if (!digit && !utf8_is_letter(utf8_next(&next))) {
			if (with_pauses && words.length && pause_of(at))
				pause = pause_of(at);
			at = next;
			continue;
		}
		if (pause)
			text_add_char(&words, pause);
		pause = '\0';
		at = digit ? say_digits(&manner->book->numerals, at, &words)
			   : say_letters(at, &words);
	}
	return words.length ? text_take(&words) : NULL;
}

char *say_name(const struct manner *manner, const char *name)
{
	return say_text(manner, name, false);
}

char *say_notes(const struct manner *manner, const char *notes)
{
	return say_text(manner, notes, true);
}

/* A letter of Latin-1, small, as UTF-8: a capital is 0x20 lower. */
static bool is_small(const char *at)
{
	unsigned char lead = (unsigned char)at[0], next = (unsigned char)at[1];

	return lead == 0xc3 && next >= 0xa0 && next <= 0xbe && next != 0xb7;
}

/* Texts are shown as well as spoken. */
static void begin_sentences(char *words)
{
	bool begins = true;

	for (char *at = words; *at; at++) {
		if (*at == ' ')
			continue;
		if (begins && *at >= 'a' && *at <= 'z')
			*at = (char)(*at - 'a' + 'A');
		else if (begins && is_small(at))
			at[1] = (char)(at[1] - 0x20);
		begins = *at == '.' || *at == '?';
	}
}

char *say_finally(char *words)
{
	if (strlen(words) > PHRASE_BYTES_MAX) {
		size_t length = PHRASE_BYTES_MAX;
		while (length > 0 && words[length] != ' ')
			length--;
		words[length] = '\0';
	}
	begin_sentences(words);
	return words;
}
