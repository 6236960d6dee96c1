#include "sequence/internal.h"

#include "base/base.h"

#include <math.h>

static void new_call(struct builder *builder, enum call_kind kind)
{
	struct sequence *sequence = builder->sequence;

	if (sequence->call_count == builder->call_capacity) {
		builder->call_capacity = builder->call_capacity ? 2 * builder->call_capacity : 64;
		sequence->calls = memory_resize(sequence->calls, (size_t)builder->call_capacity,
						sizeof(sequence->calls[0]));
	}
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

uint64_t *strings_with(struct strings *strings, enum string_kind string, enum side side)
{
	return string == STRING_CROSS ? &strings->crosses : &strings->mains[side];
}

void builder_add(struct builder *builder, enum call_kind learner_kind, const struct move *move)
{
	struct sequence *sequence = builder->sequence;

	if (!builder->call_open)
		new_call(builder, learner_kind);
	if (sequence->move_count == builder->move_capacity) {
		builder->move_capacity = builder->move_capacity ? 2 * builder->move_capacity : 256;
		sequence->moves = memory_resize(sequence->moves, (size_t)builder->move_capacity,
						sizeof(sequence->moves[0]));
	}
	sequence->moves[sequence->move_count] = *move;
	sequence->calls[sequence->call_count - 1].last = sequence->move_count;
	sequence->move_count++;
	builder_follow(builder, move);
}

static void take_out(struct builder *builder, const struct move *move)
{
	bool step = move->phase == PHASE_CROSSES;

	*strings_with(&builder->redo, move->string, move->side) &= ~(UINT64_C(1) << move->number);
	if (!step) {
		builder->fed[move->side] = move->number - 1;
		builder->mains_counted = false;
		return;
	}
	builder->steps_in = step_index(builder, move->string, move->number);
	if (builder->drawn > builder->steps_in)
		builder->drawn = builder->steps_in;
	if (move->string == STRING_CROSS)
		builder->woven &= ~(UINT64_C(1) << move->number);
	else
		builder->all_in = false;
	builder->woven_checked = builder->woven;
}

static void put_in(struct builder *builder, const struct move *move)
{
	if (move->phase == PHASE_MAINS) {
		builder->fed[move->side] = move->number;
		return;
	}
	builder->steps_in++;
	if (move->action == DO_FEED)
		builder->drawn = builder->steps_in;
	if (move->string == STRING_CROSS)
		builder->woven |= UINT64_C(1) << move->number;
	else
		builder->all_in = true;
}

static void follow_setting(struct builder *builder, const struct move *move)
{
	builder->any_set[move->subject == SUBJECT_CROSSES ? STRING_CROSS : STRING_MAIN] = true;
	builder->setting = *move;
}

static void follow_look(struct builder *builder, const struct move *move)
{
	builder->mains_counted |= move->action == DO_CHECK && move->subject == SUBJECT_MAINS;
	builder->mounts_checked |= move->action == DO_CHECK && move->subject == SUBJECT_MOUNTS;
	builder->taken_up |= move->of_crosses;
	if (move->action == DO_CHECK && move->subject == SUBJECT_WEAVE)
		builder->woven_checked = builder->woven;
}

void builder_follow(struct builder *builder, const struct move *move)
{
	if (move->has_string)
		holding_follow(builder, move);
	switch (move->action) {
	case DO_FEED:
	case DO_WEAVE:
		put_in(builder, move);
		break;
	case DO_TAKE_OUT:
		take_out(builder, move);
		break;
	case DO_DRAW:
		builder->drawn = builder->steps_in;
		break;
	case DO_PULL:
	case DO_TURN:
		builder->facing = *move;
		break;
	case DO_SET_TENSION:
		follow_setting(builder, move);
		break;
	case DO_CHECK:
	case DO_INSPECT:
		follow_look(builder, move);
		break;
	case DO_CUT_OUT:
		builder->cutting = false;
		break;
	case DO_SET_CLAMPS:
		builder->clamps_set = move->subject == SUBJECT_CROSSES;
		break;
	case DO_MOUNT:
	case DO_DISMOUNT:
		builder->mounted = move->action == DO_MOUNT;
		break;
	case DO_TIE_OFF:
		builder->led[strand_of(builder, move)] = true;
		break;
	case DO_KNOT:
		builder->start_knot |= move->start;
		break;
	case DO_UNTIE:
		if (move->start)
			builder->start_knot = false;
		else
			builder->led[strand_of(builder, move)] = false;
		break;
	default:
		break;
	}
}

struct move move_like(const struct move *move, enum action action)
{
	return (struct move){
		.action = action,
		.phase = move->phase,
		.has_string = true,
		.string = move->string,
		.number = move->number,
		.has_side = true,
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
	move.phase = builder->sequence->moves[builder->sequence->move_count - 1].phase;
	builder_add(builder, learner_kind, &move);
}

/* A flying clamp on a main stays until the first crosses are clamped: there are two. */
static void take_off_behind(struct builder *builder, const struct grip *head, bool stays)
{
	for (int i = 0; i < GRIPS; i++) {
		const struct grip *grip = &builder->holding.clamps[i];
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

void builder_hold(struct builder *builder)
{
	const struct grip head = builder->holding.head;
	struct move release = move_like(&head.move, DO_RELEASE);

	if (head.strand == NO_STRAND)
		return;
	take_off_behind(builder, &head, false);
	if (!holding_clamp_at(&builder->holding, head.strand, head.place))
		builder_clamp(builder, CALL_CLAMP, &head.move);
	take_off_behind(builder, &head, true);
	release.hole.number = 0;
	builder_add(builder, CALL_RELEASE, &release);
}

void builder_tie_off(struct builder *builder, const struct move *last, enum tie_off tie_off)
{
	enum strand strand = strand_of(builder, last);
	struct move move = move_like(last, DO_TIE_OFF);

	if (builder->holding.tied[strand] && !holding_clamp(&builder->holding, strand))
		return;
	builder_call(builder, CALL_TIE_OFF);
	move.from = last->hole;
	move.hole = builder->tie_off[tie_off][last->side];
	move.suggested = builder->suggested[tie_off][last->side];
	if (!builder->led[strand])
		builder_add(builder, CALL_TIE_OFF, &move);
	move.action = DO_KNOT;
	move.from.number = 0;
	if (!builder->holding.tied[strand])
		builder_add(builder, CALL_KNOT, &move);
	builder_unclamp(builder, CALL_UNCLAMP_KNOT, holding_clamp(&builder->holding, strand));
}

void builder_chore(struct builder *builder, enum call_kind kind, enum phase phase,
		   enum action action, enum subject subject)
{
	builder_whole_call(builder, kind);
	builder_add(builder, kind,
		    &(struct move){.action = action, .phase = phase, .subject = subject});
	builder->call_open = false;
}

void builder_set_clamps(struct builder *builder, enum phase phase, enum string_kind strings)
{
	const struct job *job = builder->sequence->job;
	bool crosses = strings == STRING_CROSS;
	bool looked_at =
		crosses && job->machine.clamps == CLAMPS_FIXED && job->detail == DETAIL_LEARNER;

	if (builder->clamps_set != crosses &&
	    (looked_at || job->machine.clamps == CLAMPS_GLIDE_BAR))
		builder_chore(builder, CALL_SET_CLAMPS, phase, DO_SET_CLAMPS,
			      crosses ? SUBJECT_CROSSES : SUBJECT_MAINS);
}

void builder_subject(struct builder *builder)
{
	struct sequence *sequence = builder->sequence;

	sequence->calls[sequence->call_count - 1].subject = sequence->move_count - 1;
}

void builder_tension(struct builder *builder, enum phase phase, enum string_kind strings,
		     int number, enum side side)
{
	const struct sequence *sequence = builder->sequence;
	struct quantity tension = sequence_tension(sequence, strings, number, side);
	double prestretch = job_length(sequence->job, strings)->prestretch;
	bool as_set = builder->any_set[STRING_MAIN] &&
		      builder->setting.tension.unit == tension.unit &&
		      quantity_same(builder->setting.tension, tension) &&
		      fabs(builder->setting.prestretch - prestretch) < 1e-6;

	/* The crosses' own setting is said even where it stays as it is. */
	if (as_set && builder->any_set[strings])
		return;
	builder_whole_call(builder, CALL_SET_TENSION);
	builder_add(builder, CALL_SET_TENSION,
		    &(struct move){
			    .action = DO_SET_TENSION,
			    .phase = phase,
			    .subject = strings == STRING_MAIN ? SUBJECT_MAINS : SUBJECT_CROSSES,
			    .tension = tension,
			    .prestretch = prestretch,
			    .as_set = as_set,
		    });
}

/* Whether the frame is turned alike for two pulls. */
static bool faces(const struct move *a, const struct move *b)
{
	if (a->string != b->string)
		return false;
	return a->string == STRING_MAIN ? a->hole.end == b->hole.end : a->side == b->side;
}

void builder_pull(struct builder *builder, const struct move *pull)
{
	struct move turn = *pull;

	if (builder->sequence->job->detail == DETAIL_LEARNER &&
	    !(builder->facing.hole.number && faces(&builder->facing, pull))) {
		turn.action = DO_TURN;
		turn.tension = (struct quantity){0};
		turn.pulls_first = turn.pulls_last = 0;
		builder_add(builder, CALL_TURN, &turn);
	}
	builder_add(builder, CALL_PULL, pull);
}

/* The strings that are pulled from this move on until the next setting. */
static void name_strings(const struct sequence *sequence, int from, enum string_kind strings)
{
	struct move *set = &sequence->moves[from];
	bool sides[2] = {false, false};

	for (int i = from + 1; i < sequence->move_count; i++) {
		const struct move *move = &sequence->moves[i];
		if (move->action == DO_SET_TENSION)
			break;
		if (move->action != DO_PULL || move->string != strings)
			continue;
		int first = strings == STRING_CROSS ? move->pulls_first : move->number;
		set->number = set->number && set->number < first ? set->number : first;
		set->through = set->through > move->number ? set->through : move->number;
		sides[move->side] = true;
		set->side = move->side;
	}
	set->both_sides = sides[SIDE_LEFT] && sides[SIDE_RIGHT];
}

void builder_name_changes(struct builder *builder, int from, int to)
{
	const struct sequence *sequence = builder->sequence;
	bool pulled[2] = {false, false}; /* by string_kind: it is a change, no first setting */

	for (int i = 0; i < to; i++) {
		struct move *move = &sequence->moves[i];
		enum string_kind strings =
			move->subject == SUBJECT_CROSSES ? STRING_CROSS : STRING_MAIN;
		if (move->action == DO_PULL)
			pulled[move->string] = true;
		if (move->action != DO_SET_TENSION || i < from || !pulled[strings])
			continue;
		name_strings(sequence, i, strings);
		move->back = quantity_same(move->tension, sequence->job->tension[strings]);
	}
}
