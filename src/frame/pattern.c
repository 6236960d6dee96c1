/* Holes, and what follows from the hole map of a pattern. */
#include "frame/frame.h"

#include <stdlib.h>

const char *hole_text(struct hole hole, char buffer[static HOLE_TEXT_MAX])
{
	if (hole.number == 0)
		snprintf(buffer, HOLE_TEXT_MAX, "-");
	else
		snprintf(buffer, HOLE_TEXT_MAX, "%d%c", hole.number,
			 hole.end == END_HEAD ? 'H' : 'T');
	return buffer;
}

char *hole_list(const struct hole *holes, int count)
{
	struct text list = {0};
	char label[HOLE_TEXT_MAX];

	for (int i = 0; i < count;) {
		int last = i;
		int step = 0;
		while (last + 1 < count && holes[last + 1].end == holes[i].end) {
			int next = holes[last + 1].number - holes[last].number;
			if ((next != 1 && next != -1) || (step && next != step))
				break;
			step = next;
			last++;
		}
		text_format(&list, "%s%s", i ? " " : "", hole_text(holes[i], label));
		if (last > i)
			text_format(&list, "%s%s", last > i + 1 ? "-" : " ",
				    hole_text(holes[last], label));
		i = last + 1;
	}
	return text_take(&list);
}

bool hole_in(const struct hole_set *set, struct hole hole)
{
	return (set->bits[hole.end] >> hole.number) & 1;
}

const char *const end_names[] = {"head", "throat", NULL};
const char *const side_names[] = {"left", "right", NULL};
const char *const string_names[] = {"main", "cross", NULL};

int pattern_half(const struct pattern *pattern)
{
	return pattern->mains / 2;
}

int pattern_main_at(const struct pattern *pattern, struct hole hole)
{
	for (int k = 1; k <= pattern_half(pattern); k++)
		if (pattern->main_hole[hole.end][k] == hole.number)
			return k;
	return 0;
}

int pattern_cross_at(const struct pattern *pattern, struct hole hole)
{
	for (int c = 1; c <= pattern->crosses; c++)
		if (hole_same(pattern->cross_hole[c], hole))
			return c;
	return 0;
}

int pattern_strings_in(const struct pattern *pattern, struct hole hole)
{
	return (pattern_main_at(pattern, hole) != 0) + (pattern_cross_at(pattern, hole) != 0);
}

int pattern_hole_count(const struct pattern *pattern)
{
	return pattern->holes[END_HEAD] + pattern->holes[END_THROAT];
}

struct hole pattern_hole_at(const struct pattern *pattern, int index)
{
	if (index < pattern->holes[END_HEAD])
		return (struct hole){END_HEAD, index + 1};
	return (struct hole){END_THROAT, pattern_hole_count(pattern) - index};
}

int pattern_hole_index(const struct pattern *pattern, struct hole hole)
{
	return hole.end == END_HEAD ? hole.number - 1 : pattern_hole_count(pattern) - hole.number;
}

bool pattern_meets(const struct pattern *pattern, struct hole cross, int main)
{
	return pattern->main_hole[cross.end][main] < cross.number;
}

static int mains_in_bridge(const struct pattern *pattern)
{
	int count = 0;

	for (int k = 1; k <= pattern_half(pattern); k++)
		count += pattern->main_hole[END_THROAT][k] <= pattern->bridge / 2;
	return count;
}

enum frame_end pattern_mains_start(const struct pattern *pattern)
{
	return mains_in_bridge(pattern) % 2 == 1 ? END_THROAT : END_HEAD;
}

enum frame_end pattern_main_end(enum frame_end start, int main)
{
	return main % 2 == 1 ? other_end(start) : start;
}

int pattern_loop_over_gap(const struct pattern *pattern, enum frame_end start)
{
	int inside = mains_in_bridge(pattern);

	if (inside == 0 || inside == pattern_half(pattern))
		return 0;
	/* The loop from the last main in the bridge to the next lies where that main ends. */
	return pattern_main_end(start, inside) == END_THROAT ? inside : 0;
}

void pattern_free(struct pattern *pattern)
{
	if (!pattern)
		return;
	free(pattern->file);
	free(pattern->text);
	free(pattern->name);
	free(pattern->title);
	free(pattern);
}
