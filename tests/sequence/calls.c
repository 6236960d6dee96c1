/* How moves are grouped into calls. */
#include "sequence/bed.h"

#include "base/base.h"

#include <math.h>
#include <stdlib.h>

static char *call_wrong(const struct sequence *sequence, int call, const char *text)
{
	return memory_format("call %d (%s): %s", call + 1,
			     call_kind_name(sequence->calls[call].kind), text);
}

/* What the strings take, or all there is of them where that is less. */
static bool cuts_what_it_takes(const struct sequence *sequence, const struct move *cut)
{
	const struct string_length *length = job_length(
		sequence->job, cut->subject == SUBJECT_CROSSES ? STRING_CROSS : STRING_MAIN);
	double mains_mm = cut->subject == SUBJECT_CROSSES ? 0 : sequence->length_mm[STRING_MAIN];
	double crosses_mm = cut->subject == SUBJECT_MAINS ? 0 : sequence->length_mm[STRING_CROSS];
	double least_mm = mains_mm + crosses_mm;

	if (length->on_hand_mm > 0 && length->on_hand_mm < least_mm)
		least_mm = length->on_hand_mm;
	return fabs(cut->length_mm - least_mm) < 1e-6;
}

/* What no call may do, whatever its kind. */
static const char *fault_of(const struct sequence *sequence, const struct call *call)
{
	int pulls = 0;

	if (call->subject < call->first || call->subject > call->last)
		return "what is said is not what is done";
	if (sequence->job->detail == DETAIL_LEARNER && call->first != call->last &&
	    call->kind != CALL_FEED_CENTRE && call->kind != CALL_FEED_SHORT)
		return "a learner hears one move at a time";
	for (int i = call->first; i <= call->last; i++) {
		pulls += sequence->moves[i].action == DO_PULL;
		if (sequence->moves[i].phase != sequence->moves[call->first].phase)
			return "begins in one phase and ends in another";
		if (sequence->moves[i].action == DO_SET_TENSION && call->first != call->last)
			return "a change of tension stands alone";
		if (sequence->moves[i].action == DO_CUT &&
		    !cuts_what_it_takes(sequence, &sequence->moves[i]))
			return "cuts another length than the strings take";
	}
	return pulls > 1 ? "two pulls in one call" : NULL;
}

/* The crosses in the bed, in the order in which they were woven. */
struct woven {
	int count;
	struct hole holes[CROSSES_MAX];
	int numbers[CROSSES_MAX];
};

static void follow_crosses(struct woven *woven, const struct sequence *sequence,
			   const struct call *call)
{
	for (int i = call->first; i <= call->last && !call->abandoned; i++) {
		const struct move *move = &sequence->moves[i];
		if (move->string != STRING_CROSS)
			continue;
		if (move->action == DO_WEAVE) {
			woven->numbers[woven->count] = move->number;
			woven->holes[woven->count++] = move->from;
		}
		if (move->action == DO_TAKE_OUT && woven->count > 0 &&
		    woven->numbers[woven->count - 1] == move->number)
			woven->count--;
	}
	if (call->lost != LOSS_NONE)
		woven->count = 0;
}

/* From the middle of the head round to the middle of the throat. */
static int place_on_rim(const struct pattern *pattern, struct hole hole)
{
	return hole.end == END_HEAD
		       ? hole.number
		       : pattern->holes[END_HEAD] + pattern->holes[END_THROAT] + 1 - hole.number;
}

/* A hand goes on to the hole beside the cross before, in order; a main to that of its own number.
 */
static bool goes_on(const struct woven *woven, const struct sequence *sequence,
		    const struct move *route)
{
	int last = woven->count - 1;

	if (route->action == DO_FEED)
		return route->from.number == route->number && route->to.number == route->number;
	return last >= 0 && woven->numbers[last] + 1 == route->number &&
	       !pattern_main_at(sequence->pattern, route->from) &&
	       abs(place_on_rim(sequence->pattern, route->from) -
		   place_on_rim(sequence->pattern, woven->holes[last])) == 1;
}

/* What is asked of a call: the cross before it, its hole, its skill. */
static const char *answers_fault(const struct woven *woven, const struct sequence *sequence,
				 int index)
{
	const struct call *call = &sequence->calls[index];
	const struct move *route = NULL, *before = call_woven_before(sequence, call);
	enum skill skill = call_skill(sequence, index);

	for (int i = call->last; i >= call->first; i--)
		if (sequence->moves[i].action == DO_FEED || sequence->moves[i].action == DO_WEAVE)
			route = &sequence->moves[i];
	if (call_route(sequence, call) != route)
		return "its route is another move";
	if ((before ? before->number : 0) != (woven->count ? woven->numbers[woven->count - 1] : 0))
		return "another cross was woven before it";
	bool weaves = route && route->action == DO_WEAVE && route->string == STRING_CROSS;
	if ((skill == SKILL_WEAVE_START) != (weaves && woven->count == 0))
		return "the first cross, and no other, starts the weave";
	if (!route)
		return skill == SKILL_SKIP ? "no hole to skip to" : NULL;
	bool odd = !goes_on(woven, sequence, route);
	if (call_hole_is_odd(sequence, call) != odd)
		return "a hole that is not the next one has to be said, and no other";
	return skill != SKILL_WEAVE_START && (skill == SKILL_SKIP) != odd ? "skips or not" : NULL;
}

char *calls_fault(const struct sequence *sequence)
{
	struct woven woven = {0};
	int next = 0;

	for (int i = 0; i < sequence->call_count; i++) {
		const struct call *call = &sequence->calls[i];
		if (call->first != next || call->last < call->first ||
		    call->last >= sequence->move_count)
			return call_wrong(sequence, i, "a gap, or a move in two calls");
		const char *fault = fault_of(sequence, call);
		if (!fault)
			fault = answers_fault(&woven, sequence, i);
		follow_crosses(&woven, sequence, call);
		if (fault)
			return call_wrong(sequence, i, fault);
		next = call->last + 1;
	}
	if (next != sequence->move_count)
		return call_wrong(sequence, sequence->call_count - 1, "moves without a call");
	return NULL;
}
