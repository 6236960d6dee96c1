/* The words of the contract: what the enums are called in JSON, phrasebooks and messages. */
#include "sequence/sequence.h"

static const char *const phases[PHASES] = {
	[PHASE_PREPARE] = "prepare",
	[PHASE_MAINS] = "mains",
	[PHASE_CROSSES] = "crosses",
	[PHASE_FINISH] = "finish",
};

static const char *const actions[ACTIONS] = {
#define ACTION(id, name) [DO_##id] = (name),
	ACTION_LIST(ACTION)
#undef ACTION
};

static const char *const subjects[SUBJECTS] = {
#define SUBJECT(id, name) [SUBJECT_##id] = (name),
	SUBJECT_LIST(SUBJECT)
#undef SUBJECT
};

static const char *const skills[SKILLS] = {
	[SKILL_PREPARE] = "prepare", [SKILL_MOUNT] = "mount",   [SKILL_TENSION] = "tension",
	[SKILL_FEED] = "feed",       [SKILL_SKIP] = "skip",     [SKILL_CLAMP] = "clamp",
	[SKILL_TIE_OFF] = "tie-off", [SKILL_KNOT] = "knot",     [SKILL_WEAVE_START] = "weave-start",
	[SKILL_WEAVE] = "weave",     [SKILL_BEHIND] = "behind", [SKILL_FINISH] = "finish",
};

static const char *const travels[] = {
	[TRAVEL_LEFT_TO_RIGHT] = "left-to-right",
	[TRAVEL_RIGHT_TO_LEFT] = "right-to-left",
	[TRAVEL_HEAD_TO_THROAT] = "head-to-throat",
	[TRAVEL_THROAT_TO_HEAD] = "throat-to-head",
};

const char *travel_name(enum travel travel)
{
	return travels[travel];
}

const char *phase_name(enum phase phase)
{
	return phases[phase];
}

const char *action_name(enum action action)
{
	return actions[action];
}

const char *clamp_kind_name(enum clamp_kind kind)
{
	static const char *const names[CLAMP_KINDS] = {"fixed", "flying", "starting"};

	return names[kind];
}

const char *subject_name(enum subject subject)
{
	return subjects[subject];
}

const char *skill_name(enum skill skill)
{
	return skills[skill];
}
