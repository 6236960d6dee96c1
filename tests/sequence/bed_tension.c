/* What pulls and what holds. */
#include "sequence/bed_state.h"

#include <math.h>
#include <stdlib.h>

void follow_set_tension(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);
	double newton = quantity_base(move->tension);

	if (bed->head.on != NOWHERE)
		wrong(bed, "the tension head holds a string");
	bool same = bed->set && bed->unit == move->tension.unit &&
		    fabs(newton - bed->newton) < 0.01 &&
		    fabs(move->prestretch - bed->prestretch) < 1e-9;
	if (same != move->as_set && !bed->anew)
		wrong(bed, same ? "it is set so already" : "it is not set so");
	if (same && !bed->anew && (move->subject != SUBJECT_CROSSES || bed->crosses_set_before))
		wrong(bed, "only the crosses' own setting is said where it stays");
	bed->crosses_set_before |= move->subject == SUBJECT_CROSSES;
	if (bed->set != (move->phase != PHASE_PREPARE) && !bed->anew)
		wrong(bed, "set first when preparing, and then no more");
	bed->set = true;
	bed->setting = move;
	bed->newton = newton;
	bed->unit = move->tension.unit;
	bed->prestretch = move->prestretch;
}

/* With flying clamps a cross without a neighbour under tension has nothing to be held by. */
static bool stands_alone(const struct strung_bed *bed, const struct strand *strand, int number)
{
	bool held = bed->racket->machine.clamps != CLAMPS_FLYING;

	for (int i = 0; i < strand->tensioned; i++)
		held |= strand->passes[i].kind == STRING_CROSS &&
			abs(strand->passes[i].number - number) == 1;
	return !held;
}

/* Pulls follow the weaving by exactly `behind`, until nothing is left to weave, or the string goes
 * elsewhere. The first pull takes the first crosses at once, as far as they lie side by side. */
static void check_behind(struct strung_bed *bed, const struct strand *strand, int index)
{
	const struct move *move = this_move(bed);
	const struct racket *racket = bed->racket;
	const struct pass *first = &strand->passes[strand->tensioned];
	int behind = strand->count - 1 - index;
	int at_once = index - strand->tensioned + 1;
	int wanted =
		strand->tensioned == 0 || first[-1].kind == STRING_MAIN ? racket->first_pull : 1;

	if (bed->racket->one_piece && bed->woven > strand->count - strand->tensioned)
		wanted = stands_alone(bed, strand, first->number) ? 2 : 1;
	if (move->pulls_last != move->number)
		wrong(bed, "the number of a pull is that of the last cross it tensions");
	if (first->kind != STRING_CROSS || move->pulls_first != first->number ||
	    move->pulls_last - move->pulls_first + 1 != at_once)
		wrong(bed, "the cross before it has no tension yet");
	if (at_once > wanted || (at_once < wanted && !racket->one_piece))
		wrong(bed, "pulls the wrong number of crosses at once");
	if (behind == 0 && (racket->behind == 1 || at_once < wanted)) {
		if (!racket->one_piece && bed->woven < racket->crosses)
			wrong(bed, "leaves nothing behind the weaving");
		bed->pulled_up = true;
	} else if (bed->way_back) {
		if (behind > racket->behind)
			wrong(bed, "pulls %d behind the weaving", behind);
	} else if (behind != racket->behind || at_once < wanted) {
		wrong(bed, "pulls %d behind the weaving, not %d", behind, racket->behind);
	}
}

static void check_pull(struct strung_bed *bed, enum working_end on, int index,
		       const struct pass *pass)
{
	const struct move *move = this_move(bed);
	const struct strand *strand = &bed->strands[on];

	if (bed->head.on != NOWHERE)
		wrong(bed, "the tension head still holds another string");
	if (move->side != pass->exit_side || !hole_same(move->hole, pass->exit))
		wrong(bed, "a string is pulled where it comes out");
	if (bed->way_back && index == strand->tensioned - 1)
		return;
	if (index < strand->tensioned)
		wrong(bed, "it is tensioned a second time");
	for (int i = strand->tensioned; i <= index; i++)
		if (strand->passes[i].slack != THROUGH)
			wrong(bed, "it is not drawn through yet");
	if (move->string == STRING_CROSS)
		check_behind(bed, strand, index);
	else if (index != strand->tensioned)
		wrong(bed, "a main before it has no tension yet");
}

/* No string of this working end is pulled any more. */
static bool is_tied_off_next(const struct strung_bed *bed)
{
	const struct move *move = this_move(bed);

	for (int i = bed->at + 1; i < bed->sequence->move_count; i++) {
		const struct move *later = &bed->sequence->moves[i];
		if (later->action == DO_PULL && end_of(bed, later) == end_of(bed, move))
			return false;
	}
	return true;
}

static void check_tension(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);
	double wanted = bed->racket->newton[move->string][move->number];

	double extra = wanted * (1 + bed->racket->tie_off_extra);
	bool either = bed->gave_up && fabs(bed->newton - extra) <= BED_TOLERANCE_NEWTON;
	if (either || is_tied_off_next(bed))
		wanted = extra;

	if (!bed->set)
		wrong(bed, "the machine is not set");
	if (fabs(bed->prestretch - bed->racket->prestretch[move->string]) > 1e-9)
		wrong(bed, "the machine is set to another prestretch");
	if (fabs(bed->newton - wanted) > BED_TOLERANCE_NEWTON)
		wrong(bed, "the machine is set to %.2f N, the plan wants %.2f N", bed->newton,
		      wanted);
	if (fabs(quantity_base(move->tension) - bed->newton) > 0.06)
		wrong(bed, "announces another tension than the machine is set to");
	for (int n = move->pulls_first; move->string == STRING_CROSS && n <= move->pulls_last; n++)
		if (fabs(bed->racket->newton[STRING_CROSS][n] -
			 bed->racket->newton[STRING_CROSS][move->number]) > 0.01)
			wrong(bed, "pulls crosses of different tensions at once");
}

/* What is set is said to be for the strings that are pulled next. */
static void check_setting(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);
	enum subject subject = move->string == STRING_MAIN ? SUBJECT_MAINS : SUBJECT_CROSSES;

	if (!bed->setting)
		return;
	if (bed->setting->subject != subject ||
	    (bed->setting->phase != PHASE_PREPARE && bed->setting->phase != move->phase))
		wrong(bed, "the machine was set for other strings");
	bed->setting = NULL;
}

static int mains_tensioned(const struct strand *strand)
{
	int count = 0;

	for (int i = 0; i < strand->tensioned; i++)
		count += strand->passes[i].kind == STRING_MAIN;
	return count;
}

static void check_balance(struct strung_bed *bed)
{
	int left = mains_tensioned(&bed->strands[END_OF_LEFT]);
	int right = mains_tensioned(&bed->strands[END_OF_RIGHT]);
	int first = bed->racket->first_side == SIDE_LEFT ? left : right;

	if (abs(left - right) > bed->racket->lead)
		wrong(bed, "%d mains on the left against %d", left, right);
	if (left + right == 1 && first != 1)
		wrong(bed, "the plan wants the other side first");
	bool flying = bed->racket->machine.clamps == CLAMPS_FLYING;
	bool short_row = bed->racket->one_piece && bed->racket->half == 2;
	if (left + right == 2 && !short_row && first != (flying ? 2 : 1))
		wrong(bed, "the second pull is on the wrong side for these clamps");
}

void follow_pull(struct strung_bed *bed)
{
	enum working_end on;
	int index;
	struct pass *pass = pass_of(bed, &on, &index);

	if (!pass)
		return;
	check_pull(bed, on, index, pass);
	check_tension(bed);
	check_setting(bed);
	if (bed->fault)
		return;
	struct strand *strand = &bed->strands[on];
	bool again = index < strand->tensioned;
	for (int i = strand->tensioned; i <= index; i++)
		strand->passes[i].slack = TENSIONED;
	strand->tensioned = index + 1;
	bed->head = (struct grip){.on = on, .pass = index};
	if (pass->kind == STRING_MAIN && !again)
		check_balance(bed);
}

void follow_release(struct strung_bed *bed)
{
	enum working_end on;
	int index;

	const struct pass *pass = pass_of(bed, &on, &index);
	if (!pass)
		return;
	if (this_move(bed)->side != pass->exit_side)
		wrong(bed, "a string is released where it comes out");
	if (!grips(&bed->head, on, index))
		wrong(bed, "the tension head does not hold it");
	/* What broke is not held any more. */
	if (bed->strands[on].tensioned > 0 && !is_clamped(bed, on, index))
		wrong(bed, "released before it is clamped");
	bed->head.on = NOWHERE;
}
