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
};

static const char *const subjects[SUBJECTS] = {
	[SUBJECT_NONE] = NULL,       [SUBJECT_EYES] = "eyes",   [SUBJECT_FRAME] = "frame",
	[SUBJECT_STRING] = "string", [SUBJECT_MAINS] = "mains", [SUBJECT_CROSSES] = "crosses",
	[SUBJECT_WHOLE] = "whole",   [SUBJECT_BED] = "bed",
};

static const char *const call_kinds[CALL_KINDS] = {
	[CALL_CHECK_EYES] = "check-eyes",
	[CALL_CUT_OUT] = "cut-out",
	[CALL_INSPECT_FRAME] = "inspect-frame",
	[CALL_INSPECT_STRING] = "inspect-string",
	[CALL_CUT] = "cut",
	[CALL_MOUNT] = "mount",
	[CALL_LOCK] = "lock",
	[CALL_SET_TENSION] = "set-tension",
	[CALL_FEED] = "feed",
	[CALL_FEED_CENTRE] = "feed-centre",
	[CALL_FEED_SHORT] = "feed-short",
	[CALL_CLAMP_START] = "clamp-start",
	[CALL_UNCLAMP_START] = "unclamp-start",
	[CALL_PULL] = "pull",
	[CALL_CLAMP] = "clamp",
	[CALL_UNCLAMP] = "unclamp",
	[CALL_RELEASE] = "release",
	[CALL_CENTRE_MAIN] = "centre-main",
	[CALL_MAIN] = "main",
	[CALL_TIE_OFF] = "tie-off",
	[CALL_KNOT] = "knot",
	[CALL_START_KNOT] = "start-knot",
	[CALL_WEAVE] = "weave",
	[CALL_WEAVE_LOOP] = "weave-loop",
	[CALL_DRAW] = "draw",
	[CALL_CROSS] = "cross",
	[CALL_CROSS_BEHIND] = "cross-behind",
	[CALL_CROSS_PULL] = "cross-pull",
	[CALL_PULL_CROSS] = "pull-cross",
	[CALL_PULL_CROSSES] = "pull-crosses",
	[CALL_WEAVE_MAIN] = "weave-main",
	[CALL_DRAW_MAIN] = "draw-main",
	[CALL_LATE_MAIN] = "late-main",
	[CALL_DISMOUNT] = "dismount",
	[CALL_CHECK_BED] = "check-bed",
	[CALL_TRIM] = "trim",
	[CALL_STRAIGHTEN] = "straighten",
};

const char *phase_name(enum phase phase)
{
	return phases[phase];
}

const char *action_name(enum action action)
{
	return actions[action];
}

const char *subject_name(enum subject subject)
{
	return subjects[subject];
}

const char *call_kind_name(enum call_kind kind)
{
	return call_kinds[kind];
}
