/* The words of the contract: what the enums are called in JSON, phrasebooks and messages. */
#include "sequence/sequence.h"

static const char *const phases[PHASES] = {
	[PHASE_PREPARE] = "prepare",
	[PHASE_MAINS] = "mains",
	[PHASE_CROSSES] = "crosses",
	[PHASE_FINISH] = "finish",
};

static const char *const actions[ACTIONS] = {
	[DO_CUT_OUT] = "cut-out",
	[DO_INSPECT] = "inspect",
	[DO_CUT] = "cut",
	[DO_MOUNT] = "mount",
	[DO_LOCK] = "lock",
	[DO_SET_TENSION] = "set-tension",
	[DO_FEED] = "feed",
	[DO_CLAMP] = "clamp",
	[DO_UNCLAMP] = "unclamp",
	[DO_PULL] = "pull",
	[DO_RELEASE] = "release",
	[DO_KNOT] = "knot",
	[DO_WEAVE] = "weave",
	[DO_DRAW] = "draw",
	[DO_TIE_OFF] = "tie-off",
	[DO_DISMOUNT] = "dismount",
	[DO_CHECK] = "check",
	[DO_TRIM] = "trim",
	[DO_STRAIGHTEN] = "straighten",
	[DO_SET_CLAMPS] = "set-clamps",
	[DO_TURN] = "turn",
	[DO_LET_DOWN] = "let-down",
	[DO_TAKE_OUT] = "take-out",
	[DO_UNTIE] = "untie",
	[DO_CLEAN] = "clean",
};

static const char *const subjects[SUBJECTS] = {
	[SUBJECT_NONE] = NULL,       [SUBJECT_EYES] = "eyes",     [SUBJECT_FRAME] = "frame",
	[SUBJECT_STRING] = "string", [SUBJECT_MAINS] = "mains",   [SUBJECT_CROSSES] = "crosses",
	[SUBJECT_WHOLE] = "whole",   [SUBJECT_BED] = "bed",       [SUBJECT_PATTERN] = "pattern",
	[SUBJECT_WEAVE] = "weave",   [SUBJECT_MOUNTS] = "mounts", [SUBJECT_CLAMP] = "clamp",
};

static const char *const skills[SKILLS] = {
	[SKILL_PREPARE] = "prepare", [SKILL_MOUNT] = "mount",   [SKILL_TENSION] = "tension",
	[SKILL_FEED] = "feed",       [SKILL_SKIP] = "skip",     [SKILL_CLAMP] = "clamp",
	[SKILL_TIE_OFF] = "tie-off", [SKILL_KNOT] = "knot",     [SKILL_WEAVE_START] = "weave-start",
	[SKILL_WEAVE] = "weave",     [SKILL_BEHIND] = "behind", [SKILL_FINISH] = "finish",
};

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
