/* What there is to know of moves and calls. */
#include "sequence/sequence.h"

#include <stdlib.h>

const char *const phase_names[PHASES] = {
	[PHASE_PREPARE] = "prepare",
	[PHASE_MAINS] = "mains",
	[PHASE_CROSSES] = "crosses",
	[PHASE_FINISH] = "finish",
};

const char *const action_names[ACTIONS] = {
#define ACTION(id, name) [DO_##id] = (name),
	ACTION_LIST(ACTION)
#undef ACTION
};

const char *const subject_names[SUBJECTS] = {
#define SUBJECT(id, name) [SUBJECT_##id] = (name),
	SUBJECT_LIST(SUBJECT)
#undef SUBJECT
};

const char *const clamp_kind_names[CLAMP_KINDS] = {"fixed", "flying", "starting"};

const char *const skill_names[SKILLS] = {
	[SKILL_PREPARE] = "prepare", [SKILL_MOUNT] = "mount",   [SKILL_TENSION] = "tension",
	[SKILL_FEED] = "feed",       [SKILL_SKIP] = "skip",     [SKILL_CLAMP] = "clamp",
	[SKILL_TIE_OFF] = "tie-off", [SKILL_KNOT] = "knot",     [SKILL_WEAVE_START] = "weave-start",
	[SKILL_WEAVE] = "weave",     [SKILL_BEHIND] = "behind", [SKILL_FINISH] = "finish",
};

const char *const travel_names[] = {
	[TRAVEL_LEFT_TO_RIGHT] = "left-to-right",
	[TRAVEL_RIGHT_TO_LEFT] = "right-to-left",
	[TRAVEL_HEAD_TO_THROAT] = "head-to-throat",
	[TRAVEL_THROAT_TO_HEAD] = "throat-to-head",
};

struct kind {
	const char *name;
	enum skill skill;
	int seconds;
};

static const struct kind kinds[CALL_KINDS] = {
#define KIND(id, name, hearer, skill, seconds, ...) [CALL_##id] = {name, SKILL_##skill, seconds},
	CALL_KIND_LIST(KIND)
#undef KIND
};

const char *call_kind_name(enum call_kind kind)
{
	return kinds[kind].name;
}

int call_kind_seconds(enum call_kind kind)
{
	return kinds[kind].seconds;
}

enum phase call_phase(const struct sequence *sequence, int call)
{
	return sequence->moves[sequence->calls[call].first].phase;
}

const struct move *call_route(const struct sequence *sequence, const struct call *call)
{
	for (int i = call->first; i <= call->last; i++)
		if (sequence->moves[i].action == DO_FEED || sequence->moves[i].action == DO_WEAVE)
			return &sequence->moves[i];
	return NULL;
}

const struct string_length *move_length(const struct job *job, const struct move *move)
{
	bool crosses = move->subject == SUBJECT_CROSSES || move->of_crosses;

	return job_length(job, crosses ? STRING_CROSS : STRING_MAIN);
}

const struct move *call_woven_before(const struct sequence *sequence, const struct call *call)
{
	uint64_t out = 0; /* crosses that came out again; bit n: cross n */

	for (const struct call *before = call - 1;
	     before >= sequence->calls && before->lost == LOSS_NONE; before--) {
		for (int i = before->last; i >= before->first && !before->abandoned; i--) {
			const struct move *move = &sequence->moves[i];
			uint64_t bit = UINT64_C(1) << move->number;
			if (move->string != STRING_CROSS)
				continue;
			if (move->action == DO_TAKE_OUT)
				out |= bit;
			if (move->action == DO_WEAVE && !(out & bit))
				return move;
			if (move->action == DO_WEAVE)
				out &= ~bit;
		}
	}
	return NULL;
}

bool call_hole_is_odd(const struct sequence *sequence, const struct call *call)
{
	const struct pattern *pattern = sequence->pattern;
	const struct move *route = call_route(sequence, call);
	const struct move *last = call_woven_before(sequence, call);

	if (route->action != DO_WEAVE)
		return route->from.number != route->number || route->to.number != route->number;
	if (!last || last->number != route->number - 1 || pattern_main_at(pattern, route->from))
		return true;
	int before = pattern_hole_index(pattern, last->from);
	return abs(pattern_hole_index(pattern, route->from) - before) != 1;
}

enum skill call_skill(const struct sequence *sequence, int call)
{
	const struct call *it = &sequence->calls[call];
	const struct move *route = call_route(sequence, it);

	if (route && route->action == DO_WEAVE && route->string == STRING_CROSS &&
	    !call_woven_before(sequence, it))
		return SKILL_WEAVE_START;
	if (route && call_hole_is_odd(sequence, it))
		return SKILL_SKIP;
	return kinds[it->kind].skill;
}
