#include "frame/frame.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool hole_parse(const char *label, struct hole *out)
{
	size_t digits = strspn(label, "0123456789");

	if (digits == 0 || digits > 2 || label[0] == '0' || label[digits] == '\0' ||
	    label[digits + 1] != '\0')
		return false;
	char end = label[digits];
	long number = strtol(label, NULL, 10);
	if ((end != 'H' && end != 'T') || number > HOLES_MAX)
		return false;
	*out = (struct hole){.end = end == 'H' ? END_HEAD : END_THROAT, .number = (int)number};
	return true;
}

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

void hole_put(struct hole_set *set, struct hole hole)
{
	set->bits[hole.end] |= UINT64_C(1) << hole.number;
}

const char *const end_names[] = {"head", "throat", NULL};
const char *const side_names[] = {"left", "right", NULL};
const char *const string_names[] = {"main", "cross", NULL};
