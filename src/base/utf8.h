/* What is UTF-8 and what is not. */
#ifndef BASE_UTF8_H
#define BASE_UTF8_H

#include <stddef.h>

/* The length of the well-formed UTF-8 sequence at `at` (Unicode 15, table 3-7), of which `left`
 * bytes are there; 0 if there is none. */
size_t utf8_length(const unsigned char *at, size_t left);

#endif
