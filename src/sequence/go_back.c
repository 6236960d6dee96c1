/* The way back when something goes wrong (common practice, no published source): strings come out
 * in the reverse order of work, each let down slowly while another clamp holds what stays. */
#include "sequence/internal.h"

#include "base/base.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static enum phase phase_now(const struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;

	return sequence->moves[sequence->move_count - 1].phase;
}

static bool refuse(struct builder *builder, const char *code, const char *text)
{
	fault_add(builder->faults, FAULT_ERROR, builder->sequence->job->file, (struct position){0},
		  code, "%s", text);
	return false;
}

/* A move like this one, of the same string. */
static struct move like(const struct move *move, enum action action, enum phase phase)
{
	return (struct move){
		.action = action,
		.phase = phase,
		.has_string = true,
		.string = move->string,
		.number = move->number,
		.has_side = true,
		.side = move->side,
		.hole = move->hole,
	};
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

static void take_out_main(struct builder *builder, enum side side, int main)
{
	take_out(builder, main_move(builder->sequence, DO_TAKE_OUT, side, main));
}

static void take_out_steps(struct builder *builder, int keep)
{
	while (builder->steps_in > keep)
		take_out(builder, step_move(DO_TAKE_OUT, &builder->steps[builder->steps_in - 1]));
}

/* A string that the tension head holds is clamped first, as it would have been. */
static void clear_head(struct builder *builder)
{
	const struct grip head = builder->holding.head;
	enum phase phase = head.move.phase;

	if (head.strand == NO_STRAND)
		return;
	builder_call(builder, CALL_HOLD);
	for (int i = 0; i < GRIPS; i++) {
		const struct grip *grip = &builder->holding.clamps[i];
		bool behind = grip->strand == head.strand &&
			      (grip->first_hold || grip->place < head.place);
		if (behind)
			builder_unclamp(builder, CALL_UNCLAMP, grip);
	}
	struct move move = like(&head.move, DO_CLAMP, phase);
	if (!holding_clamp_at(&builder->holding, head.strand, head.place))
		builder_clamp(builder, CALL_CLAMP, &move);
	move = like(&head.move, DO_RELEASE, phase);
	move.hole.number = 0;
	builder_add(builder, CALL_RELEASE, &move);
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
	struct move down = like(&pull, DO_LET_DOWN, pull.phase);

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
	struct move move = like(last, DO_UNTIE, last->phase);

	if (!builder->led[strand])
		return;
	if (!holding_clamp(&builder->holding, strand)) {
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

static void clamps_for_mains(struct builder *builder)
{
	if (builder->clamps_set && builder->sequence->job->machine.clamps == CLAMPS_GLIDE_BAR)
		builder_chore(builder, CALL_SET_CLAMPS, PHASE_MAINS, DO_SET_CLAMPS, SUBJECT_MAINS);
	builder->clamps_set = false;
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

	if (index < pulled)
		return index < from + together ? from : index;
	return index < most_in(builder) ? index : most_in(builder);
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
		builder_whole_call(builder, CALL_HOLD);
		builder_clamp(builder, CALL_HOLD, &hold);
	}
	let_down(builder, strand, NULL);
	take_out_steps(builder, keep);
}

static bool redo_cross(struct builder *builder, const struct mishap *mishap)
{
	enum strand strand = strand_of_crosses(builder);
	int index = step_index(builder, STRING_CROSS, mishap->number);

	if (index >= builder->steps_in)
		return refuse(builder, "redo-string",
			      "that cross is not woven yet: go on, or name one that is");
	if (builder->holding.tied[strand])
		return refuse(builder, "redo-knot",
			      "the last knot is tied, so no cross can be drawn out any more: cut "
			      "the crosses out, as after a broken string");
	clear_head(builder);
	if (builder->led[strand]) {
		const struct step *last = &builder->steps[builder->step_count - 1];
		struct move end = step_move(DO_CLAMP, last);
		untie(builder, &end, builder->tie_off[TIE_OFF_CROSS_END][last->exit]);
	}
	undo_steps(builder, steps_to_keep(builder, index));
	return true;
}

/* --- A main again --- */

static bool redo_main(struct builder *builder, const struct mishap *mishap)
{
	const struct sequence *sequence = builder->sequence;
	enum side side = mishap->side, other = other_side(side);
	int before = mishap->number - 1;
	bool delayed = before == mains_in_a_row(sequence, side) && builder->steps_in > 0;

	if (builder->woven)
		return refuse(builder, "redo-main",
			      "with crosses in the bed a main cannot be strung again: cut the bed "
			      "out and begin anew, as after a broken main");
	if (before < 0 || (!delayed && mishap->number > builder->fed[side]))
		return refuse(builder, "redo-string",
			      "that main is not in yet: go on, or name one that is");
	clear_head(builder);
	if (builder->steps_in > 0)
		undo_steps(builder, 0);
	if (delayed)
		return true;
	untie_start_knot(builder);
	clamps_for_mains(builder);
	builder->any_set[STRING_CROSS] = false;
	int lead = job_lead(sequence->job);
	int least = before > 1 ? before : 1; /* main 1 comes out at the end, of both sides */
	int far = before ? before + lead : 1;
	int keep[2];
	keep[side] = least;
	keep[other] = far;
	for (enum side each = SIDE_LEFT; each <= SIDE_RIGHT; each++) {
		int pulled = mains_pulled(builder, each);
		struct move last = main_move(sequence, DO_CLAMP, each, pulled ? pulled : 1);
		if (builder->fed[each] > pulled && builder->fed[each] > 1)
			take_out_main(builder, each, builder->fed[each]);
		if (pulled > keep[each] || !builder->holding.tied[each])
			untie(builder, &last, builder->tie_off[TIE_OFF_MAINS][each]);
	}
	undo_mains(builder, side, keep);
	if (before == 0)
		undo_centre(builder, side);
	return true;
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

/* The string is pulled again; or is in the tension head anyway. */
static void pull_slipped(struct builder *builder, const struct grip *clamp)
{
	struct move slipped = clamp->move;
	struct move pull = pull_again(builder, &slipped);
	struct move release = like(&pull, DO_RELEASE, pull.phase);

	slipped.phase = pull.phase;
	builder_tension(builder, pull.phase, pull.string, pull.number, pull.side);
	builder_call(builder, CALL_PULL_AGAIN);
	builder_pull(builder, &pull);
	builder_subject(builder);
	builder_unclamp(builder, CALL_UNCLAMP, clamp);
	clean_clamp(builder);
	builder_clamp(builder, CALL_CLAMP, &slipped);
	release.hole.number = 0;
	builder_add(builder, CALL_RELEASE, &release);
}

static bool is_set_so(const struct builder *builder, const struct move *setting)
{
	return quantity_same(setting->tension, builder->setting.tension) &&
	       setting->tension.unit == builder->setting.tension.unit &&
	       fabs(setting->prestretch - builder->setting.prestretch) < 1e-6;
}

/* The pull that comes next with the machine as it was set; NULL: it is set anew before. */
static const struct move *next_pull(const struct sequence *sequence, int from)
{
	for (int i = from; i < sequence->move_count; i++) {
		if (sequence->moves[i].action == DO_SET_TENSION)
			return NULL;
		if (sequence->moves[i].action == DO_PULL)
			return &sequence->moves[i];
	}
	return NULL;
}

/* The machine and the frame as the rest of the job expects them; `next` may be NULL. */
static void set_back(struct builder *builder, const struct builder *was, const struct move *next)
{
	struct move turn = was->facing, setting = was->setting;
	bool same = is_set_so(builder, &setting);

	if (next && !same) {
		setting.subject = next->string == STRING_CROSS ? SUBJECT_CROSSES : SUBJECT_MAINS;
		setting.phase = next->phase;
		setting.number = setting.through = 0;
		builder_whole_call(builder, CALL_SET_TENSION);
		builder_add(builder, CALL_SET_TENSION, &setting);
	}
	if (builder->sequence->job->detail != DETAIL_LEARNER ||
	    builder_faces(&turn, &builder->facing))
		return;
	turn.action = DO_TURN;
	turn.tension = (struct quantity){0};
	turn.pulls_first = turn.pulls_last = 0;
	builder_whole_call(builder, CALL_TURN);
	builder_add(builder, CALL_TURN, &turn);
}

/* A setting that was to come, and that the machine has now. It is not said again for the same
 * strings. */
static void copy_setting(struct builder *builder, const struct move *setting)
{
	struct move move = *setting;

	if (is_set_so(builder, setting)) {
		if (setting->subject == builder->setting.subject && !setting->as_set)
			return;
		move.as_set = true;
	}
	builder_whole_call(builder, CALL_SET_TENSION);
	builder_add(builder, CALL_SET_TENSION, &move);
}

/* The call under work and all after it, as they were. */
static void copy_rest(struct builder *builder, const struct sequence *before, int from)
{
	for (int i = from; i < before->call_count; i++) {
		const struct call *call = &before->calls[i];
		if (call->kind == CALL_SET_TENSION) {
			copy_setting(builder, &before->moves[call->first]);
			continue;
		}
		builder_whole_call(builder, call->kind);
		int first = builder->sequence->move_count;
		for (int at = call->first; at <= call->last; at++)
			builder_add(builder, call->kind, &before->moves[at]);
		struct call *copy = &builder->sequence->calls[builder->sequence->call_count - 1];
		copy->subject = first + call->subject - call->first;
	}
}

static bool go_on_after_slip(struct builder *builder, const struct sequence *before, int call)
{
	const struct grip *clamp = clamp_that_slipped(builder);
	const struct builder was = *builder;
	const struct grip *head = &builder->holding.head;

	if (!clamp && head->strand == NO_STRAND)
		return refuse(
			builder, "slipped-none",
			"no clamp holds a string now: if one came loose, look which, and redo "
			"that string");
	if (head->strand == NO_STRAND) {
		pull_slipped(builder, clamp);
	} else {
		const struct grip held = *head;
		const struct grip *on =
			holding_clamp_at(&builder->holding, held.strand, held.place);
		struct move again = like(&held.move, DO_CLAMP, phase_now(builder));
		if (on) {
			again = on->move;
			builder_call(builder, CALL_CLEAN_CLAMP);
			builder_unclamp(builder, CALL_UNCLAMP, on);
		}
		builder_call(builder, CALL_CLEAN_CLAMP);
		clean_clamp(builder);
		if (on)
			builder_clamp(builder, CALL_CLAMP, &again);
	}
	builder_chore(builder, CALL_WATCH_CLAMP, phase_now(builder), DO_CHECK, SUBJECT_CLAMP);
	set_back(builder, &was, next_pull(before, before->calls[call].first));
	int rest = builder->sequence->move_count;
	copy_rest(builder, before, call);
	builder_name_changes(builder, before->calls[call].last + 1, rest);
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
		struct move release = like(&holding->head.move, DO_RELEASE, move.phase);
		release.hole.number = 0;
		builder_add(builder, CALL_RELEASE, &release);
	}
	for (int i = 0; i < GRIPS; i++)
		if (holding->clamps[i].strand != NO_STRAND)
			builder_unclamp(builder, CALL_CLAMP_OFF, &holding->clamps[i]);
	builder_add(builder, kind, &move);
	builder_subject(builder);
}

static bool is_in(const struct builder *builder, const struct mishap *mishap)
{
	if (mishap->string == STRING_CROSS)
		return builder->woven >> mishap->number & 1;
	return mishap->number <= builder->fed[mishap->side] ||
	       (builder->all_in && builder->steps_in > 0 &&
		mishap->number <= pattern_half(builder->sequence->pattern));
}

static bool begin_anew(struct builder *builder, const struct mishap *mishap)
{
	bool crosses = builder->woven || builder->start_knot;
	bool known = mishap->number > 0;
	bool only_crosses =
		!builder->sequence->route && (known ? mishap->string == STRING_CROSS : crosses);

	if (builder->fed[SIDE_LEFT] == 0 || (known && !is_in(builder, mishap)))
		return refuse(builder, "broke-string",
			      "that string is not in the bed: take a new one and go on");
	enum loss lost = only_crosses ? LOSS_CROSSES : LOSS_BED;
	builder->sequence->calls[builder->sequence->call_count - 1].lost = lost;
	stand_lose(builder, lost);
	cut_out(builder, !only_crosses);
	if (!only_crosses) {
		clamps_for_mains(builder);
		builder_chore(builder, CALL_INSPECT_FRAME, PHASE_PREPARE, DO_INSPECT,
			      SUBJECT_FRAME);
	}
	build_cuts(builder, !only_crosses, crosses || only_crosses);
	if (!builder->mounted)
		build_mounting(builder);
	if (!only_crosses)
		builder_tension(builder, PHASE_PREPARE, STRING_MAIN, 1,
				builder->sequence->job->first_side);
	return true;
}

/* --- All of them --- */

static bool undo(struct builder *builder, const struct mishap *mishap)
{
	if (mishap->kind == MISHAP_BROKE)
		return begin_anew(builder, mishap);
	return mishap->string == STRING_MAIN ? redo_main(builder, mishap)
					     : redo_cross(builder, mishap);
}

static bool go_back(struct builder *builder, const struct sequence *before, int call,
		    const struct mishap *mishap)
{
	struct sequence *sequence = builder->sequence;
	int done = sequence->move_count;

	if (builder->cutting)
		return refuse(builder, "broke-cut",
			      "what broke is not cut out yet: go on until it is");
	if (mishap->kind == MISHAP_SLIPPED)
		return go_on_after_slip(builder, before, call);
	if (!undo(builder, mishap))
		return false;
	build_mains(builder);
	build_crosses(builder);
	build_finish(builder);
	builder_name_changes(builder, done, sequence->move_count);
	return true;
}

static void say_unclear(const struct job *job, struct faults *faults)
{
	fault_add(faults, FAULT_ERROR, job->file, (struct position){0, 0}, "way-back-unclear",
		  "what holds the strings cannot be told here, where calls were stepped back over "
		  "an earlier repair: step on to the call that you are really at, or set it right "
		  "by hand and go on");
}

static bool follow_and_go_back(struct builder *builder, const struct sequence *before, int call,
			       const struct mishap *mishap)
{
	copy_done(builder, before, call);
	stand_begin(builder);
	settle_again(builder);
	stand_where_it_stands(builder);
	return go_back(builder, before, call, mishap);
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
		say_unclear(before->job, faults);
	struct sequence *sequence = builder->sequence;
	free(builder);
	if (good)
		return sequence;
	sequence_free(sequence);
	return NULL;
}
