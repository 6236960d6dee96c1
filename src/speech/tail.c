#include "speech/internal.h"

#include <string.h>

static void end_line(struct tail *tail)
{
	if (tail->length == 0)
		return;
	tail->current = (tail->current + 1) % TAIL_LINES;
	tail->length = 0;
	memset(tail->lines[tail->current], 0, TAIL_LINE_MAX);
}

void tail_add(struct tail *tail, const char *bytes, size_t length)
{
	for (size_t i = 0; i < length; i++) {
		char byte = bytes[i];

		if (byte == '\n')
			end_line(tail);
		else if (tail->length < TAIL_LINE_MAX - 1)
			tail->lines[tail->current][tail->length++] =
				(unsigned char)byte < ' ' || byte == 0x7F ? '?' : byte;
	}
}

const char *tail_last(const struct tail *tail)
{
	for (size_t back = 0; back < TAIL_LINES; back++) {
		const char *line = tail->lines[(tail->current + TAIL_LINES - back) % TAIL_LINES];
		if (line[0])
			return line;
	}
	return "";
}
