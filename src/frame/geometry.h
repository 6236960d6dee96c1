/* The head of a frame as a figure: a superellipse with the strings as its chords.
 *
 * The inside of the hoop is |x/a|^n + |y/b|^n = 1: x across the frame and y along it, the middle of
 * the head at 0, its far end at y = b. n = 2 is an ellipse, more is squarer. The area is
 * 4 a b Gamma(1 + 1/n)^2 / Gamma(1 + 2/n) (MathWorld, "Superellipse"), from which n is solved where
 * the pattern gives the strung area. A real hoop is not quite such a figure: everything here is an
 * estimate.
 */
#ifndef FRAME_GEOMETRY_H
#define FRAME_GEOMETRY_H

#include "frame/pattern.h"

#include <stdbool.h>

/* Where the outermost strings stand if the pattern gives no spacing, as a share of a and of b. From
 * memory: plausible for a racket, no source. */
#define OUTERMOST_MAIN_SHARE  0.79
#define OUTERMOST_CROSS_SHARE 0.88

struct hoop {
	double a_mm; /* half the width inside */
	double b_mm; /* half the length inside */
	double n;
};

struct point {
	double x_mm;
	double y_mm;
};

/* A hole in its place on the right half of the hoop; the left half is its mirror image. */
struct hole_place {
	struct point point;
	double along_mm; /* along the hoop from the middle of the head */
};

/* The strings of a bed in their places. Filled by bed_of_pattern, then read only. */
struct bed {
	struct hoop hoop;
	double beam_mm; /* how thick the frame is in the plane of the strings */
	int half;       /* mains a side */
	int crosses;
	double main_x_mm[MAINS_MAX / 2 + 1]; /* by main from 1: distance from the centre line */
	double cross_y_mm[CROSSES_MAX + 1];  /* by cross from 1 at the head: falling */
	struct hole_place hole[2][HOLES_MAX + 1]; /* by end and number */
};

/* The hoop of that length, width and area; area 0: an ellipse. False if there is none: the area has
 * to lie between half the rectangle round it (a diamond, n = 1) and the whole of it. */
bool hoop_fit(double length_mm, double width_mm, double area_mm2, struct hoop *out);
double hoop_area_mm2(const struct hoop *hoop);
double hoop_perimeter_mm(const struct hoop *hoop);

/* Half the inside length at x, half the inside width at y; 0 outside the hoop. */
double hoop_half_length_mm(const struct hoop *hoop, double x_mm);
double hoop_half_width_mm(const struct hoop *hoop, double y_mm);

/* The bed of a pattern. False if the pattern does not give length and width of the head.
 *
 * A hole stands where its string's chord meets the hoop, or as near to that as the order of the
 * holes allows; a shared hole between its two strings, an unused one between its neighbours. */
bool bed_of_pattern(const struct pattern *pattern, struct bed *out);

/* The inside length of the hoop where a string is. */
double bed_main_mm(const struct bed *bed, int main);
double bed_cross_mm(const struct bed *bed, int cross);

/* Between neighbours: mains k and k + 1 of one side (k = 0: the two centre mains), crosses c and
 * c + 1. */
double bed_main_gap_mm(const struct bed *bed, int main);
double bed_cross_gap_mm(const struct bed *bed, int cross);

/* Along the hoop from one hole to another of the same side. */
double bed_along_mm(const struct bed *bed, struct hole from, struct hole to);

#endif
