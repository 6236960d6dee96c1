/* A script of questions alone, to be answered without a racket. */
#include "script/internal.h"

#include <stdlib.h>
#include <string.h>

static bool is_wanted(const struct script_line *line, const char *const *skills)
{
	while (*skills && strcmp(*skills, line->skill) != 0)
		skills++;
	return line->question && *skills;
}

/* splitmix64 (Steele, Lea & Flood 2014): the same seed gives the same order everywhere. */
static uint64_t next_random(uint64_t *state)
{
	uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);

	z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
	z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
	return z ^ z >> 31;
}

struct script *script_drill(const struct script *taught, const char *const *skills, uint64_t seed)
{
	struct script facts = *taught;
	int *order = memory_new((size_t)taught->count, sizeof *order);
	int count = 0;

	facts.teaching = "drill";
	struct script *drill = script_new(&facts);
	for (int i = 1; i <= taught->count; i++) {
		if (!is_wanted(script_line(taught, i), skills))
			continue;
		int at = (int)(next_random(&seed) % (uint64_t)++count);
		order[count - 1] = order[at];
		order[at] = i;
	}
	for (int i = 0; i < count; i++) {
		struct script_line line = *script_line(taught, order[i]);
		line.call = 0;
		script_add(drill, &line);
	}
	free(order);
	return drill;
}
