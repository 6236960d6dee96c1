/* The crosses, one after the other from the end where the pattern starts them.
 *
 * With first_pull f and behind d: weave f + d crosses, pull 1 to f at once, then for each further
 * cross c weave c and pull c - d; at the end pull what is left. While the cross before it is
 * pulled, a woven cross is not drawn through: its loop is what the tension head grips (common
 * practice, no published source). */
#include "sequence/builder.h"

enum side cross_entry(const struct job *job, int cross)
{
	return cross % 2 == 1 ? job->weave_side : other_side(job->weave_side);
}

enum side cross_exit(const struct job *job, int cross)
{
	return other_side(cross_entry(job, cross));
}

static struct move cross_move(enum action action, enum side side, int cross)
{
	return (struct move){
		.action = action,
		.phase = PHASE_CROSSES,
		.has_string = true,
		.string = STRING_CROSS,
		.number = cross,
		.has_side = true,
		.side = side,
	};
}

static void add_weave(struct builder *builder, int cross, bool loop)
{
	const struct sequence *sequence = builder->sequence;
	const struct job *job = sequence->job;
	int mains = sequence->pattern->mains;
	enum side entry = cross_entry(job, cross);
	int parity = weave_parity(mains, job->weave_side, job->weave_over);
	struct move move = cross_move(DO_WEAVE, entry, cross);

	move.from = sequence->cross_hole[cross];
	move.to = sequence->cross_hole[cross];
	move.weave = weave_of(parity, mains, cross, entry);
	move.loop = loop;
	builder_add(builder, loop ? CALL_WEAVE_LOOP : CALL_WEAVE, &move);
	builder_subject(builder);
}

static void add_draw(struct builder *builder, int cross)
{
	struct move move = cross_move(DO_DRAW, cross_exit(builder->sequence->job, cross), cross);

	move.hole = builder->sequence->cross_hole[cross];
	builder_add(builder, CALL_DRAW, &move);
}

static void add_clamp(struct builder *builder, enum action action, int cross)
{
	struct move move = cross_move(action, cross_exit(builder->sequence->job, cross), cross);

	move.hole = builder->sequence->cross_hole[cross];
	builder_add(builder, action == DO_CLAMP ? CALL_CLAMP : CALL_UNCLAMP, &move);
}

/* Pull, clamp, release. Cross `first` - 1 holds the clamp until then, unless it is the knot that
 * holds. */
static void add_pull(struct builder *builder, int first, int cross)
{
	const struct sequence *sequence = builder->sequence;
	enum side side = cross_exit(sequence->job, cross);
	struct move move = cross_move(DO_PULL, side, cross);

	move.hole = sequence->cross_hole[cross];
	move.tension = job_tension(sequence->job, STRING_CROSS, cross);
	move.pulls_first = first;
	move.pulls_last = cross;
	builder_add(builder, CALL_PULL, &move);
	if (first > 1)
		add_clamp(builder, DO_UNCLAMP, first - 1);
	add_clamp(builder, DO_CLAMP, cross);
	move = cross_move(DO_RELEASE, side, cross);
	builder_add(builder, CALL_RELEASE, &move);
}

static void build_start_knot(struct builder *builder)
{
	enum side side = cross_entry(builder->sequence->job, 1);
	struct move move = cross_move(DO_KNOT, side, 1);

	move.start = true;
	move.hole = builder->tie_off[TIE_OFF_CROSS_START][side];
	move.suggested = builder->suggested[TIE_OFF_CROSS_START][side];
	builder_call(builder, CALL_START_KNOT);
	builder_add(builder, CALL_START_KNOT, &move);
}

static void build_unpulled(struct builder *builder, int cross)
{
	builder_call(builder, CALL_CROSS);
	add_weave(builder, cross, false);
	add_draw(builder, cross);
}

/* The cross with which the first pull comes due. Several crosses pulled at once are a call of their
 * own: the stringer must hear it. */
static void build_first_pull(struct builder *builder, int cross, int pulled)
{
	bool loop = pulled < cross;

	builder_call(builder, loop ? CALL_WEAVE_LOOP : CALL_CROSS);
	add_weave(builder, cross, loop);
	if (!loop)
		add_draw(builder, cross);
	builder_call(builder, CALL_PULL_CROSSES);
	add_pull(builder, 1, pulled);
	if (loop) {
		builder_call(builder, CALL_DRAW);
		add_draw(builder, cross);
	}
}

static void build_cross(struct builder *builder, int cross, int pulled)
{
	bool loop = pulled < cross;

	builder_call(builder, loop ? CALL_CROSS_BEHIND : CALL_CROSS_PULL);
	add_weave(builder, cross, loop);
	if (!loop)
		add_draw(builder, cross);
	add_pull(builder, pulled, pulled);
	if (loop)
		add_draw(builder, cross);
}

static void build_last_pull(struct builder *builder, int cross)
{
	builder_tension(builder, PHASE_CROSSES, STRING_CROSS, cross);
	builder_call(builder, CALL_PULL_CROSS);
	add_pull(builder, cross, cross);
}

static void build_tie_off(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	int last = sequence->pattern->crosses;
	enum side side = cross_exit(sequence->job, last);
	struct move move = cross_move(DO_TIE_OFF, side, last);

	move.from = sequence->cross_hole[last];
	move.hole = builder->tie_off[TIE_OFF_CROSS_END][side];
	move.suggested = builder->suggested[TIE_OFF_CROSS_END][side];
	builder_call(builder, CALL_TIE_OFF);
	builder_add(builder, CALL_TIE_OFF, &move);
	move.action = DO_KNOT;
	move.from.number = 0;
	builder_add(builder, CALL_KNOT, &move);
	add_clamp(builder, DO_UNCLAMP, last);
}

void build_crosses(struct builder *builder)
{
	const struct job *job = builder->sequence->job;
	int crosses = builder->sequence->pattern->crosses;

	builder_tension(builder, PHASE_CROSSES, STRING_CROSS, job->first_pull);
	build_start_knot(builder);
	for (int cross = 1; cross <= crosses; cross++) {
		int pulled = cross - job->behind;
		if (pulled < job->first_pull) {
			build_unpulled(builder, cross);
			continue;
		}
		builder_tension(builder, PHASE_CROSSES, STRING_CROSS, pulled);
		if (pulled == job->first_pull && pulled > 1)
			build_first_pull(builder, cross, pulled);
		else
			build_cross(builder, cross, pulled);
	}
	if (job->behind)
		build_last_pull(builder, crosses);
	build_tie_off(builder);
}
