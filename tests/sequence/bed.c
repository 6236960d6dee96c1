#include "sequence/bed_state.h"

#include "base/base.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What is under tension stays so only while something holds it at both ends. */
static void check_held(struct strung_bed *bed)
{
	for (enum working_end on = 0; on < WORKING_ENDS; on++) {
		const struct strand *strand = &bed->strands[on];
		int last = strand->tensioned - 1;
		if (last < 0 || strand->tied)
			continue;
		if (!is_clamped(bed, on, last) && !grips(&bed->head, on, last))
			wrong(bed, "nothing holds %s %d", string_names[strand->passes[last].kind],
			      strand->passes[last].number);
	}
	bool left = bed->strands[END_OF_LEFT].tensioned > 0;
	bool right = bed->strands[END_OF_RIGHT].tensioned > 0;
	enum working_end slack = left ? END_OF_RIGHT : END_OF_LEFT;
	if (left != right && !clamp_on(bed, slack, 0, true))
		wrong(bed, "nothing holds the centre at the other side");
}

struct chore {
	enum action action;
	enum subject subject;
};

static const struct chore two_piece_preparations[] = {
	{DO_CHECK, SUBJECT_EYES},   {DO_CHECK, SUBJECT_PATTERN},  {DO_INSPECT, SUBJECT_FRAME},
	{DO_CUT_OUT, SUBJECT_NONE}, {DO_INSPECT, SUBJECT_STRING}, {DO_CUT, SUBJECT_MAINS},
	{DO_CUT, SUBJECT_CROSSES},  {DO_MOUNT, SUBJECT_NONE},     {DO_LOCK, SUBJECT_NONE},
	{ACTIONS, SUBJECT_NONE},
};

static const struct chore one_piece_preparations[] = {
	{DO_CHECK, SUBJECT_EYES},   {DO_CHECK, SUBJECT_PATTERN},  {DO_INSPECT, SUBJECT_FRAME},
	{DO_CUT_OUT, SUBJECT_NONE}, {DO_INSPECT, SUBJECT_STRING}, {DO_CUT, SUBJECT_WHOLE},
	{DO_MOUNT, SUBJECT_NONE},   {DO_LOCK, SUBJECT_NONE},      {ACTIONS, SUBJECT_NONE},
};

static const struct chore finishes[] = {
	{DO_DISMOUNT, SUBJECT_NONE},   {DO_CHECK, SUBJECT_BED}, {DO_TRIM, SUBJECT_NONE},
	{DO_STRAIGHTEN, SUBJECT_NONE}, {ACTIONS, SUBJECT_NONE},
};

static const struct chore *preparations_of(const struct strung_bed *bed)
{
	return bed->racket->one_piece ? one_piece_preparations : two_piece_preparations;
}

static void follow_chore(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);
	bool before = move->phase == PHASE_PREPARE;
	const struct chore *chores = before ? preparations_of(bed) : finishes;
	int *done = before ? &bed->preparations : &bed->finishes;

	if (before && bed->anew && move->action != DO_CUT_OUT)
		return;
	if (chores[*done].action != move->action || chores[*done].subject != move->subject)
		wrong(bed, "not the next thing to do");
	else
		(*done)++;
}

static void follow(struct strung_bed *bed)
{
	check_looks_before(bed);
	switch (this_move(bed)->action) {
	case DO_SET_TENSION:
		follow_set_tension(bed);
		break;
	case DO_FEED:
		follow_feed(bed);
		break;
	case DO_CLAMP:
	case DO_UNCLAMP:
		follow_clamp(bed);
		break;
	case DO_PULL:
		follow_pull(bed);
		break;
	case DO_RELEASE:
		follow_release(bed);
		break;
	case DO_KNOT:
		follow_knot(bed);
		break;
	case DO_WEAVE:
		follow_weave(bed);
		break;
	case DO_DRAW:
		follow_draw(bed);
		break;
	case DO_TIE_OFF:
		follow_tie_off(bed);
		break;
	case DO_LET_DOWN:
		follow_let_down(bed);
		break;
	case DO_TAKE_OUT:
		follow_take_out(bed);
		break;
	case DO_UNTIE:
		follow_untie(bed);
		break;
	default:
		if (bed->way_back && this_move(bed)->action == DO_CUT_OUT &&
		    this_move(bed)->subject != SUBJECT_NONE)
			follow_cut_out(bed);
		else if (this_move(bed)->phase == PHASE_PREPARE ||
			 this_move(bed)->phase == PHASE_FINISH)
			follow_chore(bed);
		else
			follow_look(bed);
		break;
	}
	check_held(bed);
}

/* The long side of one-piece work takes its mains along. */
static bool is_of_phase(const struct strung_bed *bed, const struct move *move)
{
	bool goes_on = bed->racket->one_piece && move->side == bed->racket->weave_side;

	if (move->string == STRING_CROSS)
		return move->phase == PHASE_CROSSES;
	return move->phase == PHASE_MAINS || (move->phase == PHASE_CROSSES && goes_on);
}

static void check_phase(struct strung_bed *bed, enum phase before)
{
	const struct move *move = this_move(bed);

	if (move->phase < before && !bed->way_back)
		wrong(bed, "goes back to the phase before");
	if (move->phase != PHASE_PREPARE &&
	    preparations_of(bed)[bed->preparations].action != ACTIONS)
		wrong(bed, "not everything is prepared");
	if (move->phase == PHASE_CROSSES && !bed->racket->one_piece &&
	    !(bed->strands[END_OF_LEFT].tied && bed->strands[END_OF_RIGHT].tied))
		wrong(bed, "the mains are not tied off");
	if (move->has_string && !is_of_phase(bed, move))
		wrong(bed, "not a string of this phase");
	if (move->has_string && move->action != DO_SET_TENSION &&
	    (move->phase == PHASE_PREPARE || move->phase == PHASE_FINISH))
		wrong(bed, "no string is touched before or after");
}

static void check_all_tensioned(struct strung_bed *bed)
{
	const struct racket *racket = bed->racket;

	for (enum working_end on = 0; on < WORKING_ENDS; on++) {
		const struct strand *strand = &bed->strands[on];
		int mains = on == END_OF_CROSSES ? 0 : racket->half;
		int crosses = on == end_of_crosses(bed) ? racket->crosses : 0;
		if (strand->count != mains + crosses)
			wrong(bed, "at the end %d strings are in, not %d", strand->count,
			      mains + crosses);
		if (strand->tensioned != strand->count)
			wrong(bed, "at the end a string has no tension");
		if (strand->count > 0 && !strand->tied)
			wrong(bed, "at the end a knot is missing");
	}
	bool any = bed->head.on != NOWHERE;
	for (int i = 0; i < CLAMPS; i++)
		any |= bed->clamps[i].on != NOWHERE;
	if (any)
		wrong(bed, "at the end a clamp or the tension head is still on");
	if (finishes[bed->finishes].action != ACTIONS)
		wrong(bed, "not everything is finished");
}

/* Neighbours differ: ITF Rules of Tennis, Appendix II b; BWF Law 4; WSF racket specification. */
static bool alike(const struct strung_bed *bed, int c, int m, int other_c, int other_m)
{
	return other_c > 0 && other_m > 0 && bed->over[c][m] != NOT_CROSSED &&
	       bed->over[c][m] == bed->over[other_c][other_m];
}

static void check_interlaced(struct strung_bed *bed)
{
	int half = bed->racket->half;

	for (int c = 1; c <= bed->racket->crosses; c++) {
		for (int m = 1; m <= 2 * half; m++) {
			int main = m <= half ? half + 1 - m : m - half;
			bool crossed = bed->over[c][m] != NOT_CROSSED;
			if (crossed != they_cross(bed, bed->racket->cross_hole[c], main))
				wrong(bed,
				      "cross %d from the head and main %d from the left: crossed or "
				      "not, against the order of the holes",
				      c, m);
			if (alike(bed, c, m, c, m - 1) || alike(bed, c, m, c - 1, m))
				wrong(bed,
				      "not alternately interlaced at cross %d from the head, main "
				      "%d from the left",
				      c, m);
		}
	}
}

/* Outermost mains finish, on each side, where the sequence says. */
static void check_ends(struct strung_bed *bed)
{
	for (enum working_end on = END_OF_LEFT; on <= END_OF_RIGHT; on++) {
		const struct strand *strand = &bed->strands[on];
		int outermost = find_pass(strand, STRING_MAIN, bed->racket->half);
		bool late = on == end_of_crosses(bed) && outermost >= bed->racket->half;
		if (outermost >= 0 && !late &&
		    strand->passes[outermost].exit.end != bed->sequence->mains_end)
			wrong(bed, "the mains end at the other end than announced");
	}
	if (bed->first_end != (int)bed->sequence->mains_start)
		wrong(bed, "the mains start at the other end than announced");
	if (bed->racket->start_forced && bed->first_end != (int)bed->racket->mains_start)
		wrong(bed, "the plan wants the mains to start at the other end");
}

/* What the pattern names for a knot that a one-piece job does not tie there is left free. */
static bool has_room(const struct strung_bed *bed, enum side side, enum frame_end end, int number)
{
	for (int t = 0; t < TIE_OFFS && bed->racket->one_piece; t++)
		if (hole_same(bed->racket->tie_off[t][side], (struct hole){end, number}))
			return false;
	return bed->strings[side][end][number] < 2;
}

/* No hole of a main that is nearer, or towards the centre, had room; for the mains, on both sides
 * if both are tied alike. */
static void check_suggestion(struct strung_bed *bed, const struct suggestion *suggestion)
{
	enum frame_end end = suggestion->near.end;
	int near = suggestion->near.number, chosen = suggestion->hole.number;
	bool outward = chosen > near, alike = false;

	for (int i = 0; i < bed->suggestion_count; i++)
		alike |= suggestion->of_mains && bed->suggestions[i].of_mains &&
			 bed->suggestions[i].side != suggestion->side &&
			 bed->suggestions[i].hole.number == chosen;
	if (suggestion->hole.end != end)
		wrong(bed, "suggests a knot at the other end");
	for (int k = 1; k <= bed->racket->half; k++) {
		int number = bed->racket->main_hole[end][k];
		bool better = outward ? number < chosen : number < near && number > chosen;
		bool room = has_room(bed, suggestion->side, end, number) &&
			    (!alike || has_room(bed, other_side(suggestion->side), end, number));
		if (better && number != near && room)
			wrong(bed, "suggests %d at the %s near %d, but %d has room", chosen,
			      end_names[end], near, number);
	}
}

/* The call that begins with this move, if it was given up; else NULL. */
static const struct call *call_given_up(const struct sequence *sequence, int move)
{
	for (int i = 0; i < sequence->call_count; i++)
		if (sequence->calls[i].abandoned && sequence->calls[i].first == move)
			return &sequence->calls[i];
	return NULL;
}

static struct bed_strings strings_of(const struct strung_bed *bed)
{
	struct bed_strings strings = {0};

	for (enum working_end on = 0; on < WORKING_ENDS; on++) {
		const struct strand *strand = &bed->strands[on];
		for (int i = 0; i < strand->count; i++) {
			const struct pass *pass = &strand->passes[i];
			uint64_t bit = UINT64_C(1) << pass->number;
			bool cross = pass->kind == STRING_CROSS;
			*(cross ? &strings.in.crosses : &strings.in.mains[on]) |= bit;
			if (i < strand->tensioned)
				*(cross ? &strings.tensioned.crosses
					: &strings.tensioned.mains[on]) |= bit;
		}
	}
	return strings;
}

/* After the last move of a call the program knows which strings are in and under tension. Those
 * that broke it takes for cut out at once. */
static void check_strings(struct strung_bed *bed, const struct bed_strings *said)
{
	const struct sequence *sequence = bed->sequence;
	struct bed_strings is = strings_of(bed);
	int call = 0;

	while (call < sequence->call_count && sequence->calls[call].last != bed->at)
		call++;
	if (call == sequence->call_count)
		return;
	bool broke = false;
	for (int i = 0; i <= call; i++) {
		broke |= sequence->calls[i].lost != LOSS_NONE;
		for (int at = sequence->calls[i].first; at <= sequence->calls[i].last; at++)
			broke &= sequence->moves[at].action != DO_CUT_OUT;
	}
	said = &said[call + 1];
	if (memcmp(&said->tensioned, &is.tensioned, sizeof(is.tensioned)) != 0 ||
	    (!broke && memcmp(&said->in, &is.in, sizeof(is.in)) != 0))
		wrong(bed, "not the strings that the program takes to be in and tensioned");
}

static char *fault_of(const struct sequence *sequence, const struct racket *racket,
		      const struct bed_strings *said)
{
	struct strung_bed *bed = memory_new(1, sizeof(*bed));

	bed->sequence = sequence;
	bed->racket = racket;
	bed->first_end = -1;
	for (int i = 0; i < CLAMPS; i++)
		bed->clamps[i].on = NOWHERE;
	bed->head.on = NOWHERE;
	enum phase phase = PHASE_PREPARE;
	for (int i = 0; i < sequence->call_count; i++)
		bed->gave_up = sequence->calls[i].abandoned ? i + 1 : bed->gave_up;
	for (bed->at = 0; bed->at < sequence->move_count && !bed->fault; bed->at++) {
		const struct call *call = call_given_up(sequence, bed->at);
		if (call) {
			bed->way_back = true;
			bed->gave_up_last = (int)(call - sequence->calls);
			look_for_break(bed, call->last + 1);
			bed->at = call->last;
			continue;
		}
		check_phase(bed, phase);
		phase = this_move(bed)->phase;
		follow(bed);
		if (said)
			check_strings(bed, said);
	}
	bed->at = sequence->move_count - 1;
	check_all_tensioned(bed);
	check_interlaced(bed);
	check_ends(bed);
	check_looks_at_end(bed);
	for (int i = 0; i < bed->suggestion_count && !bed->fault && !bed->way_back; i++)
		check_suggestion(bed, &bed->suggestions[i]);
	char *fault = bed->fault;
	free(bed);
	return fault;
}

char *bed_fault(const struct sequence *sequence, const struct racket *racket)
{
	return fault_of(sequence, racket, NULL);
}

char *bed_and_strings_fault(const struct sequence *sequence, const struct racket *racket)
{
	struct bed_strings *said = sequence_bed_strings(sequence);
	char *fault = fault_of(sequence, racket, said);

	free(said);
	return fault;
}
