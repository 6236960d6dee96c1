/* How moves are grouped into calls. */
#include "sequence/bed.h"

#include "base/base.h"

#include <math.h>

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

char *calls_fault(const struct sequence *sequence)
{
	int next = 0;

	for (int i = 0; i < sequence->call_count; i++) {
		const struct call *call = &sequence->calls[i];
		if (call->first != next || call->last < call->first ||
		    call->last >= sequence->move_count)
			return call_wrong(sequence, i, "a gap, or a move in two calls");
		const char *fault = fault_of(sequence, call);
		if (fault)
			return call_wrong(sequence, i, fault);
		next = call->last + 1;
	}
	if (next != sequence->move_count)
		return call_wrong(sequence, sequence->call_count - 1, "moves without a call");
	return NULL;
}
