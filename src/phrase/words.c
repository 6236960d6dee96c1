/* Values as words, and what is said that is not a call: notices, and what is left. */
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

	return numerals_join(&book->numerals, &book->nouns[noun][plural],
			     VALUES([FIELD_COUNT] = say_number(manner, count)));
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
	char *count = say_number(manner, number), *where = say_side(manner, side);

	return say(manner, saying, VALUES([FIELD_NUMBER] = count, [FIELD_SIDE] = where));
}

char *say_hole(const struct manner *manner, struct hole hole)
{
	return say(manner, SAID_HOLE,
		   VALUES([FIELD_NUMBER] = say_number(manner, hole.number),
			  [FIELD_END] = say_words(manner, SAID_ENDS + hole.end)));
}

char *say_name(const struct manner *manner, const char *name)
{
	return numerals_say_text(&manner->book->numerals, name, false);
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

/* ---- notices ---- */

static const struct phrase_options plain = {0};

static char *say_left(const struct manner *manner, const struct notice_facts *facts)
{
	int saying = facts->crosses_left ? SAID_LEFT_CROSSES : SAID_LEFT_NONE;

	if (facts->mains_left)
		saying = facts->crosses_left ? SAID_LEFT_BOTH : SAID_LEFT_MAINS;
	return say(manner, saying,
		   VALUES([FIELD_MAINS] = say_counted(manner, facts->mains_left, NOUN_MAIN),
			  [FIELD_CROSSES] = say_counted(manner, facts->crosses_left, NOUN_CROSS)));
}

static char *say_minutes(const struct manner *manner, double minutes)
{
	return say_counted(manner, minutes < 1 ? 1 : minutes, NOUN_MINUTE);
}

/* "54 lb" as it is said; NULL if there is none. */
static char *say_written(const struct manner *manner, const char *text)
{
	struct quantity tension;
	char *why = NULL;
	bool good = text && quantity_parse(text, DIMENSION_TENSION, &tension, &why);

	free(why);
	return good ? say_tension(manner, tension) : NULL;
}

static char *say_set_up(const struct manner *manner, const struct notice_facts *facts, int string)
{
	return say(manner, SAID_STRING,
		   VALUES([FIELD_STRING_NAME] = say_name(manner, facts->strings[string]),
			  [FIELD_TENSION] = say_written(manner, facts->tensions[string])));
}

static char *say_last_time(const struct manner *manner, const struct notice_facts *facts)
{
	int month = facts->last_month;

	if (!facts->last_tension)
		return NULL;
	return say(
		manner, month ? SAID_LAST_RECENT : SAID_LAST_OLD,
		VALUES([FIELD_TENSION] = say_written(manner, facts->last_tension),
		       [FIELD_MONTH] = month ? say_words(manner, SAID_MONTHS + month - 1) : NULL));
}

static char *say_job(const struct manner *manner, const struct notice_facts *facts)
{
	char *job = say_name(manner, facts->job), *racket = say_name(manner, facts->racket);

	return racket ? say(manner, SAID_JOB_OF, VALUES([FIELD_JOB] = job, [FIELD_NUMBER] = racket))
		      : job;
}

static char *say_field(const struct manner *manner, const struct notice_facts *facts,
		       enum field field)
{
	static const double minute_s = 60;

	switch (field) {
	case FIELD_JOB:
		return say_job(manner, facts);
	case FIELD_PLACE:
		return memory_copy(facts->place);
	case FIELD_REASON:
		return say_name(manner, facts->reason);
	case FIELD_STRING:
		return facts->string ? memory_copy(facts->string) : NULL;
	case FIELD_LEFT:
		return say_left(manner, facts);
	case FIELD_MAINS:
		return say_counted(manner, facts->mains, NOUN_MAIN);
	case FIELD_CROSSES:
		return say_counted(manner, facts->crosses, NOUN_CROSS);
	case FIELD_PATTERN:
		return say_name(manner, facts->pattern);
	case FIELD_MAINS_STRING:
		return say_set_up(manner, facts, STRING_MAIN);
	case FIELD_CROSSES_STRING:
		return say_set_up(manner, facts, STRING_CROSS);
	case FIELD_NOTES:
		return numerals_say_text(&manner->book->numerals, facts->notes, true);
	case FIELD_LAST_TIME:
		return say_last_time(manner, facts);
	case FIELD_COUNT:
		return say_counted(manner, facts->jobs, NOUN_JOB);
	case FIELD_TIME_LEFT:
		return facts->seconds_left > 0
			       ? say_minutes(manner, ceil(facts->seconds_left / minute_s))
			       : NULL;
	case FIELD_TIME_WORKED:
		return facts->seconds_worked >= minute_s / 2
			       ? say_minutes(manner, round(facts->seconds_worked / minute_s))
			       : NULL;
	default:
		return NULL;
	}
}

char *phrase_notice(const struct phrasebook *book, enum notice notice,
		    const struct notice_facts *facts, const struct phrase_options *options)
{
	struct manner manner = {book, options ? options : &plain};
	const struct sentence *sentence = &book->sayings[SAID_NOTICES + notice];
	struct field_values values = {0};

	for (enum field field = 0; field < FIELDS; field++)
		if (sentence->fields >> field & 1)
			values.words[field] = say_field(&manner, facts, field);
	return say_finally(sentence_fill(sentence, values));
}
