#include "teach/teach.h"

#include "sequence/sequence.h"

#include <string.h>

static const char *const levels[LEVELS] = {
	[LEVEL_NAMED] = "named", [LEVEL_ASKED] = "asked",   [LEVEL_SHORT] = "short",
	[LEVEL_TOLD] = "told",   [LEVEL_REASON] = "reason",
};

static const char *const stations[STATIONS] = {
	[STATION_MOUNTED] = "mounted",       [STATION_CENTRE_MAINS] = "centre-mains",
	[STATION_MAINS_DONE] = "mains-done", [STATION_THIRD_CROSS] = "third-cross",
	[STATION_HALF_WAY] = "half-way",     [STATION_BEFORE_LAST_KNOT] = "before-last-knot",
	[STATION_FINISHED] = "finished",
};

static const struct {
	const char *name;
	enum skill skill;
} work_faults[WORK_FAULTS] = {
	[WORK_MISWEAVE] = {"misweave", SKILL_WEAVE},
	[WORK_WRONG_HOLE] = {"wrong-hole", SKILL_SKIP},
	[WORK_CROSSED_LOOP] = {"crossed-loop", SKILL_FEED},
	[WORK_CLAMP_SLIP] = {"clamp-slip", SKILL_CLAMP},
	[WORK_NOTCH] = {"notch", SKILL_WEAVE}, /* a cross that was not kept moving */
	[WORK_CROOKED] = {"crooked", SKILL_WEAVE},
	[WORK_KNOT] = {"knot", SKILL_KNOT},
	[WORK_TAIL] = {"tail", SKILL_FINISH},
	[WORK_AWL] = {"awl", SKILL_TIE_OFF},
	[WORK_UNEVEN] = {"uneven", SKILL_FINISH},
	[WORK_FRAME] = {"frame", SKILL_MOUNT},
};

const char *level_name(enum level level)
{
	return levels[level];
}

const char *station_name(enum station station)
{
	return stations[station];
}

const char *work_fault_name(enum work_fault fault)
{
	return work_faults[fault].name;
}

int teach_skill(const char *name)
{
	for (enum skill skill = 0; skill < SKILLS; skill++)
		if (strcmp(skill_names[skill], name) == 0)
			return (int)skill;
	return -1;
}

const char *teach_skill_name(int skill)
{
	return skill_names[(enum skill)skill];
}

bool work_fault_parse(const char *name, enum work_fault *out)
{
	for (enum work_fault fault = 0; fault < WORK_FAULTS; fault++)
		if (strcmp(work_faults[fault].name, name) == 0) {
			*out = fault;
			return true;
		}
	return false;
}

int work_fault_skill(enum work_fault fault)
{
	return (int)work_faults[fault].skill;
}

void teach_explain(const struct teach_skill *skill, struct text *out)
{
	static const struct {
		int number; /* 0: none is said */
		const char *text;
	} whys[] = {
		[TEACH_WHY_NEW] = {0, "no history"},
		[TEACH_WHY_RUN] = {TEACH_RUN, "calls in a row without a fault"},
		[TEACH_WHY_CLEAN] = {1, "racket without a fault"},
		[TEACH_WHY_FAULTS] = {TEACH_FAULTS, "faults in one racket or in a row"},
		[TEACH_WHY_NAMED] = {TEACH_FAULTS_NAMED, "fault when only the name was said"},
		[TEACH_WHY_REST] = {TEACH_REST_DAYS, "days without practice"},
	};

	if (whys[skill->why].number > 0)
		text_format(out, "%d ", whys[skill->why].number);
	text_add(out, whys[skill->why].text);
	if (skill->run > 0)
		text_format(out, "; %d without a fault since", skill->run);
}
