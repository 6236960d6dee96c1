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

/* ---- Over and under (sequence.h) ---- */

/* The main, from the left, that a cross meets first, coming from that side. Not always the
 * outermost: a cross in a hole that the mains skip passes by the mains that leave the frame beyond
 * it (frame/frame.h, pattern_meets), and the delayed main may be still to come. It has to interlace
 * with its neighbours all the same: where an odd number is passed by, it starts the other way. */
static int first_met(const struct builder *builder, enum side side, const struct step *cross)
{
	const struct pattern *pattern = builder->sequence->pattern;
	const struct strand *strand = builder->crosses;
	int half = pattern_half(pattern), met = half;

	for (const struct step *later = cross; later < strand->steps + strand->count; later++)
		met -= later->string == STRING_MAIN && is_long_side(builder->sequence, side);
	while (met > 0 && !pattern_meets(pattern, cross->from, met))
		met--;
	return side == SIDE_LEFT ? half + 1 - met : half + met;
}

static bool is_over(const struct builder *builder, int cross, int main)
{
	return (cross + main) % 2 == builder->sequence->parity;
}

/* The plan says how the first cross starts; all the others follow. */
static void choose_parity(struct builder *builder)
{
	const struct step *first = &builder->crosses->steps[builder->mains_before];

	if (first->string == STRING_MAIN)
		first++;
	builder->sequence->parity = (first->number + first_met(builder, first->entry, first) +
				     (int)builder->sequence->job->weave_start) %
				    2;
}

static void add_weave(struct builder *builder, const struct step *step, bool loop)
{
	struct move move = string_move(DO_WEAVE, step);
	int first = first_met(builder, step->entry, step);
	int last = first_met(builder, step->exit, step);

	move.weave = (struct weave){
		.travel = step->entry == SIDE_LEFT ? TRAVEL_LEFT_TO_RIGHT : TRAVEL_RIGHT_TO_LEFT,
		.first_over = is_over(builder, step->number, first),
		.last_over = is_over(builder, step->number, last),
	};
	move.loop = loop;
	builder_add(builder, loop ? CALL_WEAVE_LOOP : CALL_WEAVE, &move);
	builder_subject(builder);
}

/* The crosses that are in and that the delayed main meets. */
static uint64_t crosses_met(const struct builder *builder, int main)
{
	const struct sequence *sequence = builder->sequence;
	uint64_t met = strings_in(builder).crosses;

	for (int cross = 1; cross <= sequence->pattern->crosses; cross++)
		if (!pattern_meets(sequence->pattern, sequence->cross_hole[cross], main))
			met &= ~(UINT64_C(1) << cross);
	return met;
}

/* The delayed main: with no cross to meet, as any other. */
static void add_late_main(struct builder *builder, const struct step *step)
{
	const struct sequence *sequence = builder->sequence;
	uint64_t met = crosses_met(builder, step->number);
	bool from_head = step->from.end == END_HEAD;
	bool rising = from_head == (sequence->crosses_start == END_HEAD);
	int main = step->entry == SIDE_LEFT ? 1 : sequence->pattern->mains;
	struct move move = string_move(met ? DO_WEAVE : DO_FEED, step);

	builder_call(builder, met ? CALL_LATE_MAIN : CALL_MAIN);
	if (!met) {
		builder_add(builder, CALL_FEED, &move);
		return;
	}
	int low = __builtin_ctzll(met), high = 63 - __builtin_clzll(met);
	move.missing = ~met & ((UINT64_C(1) << high) - (UINT64_C(1) << low));
	move.weave = (struct weave){
		.travel = from_head ? TRAVEL_HEAD_TO_THROAT : TRAVEL_THROAT_TO_HEAD,
		.first_over = !is_over(builder, rising ? low : high, main),
		.last_over = !is_over(builder, rising ? high : low, main),
	};
	builder_add(builder, CALL_WEAVE_MAIN, &move);
	builder_subject(builder);
}

/* ---- One string after the other ---- */

static void add_draw(struct builder *builder, const struct step *step)
{
	struct move move = string_move(DO_DRAW, step);

	builder_add(builder, step->string == STRING_MAIN ? CALL_DRAW_MAIN : CALL_DRAW, &move);
}

/* The loop of the string woven last, where the pull before it was interrupted. */
static void draw_loop(struct builder *builder)
{
	if (!builder->loop)
		return;
	builder_call(builder, CALL_DRAW);
	add_draw(builder, &builder->crosses->steps[builder->crosses->in - 1]);
}

/* Pull, move the clamp, release; `first` is the first of the crosses that are tensioned by it. A
 * pulled cross can no longer be straightened without sawing: a learner does it before the pull. */
static void add_pull(struct builder *builder, const struct step *first, const struct step *step)
{
	struct move move = string_move(DO_PULL, step);
	struct move straighten = string_move(DO_STRAIGHTEN, step);

	if (step->string == STRING_CROSS) {
		move.pulls_first = straighten.pulls_first = first->number;
		move.pulls_last = straighten.pulls_last = step->number;
	}
	straighten.hole.number = 0;
	if (step->string == STRING_CROSS && builder->sequence->job->detail == DETAIL_LEARNER)
		builder_add(builder, CALL_STRAIGHTEN_CROSS, &straighten);
	move.tension = tension_of(builder, step);
	builder_pull(builder, &move);
	builder_hold(builder);
}

/* A look for misweaves on the way; the last one, before the knot, is everybody's. */
static void build_check(struct builder *builder)
{
	const struct job *job = builder->sequence->job;
	int woven = __builtin_popcountll(strings_in(builder).crosses);
	int crosses = builder->sequence->pattern->crosses;
	bool due = job->check_every > 0 && woven % job->check_every == 0;

	if (job->detail == DETAIL_LEARNER)
		due |= woven == 3 || woven == (crosses + 1) / 2;
	if (due && woven < crosses && builder->unchecked)
		builder_chore(builder, CALL_CHECK_WEAVE, DO_CHECK, SUBJECT_WEAVE);
}

static void build_cross(struct builder *builder, const struct step *pulled,
			const struct step *woven)
{
	bool loop = pulled < woven;

	builder_tension(builder, pulled);
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
	const struct job *job = builder->sequence->job;
	const struct step *steps = builder->crosses->steps;
	int begin = builder->mains_before;
	int count = run_length(builder, from);
	int first_pull = 1;

	if (steps[from].string == STRING_MAIN)
		return 1;
	if (from == begin + (steps[begin].string == STRING_MAIN))
		first_pull = job_first_pull(job);
	else if (job->machine.clamps == CLAMPS_FLYING &&
		 !flying_neighbour(builder, STRING_CROSS, steps[from].number))
		first_pull = 2;
	return first_pull < count ? first_pull : count;
}

/* Pulls the crosses of a run up to this place, as far as they are not pulled yet. */
static void pull_up_to(struct builder *builder, int from, int most)
{
	const struct strand *strand = builder->crosses;
	const struct step *run = &strand->steps[from];
	int first_pull = first_pull_of(builder, from);

	for (;;) {
		int pulled = strand->tensioned - from;
		int next = pulled ? pulled + 1 : first_pull;
		if (next > most)
			return;
		const struct step *last = &run[next - 1];
		builder_tension(builder, last);
		builder_call(builder, last > run + pulled ? CALL_PULL_CROSSES : CALL_PULL_CROSS);
		add_pull(builder, run + pulled, last);
	}
}

static void build_run(struct builder *builder, int from)
{
	const struct strand *strand = builder->crosses;
	const struct step *run = &strand->steps[from];
	int count = run_length(builder, from);
	int first_pull = first_pull_of(builder, from);
	int behind = builder->sequence->job->behind;
	int pulled = strand->tensioned - from;

	if (behind > count - 1)
		behind = count - 1;
	builder_tension(builder, &run[pulled < first_pull ? first_pull - 1 : pulled]);
	for (int woven = strand->in - from;; woven++) {
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
		bool pulls = due >= first_pull && due > strand->tensioned - from;
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

static void build_late_main(struct builder *builder, int at)
{
	const struct strand *strand = builder->crosses;
	const struct step *step = &strand->steps[at];

	builder_tension(builder, step);
	if (strand->in == at)
		add_late_main(builder, step);
	if (builder->loop)
		add_draw(builder, step);
	add_pull(builder, step, step);
}

/* ---- All of them ---- */

/* Between mains and crosses of two-piece work: the clamps, the right string, the tension. */
static void build_changeover(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	const struct step *first = builder->crosses->steps;
	struct move knot = string_move(DO_KNOT, first);

	builder_set_clamps(builder, STRING_CROSS);
	if (!builder->taken_up)
		builder_single(builder, CALL_TAKE_UP,
			       &(struct move){
				       .action = DO_INSPECT,
				       .subject = SUBJECT_STRING,
				       .of_crosses = true,
			       });
	builder_tension(builder, &first[job_first_pull(sequence->job) - 1]);
	knot.start = true;
	knot.side = first->entry;
	knot.hole = sequence->tie_off[TIE_OFF_CROSS_START][first->entry];
	knot.suggested = sequence->tie_off_suggested[TIE_OFF_CROSS_START][first->entry];
	builder_single(builder, CALL_START_KNOT, &knot);
}

void build_crosses(struct builder *builder)
{
	struct strand *strand = builder->crosses;

	builder->phase = PHASE_CROSSES;
	choose_parity(builder);
	if (!builder->sequence->route && !builder->start_knot)
		build_changeover(builder);
	for (int at = builder->mains_before, next; at < strand->count; at = next) {
		next = at + run_length(builder, at);
		if (strand->tensioned >= next)
			continue;
		builder_set_clamps(builder, strand->steps[at].string);
		if (strand->steps[at].string == STRING_MAIN)
			build_late_main(builder, at);
		else
			build_run(builder, at);
	}
	/* The last moment at which a misweave costs minutes and not the bed. */
	if (builder->unchecked)
		builder_chore(builder, CALL_CHECK_WEAVE, DO_CHECK, SUBJECT_WEAVE);
	builder_tie_off(builder, strand);
}
