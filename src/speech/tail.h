/* The last lines of a stream that may have no end: what a dying speaker printed, kept short.
 *
 * Memory is fixed. Control characters become '?', a long line is cut.
 */
#ifndef SPEECH_TAIL_H
#define SPEECH_TAIL_H

#include <stddef.h>

enum { TAIL_LINES = 4, TAIL_LINE_MAX = 160 };

/* A zeroed struct is empty. */
struct tail {
	char lines[TAIL_LINES][TAIL_LINE_MAX];
	size_t current; /* the line being filled */
	size_t length;  /* of that line */
};

void tail_add(struct tail *tail, const char *bytes, size_t length);

/* The last line with something in it, or "". */
const char *tail_last(const struct tail *tail);

#endif
