/* The words round the frame: a ring of hole labels, and outside that a ring with the order of the
 * pulls and the names of the strings. Tags that would overlap make room along the rim. */
#ifndef DRAW_TAGS_H
#define DRAW_TAGS_H

#include "draw/layout.h"

enum tag_kind {
	TAG_HOLE,   /* "7H" */
	TAG_PULL,   /* "12", in a disc: where the string leaves for the tension head */
	TAG_STRING, /* "M4", "C9": where the string goes in */
	TAG_ARM,    /* no word: an arm of the throat, which the others make room for */
};

enum { TAG_TEXT_MAX = 16, TAGS_MAX = 4 * HOLES_MAX + 2 * STRANDS_MAX + 4 };

struct tag {
	enum tag_kind kind;
	char text[TAG_TEXT_MAX];
	struct place place;
	int ring; /* 0: next to the frame, 1: outside that */
	bool next;
	double home; /* steps along the rim: its hole, and where there was room */
	double at;
	double half_width_mm;
	double half_height_mm;
	struct spot centre;
};

struct tags {
	double size_mm; /* of the hole labels */
	struct tag items[TAGS_MAX];
	int count;
};

/* The room that the rings take outside the frame, on each side and at each end. */
void tags_room(double size_mm, struct spot *out);

/* Lays the tags out for that size. False if they cannot be kept apart near their holes. */
bool tags_make(const struct layout *layout, const struct stringing *stringing, double size_mm,
	       struct tags *out);

/* The size of the letters in a tag. */
double tag_size_mm(const struct tags *tags, enum tag_kind kind);

#endif
