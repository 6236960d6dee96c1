/* Where everything of a frame goes on the page.
 *
 * Mains stand where the pattern or the estimate puts them (frame/geometry.h) and run straight; that
 * fixes their holes. A cross runs straight too, from a hole to the same hole on the other side, and
 * so has to leave the hoop between the mains whose holes its own lies between: within that, crosses
 * are spread as evenly as can be. A drawing made so shows every string in its hole and every
 * crossing that is really there, and no other: the outermost mains end below the first cross.
 */
#ifndef DRAW_LAYOUT_H
#define DRAW_LAYOUT_H

#include "draw/canvas.h"
#include "draw/stringing.h"
#include "frame/geometry.h"

#include <stdbool.h>

/* Steps along the inner edge of the hoop, clockwise from the middle of the head. */
enum { RIM_HALF = 512, RIM_WHOLE = 2 * RIM_HALF };

struct layout {
	const struct pattern *pattern;
	struct spot centre;
	double scale;     /* page over frame */
	bool assumed;     /* the pattern gives no head size: a usual one of its sport */
	struct hoop hoop; /* its inner edge, on the page */
	double band_mm;   /* the thickness of the frame, on the page */
	struct spot rim[RIM_WHOLE];
	struct spot outward[RIM_WHOLE]; /* unit vectors across the rim */
	double at[2][2][HOLES_MAX + 1]; /* by side, end and number: steps along the rim */
	double bridge_end[2]; /* by side: where the bridge meets the hoop; 0 without one */
};

/* The head that is drawn, in real millimetres: the pattern's, or a usual one of its sport. True if
 * it is the pattern's. */
bool layout_head(const struct pattern *pattern, struct head *out);

void layout_make(const struct pattern *pattern, struct spot centre, double scale,
		 struct layout *out);

/* A spot on the rim, or that far outside it; steps may go below 0 and beyond the whole. */
struct spot layout_spot(const struct layout *layout, double at, double out_mm);
struct spot layout_outward(const struct layout *layout, double at);

double layout_at(const struct layout *layout, struct place place);

/* The hole, in the middle of the frame's thickness. */
struct spot layout_hole(const struct layout *layout, struct place place);

/* The middle of an arm of the throat, so far below where it leaves the hoop, and how wide it is. */
struct spot layout_arm(const struct layout *layout, enum side side, double down_mm);
double layout_arm_mm(const struct layout *layout);

/* A string inside the hoop: a straight line. */
void layout_strand(const struct layout *layout, const struct strand *strand,
		   struct spot line[static 2]);

/* How far along a line, from 0 to 1, another one meets it; less than 0: nowhere. */
double layout_meeting(const struct spot line[static 2], const struct spot other[static 2]);

#endif
