#include "draw/internal.h"

#include <math.h>

/* From memory: heads that are usual in the four sports, for a pattern that gives no size. */
static const struct head usual[] = {
	[SPORT_TENNIS] = {330, 248, 64000, 12},
	[SPORT_BADMINTON] = {246, 192, 38300, 8},
	[SPORT_SQUASH] = {335, 190, 49200, 10},
	[SPORT_RACQUETBALL] = {346, 251, 68400, 10},
};

static double whole_rim_mm(const struct layout *layout)
{
	return 2 * rim_half_mm(&layout->bed.rim);
}

static void place_bridge(struct layout *layout)
{
	int last = layout->pattern->bridge / 2;
	const double *hole_mm = layout->bed.hole_mm[END_THROAT];

	if (last == 0 || last >= layout->pattern->holes[END_THROAT])
		return;
	layout->bridge_end[SIDE_RIGHT] = (hole_mm[last] + hole_mm[last + 1]) / 2;
	layout->bridge_end[SIDE_LEFT] = whole_rim_mm(layout) - layout->bridge_end[SIDE_RIGHT];
}

void layout_fit(const struct pattern *pattern, struct spot top, double width_mm, double height_mm,
		struct layout *out)
{
	struct pattern sized = *pattern; /* with a head, whether the file gives one or not */
	struct head *head = &sized.head;

	*out = (struct layout){.pattern = pattern};
	out->assumed = head->length_mm <= 0 || head->width_mm <= 0;
	if (out->assumed)
		*head = usual[pattern->sport];
	if (!bed_of_pattern(&sized, &out->bed)) {
		/* An area that no hoop of that size has; pattern_read refuses such a file. */
		head->area_mm2 = 0;
		bed_of_pattern(&sized, &out->bed);
	}
	out->scale = fmin(width_mm / (head->width_mm + 2 * head->beam_mm),
			  height_mm / (head->length_mm + 2 * head->beam_mm));
	out->band_mm = head->beam_mm * out->scale;
	out->centre = spot_beside(top, 0, out->scale * head->length_mm / 2 + out->band_mm);
	place_bridge(out);
}

struct spot layout_outward(const struct layout *layout, double at)
{
	const double step_mm = 1;
	struct point before = rim_point(&layout->bed.rim, at - step_mm);
	struct point after = rim_point(&layout->bed.rim, at + step_mm);
	double x = after.x_mm - before.x_mm, y = after.y_mm - before.y_mm;
	double length = hypot(x, y);

	/* The way round is clockwise, and down the page is against y: outward is to its left. */
	return (struct spot){-y / length, -x / length};
}

struct spot layout_spot(const struct layout *layout, double at, double out_mm)
{
	struct point point = rim_point(&layout->bed.rim, at);
	struct spot spot = {layout->centre.x_mm + layout->scale * point.x_mm,
			    layout->centre.y_mm - layout->scale * point.y_mm};

	if (out_mm == 0)
		return spot;
	struct spot outward = layout_outward(layout, at);
	return (struct spot){spot.x_mm + out_mm * outward.x_mm, spot.y_mm + out_mm * outward.y_mm};
}

double layout_at(const struct layout *layout, struct sided_hole place)
{
	double at = layout->bed.hole_mm[place.hole.end][place.hole.number];

	return place.side == SIDE_RIGHT ? at : whole_rim_mm(layout) - at;
}

struct spot layout_hole(const struct layout *layout, struct sided_hole place)
{
	return layout_spot(layout, layout_at(layout, place), layout->band_mm / 2);
}

double layout_arm_mm(const struct layout *layout)
{
	return 0.7 * layout->band_mm;
}

struct spot layout_arm(const struct layout *layout, enum side side, double down_mm)
{
	struct spot spot = layout_spot(layout, layout->bridge_end[side], 0);
	double outward = layout_arm_mm(layout) / 2;

	spot.x_mm += side == SIDE_LEFT ? -outward : outward;
	spot.y_mm += down_mm;
	return spot;
}

void layout_strand(const struct layout *layout, const struct strand *strand,
		   struct spot line[static 2])
{
	line[0] = layout_spot(layout, layout_at(layout, strand->from), 0);
	line[1] = layout_spot(layout, layout_at(layout, strand->to), 0);
}
