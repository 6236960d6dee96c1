/* An SVG picture read back by a parser that knows nothing of how it was written (expat). */
#ifndef TESTS_DRAW_PICTURE_H
#define TESTS_DRAW_PICTURE_H

#include <stdbool.h>
#include <stddef.h>

struct element {
	char *name;
	char **attributes; /* names and values by turns, NULL at the end */
	char *text;        /* the characters right inside it, never NULL */
	int parent;        /* -1: the root */
};

struct picture {
	struct element *items;
	int count;
};

struct corner_read {
	double x;
	double y;
	bool begins; /* a new piece */
};

/* False with the parser's complaint on standard error if it is not well-formed. */
bool picture_read(const char *bytes, size_t length, struct picture *out);
void picture_free(struct picture *picture);

const char *element_get(const struct element *element, const char *name); /* NULL: not there */
double element_number(const struct element *element, const char *name);
bool element_is(const struct element *element, const char *name, const char *class);

/* The first element with that name and class inside another one, from an index on; -1: none. */
int picture_inside(const struct picture *picture, int parent, const char *name, const char *class);

/* The corners of a path's data (absolute M, L and Z only; anything else fails the test). */
int corners_read(const char *data, struct corner_read *corners, int max);

#endif
