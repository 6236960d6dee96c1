/* Where everything stands in the frame, and how long the strings are. */
#include "frame/frame.h"

#include <math.h>
#include <stdlib.h>

/* The share of the rectangle round it that a superellipse fills, by u = 1/n: from 1 (u = 0, the
 * rectangle) down to 1/2 (u = 1, the diamond). */
static double share_filled(double u)
{
	double g = tgamma(1 + u);

	return g * g / tgamma(1 + 2 * u);
}

/* Bisection: the share falls steadily with u, and a hundred halvings leave nothing to halve. */
static double solve_exponent(double share)
{
	double low = 0, high = 1;

	for (int i = 0; i < 100; i++) {
		double middle = (low + high) / 2;
		if (share_filled(middle) > share)
			low = middle;
		else
			high = middle;
	}
	return 1 / high;
}

bool hoop_fit(double length_mm, double width_mm, double area_mm2, struct hoop *out)
{
	double rectangle = length_mm * width_mm;

	/* Written so that a NaN is refused too. */
	if (!(length_mm > 0) || !(width_mm > 0))
		return false;
	if (area_mm2 != 0 && (!(area_mm2 >= rectangle / 2) || !(area_mm2 < rectangle)))
		return false;
	*out = (struct hoop){
		.a_mm = width_mm / 2,
		.b_mm = length_mm / 2,
		.n = area_mm2 == 0 ? 2 : solve_exponent(area_mm2 / rectangle),
	};
	return true;
}

double hoop_area_mm2(const struct hoop *hoop)
{
	return 4 * hoop->a_mm * hoop->b_mm * share_filled(1 / hoop->n);
}

/* The other coordinate of the hoop |x|^n + |y|^n = 1. */
static double other_coordinate(double n, double coordinate)
{
	double rest = 1 - pow(fabs(coordinate), n);

	return rest > 0 ? pow(rest, 1 / n) : 0;
}

double hoop_half_length_mm(const struct hoop *hoop, double x_mm)
{
	return hoop->b_mm * other_coordinate(hoop->n, x_mm / hoop->a_mm);
}

double hoop_half_width_mm(const struct hoop *hoop, double y_mm)
{
	return hoop->a_mm * other_coordinate(hoop->n, y_mm / hoop->b_mm);
}

/* The point of the hoop in the direction `angle` from the head. Scaled by the larger coordinate, so
 * that no power of it vanishes however square the hoop is. */
static struct point point_towards(const struct hoop *hoop, double angle)
{
	double x = sin(angle), y = cos(angle);
	double large = fmax(fabs(x), fabs(y)), small = fmin(fabs(x), fabs(y));
	double radius = 1 / (large * pow(1 + pow(small / large, hoop->n), 1 / hoop->n));

	return (struct point){hoop->a_mm * radius * x, hoop->b_mm * radius * y};
}

void rim_of_hoop(const struct hoop *hoop, struct rim *out)
{
	struct point before = point_towards(hoop, 0);

	*out = (struct rim){.hoop = *hoop};
	for (int i = 1; i <= RIM_PIECES; i++) {
		struct point point = point_towards(hoop, M_PI * i / RIM_PIECES);
		out->along_mm[i] = out->along_mm[i - 1] +
				   hypot(point.x_mm - before.x_mm, point.y_mm - before.y_mm);
		before = point;
	}
}

double rim_half_mm(const struct rim *rim)
{
	return rim->along_mm[RIM_PIECES];
}

struct point rim_point(const struct rim *rim, double along_mm)
{
	double at_mm = remainder(along_mm, 2 * rim_half_mm(rim)); /* left half: below 0 */
	int low = 0, high = RIM_PIECES;

	while (high - low > 1) {
		int middle = (low + high) / 2;
		if (rim->along_mm[middle] > fabs(at_mm))
			high = middle;
		else
			low = middle;
	}
	double piece_mm = rim->along_mm[high] - rim->along_mm[low];
	double turn = low + (fabs(at_mm) - rim->along_mm[low]) / piece_mm;
	return point_towards(&rim->hoop, copysign(M_PI * turn / RIM_PIECES, at_mm));
}

/* How far along a point on the right half is. */
static double rim_along_mm(const struct rim *rim, double x_mm, double y_mm)
{
	double angle = atan2(x_mm / rim->hoop.a_mm, y_mm / rim->hoop.b_mm);
	double turn = angle / M_PI * RIM_PIECES;
	int piece = (int)fmin(turn, RIM_PIECES - 1);
	const double *from_mm = &rim->along_mm[piece];

	return from_mm[0] + (turn - piece) * (from_mm[1] - from_mm[0]);
}

/* How far along one comes to the height y. */
static double along_at_height(const struct rim *rim, double y_mm)
{
	return rim_along_mm(rim, hoop_half_width_mm(&rim->hoop, y_mm), y_mm);
}

/* However wide the spacing of a pattern, its mains stay inside the hoop. */
static void place_mains(const struct pattern *pattern, struct bed *bed)
{
	bool given = pattern->main_gap_mm[0] > 0;
	double gap_mm = OUTERMOST_MAIN_SHARE * bed->rim.hoop.a_mm / (bed->half - 0.5);
	double widest_mm = 0.95 * bed->rim.hoop.a_mm;

	bed->main_x_mm[1] = (given ? pattern->main_gap_mm[0] : gap_mm) / 2;
	for (int k = 1; k < bed->half; k++)
		bed->main_x_mm[k + 1] =
			bed->main_x_mm[k] + (given ? pattern->main_gap_mm[k] : gap_mm);
	double outermost_mm = bed->main_x_mm[bed->half];
	for (int k = 1; k <= bed->half && outermost_mm > widest_mm; k++)
		bed->main_x_mm[k] *= widest_mm / outermost_mm;
}

/* The holes of one side in a row (pattern_hole_index), and how far along the rim each is. */
struct row {
	int count;
	double along_mm[2 * HOLES_MAX]; /* below 0: not known yet */
};

static double *row_hole(struct row *row, const struct pattern *pattern, struct hole hole)
{
	return &row->along_mm[pattern_hole_index(pattern, hole)];
}

/* Holes not known yet lie evenly between those that are, or up to the centre line. */
static void fill_unknown(struct row *row, double half_mm)
{
	for (int i = 0; i < row->count; i++) {
		if (row->along_mm[i] >= 0)
			continue;
		int next = i;
		while (next < row->count && row->along_mm[next] < 0)
			next++;
		double from_mm = i > 0 ? row->along_mm[i - 1] : 0;
		double to_mm = next < row->count ? row->along_mm[next] : half_mm;
		row->along_mm[i] = from_mm + (to_mm - from_mm) / (next - i + 1);
	}
}

static void place_main_holes(const struct pattern *pattern, const struct bed *bed, struct row *row)
{
	row->count = pattern_hole_count(pattern);
	for (int i = 0; i < row->count; i++)
		row->along_mm[i] = -1;
	for (int k = 1; k <= bed->half; k++) {
		double x_mm = bed->main_x_mm[k], y_mm = hoop_half_length_mm(&bed->rim.hoop, x_mm);
		for (enum frame_end end = END_HEAD; end <= END_THROAT; end++)
			*row_hole(row, pattern, pattern_main_hole(pattern, end, k)) =
				rim_along_mm(&bed->rim, x_mm, end == END_HEAD ? y_mm : -y_mm);
	}
}

static double height_of(const struct bed *bed, double along_mm)
{
	return rim_point(&bed->rim, along_mm).y_mm;
}

/* A side cross this share of a gap inside the outermost main's hole is clear of it. */
static const double clear_gap = 0.1;

/* By the holes alone. Crosses of side holes come in a row, evenly in gaps between those before and
 * after, which are in their places, or the outermost main's holes. Where that would put the first
 * above that main's hole at the head, or the last below its hole at the throat: half a gap inside
 * that hole. */
static void place_crosses(const struct pattern *pattern, struct bed *bed, const struct row *row)
{
	int head = pattern_hole_index(pattern, pattern_main_hole(pattern, END_HEAD, bed->half));
	int throat = pattern_hole_index(pattern, pattern_main_hole(pattern, END_THROAT, bed->half));
	double head_mm = height_of(bed, row->along_mm[head]);
	double throat_mm = height_of(bed, row->along_mm[throat]);
	int first = 0, count = 0;
	bool high = false, low = false;

	for (int c = 1; c <= bed->crosses; c++) {
		int hole = pattern_hole_index(pattern, pattern->cross_hole[c]);
		if (hole > head && hole < throat)
			first = count++ ? first : c;
		else
			bed->cross_y_mm[c] = height_of(bed, row->along_mm[hole]);
	}
	double *y_mm = &bed->cross_y_mm[first];
	double before_mm = first > 1 ? y_mm[-1] : head_mm;
	double after_mm = first + count <= bed->crosses ? y_mm[count] : throat_mm;
	for (int round = 0; round < 3; round++) {
		double top = high ? head_mm : before_mm, bottom = low ? throat_mm : after_mm;
		double gap = (top - bottom) / (count + 1 - 0.5 * high - 0.5 * low);
		for (int i = 0; i < count; i++)
			y_mm[i] = top - gap * (i + (high ? 0.5 : 1));
		high |= count && y_mm[0] > head_mm - gap * clear_gap;
		low |= count && y_mm[count - 1] < throat_mm + gap * clear_gap;
	}
}

/* The share of a hole's room on the rim, towards each neighbour, that a cross has to leave. */
static const double least_room = 0.3;

/* Whether a cross at that height still leaves the frame through its hole: between the same two main
 * holes, or for a shared hole near enough. */
static bool is_at_hole(const struct pattern *pattern, const struct bed *bed, const struct row *row,
		       int cross, double y_mm)
{
	int hole = pattern_hole_index(pattern, pattern->cross_hole[cross]);
	int before = hole, after = hole;
	double at_mm = along_at_height(&bed->rim, y_mm);

	if (pattern_main_at(pattern, pattern->cross_hole[cross]))
		return fabs(at_mm - row->along_mm[hole]) < rim_half_mm(&bed->rim) / row->count / 2;
	do
		before--;
	while (before >= 0 && !pattern_main_at(pattern, pattern_hole_at(pattern, before)));
	do
		after++;
	while (after < row->count && !pattern_main_at(pattern, pattern_hole_at(pattern, after)));
	double from_mm = before < 0 ? 0 : row->along_mm[before];
	double to_mm = after == row->count ? rim_half_mm(&bed->rim) : row->along_mm[after];
	double room_mm = least_room * (to_mm - from_mm) / (after - before);
	return at_mm > from_mm + room_mm * (hole - before) &&
	       at_mm < to_mm - room_mm * (after - hole);
}

/* The spacing that the pattern gives, as a whole moved to where it fits the holes best; not
 * followed if it contradicts them. */
static void follow_spacing(const struct pattern *pattern, struct bed *bed, const struct row *row)
{
	double y_mm[CROSSES_MAX + 1] = {0}, off_mm = 0;

	for (int c = 2; c <= bed->crosses; c++)
		y_mm[c] = y_mm[c - 1] - pattern->cross_gap_mm[c - 1];
	for (int c = 1; c <= bed->crosses; c++)
		off_mm += (bed->cross_y_mm[c] - y_mm[c]) / bed->crosses;
	for (int c = 1; c <= bed->crosses && !bed->misplaced; c++)
		if (!is_at_hole(pattern, bed, row, c, y_mm[c] + off_mm))
			bed->misplaced = c;
	for (int c = 1; c <= bed->crosses && !bed->misplaced; c++)
		if (!pattern_main_at(pattern, pattern->cross_hole[c]))
			bed->cross_y_mm[c] = y_mm[c] + off_mm;
}

/* Of a cross where the cross is; of an unused hole between its neighbours. */
static void place_other_holes(const struct pattern *pattern, struct bed *bed, struct row *row)
{
	for (int i = 0; i < row->count; i++)
		if (!pattern_main_at(pattern, pattern_hole_at(pattern, i)))
			row->along_mm[i] = -1;
	for (int c = 1; c <= bed->crosses; c++)
		if (!pattern_main_at(pattern, pattern->cross_hole[c]))
			*row_hole(row, pattern, pattern->cross_hole[c]) =
				along_at_height(&bed->rim, bed->cross_y_mm[c]);
	fill_unknown(row, rim_half_mm(&bed->rim));
	for (int i = 0; i < row->count; i++) {
		struct hole hole = pattern_hole_at(pattern, i);
		bed->hole_mm[hole.end][hole.number] = row->along_mm[i];
	}
}

bool bed_of_pattern(const struct pattern *pattern, struct bed *out)
{
	const struct head *head = &pattern->head;
	struct row row = {0};
	struct hoop hoop;

	if (!hoop_fit(head->length_mm, head->width_mm, head->area_mm2, &hoop))
		return false;
	*out = (struct bed){.beam_mm = head->beam_mm,
			    .half = pattern_half(pattern),
			    .crosses = pattern->crosses};
	rim_of_hoop(&hoop, &out->rim);
	place_mains(pattern, out);
	place_main_holes(pattern, out, &row);
	fill_unknown(&row, rim_half_mm(&out->rim));
	place_crosses(pattern, out, &row);
	if (pattern->cross_gap_mm[1] > 0)
		follow_spacing(pattern, out, &row);
	place_other_holes(pattern, out, &row);
	return true;
}

double bed_main_mm(const struct bed *bed, int main)
{
	return 2 * hoop_half_length_mm(&bed->rim.hoop, bed->main_x_mm[main]);
}

double bed_cross_mm(const struct bed *bed, int cross)
{
	return 2 * hoop_half_width_mm(&bed->rim.hoop, bed->cross_y_mm[cross]);
}

double bed_main_gap_mm(const struct bed *bed, int main)
{
	return main == 0 ? 2 * bed->main_x_mm[1] : bed->main_x_mm[main + 1] - bed->main_x_mm[main];
}

double bed_cross_gap_mm(const struct bed *bed, int cross)
{
	return bed->cross_y_mm[cross] - bed->cross_y_mm[cross + 1];
}

/* ---- String lengths ---- */

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
	return fabs(bed->hole_mm[from.end][from.number] - bed->hole_mm[to.end][to.number]);
}
