/* One hand for the whole picture. Three greys and one colour, and nothing is told by them alone:
 * every difference is one of shape or weight too, so that a black and white print loses nothing. */
#ifndef DRAW_STYLE_H
#define DRAW_STYLE_H

#include "draw/canvas.h"

enum {
	INK = 0x000000,   /* pure, so that a printer does not screen it */
	GREY = 0x4A4F54,  /* second voice: names, notes */
	FAINT = 0xA9AEB2, /* guide lines */
	CORE = 0xC4CACF,  /* between the two edges of a cross */
	PALE = 0xECEDEE,  /* the frame */
	PAPER = 0xFFFFFF,
	ACCENT = 0xC2330F, /* what is to be done next: a middle grey in black and white */
};

/* Line weights, each 1.4 to 2 times the one below, as in technical drawing. */
#define HAIR_MM   0.13
#define THIN_MM   0.25
#define MEDIUM_MM 0.4
#define THICK_MM  0.6

static inline struct pen pen_line(int colour, double width_mm)
{
	return (struct pen){.stroke = colour, .width_mm = width_mm, .fill = COLOUR_NONE};
}

static inline struct pen pen_fill(int colour)
{
	return (struct pen){.stroke = COLOUR_NONE, .fill = colour};
}

#endif
