/* How much string a frame takes: an estimate, to be printed and spoken as one.
 *
 * A string is as long as the hoop inside where it stands, and passes the frame twice; between
 * neighbours it runs outside the frame. To that come the ends that the machine grips and the knots.
 * Prestretching, the sag of a loose bed and a real hoop's shape are not in it.
 */
#ifndef FRAME_STRING_LENGTH_H
#define FRAME_STRING_LENGTH_H

#include "frame/geometry.h"

/* What is added to the bed itself. Each default is from memory, a plausible value without a source;
 * the reach is the user's machine's and comes from the bench file. */
struct length_allowance {
	double reach_mm; /* an end: string the machine needs beyond the frame to grip */
	double knot_mm;  /* a knot */
	double weave;    /* going over and under makes a cross longer by this share */
};

#define LENGTH_ALLOWANCE_DEFAULT                                                                   \
	((struct length_allowance){.reach_mm = 350, .knot_mm = 100, .weave = 0.01})

/* Two-piece, and so hybrid too: the mains have two ends and two knots; the crosses begin in a knot
 * and so have one end and two knots. */
double length_of_mains_mm(const struct bed *bed, const struct length_allowance *allowance);
double length_of_crosses_mm(const struct bed *bed, const struct length_allowance *allowance);

/* One-piece. The short side strings one half of the mains and has one end and one knot. */
double length_of_short_side_mm(const struct bed *bed, const struct length_allowance *allowance);

/* The long side strings the other half, of which `in_a_row` mains outward from the centre, and then
 * whatever is left and every cross along a route; `outside_mm` is what the route runs outside the
 * frame from the last of those mains on. */
double length_of_long_side_mm(const struct bed *bed, const struct length_allowance *allowance,
			      int in_a_row, double outside_mm);

/* One such run, from the hole where the string leaves to the one on the same side where it enters:
 * the spacing between neighbouring crosses or mains, along the hoop otherwise. */
double length_outside_mm(const struct bed *bed, const struct pattern *pattern, struct hole from,
			 struct hole to);

/* The whole of the simplest route: from the last of all the long side's mains, begun at `start`, to
 * the first cross, and on from cross to cross. */
double length_plain_route_mm(const struct bed *bed, const struct pattern *pattern,
			     enum frame_end start);

#endif
