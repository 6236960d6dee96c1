/* The way back when something goes wrong (common practice, no published source): strings come out
 * in the reverse order of work, each let down slowly while another clamp holds what stays. */
#include "sequence/internal.h"

#include <stdlib.h>
#include <string.h>

static bool refuse(const struct builder *builder, const char *code, const char *text)
{
	builder_fault(builder, FAULT_ERROR, (struct position){0}, code, "%s", text);
	return false;
}

/* ---- Where the job stands ---- */

static void *copy_of(const void *items, int count, size_t size)
{
	void *copy = memory_new((size_t)count, size);

	return memcpy(copy, items, (size_t)count * size);
}

/* Everything up to the call under work, which is given up. */
static void follow_done(struct builder *builder, const struct sequence *before, int call)
{
	struct sequence *sequence = builder->sequence;

	*sequence = *before;
	if (before->route)
		sequence->route = copy_of(before->route, 1, sizeof(*before->route));
	sequence->call_count = builder->call_capacity = call + 1;
	sequence->move_count = builder->move_capacity = before->calls[call].last + 1;
	sequence->calls = copy_of(before->calls, sequence->call_count, sizeof(struct call));
	sequence->moves = copy_of(before->moves, sequence->move_count, sizeof(struct move));
	sequence->calls[call].abandoned = true;
	builder_plan(builder);
	for (int i = 0; i <= call; i++)
		builder_follow_call(builder, &sequence->calls[i]);
	sequence->undone = 0;
	builder->phase = sequence->moves[sequence->move_count - 1].phase;
}

/* ---- Strings that come out ---- */

/* What a call that was given up was bringing in comes out first, as far as it is in. */
static void take_out_begun(struct builder *builder)
{
	const struct call begun = builder->sequence->calls[builder->begun - 1];

	for (int i = begun.first; i <= begun.last; i++) {
		struct move move = builder->sequence->moves[i];
		const struct strand *strand = strand_of(builder, &move);
		if ((move.action != DO_FEED && move.action != DO_WEAVE) ||
		    string_place(strand, &move) <= strand->in)
			continue;
		move = move_like(&move, DO_TAKE_OUT);
		builder_single(builder, CALL_TAKE_OUT_BEGUN, &move);
	}
}

/* The strings of a strand beyond the first so many. */
static void take_out_to(struct builder *builder, const struct strand *strand, int keep)
{
	while (strand->in > keep) {
		struct move move = string_move(DO_TAKE_OUT, &strand->steps[strand->in - 1]);
		builder_single(builder, CALL_TAKE_OUT, &move);
		builder->sequence->undone++;
	}
}

/* The pull that tensioned the string of this clamp, to be done again; the machine is set for it. */
static struct move pull_again(struct builder *builder, const struct grip *clamp)
{
	const struct sequence *sequence = builder->sequence;
	int at = sequence->move_count - 1;

	while (sequence->moves[at].action != DO_PULL ||
	       sequence->moves[at].string != clamp->move.string ||
	       sequence->moves[at].number != clamp->move.number ||
	       strand_of(builder, &sequence->moves[at]) != clamp->strand)
		at--;
	struct move pull = sequence->moves[at];
	builder->phase = pull.phase;
	return pull;
}

/* Takes the last string of a strand in the tension head and lets it down slowly, down to the clamp
 * before it. `hold`: moves the clamp to this string. */
static void let_down(struct builder *builder, const struct strand *strand, const struct step *hold)
{
	const struct grip *clamp = furthest_clamp(builder, strand);
	struct move pull = pull_again(builder, clamp);
	struct move down = move_like(&pull, DO_LET_DOWN);

	builder_tension(builder, &strand->steps[clamp->place - 1]);
	builder_call(builder, CALL_LET_DOWN);
	builder_pull(builder, &pull);
	builder_unclamp(builder, CALL_UNCLAMP, clamp);
	if (hold) {
		struct move move = string_move(DO_CLAMP, hold);
		builder_clamp(builder, CALL_HOLD, &move);
	}
	builder_add(builder, CALL_LET_DOWN, &down);
	builder_subject(builder);
}

/* The end of a strand comes out of the hole of its last knot. */
static void untie(struct builder *builder, const struct strand *strand)
{
	const struct step *last = &strand->steps[strand->count - 1];
	struct move move = string_move(DO_UNTIE, last);

	if (!strand->led)
		return;
	builder->phase = last->phase;
	if (!furthest_clamp(builder, strand)) {
		builder_set_clamps(builder, last->string);
		builder_call(builder, CALL_HOLD);
		builder_clamp(builder, CALL_HOLD, &move);
	}
	move.hole = builder->sequence->tie_off[last_knot(builder, strand)][last->exit];
	builder_single(builder, CALL_UNTIE, &move);
}

static void untie_start_knot(struct builder *builder)
{
	const struct step *first = builder->crosses->steps;
	struct move move = string_move(DO_UNTIE, first);

	if (!builder->start_knot)
		return;
	move.side = first->entry;
	move.hole = builder->sequence->tie_off[TIE_OFF_CROSS_START][first->entry];
	move.start = true;
	builder_single(builder, CALL_UNTIE_START, &move);
}

static void clamp_off(struct builder *builder, const struct grip *clamp)
{
	builder_call(builder, CALL_CLAMP_OFF);
	builder_unclamp(builder, CALL_CLAMP_OFF, clamp);
}

/* ---- Mains ---- */

/* Back to the start: with main 1 of one side, that of the other goes slack. */
static void undo_centre(struct builder *builder, enum side side)
{
	enum side first = builder->strands[side].tensioned ? side : other_side(side);

	if (builder->strands[first].tensioned)
		let_down(builder, &builder->strands[first], NULL);
	for (int i = 0; i < GRIPS; i++)
		if (builder->clamps[i].strand)
			clamp_off(builder, &builder->clamps[i]);
	take_out_to(builder, &builder->strands[first], 0);
	take_out_to(builder, &builder->strands[other_side(first)], 0);
}

/* Of the sides that come back, always the outermost main, so that neither gets further ahead. */
static void undo_mains(struct builder *builder, enum side side, const int keep[2])
{
	enum side other = other_side(side);

	for (;;) {
		int own = builder->strands[side].tensioned, far = builder->strands[other].tensioned;
		if (own <= keep[side] && far <= keep[other])
			break;
		bool turn = own > keep[side] && (own >= far || far <= keep[other]);
		struct strand *strand = &builder->strands[turn ? side : other];
		int main = strand->tensioned;
		let_down(builder, strand, &strand->steps[main - 2]);
		take_out_to(builder, strand, main - 1);
	}
}

/* ---- Crosses ---- */

/* Of two clamps on the crosses' strand, the one that is not needed comes off: neither the furthest
 * nor that of the string that holds what stays. */
static void free_clamp(struct builder *builder, int hold)
{
	const struct grip *furthest = furthest_clamp(builder, builder->crosses);

	for (int i = 0; i < GRIPS; i++) {
		const struct grip *grip = &builder->clamps[i];
		if (grip->strand == builder->crosses && grip != furthest && grip->place != hold)
			clamp_off(builder, grip);
	}
}

/* Steps come out from this one on, and with it crosses that were pulled together with it: first
 * what is not pulled. What stays is held by its last string, or by the starting knot. */
static void undo_steps(struct builder *builder, int index)
{
	struct strand *strand = builder->crosses;
	int from = builder->mains_before; /* where the run begins that the step is in */
	int pulled = strand->tensioned > from ? strand->tensioned : from;

	while (from + run_length(builder, from) <= index)
		from += run_length(builder, from);
	bool together = index < pulled && index < from + first_pull_of(builder, from);
	int keep = together ? from : index;

	take_out_to(builder, strand, pulled > keep ? pulled : keep);
	builder->phase = PHASE_CROSSES;
	free_clamp(builder, pulled > keep ? keep : 0);
	if (pulled <= keep)
		return;
	if (keep > 0 && !clamp_at(builder, strand, keep)) {
		struct move hold = string_move(DO_CLAMP, &strand->steps[keep - 1]);
		hold.phase = PHASE_CROSSES;
		builder_set_clamps(builder, hold.string);
		builder_whole_call(builder, CALL_HOLD);
		builder_clamp(builder, CALL_HOLD, &hold);
	}
	let_down(builder, strand, NULL);
	take_out_to(builder, strand, keep);
}

/* ---- Strings again ---- */

static int lesser(int a, int b)
{
	return a < b ? a : b;
}

/* The mains that are to come out, and those outside them. Main 1 comes out at the end, of both
 * sides; neither side may be ahead by more than `lead`. */
static void redo_mains(struct builder *builder, const int first[2])
{
	int lead = job_lead(builder->sequence->job);
	int half = pattern_half(builder->sequence->pattern);
	int keep[2] = {half, half};

	untie_start_knot(builder);
	builder->phase = PHASE_MAINS;
	builder_set_clamps(builder, STRING_MAIN);
	builder->any_set[STRING_CROSS] = false;
	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		int before = first[side] - 1;
		if (before < 0)
			continue;
		keep[side] = lesser(keep[side], before > 1 ? before : 1);
		keep[other_side(side)] = lesser(keep[other_side(side)], before ? before + lead : 1);
	}
	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		const struct strand *strand = &builder->strands[side];
		take_out_to(builder, strand, strand->tensioned ? strand->tensioned : 1);
		if (strand->tensioned > keep[side] || !strand->tied)
			untie(builder, strand);
	}
	undo_mains(builder, keep[SIDE_LEFT] < keep[SIDE_RIGHT] ? SIDE_LEFT : SIDE_RIGHT, keep);
	if (first[SIDE_LEFT] == 1 || first[SIDE_RIGHT] == 1)
		undo_centre(builder, first[SIDE_LEFT] == 1 ? SIDE_LEFT : SIDE_RIGHT);
}

/* Takes out the strings that are to come out, and what came after them. */
static void take_out_marked(struct builder *builder)
{
	struct strand *crosses = builder->crosses;
	int first[2]; /* mains by side; 0: none. A delayed one is among the crosses. */
	int step = crosses->redo - 1;

	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		int redo = builder->strands[side].redo;
		first[side] = redo <= mains_in_a_row(builder->sequence, side) ? redo : 0;
	}
	bool mains = first[SIDE_LEFT] || first[SIDE_RIGHT];
	if (!mains && step < 0)
		return;
	if (builder->begun)
		take_out_begun(builder);
	builder_hold(builder);
	if (crosses->in == crosses->count)
		untie(builder, crosses);
	if (crosses->in > builder->mains_before)
		undo_steps(builder, mains ? builder->mains_before : step);
	if (mains)
		redo_mains(builder, first);
}

static bool redo_string(struct builder *builder, const struct mishap *redo)
{
	struct strings in = strings_in(builder);
	bool cross = redo->string == STRING_CROSS;
	struct sequence *sequence = builder->sequence;
	struct call *given_up = &sequence->calls[sequence->call_count - 1];
	int most = cross ? sequence->pattern->crosses : pattern_half(sequence->pattern);

	if (!cross && in.crosses)
		return refuse(builder, "redo-main",
			      "with crosses in the bed a main cannot be strung again: cut the bed "
			      "out and begin anew, as after a broken main");
	if (redo->number > most) {
		builder_fault(builder, FAULT_ERROR, (struct position){0}, "redo-string",
			      "there is no %s %d: this frame has %d%s", string_names[redo->string],
			      redo->number, most, cross ? " crosses" : " mains a side");
		return false;
	}
	if (!(*strings_with(&in, redo->string, redo->side) >> redo->number & 1))
		return refuse(builder, "redo-string",
			      "that string is not in yet: go on, or name one that is");
	if (cross && builder->crosses->tied)
		return refuse(builder, "redo-knot",
			      "the last knot is tied, so no cross can be drawn out any more: cut "
			      "the crosses out, as after a broken string");
	given_up->redo = *redo;
	builder_follow_call(builder, given_up);
	return true;
}

/* ---- A clamp slipped ---- */

/* The clamp that holds the string pulled last. While its end is led through the hole of a knot, it
 * cannot be pulled again. */
static const struct grip *clamp_that_slipped(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;

	for (int i = sequence->move_count - 1; i >= 0; i--) {
		const struct move *move = &sequence->moves[i];
		const struct strand *strand = strand_of(builder, move);
		const struct grip *grip = furthest_clamp(builder, strand);
		if (move->action == DO_PULL && grip && grip->place == strand->tensioned &&
		    !strand->led)
			return grip;
	}
	return NULL;
}

/* The string is pulled again, unless the tension head holds it anyway. A slip is mostly seen at the
 * release: that may be done, and is then not to be relied on. */
static bool clamp_again(struct builder *builder, const struct call *given_up)
{
	if (given_up->kind == CALL_RELEASE)
		builder_release(builder);
	const struct grip *clamp = clamp_that_slipped(builder);
	const struct grip *head = &builder->head;

	if (!clamp && !head->strand)
		return refuse(builder, "slipped-none",
			      "no clamp holds a string now: if one came loose, look which, and "
			      "redo that string");
	if (!head->strand) {
		struct move pull = pull_again(builder, clamp);
		builder_set_clamps(builder, pull.string);
		builder_tension(builder, &clamp->strand->steps[clamp->place - 1]);
		builder_call(builder, CALL_PULL_AGAIN);
		builder_pull(builder, &pull);
		builder_subject(builder);
	}
	clamp = clamp_at(builder, head->strand, head->place);
	if (clamp)
		builder_unclamp(builder, CALL_UNCLAMP, clamp);
	builder_add(builder, CALL_CLEAN_CLAMP,
		    &(struct move){.action = DO_CLEAN, .subject = SUBJECT_CLAMP});
	builder_hold(builder);
	builder_chore(builder, CALL_WATCH_CLAMP, DO_CHECK, SUBJECT_CLAMP);
	return true;
}

/* ---- A string broke ---- */

/* The clamps and the tension head come off what has no tension any more; what is left of it is cut
 * out. */
static void cut_out(struct builder *builder, bool bed)
{
	enum call_kind kind = bed ? CALL_CUT_OUT_BED : CALL_CUT_OUT_CROSSES;
	struct move move = {.action = DO_CUT_OUT, .subject = bed ? SUBJECT_BED : SUBJECT_CROSSES};

	builder_call(builder, kind);
	builder_release(builder);
	for (int i = 0; i < GRIPS; i++)
		if (builder->clamps[i].strand)
			builder_unclamp(builder, CALL_CLAMP_OFF, &builder->clamps[i]);
	builder_add(builder, kind, &move);
	builder_subject(builder);
}

/* The length under work: the crosses', or all. */
static bool begin_anew(struct builder *builder)
{
	struct sequence *sequence = builder->sequence;
	bool crosses = strings_in(builder).crosses || builder->start_knot;
	bool bed = !crosses || sequence->route;
	enum loss lost = bed ? LOSS_BED : LOSS_CROSSES;

	if (builder->strands[SIDE_LEFT].in == 0)
		return refuse(builder, "broke-string",
			      "that string is not in the bed: take a new one and go on");
	sequence->calls[sequence->call_count - 1].lost = lost;
	builder_lose(builder, lost);
	cut_out(builder, bed);
	if (bed) {
		builder->phase = PHASE_MAINS;
		builder_set_clamps(builder, STRING_MAIN);
	}
	builder->phase = PHASE_PREPARE;
	if (bed)
		builder_chore(builder, CALL_INSPECT_FRAME, DO_INSPECT, SUBJECT_FRAME);
	build_cuts(builder, bed, crosses);
	if (!builder->mounted)
		build_mounting(builder);
	if (bed)
		builder_tension(builder, builder->strands[sequence->job->first_side].steps);
	return true;
}

/* ---- All of them ---- */

static bool go_back(struct builder *builder, const struct mishap *mishap)
{
	const struct sequence *sequence = builder->sequence;
	const struct call given_up = sequence->calls[sequence->call_count - 1];
	bool good;

	if (builder->cutting)
		good = refuse(builder, "broke-cut",
			      "what broke is not cut out yet: go on until it is");
	else if (mishap->kind == MISHAP_SLIPPED)
		good = clamp_again(builder, &given_up);
	else if (mishap->kind == MISHAP_REDO)
		good = redo_string(builder, mishap);
	else
		good = begin_anew(builder);
	if (!good)
		return false;
	take_out_marked(builder);
	build_mains(builder);
	build_crosses(builder);
	build_finish(builder);
	return true;
}

struct sequence *sequence_go_back(const struct sequence *before, int call,
				  const struct mishap *mishap, struct faults *faults)
{
	struct sequence *sequence = memory_new(1, sizeof(*sequence));
	struct builder builder = {.sequence = sequence, .faults = faults};

	follow_done(&builder, before, call);
	if (go_back(&builder, mishap))
		return sequence;
	sequence_free(sequence);
	return NULL;
}
