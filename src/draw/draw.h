/* Pictures of a string bed, to look at, to print and to pin up.
 *
 * They are made from a compiled sequence and from nothing else, so that what is seen is what is
 * called out: SVG with real text, one page of PDF, or PNG, by the suffix of the file. A file is
 * there whole or not at all. Faults go to the list with the path as their file.
 */
#ifndef DRAW_DRAW_H
#define DRAW_DRAW_H

#include "base/fault.h"
#include "sequence/sequence.h"

enum draw_result {
	DRAW_DONE,
	DRAW_USAGE,   /* no such format, no such call */
	DRAW_INPUT,   /* the pattern cannot be strung */
	DRAW_OUTSIDE, /* the file could not be written */
};

struct draw_options {
	int at_call; /* the bed as it stands when this call is made, from 1; 0: the whole */
	const char *call_words;    /* what is said at that call, or NULL */
	const char *side_words[2]; /* by side, the user's own; NULL: left, right */
};

/* Draws to path: .svg, .pdf or .png; "-" is SVG on standard output. options may be NULL. */
enum draw_result draw_bed(const struct sequence *sequence, const struct draw_options *options,
			  const char *path, struct faults *faults);

/* The same for a frame with no job yet: in two pieces, as the pattern and usual practice have it.
 */
enum draw_result draw_pattern(const struct pattern *pattern, const struct draw_options *options,
			      const char *path, struct faults *faults);

/* The bench card: one A4 page with the picture and all that a stringer pins up. at_call is not
 * used. */
enum draw_result draw_card(const struct sequence *sequence, const struct draw_options *options,
			   const char *path, struct faults *faults);

#endif
