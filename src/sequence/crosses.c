/* The strings after the mains, one after the other.
 *
 * Crosses that follow each other in the bed are a run. With first_pull f and behind d: weave f + d
 * crosses, pull 1 to f at once, then for each further cross c weave c and pull c - d; at the end of
 * the run pull what is left. While the cross before it is pulled, a woven cross is not drawn
 * through: its loop is what the tension head grips (common practice, no published source).
 *
 * In two-piece work all crosses are one run. A one-piece route may have several, and the delayed
 * main among them. Pulling behind eases the weaving beside a cross that is still slack, so it ends
 * with the run: before the string goes elsewhere, everything is pulled up, and what a break leads
 * to is woven beside strings that lie straight. Several are pulled at once only where the crosses
 * begin. */
#include "sequence/internal.h"

/* The mains of one side that a cross in this hole meets now. */
static int met_on(const struct builder *builder, enum side side, struct hole cross)
{
	const struct pattern *pattern = builder->sequence->pattern;
	bool late = !builder->all_in && is_long_side(builder->sequence, side);
	int met = pattern_half(pattern) - (late ? 1 : 0);

	while (met > 0 && !pattern_meets(pattern, cross, met))
		met--;
	return met;
}

static struct mains_met mains_met(const struct builder *builder, struct hole cross)
{
	int half = pattern_half(builder->sequence->pattern);

	return (struct mains_met){
		.first = half + 1 - met_on(builder, SIDE_LEFT, cross),
		.last = half + met_on(builder, SIDE_RIGHT, cross),
	};
}

/* The plan says how the first cross starts; all the others follow. */
static void choose_parity(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	const struct step *first = builder->steps;
	bool all_in = builder->all_in;

	builder->all_in =
		!sequence->route || !sequence->route->delayed || first->string == STRING_MAIN;
	if (first->string == STRING_MAIN)
		first++;
	struct mains_met mains = mains_met(builder, first->from);
	builder->parity = weave_parity(first->number, weave_first_met(mains, first->entry),
				       sequence->job->weave_over);
	builder->all_in = all_in;
}

static struct move side_move(enum action action, enum side side, const struct step *step)
{
	return (struct move){
		.action = action,
		.phase = PHASE_CROSSES,
		.has_string = true,
		.string = step->string,
		.number = step->number,
		.has_side = true,
		.side = side,
	};
}

struct move step_move(enum action action, const struct step *step)
{
	struct move move = side_move(action, step->exit, step);

	move.hole = step->to;
	return move;
}

static void add_weave(struct builder *builder, const struct step *step, bool loop)
{
	struct move move = side_move(DO_WEAVE, step->entry, step);

	move.from = step->from;
	move.to = step->to;
	move.weave = weave_of_cross(builder->parity, mains_met(builder, step->from), step->number,
				    step->entry);
	move.loop = loop;
	builder_add(builder, loop ? CALL_WEAVE_LOOP : CALL_WEAVE, &move);
	builder_subject(builder);
}

static void add_draw(struct builder *builder, const struct step *step)
{
	struct move move = side_move(DO_DRAW, step->exit, step);

	move.hole = step->to;
	builder_add(builder, step->string == STRING_MAIN ? CALL_DRAW_MAIN : CALL_DRAW, &move);
}

/* A pulled cross can no longer be straightened without sawing: a learner does it before the pull.
 */
static void add_straighten(struct builder *builder, const struct step *first,
			   const struct step *step)
{
	struct move move = side_move(DO_STRAIGHTEN, step->exit, step);

	if (step->string == STRING_MAIN || builder->sequence->job->detail != DETAIL_LEARNER)
		return;
	move.pulls_first = first->number;
	move.pulls_last = step->number;
	builder_add(builder, CALL_STRAIGHTEN_CROSS, &move);
}

/* Pull, move the clamp, release; `first` is the first of the crosses that are tensioned by it. */
static void add_pull(struct builder *builder, const struct step *first, const struct step *step)
{
	struct move move = side_move(DO_PULL, step->exit, step);

	add_straighten(builder, first, step);
	move.hole = step->to;
	move.tension = sequence_tension(builder->sequence, step->string, step->number, step->exit);
	if (step->string == STRING_CROSS) {
		move.pulls_first = first->number;
		move.pulls_last = step->number;
	}
	builder_pull(builder, &move);
	builder_hold(builder);
}

static void build_start_knot(struct builder *builder)
{
	const struct step *step = &builder->steps[0];
	struct move move = side_move(DO_KNOT, step->entry, step);

	move.start = true;
	move.hole = builder->tie_off[TIE_OFF_CROSS_START][step->entry];
	move.suggested = builder->suggested[TIE_OFF_CROSS_START][step->entry];
	builder_call(builder, CALL_START_KNOT);
	builder_add(builder, CALL_START_KNOT, &move);
}

/* A look for misweaves on the way; the last one, before the knot, is everybody's. */
static void build_check(struct builder *builder)
{
	const struct job *job = builder->sequence->job;
	int woven = __builtin_popcountll(builder->woven),
	    crosses = builder->sequence->pattern->crosses;
	bool due = job->check_every > 0 && woven % job->check_every == 0;

	if (job->detail == DETAIL_LEARNER)
		due |= woven == 3 || woven == (crosses + 1) / 2;
	if (due && woven < crosses && builder->woven_checked != builder->woven)
		builder_chore(builder, CALL_CHECK_WEAVE, PHASE_CROSSES, DO_CHECK, SUBJECT_WEAVE);
}

static void build_pull(struct builder *builder, const struct step *first, const struct step *last)
{
	builder_tension(builder, PHASE_CROSSES, STRING_CROSS, last->number, last->exit);
	builder_call(builder, first < last ? CALL_PULL_CROSSES : CALL_PULL_CROSS);
	add_pull(builder, first, last);
}

static void build_cross(struct builder *builder, const struct step *pulled,
			const struct step *woven)
{
	bool loop = pulled < woven;

	builder_tension(builder, PHASE_CROSSES, STRING_CROSS, pulled->number, pulled->exit);
	builder_call(builder, loop ? CALL_CROSS_BEHIND : CALL_CROSS_PULL);
	add_weave(builder, woven, loop);
	if (!loop)
		add_draw(builder, woven);
	add_pull(builder, pulled, pulled);
	if (loop)
		add_draw(builder, woven);
}

int first_pull_of(const struct builder *builder, int from)
{
	const struct sequence *sequence = builder->sequence;
	bool flying = sequence->job->machine.clamps == CLAMPS_FLYING;
	int count = run_length(builder, from);
	int first_pull = 1;

	if (from == (builder->steps[0].string == STRING_MAIN))
		first_pull = job_first_pull(sequence->job);
	else if (flying && !flying_neighbour(builder, STRING_CROSS, builder->steps[from].number))
		first_pull = 2;
	return first_pull < count ? first_pull : count;
}

/* Pulls the crosses of a run up to the `most`-th, as far as they are not pulled yet. */
static void pull_up_to(struct builder *builder, int from, int most)
{
	const struct step *run = &builder->steps[from];
	int first_pull = first_pull_of(builder, from);

	for (;;) {
		int pulled = steps_pulled(builder) - from;
		int next = pulled ? pulled + 1 : first_pull;
		if (next > most)
			return;
		build_pull(builder, pulled ? &run[pulled] : run, &run[next - 1]);
	}
}

/* The loop of the cross woven last, where the pull before it was interrupted. */
static void draw_loop(struct builder *builder)
{
	if (builder->drawn == builder->steps_in)
		return;
	builder_call(builder, CALL_DRAW);
	add_draw(builder, &builder->steps[builder->steps_in - 1]);
}

static void build_run(struct builder *builder, int from)
{
	const struct step *run = &builder->steps[from];
	int count = run_length(builder, from);
	int first_pull = first_pull_of(builder, from);
	int behind = builder->sequence->job->behind;
	int pulled = steps_pulled(builder) - from;

	if (behind > count - 1)
		behind = count - 1;
	int next = pulled < first_pull ? first_pull - 1 : pulled;
	builder_tension(builder, PHASE_CROSSES, STRING_CROSS, run[next].number, run[next].exit);
	for (int woven = builder->steps_in - from;; woven++) {
		/* What one call of those below leaves, or the work stopped at. */
		if (woven > 0) {
			if (behind == 0)
				draw_loop(builder);
			pull_up_to(builder, from, woven - behind);
			draw_loop(builder);
			build_check(builder);
		}
		if (woven >= count)
			break;
		int due = woven + 1 - behind;
		bool pulls = due >= first_pull && due > steps_pulled(builder) - from;
		if (pulls && (due > first_pull || first_pull == 1)) {
			build_cross(builder, &run[due - 1], &run[woven]);
			continue;
		}
		/* Several crosses pulled at once are a call of their own: it must be heard. */
		bool loop = pulls && behind > 0;
		builder_call(builder, loop ? CALL_WEAVE_LOOP : CALL_CROSS);
		add_weave(builder, &run[woven], loop);
		if (!loop)
			add_draw(builder, &run[woven]);
	}
	pull_up_to(builder, from, count);
}

/* The delayed main, with no cross in yet: as any other. */
static void add_feed_main(struct builder *builder, const struct step *step)
{
	struct move move = side_move(DO_FEED, step->entry, step);

	builder_call(builder, CALL_MAIN);
	move.from = step->from;
	move.to = step->to;
	builder_add(builder, CALL_FEED, &move);
}

/* Whether the main meets that cross: it is in, and does not pass by. */
static bool is_met(const struct builder *builder, const struct step *main, int cross)
{
	const struct sequence *sequence = builder->sequence;

	return (builder->woven >> cross & 1) &&
	       pattern_meets(sequence->pattern, sequence->cross_hole[cross], main->number);
}

static void add_weave_main(struct builder *builder, const struct step *step)
{
	const struct pattern *pattern = builder->sequence->pattern;
	bool from_head = step->from.end == END_HEAD;
	bool rising = from_head == (builder->sequence->crosses_start == END_HEAD);
	int main = step->entry == SIDE_LEFT ? 1 : pattern->mains;
	int low = 1, high = pattern->crosses;
	struct move move = side_move(DO_WEAVE, step->entry, step);

	while (!is_met(builder, step, low))
		low++;
	while (!is_met(builder, step, high))
		high--;
	for (int cross = low; cross <= high; cross++)
		if (!is_met(builder, step, cross))
			move.missing |= UINT64_C(1) << cross;
	move.from = step->from;
	move.to = step->to;
	move.weave = weave_of_main(builder->parity, main, rising ? low : high, rising ? high : low,
				   from_head ? TRAVEL_HEAD_TO_THROAT : TRAVEL_THROAT_TO_HEAD);
	builder_call(builder, CALL_LATE_MAIN);
	builder_add(builder, CALL_WEAVE_MAIN, &move);
	builder_subject(builder);
}

static bool meets_any(const struct builder *builder, const struct step *main)
{
	for (int cross = 1; cross <= builder->sequence->pattern->crosses; cross++)
		if (is_met(builder, main, cross))
			return true;
	return false;
}

static void build_late_main(struct builder *builder, const struct step *step)
{
	builder_tension(builder, PHASE_CROSSES, STRING_MAIN, step->number, step->exit);
	if (!builder->all_in && meets_any(builder, step))
		add_weave_main(builder, step);
	else if (!builder->all_in)
		add_feed_main(builder, step);
	if (builder->drawn < builder->steps_in)
		add_draw(builder, step);
	add_pull(builder, step, step);
}

static void take_up(struct builder *builder)
{
	builder_whole_call(builder, CALL_TAKE_UP);
	builder_add(builder, CALL_TAKE_UP,
		    &(struct move){
			    .action = DO_INSPECT,
			    .phase = PHASE_CROSSES,
			    .subject = SUBJECT_STRING,
			    .of_crosses = true,
		    });
}

/* Between mains and crosses of two-piece work: the clamps, the right string, the tension. */
static void build_changeover(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;

	if (sequence->route || builder->start_knot)
		return;
	builder_set_clamps(builder, PHASE_CROSSES, STRING_CROSS);
	if (!builder->taken_up)
		take_up(builder);
	builder_tension(builder, PHASE_CROSSES, STRING_CROSS, job_first_pull(sequence->job),
			SIDE_LEFT);
	build_start_knot(builder);
}

void build_crosses(struct builder *builder)
{
	choose_parity(builder);
	build_changeover(builder);
	for (int at = 0; at < builder->step_count;) {
		const struct step *step = &builder->steps[at];
		int count = step->string == STRING_MAIN ? 1 : run_length(builder, at);
		bool done = steps_pulled(builder) >= at + count;
		if (!done)
			builder_set_clamps(builder, PHASE_CROSSES, step->string);
		if (!done && step->string == STRING_MAIN)
			build_late_main(builder, step);
		else if (!done)
			build_run(builder, at);
		at += count;
	}
	/* The last moment at which a misweave costs minutes and not the bed. */
	if (builder->woven_checked != builder->woven)
		builder_chore(builder, CALL_CHECK_WEAVE, PHASE_CROSSES, DO_CHECK, SUBJECT_WEAVE);
	struct move last = step_move(DO_TIE_OFF, &builder->steps[builder->step_count - 1]);
	builder_tie_off(builder, &last, TIE_OFF_CROSS_END);
}
