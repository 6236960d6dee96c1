/* Holes (grommets) of a frame, named as stringers name them.
 *
 * A hole is numbered outward from the centre line on each side: 1H is the hole beside the centre at
 * the head, 1T likewise at the throat. A label names the pair; with a side it names one hole.
 */
#ifndef FRAME_HOLE_H
#define FRAME_HOLE_H

#include <stdbool.h>
#include <stdint.h>

enum frame_end { END_HEAD, END_THROAT };

/* As seen on the face of the frame with the head pointing away from you. */
enum side { SIDE_LEFT, SIDE_RIGHT };

struct hole {
	enum frame_end end;
	int number; /* from 1; 0: no hole */
};

enum { HOLES_MAX = 40, HOLE_TEXT_MAX = 16 };

/* A set of labels, in and out in one operation. */
struct hole_set {
	uint64_t bits[2]; /* by end; bit n is hole n */
};

static inline enum frame_end other_end(enum frame_end end)
{
	return end == END_HEAD ? END_THROAT : END_HEAD;
}

static inline enum side other_side(enum side side)
{
	return side == SIDE_LEFT ? SIDE_RIGHT : SIDE_LEFT;
}

static inline bool hole_same(struct hole a, struct hole b)
{
	return a.end == b.end && a.number == b.number;
}

/* Reads "7H" or "12T"; false if it is no label. The number is 1 to HOLES_MAX. */
bool hole_parse(const char *label, struct hole *out);

/* "7H"; "-" for no hole. Returns buffer. */
const char *hole_text(struct hole hole, char buffer[static HOLE_TEXT_MAX]);

/* "7H 9H 11H-18H 17T-11T": runs at one end are drawn together. The caller frees it. */
char *hole_list(const struct hole *holes, int count);

bool hole_in(const struct hole_set *set, struct hole hole);
void hole_put(struct hole_set *set, struct hole hole);

const char *end_name(enum frame_end end); /* "head", "throat" */
const char *side_name(enum side side);    /* "left", "right" */

#endif
