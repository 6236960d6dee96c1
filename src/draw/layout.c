#include "draw/draw.h"

#include <math.h>

static const double pi = 3.14159265358979323846;

/* From memory: heads that are usual in the four sports, for a pattern that gives no size. */
static const struct head usual[] = {
	[SPORT_TENNIS] = {330, 248, 64000, 12},
	[SPORT_BADMINTON] = {246, 192, 38300, 8},
	[SPORT_SQUASH] = {335, 190, 49200, 10},
	[SPORT_RACQUETBALL] = {346, 251, 68400, 10},
};

bool layout_head(const struct pattern *pattern, struct head *out)
{
	bool given = pattern->head.length_mm > 0 && pattern->head.width_mm > 0;

	*out = given ? pattern->head : usual[pattern->sport];
	return given;
}

/* The rim in the direction of an angle, 0 at the head. Scaled by the larger part, so that no power
 * of it vanishes however square the hoop is. */
static struct spot rim_towards(const struct layout *layout, double angle)
{
	const struct hoop *hoop = &layout->hoop;
	double x = sin(angle), y = -cos(angle);
	double large = fmax(fabs(x), fabs(y)), small = fmin(fabs(x), fabs(y));
	double radius = 1 / (large * pow(1 + pow(small / large, hoop->n), 1 / hoop->n));

	return (struct spot){layout->centre.x_mm + hoop->a_mm * radius * x,
			     layout->centre.y_mm + hoop->b_mm * radius * y};
}

/* The gradient of |x/a|^n + |y/b|^n. */
static struct spot outward_at(const struct layout *layout, struct spot spot)
{
	const struct hoop *hoop = &layout->hoop;
	double x = (spot.x_mm - layout->centre.x_mm) / hoop->a_mm;
	double y = (spot.y_mm - layout->centre.y_mm) / hoop->b_mm;
	double gx = copysign(pow(fabs(x), hoop->n - 1), x) / hoop->a_mm;
	double gy = copysign(pow(fabs(y), hoop->n - 1), y) / hoop->b_mm;
	double length = hypot(gx, gy);

	return (struct spot){gx / length, gy / length};
}

static void walk_rim(struct layout *layout)
{
	for (int i = 0; i < RIM_WHOLE; i++) {
		layout->rim[i] = rim_towards(layout, pi * i / RIM_HALF);
		layout->outward[i] = outward_at(layout, layout->rim[i]);
	}
}

/* The step of the right half at which the rim is at x and y from its centre, y towards the head. */
static double step_at(const struct layout *layout, double x, double y)
{
	return atan2(x / layout->hoop.a_mm, y / layout->hoop.b_mm) / pi * RIM_HALF;
}

static double step_of_main(const struct layout *layout, double x, enum frame_end end)
{
	double y = hoop_half_length_mm(&layout->hoop, x);

	return step_at(layout, x, end == END_HEAD ? y : -y);
}

static double step_of_cross(const struct layout *layout, double y)
{
	return step_at(layout, hoop_half_width_mm(&layout->hoop, y), y);
}

static double height_at(const struct layout *layout, double step)
{
	return layout->centre.y_mm - layout_spot(layout, step, 0).y_mm;
}

/* The holes of the right side, by place from the head to the throat, and the crosses, from 1 at the
 * head. Heights count towards the head from the centre. */
struct row {
	int count;
	bool main[2 * HOLES_MAX];   /* a main goes through */
	double step[2 * HOLES_MAX]; /* less than 0: not known yet */
	int place[CROSSES_MAX + 1];
	double y[CROSSES_MAX + 2];
	double low[CROSSES_MAX + 1];
	double high[CROSSES_MAX + 1];
};

static void place_mains(const struct layout *layout, const struct bed *bed, struct row *row)
{
	/* However wide the spacing that a pattern gives, the mains stay inside the hoop. */
	double outermost = bed->main_x_mm[bed->half] * layout->scale;
	double widest = 0.95 * layout->hoop.a_mm;
	double scale = layout->scale * (outermost > widest ? widest / outermost : 1);

	row->count = pattern_places(layout->pattern);
	for (int i = 0; i < row->count; i++) {
		struct hole hole = pattern_hole_at(layout->pattern, i);
		int main = pattern_main_at(layout->pattern, hole);
		row->main[i] = main > 0;
		row->step[i] =
			main ? step_of_main(layout, bed->main_x_mm[main] * scale, hole.end) : -1;
	}
}

/* Between which heights a cross may leave the hoop: off its neighbour mains' holes by one and a
 * third of the least distance of two holes, or by their fair share where it is narrow. */
static void bound_cross(const struct layout *layout, struct row *row, int cross)
{
	int i = row->place[cross], before = i - 1, after = i + 1;

	if (row->main[i]) {
		row->low[cross] = row->high[cross] = height_at(layout, row->step[i]);
		return;
	}
	while (before >= 0 && !row->main[before])
		before--;
	while (after < row->count && !row->main[after])
		after++;
	double from = before >= 0 ? row->step[before] : 0;
	double to = after < row->count ? row->step[after] : RIM_HALF;
	double least = 0.65 * RIM_HALF / row->count;
	double margin = fmin(least, 0.72 * (to - from) / (after - before));
	row->high[cross] = height_at(layout, from + margin * (i - before));
	row->low[cross] = height_at(layout, to - margin * (after - i));
}

static double clamped(const struct row *row, int cross, double y)
{
	return fmin(fmax(y, row->low[cross]), row->high[cross]);
}

/* Each cross is drawn to the middle of its neighbours, the first and the last half to where they
 * were meant to be and half to an even distance; a few hundred rounds settle it. */
static void spread_crosses(struct row *row, int crosses, const double *meant)
{
	for (int round = 0; round < 300; round++) {
		for (int c = 1; c <= crosses; c++) {
			double y = (row->y[c - 1] + row->y[c + 1]) / 2;
			if (c == 1)
				y = (2 * row->y[2] - row->y[3] + meant[1]) / 2;
			else if (c == crosses)
				y = (2 * row->y[c - 1] - row->y[c - 2] + meant[c]) / 2;
			row->y[c] = clamped(row, c, y);
		}
	}
}

static void place_crosses(const struct layout *layout, const struct bed *bed, struct row *row)
{
	double meant[CROSSES_MAX + 1] = {0};
	int crosses = layout->pattern->crosses;

	for (int c = 1; c <= crosses; c++) {
		row->place[c] = pattern_place_of(layout->pattern, layout->pattern->cross_hole[c]);
		meant[c] = bed->cross_y_mm[c] * layout->scale;
		bound_cross(layout, row, c);
		row->y[c] = clamped(row, c, meant[c]);
	}
	spread_crosses(row, crosses, meant);
	for (int c = 1; c <= crosses; c++)
		if (!row->main[row->place[c]])
			row->step[row->place[c]] = step_of_cross(layout, row->y[c]);
}

/* Unused holes lie evenly between the used ones. */
static void place_unused(struct row *row)
{
	for (int i = 0; i < row->count; i++) {
		if (row->step[i] >= 0)
			continue;
		int next = i;
		while (next < row->count && row->step[next] < 0)
			next++;
		double from = i > 0 ? row->step[i - 1] : 0;
		double to = next < row->count ? row->step[next] : RIM_HALF;
		row->step[i] = from + (to - from) / (next - i + 1);
	}
}

static void place_bridge(struct layout *layout)
{
	int last = layout->pattern->bridge / 2;
	const double *at = layout->at[SIDE_RIGHT][END_THROAT];

	if (last == 0 || last >= layout->pattern->holes[END_THROAT])
		return;
	layout->bridge_end[SIDE_RIGHT] = (at[last] + at[last + 1]) / 2;
	layout->bridge_end[SIDE_LEFT] = RIM_WHOLE - layout->bridge_end[SIDE_RIGHT];
}

static void place_holes(struct layout *layout, const struct bed *bed)
{
	struct row row = {0};

	place_mains(layout, bed, &row);
	place_crosses(layout, bed, &row);
	place_unused(&row);
	for (int i = 0; i < row.count; i++) {
		struct hole hole = pattern_hole_at(layout->pattern, i);
		layout->at[SIDE_RIGHT][hole.end][hole.number] = row.step[i];
		layout->at[SIDE_LEFT][hole.end][hole.number] = RIM_WHOLE - row.step[i];
	}
}

void layout_make(const struct pattern *pattern, struct spot centre, double scale,
		 struct layout *out)
{
	struct pattern sized = *pattern; /* with a head, whether the file gives one or not */
	struct bed bed;

	*out = (struct layout){.pattern = pattern, .centre = centre, .scale = scale};
	out->assumed = !layout_head(pattern, &sized.head);
	bool fits = bed_of_pattern(&sized, &bed);
	if (!fits) {
		/* An area that no hoop of that size has; pattern_read refuses such a file. */
		sized.head.area_mm2 = 0;
		bed_of_pattern(&sized, &bed);
	}
	out->hoop = (struct hoop){bed.hoop.a_mm * scale, bed.hoop.b_mm * scale, bed.hoop.n};
	out->band_mm = sized.head.beam_mm * scale;
	walk_rim(out);
	place_holes(out, &bed);
	place_bridge(out);
}

static struct spot mixed(struct spot a, struct spot b, double share)
{
	return (struct spot){a.x_mm + share * (b.x_mm - a.x_mm),
			     a.y_mm + share * (b.y_mm - a.y_mm)};
}

static double whole_step(double at, int *step)
{
	double whole = floor(at);

	*step = (int)fmod(whole, RIM_WHOLE);
	if (*step < 0)
		*step += RIM_WHOLE;
	return at - whole;
}

struct spot layout_outward(const struct layout *layout, double at)
{
	int step;
	double share = whole_step(at, &step);
	struct spot out =
		mixed(layout->outward[step], layout->outward[(step + 1) % RIM_WHOLE], share);
	double length = hypot(out.x_mm, out.y_mm);

	return (struct spot){out.x_mm / length, out.y_mm / length};
}

struct spot layout_spot(const struct layout *layout, double at, double out_mm)
{
	int step;
	double share = whole_step(at, &step);
	struct spot spot = mixed(layout->rim[step], layout->rim[(step + 1) % RIM_WHOLE], share);
	struct spot out = layout_outward(layout, at);

	return (struct spot){spot.x_mm + out_mm * out.x_mm, spot.y_mm + out_mm * out.y_mm};
}

double layout_at(const struct layout *layout, struct place place)
{
	return layout->at[place.side][place.hole.end][place.hole.number];
}

struct spot layout_hole(const struct layout *layout, struct place place)
{
	return layout_spot(layout, layout_at(layout, place), layout->band_mm / 2);
}

struct spot layout_arm(const struct layout *layout, enum side side, double down_mm)
{
	struct spot spot = layout_spot(layout, layout->bridge_end[side], 0);
	double outward = layout_arm_mm(layout) / 2;

	spot.x_mm += side == SIDE_LEFT ? -outward : outward;
	spot.y_mm += down_mm;
	return spot;
}

double layout_arm_mm(const struct layout *layout)
{
	return 0.7 * layout->band_mm;
}

void layout_strand(const struct layout *layout, const struct strand *strand,
		   struct spot line[static 2])
{
	line[0] = layout_spot(layout, layout_at(layout, strand->from), 0);
	line[1] = layout_spot(layout, layout_at(layout, strand->to), 0);
}

double layout_meeting(const struct spot line[static 2], const struct spot other[static 2])
{
	double ax = line[1].x_mm - line[0].x_mm, ay = line[1].y_mm - line[0].y_mm;
	double bx = other[1].x_mm - other[0].x_mm, by = other[1].y_mm - other[0].y_mm;
	double cx = other[0].x_mm - line[0].x_mm, cy = other[0].y_mm - line[0].y_mm;
	double cross = ax * by - ay * bx;
	/* Two strings in one hole touch there but do not cross. */
	const double edge = 1e-6;

	if (cross == 0)
		return -1;
	double here = (cx * by - cy * bx) / cross, there = (cx * ay - cy * ax) / cross;
	if (here < edge || here > 1 - edge || there < edge || there > 1 - edge)
		return -1;
	return here;
}
