/* Every reason that is given for a call is true of the job it is given in: made-up rackets are
 * followed move by move, some with things that go wrong on the way, and each sentence that states a
 * fact is compared with the strings, clamps and holes as they are then. A reason that is not in the
 * table below is one that nobody has looked at. */
#include "phrase/bundled.h"
#include "sequence/bed.h"
#include "sequence/work.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum {
	RACKETS = 1500,
	MISHAPS = 2,
	CLAMPS = 3,
	STRINGS = MAINS_MAX + CROSSES_MAX,
	KNOTS = 8,
	LANGUAGES = 5
};

static const uint64_t seed = 20261127;
static const char *const languages[LANGUAGES] = {"en", "de", "fr", "es", "it"};

/* ---- the bed, by counting moves ---- */

struct counted {
	uint64_t mains[2], crosses; /* in; bit n: string n */
	uint64_t tight_mains[2], tight_crosses;
	struct move clamps[CLAMPS]; /* action 0: none */
	struct move head;
	const struct move *order[STRINGS]; /* crosses and the late main, as they went in */
	int count;                         /* of them */
	const struct move *knots[KNOTS];   /* NULL: none */
};

/* What a reason is given for. */
struct given {
	const struct sequence *sequence;
	const struct racket *racket;
	const struct call *call;
	const struct move *subject;
	const struct counted *bed; /* before the call */
	bool back;                 /* something went wrong, here or before */
};

static uint64_t bit(int number)
{
	return UINT64_C(1) << number;
}

static bool is_same_string(const struct move *a, const struct move *b)
{
	return a->string == b->string && a->number == b->number &&
	       (a->string == STRING_CROSS || a->side == b->side);
}

static bool is_clamped(const struct counted *bed, const struct move *string)
{
	for (const struct move *clamp = bed->clamps; clamp < bed->clamps + CLAMPS; clamp++)
		if (clamp->action && is_same_string(clamp, string))
			return true;
	return false;
}

/* The string, and all of its length up to the next clamp, goes slack; with main 1 all mains do. */
static void let_down(struct counted *bed, const struct move *string)
{
	if (string->phase == PHASE_MAINS)
		bed->tight_mains[string->side] &= ~bit(string->number);
	if (string->phase == PHASE_MAINS && string->number == 1)
		bed->tight_mains[0] = bed->tight_mains[1] = 0;
	for (int i = bed->count - 1;
	     string->phase == PHASE_CROSSES && i >= 0 && !is_clamped(bed, bed->order[i]); i--)
		if (bed->order[i]->string == STRING_MAIN)
			bed->tight_mains[bed->order[i]->side] &= ~bit(bed->order[i]->number);
		else
			bed->tight_crosses &= ~bit(bed->order[i]->number);
}

static void follow(struct counted *bed, const struct move *move)
{
	struct move *clamp = bed->clamps;
	int knot = 0;

	switch (move->action) {
	case DO_FEED:
	case DO_WEAVE:
		if (move->string == STRING_MAIN)
			bed->mains[move->side] |= bit(move->number);
		else
			bed->crosses |= bit(move->number);
		if (move->phase == PHASE_CROSSES)
			bed->order[bed->count++] = move;
		break;
	case DO_TAKE_OUT:
		if (move->string == STRING_MAIN)
			bed->mains[move->side] &= ~bit(move->number);
		else
			bed->crosses &= ~bit(move->number);
		if (bed->count > 0 && is_same_string(bed->order[bed->count - 1], move))
			bed->count--;
		break;
	case DO_PULL:
		if (move->string == STRING_MAIN)
			bed->tight_mains[move->side] |= bit(move->number);
		for (int c = move->pulls_first;
		     move->string == STRING_CROSS && c <= move->pulls_last; c++)
			bed->tight_crosses |= bit(c);
		bed->head = *move;
		break;
	case DO_LET_DOWN:
		let_down(bed, &bed->head);
		bed->head.action = 0;
		break;
	case DO_RELEASE:
		bed->head.action = 0;
		break;
	case DO_CLAMP:
		while (clamp < bed->clamps + CLAMPS - 1 && clamp->action)
			clamp++;
		*clamp = *move;
		break;
	case DO_UNCLAMP:
		for (; clamp < bed->clamps + CLAMPS; clamp++)
			if (clamp->action && is_same_string(clamp, move) &&
			    clamp->outside == move->outside && hole_same(clamp->hole, move->hole))
				clamp->action = 0;
		break;
	case DO_KNOT:
		while (bed->knots[knot])
			knot++;
		bed->knots[knot] = move;
		break;
	case DO_UNTIE:
		for (; knot < KNOTS; knot++)
			if (bed->knots[knot] && bed->knots[knot]->side == move->side &&
			    hole_same(bed->knots[knot]->hole, move->hole))
				bed->knots[knot] = NULL;
		break;
	case DO_CUT_OUT: /* a broken string; before the job nothing is in */
		if (move->subject == SUBJECT_BED)
			*bed = (struct counted){0};
		for (; knot < KNOTS; knot++)
			if (bed->knots[knot] && bed->knots[knot]->string == STRING_CROSS)
				bed->knots[knot] = NULL;
		bed->crosses = bed->tight_crosses = 0;
		bed->count = 0;
		break;
	default:
		break;
	}
}

/* ---- the facts ---- */

/* A throat loop from the last main in the bridge to the first beyond it. */
static bool crosses_gap(const struct racket *racket, enum frame_end start)
{
	const int *holes = racket->main_hole[END_THROAT];

	for (int k = 1; k < racket->half; k++)
		if ((k % 2 == 1) == (start == END_HEAD) && holes[k] <= racket->bridge / 2 &&
		    holes[k + 1] > racket->bridge / 2)
			return true;
	return false;
}

static bool is_start_for_bridge(const struct given *given)
{
	enum frame_end start = given->subject->from.end;

	return !given->racket->start_forced && !crosses_gap(given->racket, start) &&
	       crosses_gap(given->racket, other_end(start));
}

static bool is_start_planned(const struct given *given)
{
	return given->racket->start_forced &&
	       given->subject->from.end == given->racket->mains_start;
}

static bool is_start_free(const struct given *given)
{
	return !given->racket->start_forced && !crosses_gap(given->racket, END_HEAD) &&
	       !crosses_gap(given->racket, END_THROAT);
}

static const struct move *next_pull(const struct given *given)
{
	const struct sequence *sequence = given->sequence;

	for (int i = given->call->first; i < sequence->move_count; i++)
		if (sequence->moves[i].action == DO_PULL)
			return &sequence->moves[i];
	return NULL;
}

static double planned_newton(const struct given *given, const struct move *pull)
{
	return given->racket->newton[pull->string][pull->number];
}

static bool is_planned_tension(const struct given *given)
{
	const struct move *pull = next_pull(given);

	return pull && fabs(quantity_base(pull->tension) - planned_newton(given, pull)) <=
			       BED_TOLERANCE_NEWTON;
}

/* Higher than the plan's by what is added, and its knot is the next thing on this string. */
static bool is_pulled_for_knot(const struct given *given)
{
	const struct move *pull = next_pull(given);
	double planned = pull ? planned_newton(given, pull) : 0;
	double extra = planned * given->racket->tie_off_extra;
	bool knotted = false;

	for (const struct move *move = pull;
	     move && move < given->sequence->moves + given->sequence->move_count; move++)
		knotted |= move->action == DO_TIE_OFF && is_same_string(move, pull);
	return knotted && extra > 0 &&
	       fabs(quantity_base(pull->tension) - planned - extra) <= 2 * BED_TOLERANCE_NEWTON;
}

/* The next of the holes that the mains take, at both ends. */
static bool takes_next_main_hole(const struct given *given)
{
	const struct move *feed = given->subject;

	for (int i = given->call->first; i <= given->call->last; i++)
		if (given->sequence->moves[i].action == DO_FEED)
			feed = &given->sequence->moves[i];
	return given->racket->main_hole[feed->from.end][feed->number] == feed->from.number &&
	       given->racket->main_hole[feed->to.end][feed->number] == feed->to.number;
}

static bool is_tight(const struct counted *bed, const struct move *string)
{
	return string->string == STRING_MAIN ? bed->tight_mains[string->side] >> string->number & 1
					     : bed->tight_crosses >> string->number & 1;
}

static bool is_in(const struct counted *bed, const struct move *string)
{
	return string->string == STRING_MAIN ? bed->mains[string->side] >> string->number & 1
					     : bed->crosses >> string->number & 1;
}

static bool is_nothing_tight(const struct given *given)
{
	return !given->bed->tight_mains[0] && !given->bed->tight_mains[1];
}

/* Main 1 of the other side, or, with flying clamps, main 2 with main 1 in the same clamp. */
static bool is_other_centre_clamped(const struct given *given)
{
	for (const struct move *clamp = given->bed->clamps; clamp < given->bed->clamps + CLAMPS;
	     clamp++)
		if (clamp->action && !clamp->outside && clamp->string == STRING_MAIN &&
		    clamp->side != given->subject->side &&
		    (clamp->number == 1 || clamp->across == 1))
			return true;
	return false;
}

/* Mains of the two sides by turns: none of them is pulled a second time. */
static bool is_main_by_turns(const struct given *given)
{
	return given->subject->phase == PHASE_MAINS && !is_tight(given->bed, given->subject);
}

static uint64_t pulled_by(const struct move *pull)
{
	uint64_t pulled = 0;

	for (int c = pull->pulls_first; c <= pull->pulls_last; c++)
		pulled |= bit(c);
	return pulled;
}

static bool is_beside_slack(const struct given *given)
{
	uint64_t slack = given->bed->crosses & ~given->bed->tight_crosses;
	uint64_t pulled = pulled_by(given->subject);

	return (slack & pulled) == pulled && (slack & ~pulled) == bit(given->subject->number + 1);
}

static bool is_alone_and_slack(const struct given *given)
{
	const struct move *pull = given->subject;
	uint64_t slack = given->bed->crosses & ~given->bed->tight_crosses;

	return is_in(given->bed, pull) && !is_tight(given->bed, pull) &&
	       (pull->string == STRING_MAIN ? slack == 0 : slack == bit(pull->number));
}

static bool are_one_length(const struct given *given)
{
	const struct move *pull = next_pull(given);
	uint64_t pulled = pulled_by(pull);

	return pull->pulls_last == pull->pulls_first + 1 &&
	       (given->bed->crosses & pulled) == pulled && !(given->bed->tight_crosses & pulled);
}

/* It is tight, and what clamps it comes off before the head lets go of it. */
static bool is_held_while_clamp_is_off(const struct given *given)
{
	const struct move *pull = given->subject;

	if (!is_tight(given->bed, pull))
		return false;
	for (const struct move *move = pull + 1;
	     move < given->sequence->moves + given->sequence->move_count; move++) {
		if (move->action == DO_UNCLAMP && is_same_string(move, pull))
			return true;
		if (move->action == DO_RELEASE || move->action == DO_LET_DOWN)
			return false;
	}
	return false;
}

/* The tension head holds this string, or one further along the same length. */
static bool does_pull_hold(const struct given *given)
{
	const struct move *head = &given->bed->head, *clamp = given->subject;
	bool same_length = head->string == clamp->string ||
			   (given->racket->one_piece &&
			    (head->string == STRING_CROSS || head->phase == PHASE_CROSSES));

	if (!head->action || !same_length || !is_tight(given->bed, clamp))
		return false;
	return head->string != clamp->string || head->string == STRING_CROSS ||
	       (head->side == clamp->side && head->number >= clamp->number);
}

static int moves_of(const struct given *given, enum action action, const struct move **out)
{
	int count = 0;

	for (int i = given->call->first; i <= given->call->last; i++)
		if (given->sequence->moves[i].action == action) {
			*out = &given->sequence->moves[i];
			count++;
		}
	return count;
}

/* A cross is woven beside one that is slack and is pulled then. */
static bool is_woven_beside_slack(const struct given *given)
{
	const struct move *woven = NULL, *pull = NULL;

	return moves_of(given, DO_WEAVE, &woven) == 1 && moves_of(given, DO_PULL, &pull) == 1 &&
	       woven < pull && pull->number == woven->number - 1 && is_in(given->bed, pull) &&
	       !is_tight(given->bed, pull);
}

static bool is_pulled_at_once(const struct given *given)
{
	const struct move *woven = NULL, *pull = NULL;

	return moves_of(given, DO_WEAVE, &woven) == 1 && moves_of(given, DO_PULL, &pull) == 1 &&
	       woven < pull && pulled_by(pull) == bit(woven->number) &&
	       !(given->bed->crosses & ~given->bed->tight_crosses);
}

static bool is_woven_and_slack(const struct given *given)
{
	const struct move *pull = next_pull(given);

	return is_in(given->bed, pull) && !is_tight(given->bed, pull);
}

/* What is pulled next is the cross before, while this one has its loop. What goes wrong may come
 * between. */
static bool is_loop_for_pull(const struct given *given)
{
	const struct move *pull = next_pull(given);

	return given->back || (pull && pull->number == given->subject->number - 1);
}

static bool are_crosses_tight(const struct given *given)
{
	return given->bed->crosses && given->bed->crosses == given->bed->tight_crosses;
}

static int place(const struct racket *racket, struct hole hole)
{
	return hole.end == END_HEAD
		       ? hole.number
		       : racket->holes[END_HEAD] + racket->holes[END_THROAT] + 1 - hole.number;
}

static int strings_in(const struct racket *racket, struct hole hole)
{
	int count = 0;

	for (int k = 1; k <= racket->half; k++)
		count += racket->main_hole[hole.end][k] == hole.number;
	for (int c = 1; c <= racket->crosses; c++)
		count += hole_same(racket->cross_hole[c], hole);
	return count;
}

/* From where the outermost main would have ended, the first cross is at the other end, too far
 * along or across the gap; or it is in reach, but beside the last cross there is no hole with room
 * for a knot. */
static bool has_no_straight_way(const struct given *given)
{
	const struct racket *racket = given->racket;
	bool throat_first = racket->crosses_start == END_THROAT;
	struct hole first = racket->cross_hole[throat_first ? racket->crosses : 1];
	struct hole last = racket->cross_hole[throat_first ? 1 : racket->crosses];
	enum frame_end start = given->sequence->moves[0].action == DO_FEED
				       ? given->sequence->moves[0].from.end
				       : END_HEAD;
	int full = 0;

	for (int i = 0; i < given->sequence->move_count; i++)
		if (given->sequence->moves[i].action == DO_FEED) {
			start = given->sequence->moves[i].from.end;
			break;
		}
	enum frame_end end = racket->half % 2 ? other_end(start) : start;
	struct hole from = {end, racket->main_hole[end][racket->half]};
	int run = place(racket, first) - place(racket, from);
	int gap = racket->holes[END_HEAD] + racket->holes[END_THROAT] - racket->bridge / 2;
	bool over_gap =
		racket->bridge && (place(racket, first) <= gap) != (place(racket, from) <= gap);
	if (end != racket->crosses_start || abs(run) > racket->outside || run == 0 || over_gap)
		return true;
	for (int k = 1; k <= racket->half; k++)
		full += strings_in(racket,
				   (struct hole){last.end, racket->main_hole[last.end][k]}) > 1;
	/* Two knots and the string's own hole take room too. */
	return racket->half - full <= 3;
}

/* One string goes through it on that side, and no knot is in it. */
static bool is_room_for_second(const struct given *given)
{
	const struct move *knot = given->subject;
	int count = strings_in(given->racket, knot->hole);

	for (int i = 0; i < KNOTS; i++) {
		const struct move *other = given->bed->knots[i];
		count += other && other->side == knot->side && hole_same(other->hole, knot->hole);
	}
	return count == 1;
}

static bool is_last_in(const struct given *given)
{
	const struct move *out = given->subject;
	const struct counted *bed = given->bed;

	if (out->phase == PHASE_CROSSES)
		return bed->count > 0 && is_same_string(bed->order[bed->count - 1], out);
	return bed->mains[out->side] >> out->number == 1;
}

static bool is_before_mains(const struct given *given)
{
	return given->bed->crosses == 0;
}

/* ---- every reason ---- */

/* NULL: true of any job. */
static const struct {
	const char *reason;
	bool (*is_true)(const struct given *given);
} reasons[] = {
	{"Starting at this end keeps every loop off the ends of the bridge.", is_start_for_bridge},
	{"The job says that the mains start at this end.", is_start_planned},
	{"Either end would do, as no loop of this frame can cross the end of a bridge.",
	 is_start_free},
	{"The job asks for it here, whatever was pulled before.", is_planned_tension},
	{"The knot gives some of it back, so the string before it is pulled harder.",
	 is_pulled_for_knot},
	{"At both ends a main takes the next hole from the centre that the mains do not skip.",
	 takes_next_main_hole},
	{"A flying clamp holds one string by another, and no other is tight yet.",
	 is_nothing_tight},
	{"The other centre main is clamped inside the frame now.", is_other_centre_clamped},
	{"Pulling left and right by turns keeps the load on the frame balanced.", is_main_by_turns},
	{"A new cross is easier to weave beside one that is still slack.", NULL}, /* see below */
	{"They are one length of string, so one pull tensions both.", are_one_length},
	{"It is in, and still slack.", is_alone_and_slack},
	{"The tension head holds the string while its clamp is off.", is_held_while_clamp_is_off},
	{"The pull holds what this clamp held, so it is free for another string.", does_pull_hold},
	{"The loop is where you take hold to pull the cross before it.", is_loop_for_pull},
	{"It is pulled at once, as nothing is woven beside it while it is slack.",
	 is_pulled_at_once},
	{"It is woven, and still slack.", is_woven_and_slack},
	{"The crosses are under tension, and a string that saws cuts a notch.", are_crosses_tight},
	{"It was left for later, because the string could not go straight on from it through all "
	 "the crosses.",
	 has_no_straight_way},
	{"The knot needs a hole with room for a second string.", is_room_for_second},
	{"A length of string comes out by its end, so what went in last comes out first.",
	 is_last_in},
	{"The string of the crosses would be in the way of the mains.", is_before_mains},
	/* The rules of the sport, which hold for every bed (tests/sequence). */
	{"Every cross goes the opposite way to the crosses beside it.", NULL},
	{"Every main goes the opposite way to the main beside it.", NULL},
	/* Common practice, whatever the job. */
	{"A string or a clamp that lets go under tension moves fast.", NULL},
	{"The old bed is the proof that the pattern is the right one for this frame.", NULL},
	{"Strings left in only one direction pull the hoop out of shape, and it can crack.", NULL},
	{"A cracked frame can break under tension.", NULL},
	{"A string breaks where it was kinked, natural gut above all.", NULL},
	{"A pointed end goes through the holes more easily.", NULL},
	{"No string can go through a hole under a mount.", NULL},
	{"Unequal supports bend the hoop.", NULL},
	{"A frame that moves under tension can twist or crack.", NULL},
	{"The tension head pulls from one place only.", NULL},
	{"The machine pulls whatever it was set to last.", NULL},
	{"The crosses may need another tension than the mains.", NULL},
	{"The short side strings half of the mains, the long side does the rest.", NULL},
	{"It holds one centre main while you pull the other.", NULL},
	{"What lies between clamp and frame goes slack when you release.", NULL},
	{"Until the knot is tight, only the clamp holds the tension.", NULL},
	{"Released before it is clamped, a string goes slack.", NULL},
	{"Released before it is clamped, the string goes slack.", NULL},
	{"Beyond the clamp there is string to grip.", NULL},
	{"The first mains press the frame into its supports.", NULL},
	{"A wrong skip costs a few mains now, and the whole bed later.", NULL},
	{"Mains and crosses run different ways, and the clamps have to follow.", NULL},
	{"The crosses may be another string than the mains.", NULL},
	{"Each hitch drawn up by hand keeps the knot from slipping.", NULL},
	{"It has to hold when the first crosses are pulled.", NULL},
	{"A string that saws on one spot cuts a notch.", NULL},
	{"Sawing cuts notches into the mains, and they break there.", NULL},
	{"A misweave costs minutes now, and the whole bed after the last knot.", NULL},
	{"A frame that is forced out of its mounts can crack.", NULL},
	{"A damaged string or frame must not go back to the customer.", NULL},
	{"A knot that is cut into slips, and a long tail catches.", NULL},
	{"An uneven bed does not play the same all over.", NULL},
	{"What stays in keeps its tension.", NULL},
	{"Let go at once, the string would shoot through the frame.", NULL},
	{"What is only begun is in the way of the strings before it.", NULL},
	{"It is free for the next string.", NULL},
	{"The string cannot come back while its end is tied.", NULL},
	{"A string that slipped has lost its tension.", NULL},
	{"Wax and dirt make a clamp slip.", NULL},
	{"A clamp that slips once often slips again.", NULL},
	{"From the centre outward the load comes off evenly.", NULL},
	{"A bed with one string gone loads the frame unevenly.", NULL},
};

enum { REASONS = sizeof(reasons) / sizeof(reasons[0]) };

struct tally {
	struct phrasebook *books[LANGUAGES];
	int given[REASONS];
	char *words[LANGUAGES][REASONS][CALL_KINDS]; /* by reason and kind of call */
};

static int reason_at(const char *reason)
{
	int at = 0;

	while (at < REASONS && strcmp(reasons[at].reason, reason) != 0)
		at++;
	return at;
}

/* Where English has two reasons for a kind of call, so has every language. */
static char *compare(struct tally *tally, const struct sequence *sequence, int call, int reason)
{
	const struct phrase_options options = {.wording = WORDING_WHY};
	enum call_kind kind = sequence->calls[call].kind;

	for (int l = 1; l < LANGUAGES; l++) {
		char *words = phrase_call(tally->books[l], sequence, call, &options);
		char **known = &tally->words[l][reason][kind];
		bool good = !*known || strcmp(*known, words) == 0;
		if (!*known)
			*known = memory_copy(words);
		for (int other = 0; other < REASONS && good; other++)
			good = other == reason || !tally->words[l][other][kind] ||
			       strcmp(tally->words[l][other][kind], words) != 0;
		char *fault =
			good ? NULL
			     : memory_format("call %d: %s says \"%s\" for \"%s\" too", call + 1,
					     languages[l], words, reasons[reason].reason);
		free(words);
		if (fault)
			return fault;
	}
	return NULL;
}

static char *judge_call(struct tally *tally, const struct given *given, int call)
{
	const struct phrase_options options = {.wording = WORDING_WHY};
	char *words = phrase_call(tally->books[0], given->sequence, call, &options);
	int at = reason_at(words);
	bool (*is_true)(const struct given *) = at < REASONS ? reasons[at].is_true : NULL;
	char *fault = NULL;

	if (at < REASONS && strstr(words, "beside one that is still slack"))
		is_true = given->call->kind == CALL_PULL ? is_beside_slack : is_woven_beside_slack;
	if (at == REASONS)
		fault = memory_format("call %d: nobody has looked at the reason \"%s\"", call + 1,
				      words);
	else if (is_true && !is_true(given))
		fault = memory_format("call %d (%s): \"%s\" is not true", call + 1,
				      call_kind_name(given->call->kind), words);
	free(words);
	if (fault)
		return fault;
	tally->given[at]++;
	return compare(tally, given->sequence, call, at);
}

/* The calls after the one that was given up last, if any was: those before keep their words. */
static char *judge_sequence(struct tally *tally, const struct sequence *sequence,
			    const struct racket *racket, int given_up)
{
	struct counted bed = {0};
	char *fault = NULL;

	for (int i = 0; i < sequence->call_count && !fault; i++) {
		const struct call *call = &sequence->calls[i];
		if (!call->abandoned) {
			const struct given given = {sequence, racket,
						    call,     &sequence->moves[call->subject],
						    &bed,     given_up >= 0};
			if (i > given_up)
				fault = judge_call(tally, &given, i);
			for (int at = call->first; at <= call->last; at++)
				follow(&bed, &sequence->moves[at]);
		}
		if (call->lost != LOSS_NONE) {
			bed.tight_crosses = 0;
			if (call->lost == LOSS_BED)
				bed.tight_mains[0] = bed.tight_mains[1] = 0;
		}
	}
	return fault;
}

/* Something goes wrong at some call, with a string that may or may not be in. */
static bool go_wrong(struct work *work, const struct racket *racket, struct random *random,
		     int *given_up)
{
	struct faults faults = {0};
	int chance = random_between(random, 0, 9);
	bool cross = random_chance(random, 50);
	const struct mishap mishap = {
		.kind = chance < 6   ? MISHAP_REDO
			: chance < 8 ? MISHAP_SLIPPED
				     : MISHAP_BROKE,
		.string = cross ? STRING_CROSS : STRING_MAIN,
		.number = random_between(random, 1, cross ? racket->crosses : racket->half),
		.side = random_chance(random, 50) ? SIDE_LEFT : SIDE_RIGHT,
	};
	int last = work->sequence->call_count - 1;
	int call = *given_up < last ? random_between(random, *given_up + 1, last) : last;
	struct sequence *after = sequence_go_back(work->sequence, call, &mishap, &faults);

	faults_free(&faults);
	if (!after)
		return false;
	sequence_free(work->sequence);
	work->sequence = after;
	*given_up = call;
	return true;
}

static char *judge(struct work *work, const struct racket *racket, struct random *random,
		   void *context)
{
	struct tally *tally = context;
	int given_up = -1;

	if (!work->sequence)
		return NULL;
	char *fault = judge_sequence(tally, work->sequence, racket, given_up);
	for (int i = 0; i < MISHAPS && !fault; i++)
		if (go_wrong(work, racket, random, &given_up))
			fault = judge_sequence(tally, work->sequence, racket, given_up);
	return fault;
}

static void every_reason_is_true(void **state)
{
	(void)state;
	struct tally tally = {0};

	for (int l = 0; l < LANGUAGES; l++)
		tally.books[l] = bundled_phrasebook(languages[l]);
	assert_int_equal(work_judge_all(seed, RACKETS, 3, judge, &tally), 0);
	for (int i = 0; i < REASONS; i++) {
		if (tally.given[i] == 0)
			print_error("never given: %s\n", reasons[i].reason);
		assert_int_not_equal(tally.given[i], 0);
	}
	for (int l = 0; l < LANGUAGES; l++) {
		phrasebook_free(tally.books[l]);
		for (int i = 0; i < REASONS * CALL_KINDS; i++)
			free(tally.words[l][i / CALL_KINDS][i % CALL_KINDS]);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(every_reason_is_true),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
