/* A job in words, for the lines beside a picture and for those who have the picture read to them.
 */
#ifndef DRAW_FACTS_H
#define DRAW_FACTS_H

#include "base/text.h"
#include "draw/stringing.h"

/* "7H 9H 7T 9T", or "none". */
void facts_holes(struct text *out, const struct hole_set *set);

/* "8T left and right", "7T left, 9T right": where knots of this kind are. */
void facts_knots(struct text *out, const struct stringing *stringing, enum string_kind string,
		 bool start);

/* "16 mains, 19 crosses, 6 bridge holes". */
void facts_counts(struct text *out, const struct pattern *pattern);

/* "Mains start at the throat, left first, and finish at the head. Crosses run from the head to the
 * throat." */
void facts_order(struct text *out, const struct sequence *sequence);

/* "Call 12 of 61". */
void facts_call(struct text *out, const struct stringing *stringing);

/* The whole picture: what it shows, the holes that are special, every pull in order. */
void facts_describe(struct text *out, const struct stringing *stringing);

#endif
