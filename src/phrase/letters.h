/* What may reach the synthesiser: letters (Latin, Greek, Cyrillic, with their accents), spaces,
 * apostrophes, commas, full stops and hyphens. */
#ifndef PHRASE_LETTERS_H
#define PHRASE_LETTERS_H

#include <stdbool.h>
#include <stdint.h>

/* The code point at *at, which moves behind it; U+FFFD for a byte that is not UTF-8; 0 at the end.
 */
uint32_t letters_next(const char **at);

bool letters_is_letter(uint32_t point);
bool letters_is_sayable(uint32_t point);

#endif
