/* Looks at what is done, turns of the frame, and the changeover from mains to crosses. */
#include "sequence/bed_state.h"

static bool is_learner(const struct strung_bed *bed)
{
	return bed->racket->detail == DETAIL_LEARNER;
}

bool is_ready_for_knot(const struct strung_bed *bed, enum working_end on)
{
	const struct strand *strand = &bed->strands[on];

	return strand->count > 0 && strand->tensioned == strand->count && !strand->tied &&
	       !strand->through_anchor;
}

/* Mains are counted when the last of both sides is under tension and none is tied off. */
static void follow_mains_check(struct strung_bed *bed)
{
	bool ready = true;

	for (enum working_end on = END_OF_LEFT; on <= END_OF_RIGHT; on++) {
		const struct strand *strand = &bed->strands[on];
		bool tied = bed->way_back && strand->tied;
		ready &= (tied || is_ready_for_knot(bed, on)) && strand->tensioned == strand->count;
	}

	if (!ready || bed->woven > 0)
		wrong(bed, "counts the mains when they are not all in, or tied off already");
	bed->mains_checks++;
}

/* After the third main of both sides, if both have as many. */
static void follow_mounts_check(struct strung_bed *bed)
{
	int left = bed->strands[END_OF_LEFT].tensioned;
	int right = bed->strands[END_OF_RIGHT].tensioned;
	int least = left < right ? left : right, most = left < right ? right : left;
	bool short_row = bed->racket->one_piece && bed->racket->half == 3;

	if (most < 3 || (least != 3 && !(short_row && least == 2)))
		wrong(bed, "looks at the mounts with %d and %d mains in", left, right);
	bed->mounts_checks++;
}

/* Clamps on glide bars are set for the crosses; a learner looks at any but flying ones. */
static bool looks_at_clamps(const struct strung_bed *bed)
{
	return bed->racket->machine.clamps == CLAMPS_FIXED && is_learner(bed);
}

/* Before the last knot everybody looks, a learner after cross 3 and half way too, and whoever wants
 * it every so many crosses. */
static bool is_look_due(const struct strung_bed *bed)
{
	const struct racket *racket = bed->racket;
	int woven = bed->woven;

	if (woven == 0 || bed->last_check == woven)
		return false;
	if (woven == racket->crosses)
		return false;
	if (is_learner(bed) && (woven == 3 || woven == (racket->crosses + 1) / 2))
		return true;
	return racket->check_every > 0 && woven % racket->check_every == 0;
}

static void follow_weave_check(struct strung_bed *bed)
{
	bool last = bed->woven == bed->racket->crosses;

	if (!last && !is_look_due(bed))
		wrong(bed, "looks at the weave after %d crosses, unasked", bed->woven);
	if (last && bed->last_check == bed->woven)
		wrong(bed, "looks at the weave twice");
	if (last && !is_ready_for_knot(bed, end_of_crosses(bed)))
		wrong(bed, "looks at the weave before all is pulled, or after the knot");
	bed->last_check = bed->woven;
}

/* What is done for the next pull names that string and its place. */
static bool is_for_next_pull(const struct strung_bed *bed)
{
	const struct move *move = this_move(bed), *pull = move;

	for (int i = bed->at; i < bed->sequence->move_count && pull->action != DO_PULL; i++)
		pull = &bed->sequence->moves[i];
	return pull->string == move->string && pull->number == move->number &&
	       pull->side == move->side && pull->phase == move->phase;
}

static void follow_turn(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);
	const struct pass *pass;
	enum working_end on;
	int index;

	if (!is_learner(bed))
		wrong(bed, "only a learner is told to turn the frame");
	if (!bed->gave_up && (bed->turned || !is_for_next_pull(bed)))
		wrong(bed, "turned already, or for another string than is pulled next");
	pass = bed->way_back ? NULL : pass_of(bed, &on, &index);
	if (pass && !hole_same(pass->exit, move->hole))
		wrong(bed, "turned to another hole");
	bed->turned = true;
	bed->facing = move;
}

static void follow_straighten(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);

	if (!is_learner(bed) || move->string != STRING_CROSS)
		wrong(bed, "only a learner is told to straighten crosses, and only crosses");
	if (!bed->gave_up && (bed->straightened || !is_for_next_pull(bed)))
		wrong(bed, "straightens another cross than is pulled next");
	bed->straightened = move;
}

static void follow_changeover(struct strung_bed *bed, int *count)
{
	const struct strand *strand = &bed->strands[END_OF_CROSSES];

	if (this_move(bed)->phase != PHASE_CROSSES || strand->start_knot || bed->woven > 0)
		wrong(bed, "belongs between mains and crosses");
	++*count;
}

/* Glide bars as often as the strings change; a learner looks at fixed clamps once. */
static void follow_set_clamps(struct strung_bed *bed)
{
	bool across = this_move(bed)->subject == SUBJECT_CROSSES;

	if (bed->racket->machine.clamps == CLAMPS_GLIDE_BAR) {
		if (across == bed->bars_across)
			wrong(bed, "the bars lie so already");
		bed->bars_across = across;
	} else if (!bed->way_back) {
		follow_changeover(bed, &bed->clamps_set);
	}
}

static bool is_of_slip(const struct move *move)
{
	return move->subject == SUBJECT_CLAMP &&
	       (move->action == DO_CLEAN || move->action == DO_CHECK);
}

void follow_look(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);

	if (move->action == DO_CHECK && move->subject == SUBJECT_MAINS)
		follow_mains_check(bed);
	else if (move->action == DO_CHECK && move->subject == SUBJECT_WEAVE)
		follow_weave_check(bed);
	else if (move->action == DO_INSPECT && move->subject == SUBJECT_STRING && move->of_crosses)
		follow_changeover(bed, &bed->strings_taken_up);
	else if (move->action == DO_CHECK && move->subject == SUBJECT_MOUNTS)
		follow_mounts_check(bed);
	else if (move->action == DO_SET_CLAMPS)
		follow_set_clamps(bed);
	else if (bed->way_back && is_of_slip(move))
		return;
	else if (move->action == DO_TURN)
		follow_turn(bed);
	else if (move->action == DO_STRAIGHTEN)
		follow_straighten(bed);
	else
		wrong(bed, "in the midst of stringing");
}

/* The frame faces the tension head with the end of a main, with the side of a cross. */
static bool faces_otherwise(const struct move *before, const struct move *pull)
{
	if (!before || before->string != pull->string)
		return true;
	return pull->string == STRING_MAIN ? before->hole.end != pull->hole.end
					   : before->side != pull->side;
}

static void check_before_pull(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);
	const struct move *straight = bed->straightened;

	if (bed->way_back
		    ? is_learner(bed) && faces_otherwise(bed->facing, move)
		    : bed->turned != (is_learner(bed) && faces_otherwise(bed->last_pull, move)))
		wrong(bed, bed->turned ? "turned for nothing" : "pulled without a turn");
	const struct strand *strand = &bed->strands[end_of(bed, move)];
	bool again = bed->way_back &&
		     find_pass(strand, move->string, move->number) == strand->tensioned - 1;
	if (is_learner(bed) && move->string == STRING_CROSS && !again &&
	    !(straight && straight->pulls_first == move->pulls_first &&
	      straight->pulls_last == move->pulls_last))
		wrong(bed, "pulled without being straightened");
	if (move->string == STRING_CROSS && !bed->crosses_set)
		wrong(bed, "the machine was not set for the crosses");
	bed->last_pull = bed->facing = move;
	bed->turned = false;
	bed->straightened = again ? bed->straightened : NULL;
}

/* What a change of tension says that it is for is what is pulled until the next. */
static void check_named_strings(struct strung_bed *bed)
{
	const struct move *set = this_move(bed);
	enum string_kind strings = set->subject == SUBJECT_MAINS ? STRING_MAIN : STRING_CROSS;
	int first = 0, last = 0;
	bool left = false, right = false;

	for (int i = bed->at + 1; i < bed->sequence->move_count; i++) {
		const struct move *move = &bed->sequence->moves[i];
		if (move->action == DO_SET_TENSION)
			break;
		if (move->action != DO_PULL || move->string != strings)
			continue;
		int number = strings == STRING_CROSS ? move->pulls_first : move->number;
		first = first == 0 || number < first ? number : first;
		last = move->number > last ? move->number : last;
		left |= move->side == SIDE_LEFT;
		right |= move->side == SIDE_RIGHT;
	}
	/* Before a way back it is named for what was to come then. */
	int named = bed->gave_up ? bed->sequence->calls[bed->gave_up - 1].last : -1;
	if (bed->at <= named)
		return;
	if (set->number != first || set->through != last || set->both_sides != (left && right))
		wrong(bed, "names strings %d to %d for what is pulled from %d to %d", set->number,
		      set->through, first, last);
}

static void check_before_setting(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);
	bool crosses = move->subject == SUBJECT_CROSSES;
	bool pulled = false;

	for (int i = 0; i < bed->at; i++) {
		const struct move *before = &bed->sequence->moves[i];
		if (before->action == DO_CUT_OUT && (crosses || before->subject == SUBJECT_BED))
			pulled = false; /* what follows is a new length */
		pulled |= before->action == DO_PULL && (before->string == STRING_CROSS) == crosses;
	}
	if (pulled)
		check_named_strings(bed);
	else if (move->number != 0)
		wrong(bed, "the first setting is for all");
	bed->crosses_set |= crosses;
}

static bool is_mains_knot(const struct move *move)
{
	return move->action == DO_TIE_OFF && move->string == STRING_MAIN &&
	       move->phase == PHASE_MAINS;
}

void check_looks_before(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);
	bool begins = move->phase == PHASE_CROSSES && bed->woven == 0 && move->has_string;
	bool last_knot = move->action == DO_TIE_OFF && move->phase == PHASE_CROSSES;

	if (move->action == DO_PULL)
		check_before_pull(bed);
	if (move->action == DO_SET_TENSION)
		check_before_setting(bed);
	if (is_mains_knot(move) && bed->mains_checks < 1)
		wrong(bed, "the mains are tied off uncounted");
	if (begins && move->string == STRING_CROSS && !bed->way_back &&
	    bed->clamps_set != looks_at_clamps(bed))
		wrong(bed, "the clamps are not looked at before the crosses");
	if (move->action == DO_CLAMP && bed->racket->machine.clamps == CLAMPS_GLIDE_BAR &&
	    move->with == CLAMP_FIXED && bed->bars_across != (move->string == STRING_CROSS))
		wrong(bed, "the bars are not set for the string");
	if (begins && !bed->way_back && bed->strings_taken_up != !bed->racket->one_piece)
		wrong(bed, "the crosses' string is not taken up");
	if (last_knot && bed->last_check != bed->racket->crosses)
		wrong(bed, "the last knot comes before a look at the weave");
	if (move->action == DO_WEAVE && move->string == STRING_CROSS && is_look_due(bed))
		wrong(bed, "the weave ought to be looked at after %d crosses", bed->woven);
}

void check_looks_at_end(struct strung_bed *bed)
{
	if (bed->mounts_checks < (bed->racket->half >= 3) ||
	    (bed->mounts_checks > 1 && !bed->way_back))
		wrong(bed, "mounts looked at again %d times", bed->mounts_checks);
	if (bed->mains_checks < 1 || (bed->mains_checks > 1 && !bed->way_back))
		wrong(bed, "mains counted %d times", bed->mains_checks);
}
