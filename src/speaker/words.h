/* What may reach the synthesiser: words, and the marks that shape a sentence.
 *
 * espeak-ng 1.51 reads more into a text than words (phonemes in brackets, markup, symbols by name)
 * and has had overflows in that reading since mended elsewhere. So its input is short, of letters,
 * digits and a few marks, and no word is longer than any real one. Everything else becomes a space.
 * A phrasebook writes numbers and units out; the digits kept here are for `pullcall say`.
 */
#ifndef SPEAKER_WORDS_H
#define SPEAKER_WORDS_H

#include <stdbool.h>

enum { WORDS_MAX = 800 /* bytes with the terminator */, WORD_LETTERS_MAX = 40 };

/* Writes what may be said of text. False: nothing is left that could be heard. */
bool words_clean(const char *text, char words[static WORDS_MAX]);

#endif
