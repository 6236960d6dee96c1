/* What there is to say in a call: its fields from its moves. */
#include "base/base.h"
#include "phrase/internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A call as its sentence sees it. Moves that the call has not got are NULL. */
struct said {
	struct manner manner;
	const struct sequence *sequence;
	const struct call *call;
	const struct move *subject;
	const struct move *route; /* feed or weave: holes and interlacing */
	const struct move *pull;
	const struct move *string; /* of a tension: the pull that it is set for; of the check of the
				      mains: the one that is left for later */
};

static const struct move *find_move(const struct sequence *sequence, int from, int to,
				    enum action action)
{
	for (int i = from; i <= to; i++)
		if (sequence->moves[i].action == action)
			return &sequence->moves[i];
	return NULL;
}

static struct said look_at(const struct phrasebook *book, const struct sequence *sequence, int call,
			   const struct phrase_options *options)
{
	const struct call *it = &sequence->calls[call];
	struct said said = {
		.manner = {book, options},
		.sequence = sequence,
		.call = it,
		.subject = &sequence->moves[it->subject],
	};

	said.route = call_route(sequence, it);
	said.pull = find_move(sequence, it->first, it->last, DO_PULL);
	said.string = said.subject;
	if (it->kind == CALL_SET_TENSION) {
		const struct move *next =
			find_move(sequence, it->last, sequence->move_count - 1, DO_PULL);
		said.string = next ? next : said.subject;
	}
	for (int i = it->last; it->kind == CALL_CHECK_MAINS && i < sequence->move_count; i++)
		if (sequence->moves[i].action == DO_WEAVE &&
		    sequence->moves[i].string == STRING_MAIN)
			said.string = &sequence->moves[i];
	return said;
}

/* Whether no string of the kind that a tension is for has been pulled yet. */
static bool is_first_setting(const struct said *said)
{
	enum string_kind strings =
		said->subject->subject == SUBJECT_CROSSES ? STRING_CROSS : STRING_MAIN;

	for (int i = 0; i < said->call->first; i++) {
		const struct move *move = &said->sequence->moves[i];
		if (move->action == DO_PULL && move->string == strings)
			return false;
	}
	return true;
}

static enum variant variant_of(const struct said *said)
{
	const struct kind *kind = &kinds[said->call->kind];
	const struct move *subject = said->subject;

	if (kind->count == 1)
		return kind->variants[0].variant;
	if (said->call->kind == CALL_CUT || said->call->kind == CALL_SET_CLAMPS ||
	    (said->call->kind == CALL_SET_TENSION && is_first_setting(said)))
		return subject->subject == SUBJECT_WHOLE     ? VARIANT_WHOLE
		       : subject->subject == SUBJECT_CROSSES ? VARIANT_CROSSES
							     : VARIANT_MAINS;
	if (said->string->string == STRING_MAIN)
		return VARIANT_MAIN;
	return subject->pulls_last > subject->pulls_first ? VARIANT_CROSSES : VARIANT_CROSS;
}

static char *say_if(const struct said *said, bool is_so, int saying)
{
	return is_so ? say_words(&said->manner, saying) : NULL;
}

/* A number, or nothing for 0. */
static char *say_some(const struct said *said, int number)
{
	return number ? say_number(&said->manner, number) : NULL;
}

static char *say_holes(const struct said *said)
{
	const struct manner *manner = &said->manner;
	struct hole from = said->route->from, to = said->route->to;

	if (from.number == to.number)
		return say(manner, SAID_HOLES_SAME,
			   VALUES([FIELD_NUMBER] = say_number(manner, to.number)));
	char *in = say_hole(manner, from), *out = say_hole(manner, to);
	return say(manner, SAID_HOLES_DIFFER, VALUES([FIELD_FROM] = in, [FIELD_TO] = out));
}

static char *say_odd_hole(const struct said *said)
{
	const struct move *route = said->route;

	if (!call_hole_is_odd(said->sequence, said->call))
		return NULL;
	return route->action == DO_WEAVE ? say_hole(&said->manner, route->from) : say_holes(said);
}

static struct hole hole_of(const struct said *said)
{
	if (said->subject->hole.number)
		return said->subject->hole;
	return said->subject->action == DO_WEAVE ? said->subject->from : said->subject->to;
}

static char *say_anchor(const struct said *said)
{
	const struct pattern *pattern = said->sequence->pattern;
	const struct move *subject = said->subject;
	enum string_kind strings = STRING_MAIN;
	int number = pattern_main_at(pattern, subject->hole);

	if (!number) {
		strings = STRING_CROSS;
		number = pattern_cross_at(pattern, subject->hole);
		if (number && said->sequence->crosses_start != END_HEAD)
			number = pattern->crosses + 1 - number;
	}
	return number ? say_string(&said->manner, SAID_ANCHOR + strings, number, subject->side)
		      : NULL;
}

/* Metres, rounded up to a tenth: an estimate that is too short costs a string. */
static char *say_length(const struct said *said)
{
	static const double step_mm = 100;

	if (said->subject->length_mm <= 0)
		return NULL;
	double steps = ceil(said->subject->length_mm / step_mm - 1e-9);
	return say_counted(&said->manner, steps * step_mm / 1000, NOUN_METRE);
}

/* The length that the call is about. */
static const struct string_length *length_of(const struct said *said)
{
	bool crosses = said->subject->subject == SUBJECT_CROSSES || said->subject->of_crosses;

	return job_length(said->sequence->job, crosses ? STRING_CROSS : STRING_MAIN);
}

/* How to handle it: once a job, with the string that is taken up first, and with that of the
 * crosses. */
static char *say_care(const struct said *said)
{
	enum material material = length_of(said)->material;

	return say_if(said, material != MATERIAL_UNKNOWN, SAID_CARE + (int)material - MATERIAL_GUT);
}

/* Hands go on as they did for the cross before; where they must not, it is said. */
static bool is_odd_over(const struct said *said)
{
	const struct move *last = call_woven_before(said->sequence, said->call);

	return !last || last->weave.first_over != said->route->weave.first_over;
}

/* Where the numbering of the holes turns from one end to the other on the way. */
static bool is_next_empty(const struct said *said)
{
	const struct move *last = call_woven_before(said->sequence, said->call);

	return last && last->from.end != said->route->from.end &&
	       last->number == said->route->number - 1;
}

static bool is_shared(const struct said *said)
{
	const struct pattern *pattern = said->sequence->pattern;

	return pattern_main_at(pattern, said->route->from) ||
	       pattern_main_at(pattern, said->route->to);
}

/* How many holes both ends leave empty; 0 where they do not agree, and both holes are said. */
static int skipped_by(const struct said *said)
{
	const struct pattern *pattern = said->sequence->pattern;
	int main = said->route->number;
	int skipped[2];

	for (int end = 0; end < 2; end++)
		skipped[end] =
			pattern->main_hole[end][main] - pattern->main_hole[end][main - 1] - 1;
	return main > 1 && skipped[END_HEAD] == skipped[END_THROAT] ? skipped[END_HEAD] : 0;
}

/* The number belongs to the first pull after a change, and to a repeat: between those the machine
 * keeps its setting. */
static char *say_new_pull(const struct said *said)
{
	const struct quantity tension = said->pull->tension;

	for (int i = said->call->first - 1;
	     i >= 0 && said->manner.options->wording != WORDING_AGAIN; i--) {
		const struct move *move = &said->sequence->moves[i];
		if (move->action == DO_SET_TENSION)
			break;
		if (move->action == DO_PULL)
			return NULL;
	}
	return say_tension_number(&said->manner, tension);
}

/* The first three calls of a kind, and any repeat. */
static bool is_early(const struct said *said)
{
	enum { EARLY_CALLS = 3 };
	int before = 0;

	for (const struct call *call = said->sequence->calls; call < said->call; call++)
		before += call->kind == said->call->kind;
	return before < EARLY_CALLS || said->manner.options->wording == WORDING_AGAIN;
}

/* One by its number, several by how many. */
static char *say_missing(const struct said *said)
{
	uint64_t missing = said->route->missing;
	int count = __builtin_popcountll(missing);

	if (count == 1)
		return say_string(&said->manner, SAID_ANCHOR_CROSS, __builtin_ctzll(missing),
				  SIDE_LEFT);
	return count ? say_counted(&said->manner, count, NOUN_CROSS) : NULL;
}

/* In a sentence no word stands for it: it keeps its brackets. */
static char *say_flag(bool flag)
{
	return flag ? memory_copy("") : NULL;
}

/* The cross woven before the delayed main; 0: none is. */
static int before_delayed(const struct said *said)
{
	const struct route *route = said->sequence->route;
	int step = 0;

	while (route && route->delayed && route->steps[step] != 0)
		step++;
	return step > 0 ? route->steps[step - 1] : 0;
}

/* The neighbour that a flying clamp holds a string by. */
static char *say_across(const struct said *said)
{
	const struct move *clamp = said->subject;
	bool centre = clamp->string == STRING_MAIN && clamp->number == 1;

	return clamp->across ? say_string(&said->manner, SAID_PLACE + clamp->string, clamp->across,
					  centre ? other_side(clamp->side) : clamp->side)
			     : NULL;
}

/* NULL: nothing to say. Only fields that the kind of call knows are asked for. */
static char *say_field(const struct said *said, enum field field)
{
	const struct manner *manner = &said->manner;
	const struct move *subject = said->subject, *string = said->string, *route = said->route;
	const struct move *pull = said->pull ? said->pull : subject;

	switch (field) {
	case FIELD_NUMBER:
		return say_number(manner, subject->through ? subject->number : string->number);
	case FIELD_SIDE:
		return say_side(manner, string->side);
	case FIELD_OTHER_SIDE:
		return say_side(manner, other_side(string->side));
	case FIELD_HOLE:
		return say_hole(manner, hole_of(said));
	case FIELD_HOLES:
		return say_holes(said);
	case FIELD_ODD_HOLE:
		return say_odd_hole(said);
	case FIELD_FROM:
		return say_hole(manner, route ? route->from : subject->from);
	case FIELD_TO:
		return say_hole(manner, route->to);
	case FIELD_END:
		return say_words(manner, SAID_ENDS + hole_of(said).end);
	case FIELD_FROM_END:
		return say_words(manner, SAID_ENDS + route->from.end);
	case FIELD_TO_END:
		return say_words(manner, SAID_ENDS + route->to.end);
	case FIELD_TENSION:
		return say_tension(manner, pull->tension);
	case FIELD_PULL:
		return say_tension_number(manner, pull->tension);
	case FIELD_PRESTRETCH:
		return subject->prestretch > 0
			       ? say_counted(manner, subject->prestretch * 100, NOUN_PERCENT)
			       : NULL;
	case FIELD_PULLED:
	case FIELD_LAST:
		return say_number(manner, pull->pulls_last);
	case FIELD_FIRST:
		return say_number(manner, pull->pulls_first);
	case FIELD_OVER:
		return say_words(manner, SAID_WEAVE + route->weave.first_over);
	case FIELD_OVER_LAST:
		return say_words(manner, SAID_WEAVE + route->weave.last_over);
	case FIELD_GOES_OVER:
		return say_flag(route->weave.first_over);
	case FIELD_ENDS_OVER:
		return say_flag(route->weave.last_over);
	case FIELD_ANCHOR:
		return say_anchor(said);
	case FIELD_ODD_OVER:
		return say_if(said, is_odd_over(said), SAID_WEAVE + route->weave.first_over);
	case FIELD_MATCH:
		return say_words(manner,
				 SAID_MATCH + (route->weave.first_over == route->weave.last_over));
	case FIELD_SKIP:
		return say_some(said, skipped_by(said));
	case FIELD_NEXT_EMPTY:
		return say_if(said, is_next_empty(said), SAID_NEXT_EMPTY);
	case FIELD_SHARED:
		return say_if(said, is_shared(said), SAID_SHARED);
	case FIELD_NEW_PULL:
		return say_new_pull(said);
	case FIELD_EARLY:
		return say_flag(is_early(said));
	case FIELD_ACROSS:
		return say_across(said);
	case FIELD_MISSING:
		return say_missing(said);
	case FIELD_SUGGESTED:
		return say_if(said, subject->suggested, SAID_SUGGESTED);
	case FIELD_LENGTH:
		return say_length(said);
	case FIELD_STRING_NAME:
		return say_name(manner, length_of(said)->name);
	case FIELD_CARE:
		return say_care(said);
	case FIELD_HEAD:
		return say_words(manner, SAID_HEAD + (int)said->sequence->job->machine.head);
	case FIELD_THROUGH:
		return say_some(said, subject->through > subject->number ? subject->through : 0);
	case FIELD_BOTH_SIDES:
		return say_flag(subject->both_sides);
	case FIELD_BACK:
		return say_flag(subject->back);
	case FIELD_AS_SET:
		return say_flag(subject->as_set);
	case FIELD_LATE:
		return string != subject ? say_number(manner, string->number) : NULL;
	case FIELD_UNTIL:
		return say_some(said, before_delayed(said));
	default:
		return NULL;
	}
}

static const struct sentence *sentence_at(const struct said *said, int which)
{
	return &said->manner.book->calls[said->call->kind][which][variant_of(said)];
}

static char *say_sentence(const struct said *said, int which)
{
	const struct sentence *sentence = sentence_at(said, which);
	struct field_values values = {0};

	for (enum field field = 0; field < FIELDS; field++)
		if (sentence->fields >> field & 1)
			values.words[field] = say_field(said, field);
	return sentence_fill(sentence, values);
}

/* Which of a kind's sentences is said. */
static int sentence_of(const struct said *said)
{
	const struct job *job = said->sequence->job;
	enum call_kind kind = said->call->kind;
	enum wording wording = said->manner.options->wording;
	enum detail planned = job->detail;

	if (wording == WORDING_WHY)
		return SENTENCE_WHY;
	if (wording == WORDING_NAME)
		return SENTENCE_NAME;
	if (wording == WORDING_ASK)
		return SENTENCE_ASK;
	if (job->teaching)
		return wording == WORDING_SHORT || !sentence_at(said, DETAIL_LEARNER)->text
			       ? DETAIL_BENCH
			       : DETAIL_LEARNER;
	if (wording == WORDING_SHORT && kind_is_called(kind, DETAIL_QUICK))
		return DETAIL_QUICK;
	if (wording != WORDING_PLANNED && planned == DETAIL_QUICK)
		return DETAIL_BENCH;
	return planned;
}

char *phrase_call(const struct phrasebook *book, const struct sequence *sequence, int call,
		  const struct phrase_options *options)
{
	static const struct phrase_options plain = {0};
	struct said said = look_at(book, sequence, call, options ? options : &plain);
	int which = sentence_of(&said);

	if (which >= SENTENCE_NAME && !sentence_at(&said, which)->text)
		return NULL;
	char *words = say_sentence(&said, which);
	if (which == SENTENCE_ASK) {
		char *name = say_sentence(&said, SENTENCE_NAME);
		char *question = memory_format("%s %s", name, words);
		free(name);
		free(words);
		words = question;
	}
	return say_finally(words);
}

/* ---- places ---- */

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

/* The string that the call is about; a step of preparing or finishing; else what there is to do. */
char *phrase_place(const struct phrasebook *book, const struct sequence *sequence, int call,
		   const struct phrase_options *options)
{
	struct phrase_options brief = options ? *options : (struct phrase_options){0};
	const struct manner manner = {book, &brief};
	enum phase phase = call_phase(sequence, call);
	const struct call *its = &sequence->calls[call];
	int step, steps;

	if (phase == PHASE_PREPARE || phase == PHASE_FINISH) {
		count_steps(sequence, call, &step, &steps);
		char *now = say_number(&manner, step), *all = say_number(&manner, steps);
		return say(&manner, phase == PHASE_FINISH ? SAID_FINISHING : SAID_PREPARING,
			   VALUES([FIELD_STEP] = now, [FIELD_STEPS] = all));
	}
	for (int i = its->subject; i <= its->last; i++) {
		const struct move *move = &sequence->moves[i];
		if (move->has_string)
			return say_string(&manner, SAID_PLACE + move->string, move->number,
					  move->side);
	}
	brief.wording = WORDING_PLANNED;
	char *words = phrase_call(book, sequence, call, &brief);
	words[strcspn(words, ".?")] = '\0';
	return words;
}
