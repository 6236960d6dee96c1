/* The pictures of a page, each an SVG element. All are as wide as a phone, so that their letters
 * can be read there, and grow with the page; units are those of such a width. What they show and
 * how is said in draw/style.h: a main is solid, a cross an outline, and what stands out has the one
 * colour and a shape or weight of its own. Numbers carry the class "value".
 */
#ifndef REPORT_PICTURES_H
#define REPORT_PICTURES_H

#include "base/text.h"
#include "report/trace.h"
#include "review/review.h"
#include "sequence/sequence.h"

#define PICTURE_WIDTH   360.0
#define PICTURE_LETTERS 9.5

/* The calls in the order in which they were worked on, along the clock of work, in lines as text
 * is. A pause takes no room in it: it is a numbered mark. */
void timeline_picture(struct text *out, const struct trace *trace);

/* The strings in their places, as thick as the work on them was long, and a bar for each. */
void bed_picture(struct text *out, const struct sequence *sequence, const struct review *review);

#endif
