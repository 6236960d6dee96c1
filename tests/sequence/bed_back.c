/* The way back: what comes out has no tension any more, and nothing else loses its own (common
 * practice, no source). */
#include "sequence/bed_state.h"

#include <string.h>

static void take_from_hole(struct strung_bed *bed, enum side side, struct hole hole)
{
	bed->strings[side][hole.end][hole.number]--;
}

/* The strand's strings beyond its last clamp go slack; with all of one side's mains, the centre. */
void follow_let_down(struct strung_bed *bed)
{
	enum working_end on;
	int index, kept = 0;

	if (!pass_of(bed, &on, &index))
		return;
	struct strand *strand = &bed->strands[on];
	if (!grips(&bed->head, on, index) || index != strand->tensioned - 1)
		wrong(bed, "the tension head does not hold the last string");
	for (int i = 0; i < CLAMPS; i++)
		if (bed->clamps[i].on == on && !bed->clamps[i].first_hold &&
		    bed->clamps[i].pass >= kept)
			kept = bed->clamps[i].pass + 1;
	if (kept == strand->tensioned)
		wrong(bed, "its own clamp is on: nothing is let down");
	bed->head.on = NOWHERE;
	for (int i = kept; i < strand->tensioned; i++)
		strand->passes[i].slack = THROUGH;
	strand->tensioned = kept;
	if (kept > 0 || on == END_OF_CROSSES)
		return;
	strand = &bed->strands[on == END_OF_LEFT ? END_OF_RIGHT : END_OF_LEFT];
	if (strand->tensioned > 1)
		wrong(bed, "the other side's mains lose their tension");
	if (strand->tensioned == 1)
		strand->passes[0].slack = THROUGH;
	strand->tensioned = 0;
}

static void forget_crossings(struct strung_bed *bed, const struct pass *pass, enum working_end on)
{
	int half = bed->racket->half;

	if (pass->kind == STRING_CROSS) {
		memset(bed->over[cross_of_number(bed, pass->number)], NOT_CROSSED,
		       sizeof(bed->over[0]));
		bed->woven--;
		return;
	}
	int m = on == END_OF_LEFT ? half + 1 - pass->number : half + pass->number;
	for (int cross = 1; cross <= bed->racket->crosses; cross++)
		bed->over[cross][m] = NOT_CROSSED;
}

static void drop_last(struct strung_bed *bed, enum working_end on)
{
	struct strand *strand = &bed->strands[on];
	const struct pass *pass = &strand->passes[--strand->count];
	bool cross = pass->kind == STRING_CROSS;

	take_from_hole(bed, cross ? other_side(pass->exit_side) : pass->exit_side, pass->entry);
	take_from_hole(bed, pass->exit_side, pass->exit);
	forget_crossings(bed, pass, on);
}

/* A call given up before was to feed or weave it, and did not get to its end. */
static void check_begun(struct strung_bed *bed)
{
	const struct sequence *sequence = bed->sequence;
	const struct move *move = this_move(bed);
	bool begun = false;

	for (int i = 0; i <= bed->gave_up_last; i++) {
		const struct call *call = &sequence->calls[i];
		for (int at = call->first; at <= call->last; at++) {
			const struct move *it = &sequence->moves[at];
			bool same = it->string == move->string && it->number == move->number;
			if (same && (it->action == DO_FEED || it->action == DO_WEAVE))
				begun = call->abandoned;
			else if (same && it->action == DO_TAKE_OUT && !call->abandoned)
				begun = false;
		}
	}
	if (!begun)
		wrong(bed, "nothing of that string is in");
	if (find_pass(&bed->strands[end_of(bed, move)], move->string, move->number) >= 0)
		wrong(bed, "that string is in, and not only begun");
}

static bool is_only_begun(const struct strung_bed *bed)
{
	const struct call *call = bed->sequence->calls;

	while (call->last < bed->at)
		call++;
	return call->kind == CALL_TAKE_OUT_BEGUN;
}

void follow_take_out(struct strung_bed *bed)
{
	enum working_end on;
	int index;

	if (is_only_begun(bed)) {
		check_begun(bed);
		return;
	}
	if (!pass_of(bed, &on, &index))
		return;
	const struct strand *strand = &bed->strands[on];
	if (index != strand->count - 1 || index < strand->tensioned)
		wrong(bed, "only the last string comes out, and only when it is slack");
	if (strand->through_anchor)
		wrong(bed, "its end is in the hole of a knot");
	for (int i = 0; i < CLAMPS; i++)
		if (grips(&bed->clamps[i], on, index))
			wrong(bed, "a clamp is on it");
	drop_last(bed, on);
	bed->last_check = bed->woven;
	bed->pulled_up = false;
	bed->straightened = NULL;
	if (this_move(bed)->phase == PHASE_MAINS)
		bed->mains_checks = 0;
}

static void untie_last(struct strung_bed *bed, enum working_end on)
{
	struct strand *strand = &bed->strands[on];

	if (strand->through_anchor)
		take_from_hole(bed, strand->passes[strand->count - 1].exit_side, strand->anchor);
	strand->through_anchor = strand->tied = false;
}

static void untie_start(struct strung_bed *bed)
{
	struct strand *strand = &bed->strands[END_OF_CROSSES];

	if (strand->start_knot)
		take_from_hole(bed, bed->racket->weave_side, strand->start_anchor);
	strand->start_knot = false;
}

void follow_untie(struct strung_bed *bed)
{
	enum working_end on;
	int index;

	if (this_move(bed)->start) {
		if (!bed->strands[END_OF_CROSSES].start_knot || bed->woven > 0)
			wrong(bed, "no starting knot that can be undone");
		untie_start(bed);
		return;
	}
	if (!pass_of(bed, &on, &index))
		return;
	if (!is_clamped(bed, on, index) || index != bed->strands[on].tensioned - 1)
		wrong(bed, "a knot is undone that holds");
	if (!bed->strands[on].through_anchor)
		wrong(bed, "there is no knot");
	untie_last(bed, on);
}

static bool is_cut(const struct strung_bed *bed, const struct move *cut, enum working_end on)
{
	return cut->subject == SUBJECT_BED || on == end_of_crosses(bed);
}

void look_for_break(struct strung_bed *bed, int at)
{
	const struct move *move = &bed->sequence->moves[at];

	while (move->action == DO_RELEASE || move->action == DO_UNCLAMP)
		move++;
	if (move->action != DO_CUT_OUT || move->subject == SUBJECT_NONE)
		return;
	for (enum working_end on = 0; on < WORKING_ENDS; on++) {
		struct strand *strand = &bed->strands[on];
		if (!is_cut(bed, move, on))
			continue;
		for (int i = 0; i < strand->count; i++)
			strand->passes[i].slack = THROUGH;
		strand->tensioned = 0;
	}
}

void follow_cut_out(struct strung_bed *bed)
{
	const struct move *cut = this_move(bed);

	if (bed->head.on != NOWHERE)
		wrong(bed, "the tension head still holds a string");
	for (enum working_end on = 0; on < WORKING_ENDS; on++) {
		struct strand *strand = &bed->strands[on];
		if (!is_cut(bed, cut, on))
			continue;
		if (strand->tensioned > 0)
			wrong(bed, "cut out under tension");
		if (strand->count > 0)
			untie_last(bed, on);
		while (strand->count > 0)
			drop_last(bed, on);
	}
	untie_start(bed);
	bed->last_check = 0;
	bed->straightened = NULL;
	bed->finishes = 0;
	if (cut->subject == SUBJECT_BED)
		bed->mains_checks = bed->mounts_checks = 0;
	bed->anew = true;
}
