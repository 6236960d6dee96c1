/* Letters large enough to read at arm's length: five dots high, drawn with half blocks, so that a
 * line of them takes three rows of a terminal (the sixth dot is the space below). */
#ifndef CLI_LETTERS_H
#define CLI_LETTERS_H

#include "base/text.h"

#include <stdbool.h>

enum { LETTERS_ROWS = 3 };

/* Columns that a text takes in large letters, or -1 if it has a character that there is no letter
 * for. */
int letters_width(const char *text, int length);

/* Adds the three rows of `length` bytes of text, each ended by '\n' (UTF-8). */
void letters_add(struct text *out, const char *text, int length);

#endif
