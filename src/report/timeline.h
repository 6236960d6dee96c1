/* Between the files that draw the timeline. */
#ifndef REPORT_TIMELINE_H
#define REPORT_TIMELINE_H

#include "draw/canvas.h"
#include "report/trace.h"

/* Where a line begins and how long it is, where the first one's blocks are, how far it is to the
 * next, how high blocks are. */
#define TIMELINE_LEFT   34.0
#define TIMELINE_WIDTH  319.0
#define TIMELINE_TOP    16.0
#define TIMELINE_PITCH  56.0
#define TIMELINE_HEIGHT 22.0

struct timeline {
	struct canvas *canvas;
	const struct trace *trace;
	double line_us; /* of work in one line */
	int lines;
};

/* The line of a moment: the end of a line belongs to it, the beginning of work to the first. And
 * where in a line a moment is, at the top of its blocks. */
int timeline_line(const struct timeline *timeline, double at_us);
struct spot timeline_spot(const struct timeline *timeline, int line, double at_us);

void timeline_marks(const struct timeline *timeline);

/* Draws the marks that there are with their words, from a height on, and returns how much room they
 * take; without a canvas it only tells. */
double timeline_legend(struct canvas *canvas, const struct trace *trace, double y);

#endif
