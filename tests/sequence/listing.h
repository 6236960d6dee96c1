/* A sequence as text, one call a line, for comparing with what was written down by hand:
 *
 *   12 main            L2: feed 2H-2T, pull 2T 54 lb, unclamp L1 1H, clamp 2T, release
 *
 * A string is L or R and its number for a main, C and its number for a cross; where a move is about
 * another string than the one before it, it is named. */
#ifndef TESTS_SEQUENCE_LISTING_H
#define TESTS_SEQUENCE_LISTING_H

#include "sequence/sequence.h"

/* The caller frees it. */
char *listing_of(const struct sequence *sequence);

#endif
