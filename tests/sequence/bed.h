/* A string bed that is strung by following moves, and that says what is wrong with them.
 *
 * It knows how strings, clamps and tension heads behave, and the rules that a job must keep; it
 * does not know how the program arrives at its moves. What belongs where comes from the made-up
 * racket, not from the sequence under test.
 *
 *   - interlacing: ITF Rules of Tennis, Appendix II b; BWF Laws of Badminton, Law 4; WSF racket
 *     specification: strings are alternately interlaced where they cross;
 *   - all else (balance, clamps, pulling behind, two strings a hole): common practice, no source.
 */
#ifndef TESTS_SEQUENCE_BED_H
#define TESTS_SEQUENCE_BED_H

#include "sequence/racket.h"
#include "sequence/sequence.h"

/* Sums of adjustments are rounded to a hundredth of a unit, each of up to four, and what is set to
 * a tenth of a pound or of a kilogram, or to a newton: 0.2 N and 0.5 N for kilograms. */
#define BED_TOLERANCE_NEWTON 0.7

/* The first thing that is wrong with the moves, or NULL; the caller frees it. */
char *bed_fault(const struct sequence *sequence, const struct racket *racket);

/* The same for moves that the program made: it must know the strings at each call, too. */
char *bed_and_strings_fault(const struct sequence *sequence, const struct racket *racket);

/* The first thing that is wrong with how they are grouped into calls, or NULL; likewise. */
char *calls_fault(const struct sequence *sequence);

#endif
