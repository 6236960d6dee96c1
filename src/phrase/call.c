/* What is said: calls, whose fields come from their moves; places, and notices. */
#include "phrase/internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const struct phrase_options plain = {0};

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

/* Makes words ready to leave this room: capitals where sentences begin, not too long. */
static char *say_finally(char *words)
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

/* ---- calls ---- */

/* A call as its sentence sees it. Where the call has no such move, it is the subject. */
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
		.manner = {book, options, sequence->pattern},
		.sequence = sequence,
		.call = it,
		.subject = &sequence->moves[it->subject],
	};

	const struct move *route = call_route(sequence, it);
	const struct move *pull = find_move(sequence, it->first, it->last, DO_PULL);
	said.route = route ? route : said.subject;
	said.pull = pull ? pull : said.subject;
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

static enum variant variant_of(const struct said *said)
{
	const struct kind *kind = &kinds[said->call->kind];
	const struct move *subject = said->subject;

	if (kind->count == 1 || kind->variants[1].of_reason)
		return kind->variants[0].variant;
	if (said->call->kind == CALL_CUT || said->call->kind == CALL_SET_CLAMPS ||
	    (said->call->kind == CALL_SET_TENSION && !subject->change))
		return subject->subject == SUBJECT_WHOLE     ? VARIANT_WHOLE
		       : subject->subject == SUBJECT_CROSSES ? VARIANT_CROSSES
							     : VARIANT_MAINS;
	if (said->string->string == STRING_MAIN)
		return VARIANT_MAIN;
	return subject->pulls_last > subject->pulls_first ? VARIANT_CROSSES : VARIANT_CROSS;
}

/* Why the mains start at this end. */
static enum variant reason_of_start(const struct said *said)
{
	const struct sequence *sequence = said->sequence;

	if (sequence->job->start_forced)
		return VARIANT_PLANNED;
	return pattern_loop_over_gap(sequence->pattern, other_end(sequence->mains_start))
		       ? VARIANT_BRIDGE
		       : VARIANT_EITHER;
}

/* Why a string is pulled: its clamp may have to come off; else it is slack. */
static enum variant reason_of_pull(const struct said *said)
{
	const struct move *pull = said->pull, *next = pull + 1;
	const struct move *woven = call_woven_before(said->sequence, said->call);
	bool last = next == said->sequence->moves + said->sequence->move_count;

	if (!last && next->action == DO_UNCLAMP && !next->outside && next->string == pull->string &&
	    next->side == pull->side && hole_same(next->hole, pull->hole))
		return VARIANT_HELD;
	if (pull->string == STRING_MAIN)
		return pull->phase == PHASE_MAINS ? VARIANT_MAIN : VARIANT_ALONE;
	if (pull->pulls_last > pull->pulls_first)
		return VARIANT_CROSSES;
	return woven && woven->number != pull->number ? VARIANT_CROSS : VARIANT_ALONE;
}

/* Which of a kind's reasons it is. */
static enum variant reason_of(const struct said *said)
{
	const struct move *string = said->string;

	if (said->call->kind == CALL_FEED_CENTRE)
		return reason_of_start(said);
	if (said->call->kind == CALL_PULL)
		return reason_of_pull(said);
	/* The plan's own tension of a string is without what is added for its knot. */
	if (said->call->kind == CALL_SET_TENSION && said->subject->change &&
	    !quantity_same(said->subject->tension,
			   job_tension(said->sequence->job, said->sequence->pattern, string->string,
				       string->number)))
		return VARIANT_KNOT;
	return variant_of(said);
}

static char *say_if(const struct said *said, bool is_so, const char *key)
{
	return is_so ? say_words(&said->manner, "", key) : NULL;
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
		return say(manner, "holes", "same",
			   VALUES([FIELD_NUMBER] = say_number(manner, to.number)));
	char *in = say_hole(manner, from), *out = say_hole(manner, to);
	return say(manner, "holes", "differ", VALUES([FIELD_FROM] = in, [FIELD_TO] = out));
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
	return number ? say_string(&said->manner, "anchor", strings, number, subject->side) : NULL;
}

/* Metres, rounded up to a tenth: an estimate that is too short costs a string. */
static char *say_length(const struct said *said)
{
	static const double step_mm = 100;

	if (said->subject->length_mm <= 0)
		return NULL;
	double steps = ceil(said->subject->length_mm / step_mm - 1e-9);
	return say_counted(&said->manner, steps * step_mm / 1000, "metre");
}

static char *say_prestretch(const struct said *said)
{
	double prestretch = said->subject->prestretch;

	return prestretch > 0 ? say_counted(&said->manner, prestretch * 100, "percent") : NULL;
}

/* How to handle it: once a job, with the string that is taken up first, and with that of the
 * crosses. */
static char *say_care(const struct said *said)
{
	enum material material = move_length(said->sequence->job, said->subject)->material;

	return material ? say_words(&said->manner, "care", material_names[material - MATERIAL_GUT])
			: NULL;
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
	for (int i = said->call->first - 1;
	     i >= 0 && said->manner.options->wording != WORDING_AGAIN; i--) {
		const struct move *move = &said->sequence->moves[i];
		if (move->action == DO_SET_TENSION)
			break;
		if (move->action == DO_PULL)
			return NULL;
	}
	return say_tension_number(&said->manner, said->pull->tension);
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
		return say_string(&said->manner, "anchor", STRING_CROSS, __builtin_ctzll(missing),
				  SIDE_LEFT);
	return count ? say_counted(&said->manner, count, "cross") : NULL;
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

	return clamp->across ? say_string(&said->manner, "places", clamp->string, clamp->across,
					  centre ? other_side(clamp->side) : clamp->side)
			     : NULL;
}

/* The words of a field, if the sentence names it. */
#define SAY(field, said) [FIELD_##field] = (named & FIELD(field) ? (said) : NULL)

static char *say_weave(const struct said *said, bool over)
{
	return say_words(&said->manner, "weave", over ? "over" : "under");
}

static char *say_end(const struct said *said, enum frame_end end)
{
	return say_words(&said->manner, "ends", end_names[end]);
}

static char *say_sentence(const struct said *said, const struct sentence *sentence)
{
	const struct manner *manner = &said->manner;
	const struct move *subject = said->subject, *string = said->string, *route = said->route;
	const struct move *pull = said->pull;
	const struct weave weave = route->weave;
	const field_set named = sentence->fields;
	const struct field_values values = {
		.words = {
			SAY(NUMBER, say_number(manner, subject->through ? subject->number
									: string->number)),
			SAY(SIDE, say_side(manner, string->side)),
			SAY(OTHER_SIDE, say_side(manner, other_side(string->side))),
			SAY(HOLE, say_hole(manner, hole_of(said))),
			SAY(HOLES, say_holes(said)),
			SAY(ODD_HOLE, say_odd_hole(said)),
			SAY(FROM, say_hole(manner, route->from)),
			SAY(TO, say_hole(manner, route->to)),
			SAY(END, say_end(said, hole_of(said).end)),
			SAY(FROM_END, say_end(said, route->from.end)),
			SAY(TO_END, say_end(said, route->to.end)),
			SAY(SKIP, say_some(said, skipped_by(said))),
			SAY(NEXT_EMPTY, say_if(said, is_next_empty(said), "next_empty")),
			SAY(SHARED, say_if(said, is_shared(said), "shared")),
			SAY(TENSION, say_tension(manner, pull->tension)),
			SAY(PULL, say_tension_number(manner, pull->tension)),
			SAY(NEW_PULL, say_new_pull(said)),
			SAY(PRESTRETCH, say_prestretch(said)),
			SAY(PULLED, say_number(manner, pull->pulls_last)),
			SAY(FIRST, say_number(manner, pull->pulls_first)),
			SAY(LAST, say_number(manner, pull->pulls_last)),
			SAY(OVER, say_weave(said, weave.first_over)),
			SAY(OVER_LAST, say_weave(said, weave.last_over)),
			SAY(ODD_OVER, is_odd_over(said) ? say_weave(said, weave.first_over) : NULL),
			SAY(GOES_OVER, say_flag(weave.first_over)),
			SAY(ENDS_OVER, say_flag(weave.last_over)),
			SAY(MATCH,
			    say_words(manner, "match",
				      weave.first_over == weave.last_over ? "same" : "opposite")),
			SAY(MISSING, say_missing(said)),
			SAY(ACROSS, say_across(said)),
			SAY(ANCHOR, say_anchor(said)),
			SAY(SUGGESTED, say_if(said, subject->suggested, "suggested")),
			SAY(LENGTH, say_length(said)),
			SAY(STRING_NAME,
			    say_text(manner, move_length(said->sequence->job, subject)->name,
				     false)),
			SAY(CARE, say_care(said)),
			SAY(HEAD, say_words(manner, "tension_head",
					    tension_head_names[said->sequence->job->machine.head])),
			SAY(THROUGH,
			    say_some(said,
				     subject->through > subject->number ? subject->through : 0)),
			SAY(BOTH_SIDES, say_flag(subject->both_sides)),
			SAY(BACK, say_flag(subject->back)),
			SAY(AS_SET, say_flag(subject->as_set)),
			SAY(LATE, say_some(said, string != subject ? string->number : 0)),
			SAY(UNTIL, say_some(said, before_delayed(said))),
			SAY(EARLY, say_flag(is_early(said))),
		}};

	return sentence_fill(sentence, values);
}

static const struct sentence *sentence_at(const struct said *said, int which)
{
	enum variant variant = which == SENTENCE_WHY ? reason_of(said) : variant_of(said);

	return &said->manner.book->calls[said->call->kind][which][variant];
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
	struct said said = look_at(book, sequence, call, options ? options : &plain);
	int which = sentence_of(&said);
	const struct sentence *sentence = sentence_at(&said, which);

	if (which >= SENTENCE_NAME && !sentence->text)
		return NULL;
	char *words = say_sentence(&said, sentence);
	if (which == SENTENCE_ASK) {
		char *name = say_sentence(&said, sentence_at(&said, SENTENCE_NAME));
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
		return say(&manner, "places", phase_names[phase],
			   VALUES([FIELD_STEP] = now, [FIELD_STEPS] = all));
	}
	for (int i = its->subject; i <= its->last; i++) {
		const struct move *move = &sequence->moves[i];
		if (move->has_string)
			return say_string(&manner, "places", move->string, move->number,
					  move->side);
	}
	brief.wording = WORDING_PLANNED;
	char *words = phrase_call(book, sequence, call, &brief);
	words[strcspn(words, ".?")] = '\0';
	return words;
}

/* ---- notices ---- */

static char *say_left(const struct manner *manner, const struct notice_facts *facts)
{
	const char *key = facts->crosses_left ? "crosses" : "none";

	if (facts->mains_left)
		key = facts->crosses_left ? "both" : "mains";
	return say(manner, "left", key,
		   VALUES([FIELD_MAINS] = say_counted(manner, facts->mains_left, "main"),
			  [FIELD_CROSSES] = say_counted(manner, facts->crosses_left, "cross")));
}

static char *say_minutes(const struct manner *manner, double minutes)
{
	return minutes > 0 ? say_counted(manner, minutes, "minute") : NULL;
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
	return say(manner, "", "string",
		   VALUES([FIELD_STRING_NAME] = say_text(manner, facts->strings[string], false),
			  [FIELD_TENSION] = say_written(manner, facts->tensions[string])));
}

/* How long a string has held is counted in days at first. The name of a month is never that of the
 * present one: "in November" of a racket strung this morning, or a year ago. Our choice. */
static char *say_last_time(const struct manner *manner, const struct notice_facts *facts)
{
	enum { DAYS_MAX = 30, MONTHS_MAX = 330 };
	int days = facts->last_days;
	bool by_days = days > 1 && days <= DAYS_MAX;
	bool by_month = days > DAYS_MAX && days <= MONTHS_MAX;
	const char *key = days == 0   ? "today"
			  : days == 1 ? "yesterday"
			  : by_days   ? "days"
			  : by_month  ? "within_a_year"
				      : "before";

	if (!facts->last_tension)
		return NULL;
	return say(manner, "last_time", key,
		   VALUES([FIELD_TENSION] = say_written(manner, facts->last_tension),
			  [FIELD_COUNT] = by_days ? say_counted(manner, days, "day") : NULL,
			  [FIELD_MONTH] = by_month ? say_words(manner, "months",
							       month_keys[facts->last_month - 1])
						   : NULL));
}

/* In tenths of a metre, rounded down. */
static char *say_left_on_reel(const struct manner *manner, int left_mm)
{
	enum { STEP_MM = 100 };
	const double steps_a_metre = 10;
	int steps = left_mm / STEP_MM;

	return steps < 1 ? NULL : say_counted(manner, steps / steps_a_metre, "metre");
}

static char *say_job(const struct manner *manner, const struct notice_facts *facts)
{
	char *job = say_text(manner, facts->job, false);
	char *racket = say_text(manner, facts->racket, false);

	return racket ? say(manner, "", "job_of",
			    VALUES([FIELD_JOB] = job, [FIELD_NUMBER] = racket))
		      : job;
}

char *phrase_notice(const struct phrasebook *book, enum notice notice,
		    const struct notice_facts *facts, const struct phrase_options *options)
{
	static const double minute_s = 60;
	const struct manner its = {book, options ? options : &plain}, *manner = &its;
	const struct sentence *sentence = saying_find(book, "notices", notice_name(notice));
	const field_set named = sentence->fields;
	double left = ceil(facts->seconds_left / minute_s);
	double worked = round(facts->seconds_worked / minute_s);
	const struct field_values values = {
		.words = {
			SAY(JOB, say_job(manner, facts)),
			SAY(PLACE, memory_copy(facts->place)),
			SAY(LEFT, say_left(manner, facts)),
			SAY(TIME_LEFT, say_minutes(manner, left)),
			SAY(TIME_WORKED, say_minutes(manner, worked)),
			SAY(MAINS, say_counted(manner, facts->mains, "main")),
			SAY(CROSSES, say_counted(manner, facts->crosses, "cross")),
			SAY(REASON, say_text(manner, facts->reason, false)),
			SAY(PATTERN, say_text(manner, facts->pattern, false)),
			SAY(MAINS_STRING, say_set_up(manner, facts, STRING_MAIN)),
			SAY(CROSSES_STRING, say_set_up(manner, facts, STRING_CROSS)),
			SAY(NOTES, say_text(manner, facts->notes, true)),
			SAY(LAST_TIME, say_last_time(manner, facts)),
			SAY(STRING, memory_copy(facts->string)),
			SAY(LENGTH, say_left_on_reel(manner, facts->reel_left_mm)),
			SAY(COUNT, say_counted(manner, facts->jobs, "job")),
		}};

	return say_finally(sentence_fill(sentence, values));
}
