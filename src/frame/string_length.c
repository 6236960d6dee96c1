#include "frame/frame.h"

#include <stdlib.h>

/* The mains of one side, with the loops between them, from the first to main `in_a_row`. */
static double half_of_mains_mm(const struct bed *bed, int in_a_row)
{
	double mm = 0;

	for (int k = 1; k <= bed->half; k++)
		mm += bed_main_mm(bed, k) + 2 * bed->beam_mm;
	for (int k = 1; k < in_a_row; k++)
		mm += bed_main_gap_mm(bed, k);
	return mm;
}

static double all_crosses_mm(const struct bed *bed, const struct length_allowance *allowance)
{
	double mm = 0;

	for (int c = 1; c <= bed->crosses; c++)
		mm += bed_cross_mm(bed, c) * (1 + allowance->weave) + 2 * bed->beam_mm;
	return mm;
}

double length_of_mains_mm(const struct bed *bed, const struct length_allowance *allowance)
{
	return 2 * length_of_short_side_mm(bed, allowance) + allowance->margin_mm;
}

double length_of_crosses_mm(const struct bed *bed, const struct length_allowance *allowance)
{
	double loops_mm = bed->cross_y_mm[1] - bed->cross_y_mm[bed->crosses];

	return all_crosses_mm(bed, allowance) + loops_mm + allowance->reach_mm +
	       2 * allowance->knot_mm + allowance->margin_mm;
}

double length_of_short_side_mm(const struct bed *bed, const struct length_allowance *allowance)
{
	return half_of_mains_mm(bed, bed->half) + bed_main_gap_mm(bed, 0) / 2 +
	       allowance->reach_mm + allowance->knot_mm;
}

double length_of_long_side_mm(const struct bed *bed, const struct length_allowance *allowance,
			      int in_a_row, double outside_mm)
{
	return half_of_mains_mm(bed, in_a_row) + bed_main_gap_mm(bed, 0) / 2 + outside_mm +
	       all_crosses_mm(bed, allowance) + allowance->reach_mm + allowance->knot_mm +
	       allowance->margin_mm;
}

/* The number before the gap between two neighbours; 0 if they are none. */
static int between(int a, int b)
{
	return a && b && abs(a - b) == 1 ? (a < b ? a : b) : 0;
}

double length_outside_mm(const struct bed *bed, const struct pattern *pattern, struct hole from,
			 struct hole to)
{
	int cross = between(pattern_cross_at(pattern, from), pattern_cross_at(pattern, to));
	int main = between(pattern_main_at(pattern, from), pattern_main_at(pattern, to));

	if (cross)
		return bed_cross_gap_mm(bed, cross);
	if (main && from.end == to.end)
		return bed_main_gap_mm(bed, main);
	return bed_along_mm(bed, from, to);
}
