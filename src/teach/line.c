/* What teaching has to know of a line of a script. */
#include "teach/teach.h"

#include "sequence/sequence.h"

#include <string.h>

/* Calls with a caution that only the full sentence holds; those that set the machine; and those of
 * a pull, whose full sentence says to clamp before the release. */
static const struct {
	enum call_kind kind;
	unsigned holds;
} held[] = {
	{CALL_CHECK_EYES, LINE_CAUTION},
	{CALL_INSPECT_FRAME, LINE_CAUTION},
	{CALL_LOCK, LINE_CAUTION},
	{CALL_TIE_OFF, LINE_CAUTION},
	{CALL_TRIM, LINE_CAUTION},
	{CALL_SET_TENSION, LINE_TENSION},
	{CALL_CHECK_WEAVE, LINE_LAST_CHECK},
	{CALL_CENTRE_MAIN, LINE_CLAMP_ORDER},
	{CALL_CENTRE_BEYOND, LINE_CLAMP_ORDER},
	{CALL_MAIN, LINE_CLAMP_ORDER},
	{CALL_CROSS_BEHIND, LINE_CLAMP_ORDER},
	{CALL_CROSS_PULL, LINE_CLAMP_ORDER},
	{CALL_PULL_CROSS, LINE_CLAMP_ORDER},
	{CALL_PULL_CROSSES, LINE_CLAMP_ORDER},
	{CALL_LATE_MAIN, LINE_CLAMP_ORDER},
};

unsigned teach_holds(const char *kind, int skill)
{
	unsigned holds = skill == (int)SKILL_SKIP ? LINE_SKIP : 0;

	for (size_t i = 0; i < sizeof(held) / sizeof(held[0]); i++)
		if (strcmp(kind, call_kind_name(held[i].kind)) == 0)
			holds |= held[i].holds;
	return holds;
}

static bool is_kind(const struct script_line *line, enum call_kind kind)
{
	return strcmp(line->kind, call_kind_name(kind)) == 0;
}

int teach_station(const struct script *script, int number)
{
	if (number < 1)
		return -1;
	if (number >= script->count)
		return STATION_FINISHED;
	const struct script_line *line = script_line(script, number);
	const struct script_line *next = script_line(script, number + 1);
	int half = script->whole.crosses / 2;
	int woven = __builtin_popcountll(line->bed.crosses);
	bool weaves_next = __builtin_popcountll(next->bed.crosses) > woven;
	bool centre = is_kind(line, CALL_CENTRE_MAIN) || is_kind(line, CALL_CENTRE_BEYOND);
	bool more_centre = is_kind(next, CALL_CENTRE_MAIN) || is_kind(next, CALL_CENTRE_BEYOND);

	if (is_kind(line, CALL_LOCK))
		return STATION_MOUNTED;
	if (centre && !more_centre)
		return STATION_CENTRE_MAINS;
	if (strcmp(line->phase, phase_names[PHASE_MAINS]) == 0 &&
	    strcmp(next->phase, phase_names[PHASE_CROSSES]) == 0)
		return STATION_MAINS_DONE;
	if (is_kind(line, CALL_CHECK_WEAVE) && woven == script->whole.crosses)
		return STATION_BEFORE_LAST_KNOT;
	if (woven == 3 && weaves_next)
		return STATION_THIRD_CROSS;
	return woven == half && weaves_next ? STATION_HALF_WAY : -1;
}
