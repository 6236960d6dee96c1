#include "frame/frame.h"

#include <math.h>
#include <string.h>

static const double pi = 3.14159265358979323846;

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

/* The right half of the hoop, walked from the middle of the head to the middle of the throat in
 * short straight steps: a thousand of them are right to a thousandth of a millimetre. */
enum { WALK_STEPS = 1024 };

struct walk {
	struct hole_place at[WALK_STEPS + 1];
};

/* The point of the hoop in the direction `angle` from the head, on the unit hoop first. Scaled by
 * the larger part, so that no power of it vanishes however square the hoop is. */
static struct point point_towards(const struct hoop *hoop, double angle)
{
	double x = sin(angle), y = cos(angle);
	double large = fmax(fabs(x), fabs(y)), small = fmin(fabs(x), fabs(y));
	double radius = 1 / (large * pow(1 + pow(small / large, hoop->n), 1 / hoop->n));

	return (struct point){hoop->a_mm * radius * x, hoop->b_mm * radius * y};
}

static void walk_hoop(const struct hoop *hoop, struct walk *walk)
{
	for (int i = 0; i <= WALK_STEPS; i++) {
		struct point point = point_towards(hoop, pi * i / WALK_STEPS);
		double along = 0;
		if (i > 0) {
			const struct hole_place *last = &walk->at[i - 1];
			along = last->along_mm +
				hypot(point.x_mm - last->point.x_mm, point.y_mm - last->point.y_mm);
		}
		walk->at[i] = (struct hole_place){point, along};
	}
}

double hoop_perimeter_mm(const struct hoop *hoop)
{
	struct walk walk;

	walk_hoop(hoop, &walk);
	return 2 * walk.at[WALK_STEPS].along_mm;
}

static double share_between(double from, double to, double value)
{
	return to > from ? (value - from) / (to - from) : 0;
}

/* How far along the hoop one comes to the height y. */
static double along_at_height(const struct walk *walk, double y_mm)
{
	int i = 1;

	while (i < WALK_STEPS && walk->at[i].point.y_mm > y_mm)
		i++;
	const struct hole_place *a = &walk->at[i - 1], *b = &walk->at[i];
	double share = share_between(-a->point.y_mm, -b->point.y_mm, -y_mm);
	return a->along_mm + share * (b->along_mm - a->along_mm);
}

static double along_at_main(const struct walk *walk, double x_mm, enum frame_end end)
{
	int i = 1;

	while (i < WALK_STEPS / 2 && walk->at[i].point.x_mm < x_mm)
		i++;
	const struct hole_place *a = &walk->at[i - 1], *b = &walk->at[i];
	double share = share_between(a->point.x_mm, b->point.x_mm, x_mm);
	double along = a->along_mm + share * (b->along_mm - a->along_mm);
	return end == END_HEAD ? along : walk->at[WALK_STEPS].along_mm - along;
}

static struct point point_along(const struct walk *walk, double along_mm)
{
	int i = 1;

	while (i < WALK_STEPS && walk->at[i].along_mm < along_mm)
		i++;
	const struct hole_place *a = &walk->at[i - 1], *b = &walk->at[i];
	double share = share_between(a->along_mm, b->along_mm, along_mm);
	return (struct point){
		a->point.x_mm + share * (b->point.x_mm - a->point.x_mm),
		a->point.y_mm + share * (b->point.y_mm - a->point.y_mm),
	};
}

static void place_strings(const struct pattern *pattern, struct bed *bed)
{
	bool mains_given = pattern->main_gap_mm[0] > 0;
	bool crosses_given = pattern->cross_gap_mm[1] > 0;
	double main_gap = OUTERMOST_MAIN_SHARE * bed->hoop.a_mm / (bed->half - 0.5);
	double cross_gap = 2 * OUTERMOST_CROSS_SHARE * bed->hoop.b_mm / (bed->crosses - 1);
	double y = 0;

	bed->main_x_mm[1] = (mains_given ? pattern->main_gap_mm[0] : main_gap) / 2;
	for (int k = 1; k < bed->half; k++)
		bed->main_x_mm[k + 1] =
			bed->main_x_mm[k] + (mains_given ? pattern->main_gap_mm[k] : main_gap);
	for (int c = 1; c <= bed->crosses; c++) {
		bed->cross_y_mm[c] = y;
		y -= crosses_given ? pattern->cross_gap_mm[c] : cross_gap;
	}
	double middle = bed->cross_y_mm[bed->crosses] / 2;
	for (int c = 1; c <= bed->crosses; c++)
		bed->cross_y_mm[c] -= middle;
}

enum { PLACES_MAX = 2 * HOLES_MAX };

/* Where the strings of a hole meet the hoop; less than 0 if there are none. */
static double wish_place(const struct pattern *pattern, const struct bed *bed,
			 const struct walk *walk, struct hole hole)
{
	int main = pattern_main_at(pattern, hole);
	int cross = pattern_cross_at(pattern, hole);
	double of_main = main ? along_at_main(walk, bed->main_x_mm[main], hole.end) : 0;
	double of_cross = cross ? along_at_height(walk, bed->cross_y_mm[cross]) : 0;

	if (!main && !cross)
		return -1;
	return main && cross ? (of_main + of_cross) / 2 : of_main + of_cross;
}

/* Unused holes lie evenly between the used ones. */
static void fill_between(double *along_mm, int count, double whole_mm)
{
	for (int i = 0; i < count; i++) {
		if (along_mm[i] >= 0)
			continue;
		int next = i;
		while (next < count && along_mm[next] < 0)
			next++;
		double from = i > 0 ? along_mm[i - 1] : 0;
		double to = next < count ? along_mm[next] : whole_mm;
		along_mm[i] = from + (to - from) / (next - i + 1);
	}
}

/* The rising numbers nearest to those given, by least squares: neighbours that fall are pooled at
 * their mean until none do. */
static void make_rising(double *values, int count)
{
	double mean[PLACES_MAX];
	int size[PLACES_MAX];
	int pools = 0;

	for (int i = 0; i < count; i++) {
		mean[pools] = values[i];
		size[pools++] = 1;
		while (pools > 1 && mean[pools - 2] > mean[pools - 1]) {
			int both = size[pools - 2] + size[pools - 1];
			mean[pools - 2] = (mean[pools - 2] * size[pools - 2] +
					   mean[pools - 1] * size[pools - 1]) /
					  both;
			size[pools - 2] = both;
			pools--;
		}
	}
	for (int pool = 0, i = 0; pool < pools; pool++)
		for (int n = 0; n < size[pool]; n++)
			values[i++] = mean[pool];
}

/* Holes follow each other round the hoop with frame between them, whatever the estimate says of
 * their strings: half their mean distance at the least. */
static void keep_apart(double *along_mm, int count, double whole_mm)
{
	double least = whole_mm / count / 2;

	for (int i = 0; i < count; i++)
		along_mm[i] -= i * least;
	make_rising(along_mm, count);
	for (int i = 0; i < count; i++) {
		double low = (i + 0.5) * least, high = whole_mm - (count - i - 0.5) * least;
		along_mm[i] = fmin(fmax(along_mm[i] + i * least, low), high);
	}
}

static void place_holes(const struct pattern *pattern, struct bed *bed)
{
	struct walk walk;
	double along[PLACES_MAX];
	int count = pattern_places(pattern);

	walk_hoop(&bed->hoop, &walk);
	double whole = walk.at[WALK_STEPS].along_mm;
	for (int i = 0; i < count; i++)
		along[i] = wish_place(pattern, bed, &walk, pattern_hole_at(pattern, i));
	fill_between(along, count, whole);
	keep_apart(along, count, whole);
	for (int i = 0; i < count; i++) {
		struct hole hole = pattern_hole_at(pattern, i);
		bed->hole[hole.end][hole.number] =
			(struct hole_place){point_along(&walk, along[i]), along[i]};
	}
}

bool bed_of_pattern(const struct pattern *pattern, struct bed *out)
{
	const struct head *head = &pattern->head;

	memset(out, 0, sizeof(*out));
	if (!hoop_fit(head->length_mm, head->width_mm, head->area_mm2, &out->hoop))
		return false;
	out->beam_mm = head->beam_mm;
	out->half = pattern_half(pattern);
	out->crosses = pattern->crosses;
	place_strings(pattern, out);
	place_holes(pattern, out);
	return true;
}

double bed_main_mm(const struct bed *bed, int main)
{
	return 2 * hoop_half_length_mm(&bed->hoop, bed->main_x_mm[main]);
}

double bed_cross_mm(const struct bed *bed, int cross)
{
	return 2 * hoop_half_width_mm(&bed->hoop, bed->cross_y_mm[cross]);
}

double bed_main_gap_mm(const struct bed *bed, int main)
{
	return main == 0 ? 2 * bed->main_x_mm[1] : bed->main_x_mm[main + 1] - bed->main_x_mm[main];
}

double bed_cross_gap_mm(const struct bed *bed, int cross)
{
	return bed->cross_y_mm[cross] - bed->cross_y_mm[cross + 1];
}

double bed_along_mm(const struct bed *bed, struct hole from, struct hole to)
{
	return fabs(bed->hole[from.end][from.number].along_mm -
		    bed->hole[to.end][to.number].along_mm);
}
