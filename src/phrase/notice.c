/* What is said that is not a call: places, and what is left. */
#include "base/base.h"
#include "phrase/internal.h"

#include <math.h>
#include <stdlib.h>

static const struct phrase_options plain = {0};

/* The move whose string tells where a call is: its own, or of the next one that has a string while
 * its phase lasts. NULL in preparing and finishing. */
static const struct move *string_of(const struct sequence *sequence, int call)
{
	enum phase phase = call_phase(sequence, call);

	if (phase == PHASE_PREPARE || phase == PHASE_FINISH)
		return NULL;
	for (int i = sequence->calls[call].subject; i < sequence->move_count; i++)
		if (sequence->moves[i].has_string)
			return &sequence->moves[i];
	return NULL;
}

/* The calls of the phase of `call` up to it, and all of them. */
static void count_steps(const struct sequence *sequence, int call, int *step, int *steps)
{
	enum phase phase = call_phase(sequence, call);

	*step = 0;
	*steps = 0;
	for (int i = 0; i < sequence->call_count; i++) {
		if (call_phase(sequence, i) != phase)
			continue;
		*step += i <= call;
		++*steps;
	}
}

static char *say_left(const struct manner *manner, const struct notice_facts *facts)
{
	int saying = facts->crosses_left ? SAID_LEFT_CROSSES : SAID_LEFT_NONE;

	if (facts->mains_left)
		saying = facts->crosses_left ? SAID_LEFT_BOTH : SAID_LEFT_MAINS;
	return say(
		manner, saying,
		(struct field_values){
			.words = {[FIELD_MAINS] = say_counted(manner, facts->mains_left, NOUN_MAIN),
				  [FIELD_CROSSES] =
					  say_counted(manner, facts->crosses_left, NOUN_CROSS)}});
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
	return say(
		manner, SAID_STRING,
		(struct field_values){
			.words = {[FIELD_STRING_NAME] = say_name(manner, facts->strings[string]),
				  [FIELD_TENSION] = say_written(manner, facts->tensions[string])}});
}

static char *say_last_time(const struct manner *manner, const struct notice_facts *facts)
{
	int month = facts->last_month;

	if (!facts->last_tension)
		return NULL;
	return say(
		manner, month ? SAID_LAST_RECENT : SAID_LAST_OLD,
		(struct field_values){
			.words = {[FIELD_TENSION] = say_written(manner, facts->last_tension),
				  [FIELD_MONTH] = month ? say_words(manner, SAID_MONTHS + month - 1)
							: NULL}});
}

static char *say_field(const struct manner *manner, const struct notice_facts *facts,
		       enum field field)
{
	static const double minute_s = 60;

	switch (field) {
	case FIELD_JOB:
		return say_name(manner, facts->job);
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
		return say_notes(manner, facts->notes);
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

char *phrase_place(const struct phrasebook *book, const struct sequence *sequence, int call,
		   const struct phrase_options *options)
{
	const struct manner manner = {book, options ? options : &plain};
	const struct move *move = string_of(sequence, call);
	bool finishing = call_phase(sequence, call) == PHASE_FINISH;
	int step, steps;

	if (move)
		return say_string(&manner, SAID_PLACE + move->string, move->number, move->side);
	count_steps(sequence, call, &step, &steps);
	return say(&manner, finishing ? SAID_FINISHING : SAID_PREPARING,
		   (struct field_values){.words = {[FIELD_STEP] = say_number(&manner, step),
						   [FIELD_STEPS] = say_number(&manner, steps)}});
}
