/* Moves, and the calls that they are grouped into. */
#include "sequence/internal.h"

#include <math.h>

/* Makes room for one more item. */
static void *grow(void *items, int count, int *capacity, size_t size)
{
	if (count < *capacity)
		return items;
	*capacity = 2 * count + 64;
	return memory_resize(items, (size_t)*capacity, size);
}

static void new_call(struct builder *builder, enum call_kind kind)
{
	struct sequence *sequence = builder->sequence;

	sequence->calls = grow(sequence->calls, sequence->call_count, &builder->call_capacity,
			       sizeof(sequence->calls[0]));
	sequence->calls[sequence->call_count++] = (struct call){
		.kind = kind,
		.first = sequence->move_count,
		.last = sequence->move_count - 1,
		.subject = sequence->move_count,
	};
}

void builder_whole_call(struct builder *builder, enum call_kind kind)
{
	new_call(builder, kind);
	builder->call_open = true;
}

void builder_call(struct builder *builder, enum call_kind kind)
{
	builder->call_open = false;
	if (builder->sequence->job->detail != DETAIL_LEARNER)
		builder_whole_call(builder, kind);
}

void builder_add(struct builder *builder, enum call_kind learner_kind, const struct move *move)
{
	struct sequence *sequence = builder->sequence;

	if (!builder->call_open)
		new_call(builder, learner_kind);
	sequence->moves = grow(sequence->moves, sequence->move_count, &builder->move_capacity,
			       sizeof(sequence->moves[0]));
	sequence->calls[sequence->call_count - 1].last = sequence->move_count;
	struct move *added = &sequence->moves[sequence->move_count++];
	*added = *move;
	if (!move->has_string)
		added->phase = builder->phase;
	builder_follow(builder, added);
}

void builder_subject(struct builder *builder)
{
	struct sequence *sequence = builder->sequence;

	sequence->calls[sequence->call_count - 1].subject = sequence->move_count - 1;
}

void builder_single(struct builder *builder, enum call_kind kind, const struct move *move)
{
	builder_whole_call(builder, kind);
	builder_add(builder, kind, move);
	builder->call_open = false;
}

void builder_chore(struct builder *builder, enum call_kind kind, enum action action,
		   enum subject subject)
{
	builder_single(builder, kind, &(struct move){.action = action, .subject = subject});
}

void builder_set_clamps(struct builder *builder, enum string_kind strings)
{
	const struct job *job = builder->sequence->job;
	bool crosses = strings == STRING_CROSS;
	bool looked_at =
		crosses && job->machine.clamps == CLAMPS_FIXED && job->detail == DETAIL_LEARNER;

	if (builder->clamps_set != crosses &&
	    (looked_at || job->machine.clamps == CLAMPS_GLIDE_BAR))
		builder_chore(builder, CALL_SET_CLAMPS, DO_SET_CLAMPS,
			      crosses ? SUBJECT_CROSSES : SUBJECT_MAINS);
}

void builder_tension(struct builder *builder, const struct step *step)
{
	struct quantity tension = tension_of(builder, step);
	const struct job *job = builder->sequence->job;
	double prestretch = job_length(job, step->string)->prestretch;
	bool as_set = builder->any_set[STRING_MAIN] &&
		      builder->setting.tension.unit == tension.unit &&
		      quantity_same(builder->setting.tension, tension) &&
		      fabs(builder->setting.prestretch - prestretch) < 1e-6;

	/* The crosses' own setting is said even where it stays as it is. */
	if (as_set && builder->any_set[step->string])
		return;
	/* A first setting, of a new length too, is no change, even back to what the plan says. */
	bool change = false;
	for (int i = 0; i < builder->sequence->move_count; i++) {
		const struct move *move = &builder->sequence->moves[i];
		change &= move->action != DO_CUT_OUT ||
			  (move->subject == SUBJECT_CROSSES && step->string == STRING_MAIN);
		change |= move->action == DO_PULL && move->string == step->string;
	}
	builder_single(
		builder, CALL_SET_TENSION,
		&(struct move){
			.action = DO_SET_TENSION,
			.subject = step->string == STRING_MAIN ? SUBJECT_MAINS : SUBJECT_CROSSES,
			.tension = tension,
			.prestretch = prestretch,
			.as_set = as_set,
			.change = change,
			.back = change &&
				quantity_same(tension, job_setting(builder->sequence->pattern,
								   job->tension[step->string])),
		});
	builder->change = change ? builder->sequence->move_count - 1 : 0;
}

struct move move_like(const struct move *move, enum action action)
{
	return (struct move){
		.action = action,
		.phase = move->phase,
		.has_string = true,
		.string = move->string,
		.number = move->number,
		.side = move->side,
		.hole = move->hole,
	};
}

void builder_clamp(struct builder *builder, enum call_kind learner_kind, const struct move *string)
{
	bool flying = builder->sequence->job->machine.clamps == CLAMPS_FLYING;
	struct move move = move_like(string, DO_CLAMP);

	move.with = flying ? CLAMP_FLYING : CLAMP_FIXED;
	if (flying)
		move.across = flying_neighbour(builder, move.string, move.number);
	builder_add(builder, learner_kind, &move);
}

void builder_unclamp(struct builder *builder, enum call_kind learner_kind, const struct grip *grip)
{
	struct move move = grip->move;

	move.action = DO_UNCLAMP;
	move.phase = builder->phase;
	builder_add(builder, learner_kind, &move);
}

/* Whether the frame is turned alike for two pulls. */
static bool faces(const struct move *a, const struct move *b)
{
	if (a->string != b->string)
		return false;
	return a->string == STRING_MAIN ? a->hole.end == b->hole.end : a->side == b->side;
}

/* A change of tension is told which strings it is for: those that are pulled until the next one. */
static void name_string(struct move *change, const struct move *pull)
{
	int first = pull->pulls_first ? pull->pulls_first : pull->number;

	if ((change->subject == SUBJECT_CROSSES) != (pull->string == STRING_CROSS))
		return;
	change->both_sides |= change->number && change->side != pull->side;
	change->side = pull->side;
	change->number = change->number && change->number < first ? change->number : first;
	change->through = change->through > pull->number ? change->through : pull->number;
}

void builder_pull(struct builder *builder, const struct move *pull)
{
	struct move turn = move_like(pull, DO_TURN);

	if (builder->sequence->job->detail == DETAIL_LEARNER &&
	    !(builder->facing.hole.number && faces(&builder->facing, pull)))
		builder_add(builder, CALL_TURN, &turn);
	builder_add(builder, CALL_PULL, pull);
	if (builder->change)
		name_string(&builder->sequence->moves[builder->change], pull);
}

/* A flying clamp on a main stays until the first crosses are clamped: there are two. */
static void take_off_behind(struct builder *builder, const struct grip *head, bool stays)
{
	for (int i = 0; i < GRIPS; i++) {
		const struct grip *grip = &builder->clamps[i];
		bool behind = grip->strand == head->strand &&
			      (grip->first_hold || grip->place < head->place);
		bool late = grip->move.with == CLAMP_FLYING && grip->move.string == STRING_MAIN &&
			    head->move.string == STRING_CROSS;
		enum call_kind kind = !grip->first_hold    ? CALL_UNCLAMP
				      : grip->move.outside ? CALL_UNCLAMP_OUTSIDE
							   : CALL_UNCLAMP_START;
		if (behind && late == stays)
			builder_unclamp(builder, kind, grip);
	}
}

void builder_release(struct builder *builder)
{
	struct move release = move_like(&builder->head.move, DO_RELEASE);

	release.hole.number = 0;
	if (builder->head.strand)
		builder_add(builder, CALL_RELEASE, &release);
}

void builder_hold(struct builder *builder)
{
	const struct grip head = builder->head;

	if (!head.strand)
		return;
	take_off_behind(builder, &head, false);
	if (!clamp_at(builder, head.strand, head.place))
		builder_clamp(builder, CALL_CLAMP, &head.move);
	take_off_behind(builder, &head, true);
	builder_release(builder);
}

enum tie_off last_knot(const struct builder *builder, const struct strand *strand)
{
	return strand == builder->crosses ? TIE_OFF_CROSS_END : TIE_OFF_MAINS;
}

void builder_tie_off(struct builder *builder, const struct strand *strand)
{
	const struct sequence *sequence = builder->sequence;
	const struct step *last = &strand->steps[strand->count - 1];
	enum tie_off tie_off = last_knot(builder, strand);
	struct move move = string_move(DO_TIE_OFF, last);

	if (strand->tied && !furthest_clamp(builder, strand))
		return;
	builder_call(builder, CALL_TIE_OFF);
	move.from = last->to;
	move.hole = sequence->tie_off[tie_off][last->exit];
	move.suggested = sequence->tie_off_suggested[tie_off][last->exit];
	if (!strand->led)
		builder_add(builder, CALL_TIE_OFF, &move);
	move.action = DO_KNOT;
	move.from.number = 0;
	if (!strand->tied)
		builder_add(builder, CALL_KNOT, &move);
	builder_unclamp(builder, CALL_UNCLAMP_KNOT, furthest_clamp(builder, strand));
}
