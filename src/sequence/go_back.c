/* The way back when something goes wrong (common practice, no published source): strings come out
 * in the reverse order of work, each let down slowly while another clamp holds what stays. */
#include "sequence/internal.h"

#include "base/base.h"

#include <stdlib.h>
#include <string.h>

static enum phase phase_now(const struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;

	return sequence->moves[sequence->move_count - 1].phase;
}

static bool refuse(const struct builder *builder, const char *code)
{
	static const struct {
		const char *code;
		const char *text;
	} refusals[] = {
		{"redo-string", "that string is not in yet: go on, or name one that is"},
		{"redo-knot", "the last knot is tied, so no cross can be drawn out any more: cut "
			      "the crosses out, as after a broken string"},
		{"redo-main", "with crosses in the bed a main cannot be strung again: cut the bed "
			      "out and begin anew, as after a broken main"},
		{"slipped-none", "no clamp holds a string now: if one came loose, look which, and "
				 "redo that string"},
		{"broke-string", "that string is not in the bed: take a new one and go on"},
		{"broke-cut", "what broke is not cut out yet: go on until it is"},
		{"back-unclear", "what holds the strings cannot be told here, where calls were "
				 "stepped back over an earlier repair: step on to the call that "
				 "you are really at, or set it right by hand and go on"},
	};
	int i = 0;

	while (strcmp(refusals[i].code, code) != 0)
		i++;
	fault_add(builder->faults, FAULT_ERROR, builder->sequence->job->file, (struct position){0},
		  code, "%s", refusals[i].text);
	return false;
}

/* --- Where the job stands --- */

static void *copy_of(const void *items, int count, size_t size)
{
	void *copy = memory_new((size_t)count, size);

	return memcpy(copy, items, (size_t)count * size);
}

/* Everything up to the call under work, which is given up. */
static void copy_done(struct builder *builder, const struct sequence *before, int call)
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
}

/* The holes for knots are those chosen before: warnings of them have been given. */
static void settle_again(struct builder *builder)
{
	struct faults faults = {0}, *own = builder->faults;
	struct route *route = builder->sequence->route;

	builder->faults = &faults;
	if (!route)
		tie_offs_of_two_piece(builder);
	else if (tie_off_of_short_side(builder))
		tie_off_of_long_side(builder);
	builder->faults = own;
	faults_free(&faults);
}

static void stand_where_it_stands(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;

	for (int i = 0; i < sequence->call_count; i++)
		stand_follow(builder, &sequence->calls[i]);
	builder->sequence->undone[STRING_MAIN] = builder->sequence->undone[STRING_CROSS] = 0;
}

/* --- Strings that come out --- */

static void take_out(struct builder *builder, struct move move)
{
	move.action = DO_TAKE_OUT;
	builder_whole_call(builder, CALL_TAKE_OUT);
	builder_add(builder, CALL_TAKE_OUT, &move);
	builder->sequence->undone[move.string]++;
}

/* What the call that is given up was bringing in comes out first, as far as it is in. */
static void take_out_begun(struct builder *builder, const struct call *given_up)
{
	struct strings in = strings_in(builder);

	for (int i = given_up->first; i <= given_up->last; i++) {
		struct move move = builder->sequence->moves[i];
		bool is_in = *strings_with(&in, move.string, move.side) >> move.number & 1;
		if ((move.action != DO_FEED && move.action != DO_WEAVE) || is_in)
			continue;
		move = move_like(&move, DO_TAKE_OUT);
		move.begun = true;
		builder_whole_call(builder, CALL_TAKE_OUT_BEGUN);
		builder_add(builder, CALL_TAKE_OUT_BEGUN, &move);
	}
}

static void take_out_main(struct builder *builder, enum side side, int main)
{
	take_out(builder, main_move(builder->sequence, DO_TAKE_OUT, side, main));
}

static void take_out_steps(struct builder *builder, int keep)
{
	while (builder->steps_in > keep)
		take_out(builder, step_move(DO_TAKE_OUT, &builder->steps[builder->steps_in - 1]));
}

/* The pull that a string was tensioned by, to be done again. */
static struct move pull_again(const struct builder *builder, const struct move *string)
{
	const struct sequence *sequence = builder->sequence;
	int at = sequence->move_count - 1;

	while (sequence->moves[at].action != DO_PULL ||
	       sequence->moves[at].string != string->string ||
	       sequence->moves[at].number != string->number ||
	       strand_of(builder, &sequence->moves[at]) != strand_of(builder, string))
		at--;
	return sequence->moves[at];
}

/* Takes the last string of a strand in the tension head and lets it down slowly, down to the clamp
 * before it. `hold`: moves the clamp to this string. */
static void let_down(struct builder *builder, enum strand strand, const struct move *hold)
{
	const struct grip *clamp = holding_clamp(&builder->holding, strand);
	struct move pull = pull_again(builder, &clamp->move);
	struct move down = move_like(&pull, DO_LET_DOWN);

	builder_tension(builder, pull.phase, pull.string, pull.number, pull.side);
	builder_call(builder, CALL_LET_DOWN);
	builder_pull(builder, &pull);
	builder_unclamp(builder, CALL_UNCLAMP, clamp);
	if (hold)
		builder_clamp(builder, CALL_HOLD, hold);
	builder_add(builder, CALL_LET_DOWN, &down);
	builder_subject(builder);
}

/* The end of a strand comes out of the hole of its last knot. */
static void untie(struct builder *builder, const struct move *last, struct hole knot)
{
	enum strand strand = strand_of(builder, last);
	struct move move = move_like(last, DO_UNTIE);

	if (!builder->led[strand])
		return;
	if (!holding_clamp(&builder->holding, strand)) {
		builder_set_clamps(builder, last->phase, last->string);
		builder_call(builder, CALL_HOLD);
		builder_clamp(builder, CALL_HOLD, last);
	}
	move.hole = knot;
	builder_whole_call(builder, CALL_UNTIE);
	builder_add(builder, CALL_UNTIE, &move);
}

/* --- Mains --- */

static void untie_start_knot(struct builder *builder)
{
	struct move move = step_move(DO_UNTIE, builder->steps);

	if (!builder->start_knot)
		return;
	move.side = builder->steps[0].entry;
	move.hole = builder->tie_off[TIE_OFF_CROSS_START][move.side];
	move.start = true;
	builder_whole_call(builder, CALL_UNTIE_START);
	builder_add(builder, CALL_UNTIE_START, &move);
}

/* Back to the start: with main 1 of one side, that of the other goes slack. */
static void undo_centre(struct builder *builder, enum side side)
{
	enum side first = mains_pulled(builder, side) ? side : other_side(side);

	if (mains_pulled(builder, first))
		let_down(builder, (enum strand)first, NULL);
	for (int i = 0; i < GRIPS; i++) {
		if (builder->holding.clamps[i].strand == NO_STRAND)
			continue;
		builder_call(builder, CALL_CLAMP_OFF);
		builder_unclamp(builder, CALL_CLAMP_OFF, &builder->holding.clamps[i]);
	}
	for (int i = 0; i < 2; i++, first = other_side(first))
		if (builder->fed[first] > 0)
			take_out_main(builder, first, 1);
}

static void undo_main(struct builder *builder, enum side side)
{
	int main = mains_pulled(builder, side);
	struct move hold = main_move(builder->sequence, DO_CLAMP, side, main - 1);

	let_down(builder, (enum strand)side, &hold);
	take_out_main(builder, side, main);
}

static void undo_mains(struct builder *builder, enum side side, const int keep[2])
{
	int lead = job_lead(builder->sequence->job);
	enum side other = other_side(side);

	while (mains_pulled(builder, side) > keep[side] ||
	       mains_pulled(builder, other) > keep[other]) {
		int own = mains_pulled(builder, side), far = mains_pulled(builder, other);
		bool turn = own > keep[side] && (far - (own - 1) <= lead || far <= keep[other]);
		undo_main(builder, turn ? side : other);
	}
}

/* --- Crosses --- */

/* Where the run begins that a step is in, and how far it goes. */
static int run_start(const struct builder *builder, int index, int *end)
{
	int from = 0;

	*end = 0;
	while (*end <= index && *end < builder->step_count) {
		bool main = builder->steps[*end].string == STRING_MAIN;
		from = *end;
		*end += main ? 1 : run_length(builder, from);
	}
	return from;
}

/* How many steps may be in and not pulled, as the job would leave them: a way back that is given up
 * for another may have let down more. */
static int most_in(const struct builder *builder)
{
	int pulled = steps_pulled(builder), end;
	int from = run_start(builder, pulled, &end);
	int most = pulled + builder->sequence->job->behind;

	if (pulled == from && builder->steps[from].string == STRING_CROSS)
		most += first_pull_of(builder, from) - 1;
	return most < end ? most : end;
}

/* How many steps stay. Crosses that were pulled together come out together. */
static int steps_to_keep(const struct builder *builder, int index)
{
	int pulled = steps_pulled(builder), end;
	int from = run_start(builder, index, &end);
	bool main = builder->steps[from].string == STRING_MAIN;
	int together = main ? 1 : first_pull_of(builder, from);

	return index < pulled && index < from + together ? from : index;
}

/* Where the clamp goes that holds what stays. False: the starting knot holds it. */
static bool find_hold(const struct builder *builder, int keep, struct move *out)
{
	const struct sequence *sequence = builder->sequence;
	enum side side = sequence->job->weave_side;

	if (keep > 0)
		*out = step_move(DO_CLAMP, &builder->steps[keep - 1]);
	else if (sequence->route)
		*out = main_move(sequence, DO_CLAMP, side, mains_in_a_row(sequence, side));
	out->phase = PHASE_CROSSES;
	return keep > 0 || sequence->route;
}

/* Of two clamps on a strand, the one that is not needed comes off. */
static void free_clamp(struct builder *builder, const struct move *hold)
{
	enum strand strand = strand_of_crosses(builder);
	const struct grip *furthest = holding_clamp(&builder->holding, strand);

	for (int i = 0; i < GRIPS; i++) {
		const struct grip *grip = &builder->holding.clamps[i];
		bool needed =
			grip == furthest || (hold && grip->place == string_place(builder, hold));
		if (grip->strand != strand || needed)
			continue;
		builder_call(builder, CALL_CLAMP_OFF);
		builder_unclamp(builder, CALL_CLAMP_OFF, grip);
	}
}

/* Steps come out down to those that are kept: first what is not pulled. */
static void undo_steps(struct builder *builder, int keep)
{
	enum strand strand = strand_of_crosses(builder);
	int pulled = steps_pulled(builder);
	bool down = pulled > keep;
	struct move hold = {0};
	bool held = find_hold(builder, keep, &hold);

	take_out_steps(builder, down ? pulled : keep);
	free_clamp(builder, down && held ? &hold : NULL);
	if (!down)
		return;
	if (held && !holding_clamp_at(&builder->holding, strand, string_place(builder, &hold))) {
		builder_set_clamps(builder, PHASE_CROSSES, hold.string);
		builder_whole_call(builder, CALL_HOLD);
		builder_clamp(builder, CALL_HOLD, &hold);
	}
	let_down(builder, strand, NULL);
	take_out_steps(builder, keep);
}

/* --- Strings again --- */

/* The first main of a side that is to come out; 0: none. A delayed one is among the steps. */
static int first_main(const struct builder *builder, enum side side)
{
	uint64_t mains = builder->redo.mains[side];
	int first = mains ? __builtin_ctzll(mains) : 0;

	return first <= mains_in_a_row(builder->sequence, side) ? first : 0;
}

/* The first of the steps that is to come out. */
static int first_step(const struct builder *builder)
{
	struct strings redo = builder->redo;
	int index = 0;

	while (index < builder->steps_in) {
		const struct step *step = &builder->steps[index];
		if (*strings_with(&redo, step->string, step->entry) >> step->number & 1)
			break;
		index++;
	}
	return index;
}

static int lesser(int a, int b)
{
	return a < b ? a : b;
}

/* Main 1 comes out at the end, of both sides; neither side may be ahead by more than `lead`. */
static void redo_mains(struct builder *builder)
{
	const int first[2] = {first_main(builder, SIDE_LEFT), first_main(builder, SIDE_RIGHT)};
	int lead = job_lead(builder->sequence->job),
	    half = pattern_half(builder->sequence->pattern);
	int keep[2] = {half, half};

	untie_start_knot(builder);
	builder_set_clamps(builder, PHASE_MAINS, STRING_MAIN);
	builder->any_set[STRING_CROSS] = false;
	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		int before = first[side] - 1;
		if (before < 0)
			continue;
		keep[side] = lesser(keep[side], before > 1 ? before : 1);
		keep[other_side(side)] = lesser(keep[other_side(side)], before ? before + lead : 1);
	}
	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		int pulled = mains_pulled(builder, side);
		struct move last =
			main_move(builder->sequence, DO_CLAMP, side, pulled ? pulled : 1);
		if (builder->fed[side] > pulled && builder->fed[side] > 1)
			take_out_main(builder, side, builder->fed[side]);
		if (pulled > keep[side] || !builder->holding.tied[side])
			untie(builder, &last, builder->tie_off[TIE_OFF_MAINS][side]);
	}
	undo_mains(builder, keep[SIDE_LEFT] < keep[SIDE_RIGHT] ? SIDE_LEFT : SIDE_RIGHT, keep);
	if (first[SIDE_LEFT] == 1 || first[SIDE_RIGHT] == 1)
		undo_centre(builder, first[SIDE_LEFT] == 1 ? SIDE_LEFT : SIDE_RIGHT);
}

/* Takes out the strings that are to come out, and what came after them. */
static void take_out_marked(struct builder *builder)
{
	const struct step *last = &builder->steps[builder->step_count - 1];
	struct move end = step_move(DO_CLAMP, last);
	bool mains = first_main(builder, SIDE_LEFT) || first_main(builder, SIDE_RIGHT);
	int index = mains ? 0 : first_step(builder);

	if (!mains && index == builder->steps_in)
		return;
	builder_hold(builder);
	if (builder->steps_in == builder->step_count)
		untie(builder, &end, builder->tie_off[TIE_OFF_CROSS_END][last->exit]);
	if (builder->steps_in > 0)
		undo_steps(builder, steps_to_keep(builder, index));
	if (mains)
		redo_mains(builder);
}

/* --- A clamp slipped --- */

/* The clamp that holds the string pulled last. While its end is led through the hole of a knot, it
 * cannot be pulled again. */
static const struct grip *clamp_that_slipped(const struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	const struct holding *holding = &builder->holding;

	for (int i = sequence->move_count - 1; i >= 0; i--) {
		const struct move *move = &sequence->moves[i];
		enum strand strand = strand_of(builder, move);
		const struct grip *grip = holding_clamp(holding, strand);
		bool holds = grip && grip->place == holding->tensioned[strand];
		if (move->action == DO_PULL && holds && !builder->led[strand])
			return grip;
	}
	return NULL;
}

static void clean_clamp(struct builder *builder)
{
	struct move move = {
		.action = DO_CLEAN, .phase = phase_now(builder), .subject = SUBJECT_CLAMP};

	builder_add(builder, CALL_CLEAN_CLAMP, &move);
}

/* The string is pulled again, unless the tension head holds it anyway. */
static bool clamp_again(struct builder *builder)
{
	const struct grip *clamp = clamp_that_slipped(builder);
	const struct grip *head = &builder->holding.head;

	if (!clamp && head->strand == NO_STRAND)
		return false;
	if (head->strand == NO_STRAND) {
		struct move pull = pull_again(builder, &clamp->move);
		builder_set_clamps(builder, pull.phase, pull.string);
		builder_tension(builder, pull.phase, pull.string, pull.number, pull.side);
		builder_call(builder, CALL_PULL_AGAIN);
		builder_pull(builder, &pull);
		builder_subject(builder);
	}
	clamp = holding_clamp_at(&builder->holding, head->strand, head->place);
	if (clamp)
		builder_unclamp(builder, CALL_UNCLAMP, clamp);
	clean_clamp(builder);
	builder_hold(builder);
	builder_chore(builder, CALL_WATCH_CLAMP, phase_now(builder), DO_CHECK, SUBJECT_CLAMP);
	return true;
}

/* --- A string broke --- */

/* The clamps and the tension head come off what has no tension any more; what is left of it is cut
 * out. */
static void cut_out(struct builder *builder, bool bed)
{
	enum call_kind kind = bed ? CALL_CUT_OUT_BED : CALL_CUT_OUT_CROSSES;
	struct holding *holding = &builder->holding;
	struct move move = {.action = DO_CUT_OUT,
			    .phase = phase_now(builder),
			    .subject = bed ? SUBJECT_BED : SUBJECT_CROSSES};

	builder_call(builder, kind);
	if (holding->head.strand != NO_STRAND) {
		struct move release = move_like(&holding->head.move, DO_RELEASE);
		release.hole.number = 0;
		builder_add(builder, CALL_RELEASE, &release);
	}
	for (int i = 0; i < GRIPS; i++)
		if (holding->clamps[i].strand != NO_STRAND)
			builder_unclamp(builder, CALL_CLAMP_OFF, &holding->clamps[i]);
	builder_add(builder, kind, &move);
	builder_subject(builder);
}

/* The length under work: the crosses', or all. */
static bool begin_anew(struct builder *builder)
{
	bool crosses = builder->woven || builder->start_knot;
	bool only_crosses = crosses && !builder->sequence->route;

	if (builder->fed[SIDE_LEFT] == 0)
		return false;
	enum loss lost = only_crosses ? LOSS_CROSSES : LOSS_BED;
	builder->sequence->calls[builder->sequence->call_count - 1].lost = lost;
	stand_lose(builder, lost);
	cut_out(builder, !only_crosses);
	if (!only_crosses) {
		builder_set_clamps(builder, PHASE_MAINS, STRING_MAIN);
		builder_chore(builder, CALL_INSPECT_FRAME, PHASE_PREPARE, DO_INSPECT,
			      SUBJECT_FRAME);
	}
	build_cuts(builder, !only_crosses, crosses);
	if (!builder->mounted)
		build_mounting(builder);
	if (!only_crosses)
		builder_tension(builder, PHASE_PREPARE, STRING_MAIN, 1,
				builder->sequence->job->first_side);
	return true;
}

/* --- All of them --- */

static bool go_back(struct builder *builder, const struct mishap *mishap)
{
	struct sequence *sequence = builder->sequence;
	struct call *given_up = &sequence->calls[sequence->call_count - 1];
	const char *code = mishap->kind == MISHAP_REDO ? stand_refusal(builder, mishap)
			   : builder->cutting          ? "broke-cut"
						       : NULL;
	int done = sequence->move_count;

	if (code)
		return refuse(builder, code);
	if (mishap->kind == MISHAP_SLIPPED && !clamp_again(builder))
		return refuse(builder, "slipped-none");
	if (mishap->kind == MISHAP_BROKE && !begin_anew(builder))
		return refuse(builder, "broke-string");
	if (mishap->kind == MISHAP_REDO) {
		const struct call begun = *given_up;
		given_up->redo = *mishap;
		stand_follow(builder, given_up);
		take_out_begun(builder, &begun);
	}
	take_out_marked(builder);
	take_out_steps(builder, most_in(builder));
	build_mains(builder);
	build_crosses(builder);
	build_finish(builder);
	builder_name_changes(builder, done, sequence->move_count);
	return true;
}

static bool follow_and_go_back(struct builder *builder, const struct sequence *before, int call,
			       const struct mishap *mishap)
{
	copy_done(builder, before, call);
	stand_begin(builder);
	settle_again(builder);
	stand_where_it_stands(builder);
	return go_back(builder, mishap);
}

struct sequence *sequence_go_back(const struct sequence *before, int call,
				  const struct mishap *mishap, struct faults *faults)
{
	struct builder *builder = memory_new(1, sizeof(*builder));
	jmp_buf give_up;
	volatile bool good = false;

	builder->sequence = memory_new(1, sizeof(*builder->sequence));
	builder->faults = faults;
	builder->refuse = &give_up;
	if (setjmp(give_up) == 0)
		good = follow_and_go_back(builder, before, call, mishap);
	else
		refuse(builder, "back-unclear");
	struct sequence *sequence = builder->sequence;
	free(builder);
	if (good)
		return sequence;
	sequence_free(sequence);
	return NULL;
}
