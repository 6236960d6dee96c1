/* What is said that is not a call: places, and what is left. */
#include "base/base.h"
#include "phrase/internal.h"

#include <math.h>

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

static char *say_place(const struct manner *manner, const struct sequence *sequence, int call)
{
	const struct move *move = string_of(sequence, call);
	struct field_values values = {0};
	enum place place = PLACE_OF_MAIN;

	if (move) {
		place = move->string == STRING_MAIN ? PLACE_OF_MAIN : PLACE_OF_CROSS;
		values.words[FIELD_NUMBER] = say_number(manner, move->number);
		values.words[FIELD_SIDE] = say_side(manner, move->side);
	} else {
		int step, steps;
		place = call_phase(sequence, call) == PHASE_FINISH ? PLACE_OF_FINISH
								   : PLACE_OF_PREPARE;
		count_steps(sequence, call, &step, &steps);
		values.words[FIELD_STEP] = say_number(manner, step);
		values.words[FIELD_STEPS] = say_number(manner, steps);
	}
	return say_sentence(&manner->book->places[place], &values);
}

static char *say_left(const struct manner *manner, const struct notice_facts *facts)
{
	struct field_values values = {0};
	enum left what = LEFT_NONE;

	if (facts->mains_left)
		what = facts->crosses_left ? LEFT_BOTH : LEFT_MAINS;
	else if (facts->crosses_left)
		what = LEFT_CROSSES;
	values.words[FIELD_MAINS] = say_counted(manner, facts->mains_left, NOUN_MAIN);
	values.words[FIELD_CROSSES] = say_counted(manner, facts->crosses_left, NOUN_CROSS);
	return say_sentence(&manner->book->left[what], &values);
}

static char *say_minutes(const struct manner *manner, double minutes)
{
	return say_counted(manner, minutes < 1 ? 1 : minutes, NOUN_MINUTE);
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
	case FIELD_LEFT:
		return say_left(manner, facts);
	case FIELD_MAINS:
		return say_counted(manner, facts->mains, NOUN_MAIN);
	case FIELD_CROSSES:
		return say_counted(manner, facts->crosses, NOUN_CROSS);
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
	const struct sentence *sentence = &book->notices[notice];
	struct field_values values = {0};

	for (enum field field = 0; field < FIELDS; field++)
		if (sentence->fields >> field & 1)
			values.words[field] = say_field(&manner, facts, field);
	return say_finally(say_sentence(sentence, &values));
}

char *phrase_place(const struct phrasebook *book, const struct sequence *sequence, int call,
		   const struct phrase_options *options)
{
	struct manner manner = {book, options ? options : &plain};

	return say_place(&manner, sequence, call);
}
