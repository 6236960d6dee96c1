/* Text that grows: a string under construction. `bytes` is always terminated; a zeroed struct is
 * empty. */
#ifndef BASE_TEXT_H
#define BASE_TEXT_H

#include <stddef.h>

struct text {
	char *bytes; /* NULL while nothing was added */
	size_t length;
	size_t capacity;
};

void text_add(struct text *text, const char *bytes);
void text_add_part(struct text *text, const char *bytes, size_t length);
void text_add_char(struct text *text, char byte);
void text_format(struct text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* What was built, or "" ; stays owned by text. */
const char *text_string(const struct text *text);

/* What was built, now owned by the caller; text is empty again. */
char *text_take(struct text *text);

/* Takes away the first length bytes; so many must be there. */
void text_remove_start(struct text *text, size_t length);

/* Empties the text but keeps its memory, for reuse in a loop. */
void text_clear(struct text *text);
void text_free(struct text *text);

#endif
