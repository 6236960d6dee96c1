/* The frame at a scale, and where the words round it go. */
#include "draw/internal.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* ---- The frame ---- */

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

/* The unit vector across the rim. */
static struct spot layout_outward(const struct layout *layout, double at)
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

static double layout_arm_mm(const struct layout *layout)
{
	return 0.7 * layout->band_mm;
}

/* The middle of an arm of the throat, so far below where it leaves the hoop. */
static struct spot layout_arm(const struct layout *layout, enum side side, double down_mm)
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

/* ---- Drawing the frame ---- */

static void add_edge(struct canvas *canvas, const struct layout *layout, double from, double to,
		     double out_mm)
{
	int corners = (int)ceil(fabs(to - from) / 4);

	for (int i = 0; i <= corners; i++)
		canvas_to(canvas, layout_spot(layout, from + (to - from) * i / corners, out_mm));
}

static void add_ring(struct canvas *canvas, const struct layout *layout, double out_mm)
{
	canvas_begin(canvas, layout_spot(layout, 0, out_mm));
	add_edge(canvas, layout, 0, whole_rim_mm(layout), out_mm);
	canvas_close(canvas);
}

/* The bridge is a part of its own: hatched, as a part that is joined on. */
static void draw_bridge(struct canvas *canvas, const struct layout *layout)
{
	double from = layout->bridge_end[SIDE_RIGHT], to = layout->bridge_end[SIDE_LEFT];
	const double hatch_mm = 1.3;
	double hatch = hatch_mm / layout->scale;
	double slant = hatch * layout->band_mm / hatch_mm;
	int lines = (int)((to - from - slant) / hatch);

	add_edge(canvas, layout, from, to, 0);
	add_edge(canvas, layout, to, from, layout->band_mm);
	canvas_close(canvas);
	canvas_draw(canvas, pen_edge(INK, MEDIUM_MM, PAPER), "id=\"bridge\"");
	for (int i = 0; i <= lines; i++) {
		canvas_begin(canvas, layout_spot(layout, from + i * hatch, layout->band_mm));
		canvas_to(canvas, layout_spot(layout, from + i * hatch + slant, 0));
	}
	canvas_draw(canvas, pen_line(GREY, HAIR_MM), NULL);
}

/* The arms of the throat, cut off below the words. */
static void draw_arms(struct canvas *canvas, const struct layout *layout, double bottom_mm)
{
	double half = layout_arm_mm(layout) / 2;

	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		struct spot top = layout_arm(layout, side, 0);
		struct spot bottom = layout_arm(layout, side, bottom_mm - top.y_mm);
		canvas_begin(canvas, spot_beside(bottom, -half, 0));
		canvas_to(canvas, spot_beside(top, -half, 0));
		canvas_to(canvas, spot_beside(top, half, 0));
		canvas_to(canvas, spot_beside(bottom, half, 0));
		canvas_draw(canvas, pen_edge(INK, MEDIUM_MM, PALE), "class=\"arm\"");
	}
}

void draw_frame(struct canvas *canvas, const struct layout *layout, double bottom_mm)
{
	bool bridge = layout->bridge_end[SIDE_RIGHT] > 0;

	canvas_group(canvas, "class=\"frame\"", NULL);
	if (bridge)
		draw_arms(canvas, layout, bottom_mm);
	add_ring(canvas, layout, layout->band_mm);
	add_ring(canvas, layout, 0);
	canvas_draw(canvas, pen_edge(INK, MEDIUM_MM, PALE), "id=\"hoop\"");
	if (bridge)
		draw_bridge(canvas, layout);
	canvas_end(canvas);
}

/* ---- Tags ---- */

static const double loops_mm = 2.9; /* kept free outside the frame for the string's loops */
static const double between_rings_mm = 1.0;
static const double least_gap_mm = 0.55; /* between neighbours of a ring */
static const double farthest_mm = 9;     /* from its hole, along the rim */

enum { ROUNDS_MAX = 400 };

static const char widest_label[] = "20H", widest_name[] = "M10";

double tag_size_mm(enum tag_kind kind, double size_mm)
{
	return kind == TAG_HOLE ? size_mm : 0.86 * size_mm;
}

/* A disc holds two figures. */
static struct spot half_size(enum tag_kind kind, const char *text, double size_mm)
{
	double letters = tag_size_mm(kind, size_mm);

	if (kind == TAG_PULL)
		return (struct spot){0.76 * size_mm, 0.76 * size_mm};
	return (struct spot){lettering_width_mm(text, letters, false) / 2,
			     CAPITAL_SHARE * letters / 2};
}

/* How deep a box is, seen along a direction. */
static double depth(struct spot half, struct spot direction)
{
	return 2 * (fabs(direction.x_mm) * half.x_mm + fabs(direction.y_mm) * half.y_mm);
}

struct spot tags_room(double size_mm)
{
	struct spot label = half_size(TAG_HOLE, widest_label, size_mm);
	struct spot name = half_size(TAG_STRING, widest_name, size_mm);
	struct spot disc = half_size(TAG_PULL, "", size_mm);
	double between_mm = loops_mm + between_rings_mm;

	return (struct spot){between_mm + 2 * (label.x_mm + fmax(name.x_mm, disc.x_mm)),
			     between_mm + 2 * (label.y_mm + fmax(name.y_mm, disc.y_mm))};
}

static void settle(const struct layout *layout, double size_mm, struct tag *tag)
{
	struct spot outward = layout_outward(layout, tag->at);
	double out_mm = layout->band_mm + loops_mm;

	if (tag->kind == TAG_ARM)
		return;
	if (tag->ring)
		out_mm += depth(half_size(TAG_HOLE, widest_label, size_mm), outward) +
			  between_rings_mm;
	tag->centre = layout_spot(layout, tag->at, out_mm + depth(tag->half, outward) / 2);
}

static void add_tag(const struct layout *layout, struct tags *tags, enum tag_kind kind,
		    struct sided_hole place, const char *text, bool next)
{
	assert(tags->count < TAGS_MAX);
	struct tag *tag = &tags->items[tags->count++];
	double at = layout_at(layout, place);

	*tag = (struct tag){
		.kind = kind,
		.place = place,
		.ring = kind != TAG_HOLE,
		.next = next,
		.home = at,
		.at = at,
		.half = half_size(kind, text, tags->size_mm),
	};
	snprintf(tag->text, sizeof(tag->text), "%s", text);
	settle(layout, tags->size_mm, tag);
}

static void add_holes(const struct layout *layout, struct tags *tags)
{
	char text[HOLE_TEXT_MAX];

	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		for (int i = 0; i < pattern_hole_count(layout->pattern); i++) {
			struct sided_hole place = {pattern_hole_at(layout->pattern, i), side};
			add_tag(layout, tags, TAG_HOLE, place, hole_text(place.hole, text), false);
		}
	}
}

static void add_strings(const struct layout *layout, const struct stringing *stringing,
			struct tags *tags)
{
	char text[TAG_TEXT_MAX];

	for (int i = 0; i < stringing->strand_count; i++) {
		const struct strand *strand = &stringing->strands[i];
		snprintf(text, sizeof(text), "%c%d",
			 strand->move->string == STRING_MAIN ? 'M' : 'C', strand->move->number);
		add_tag(layout, tags, TAG_STRING, strand->from, text, strand->next);
	}
}

/* The number of the call that makes a move. */
static int call_of(const struct sequence *sequence, const struct move *move)
{
	int index = (int)(move - sequence->moves), call = 0;

	while (call < sequence->call_count && sequence->calls[call].last < index)
		call++;
	return call + 1;
}

static void add_pulls(const struct layout *layout, const struct stringing *stringing,
		      struct tags *tags)
{
	char text[TAG_TEXT_MAX];
	int pulls = 0;

	for (int i = 0; i < stringing->mark_count; i++) {
		const struct mark *mark = &stringing->marks[i];
		if (mark->move->action != DO_PULL)
			continue;
		pulls++;
		snprintf(text, sizeof(text), "%d",
			 stringing->options->card ? call_of(stringing->sequence, mark->move)
						  : pulls);
		add_tag(layout, tags, TAG_PULL, place_of(mark->move), text, mark->next);
	}
}

/* In the way of both rings, all the way down. */
static void add_arms(const struct layout *layout, struct tags *tags)
{
	struct spot room = tags_room(tags->size_mm);

	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		if (layout->bridge_end[side] <= 0)
			continue;
		for (int ring = 0; ring < 2; ring++)
			tags->items[tags->count++] = (struct tag){
				.kind = TAG_ARM,
				.ring = ring,
				.home = layout->bridge_end[side],
				.at = layout->bridge_end[side],
				.half = {layout_arm_mm(layout) / 2, room.y_mm},
				.centre = layout_arm(layout, side, layout->band_mm + room.y_mm),
			};
	}
}

/* Round the rim; those of one hole stay in the order in which they came. */
static int compare_homes(const void *a, const void *b)
{
	const struct tag *x = *(const struct tag *const *)a, *y = *(const struct tag *const *)b;

	return x->home == y->home ? (x > y) - (x < y) : (x->home > y->home) - (x->home < y->home);
}

static bool too_close(const struct tag *a, const struct tag *b)
{
	double x = fabs(a->centre.x_mm - b->centre.x_mm);
	double y = fabs(a->centre.y_mm - b->centre.y_mm);

	return x < a->half.x_mm + b->half.x_mm + least_gap_mm &&
	       y < a->half.y_mm + b->half.y_mm + least_gap_mm;
}

/* One round of making room: every two neighbours that are too close move apart by a little, all at
 * once, so that both sides of the frame come out alike. False if there was nothing to do. */
static bool push_apart(const struct layout *layout, double size_mm, struct tag **ring, int count)
{
	const double push = 0.5;
	double moves[TAGS_MAX] = {0};
	bool any = false;

	for (int i = 0; i < count; i++) {
		for (int further = 1; further <= 2; further++) {
			int j = (i + further) % count;
			if (!too_close(ring[i], ring[j]))
				continue;
			moves[i] -= push;
			moves[j] += push;
			any = true;
		}
	}
	for (int i = 0; i < count; i++) {
		if (moves[i] == 0 || ring[i]->kind == TAG_ARM)
			continue;
		ring[i]->at += moves[i];
		settle(layout, size_mm, ring[i]);
	}
	return any;
}

static bool make_room(const struct layout *layout, struct tags *tags, int which)
{
	struct tag *ring[TAGS_MAX];
	int count = 0, rounds = 0;

	for (int i = 0; i < tags->count; i++)
		if (tags->items[i].ring == which)
			ring[count++] = &tags->items[i];
	if (count < 3)
		return true;
	qsort(ring, (size_t)count, sizeof(struct tag *), compare_homes);
	while (push_apart(layout, tags->size_mm, ring, count))
		if (++rounds == ROUNDS_MAX)
			return false;
	for (int i = 0; i < count; i++) {
		struct spot home = layout_spot(layout, ring[i]->home, 0);
		struct spot at = layout_spot(layout, ring[i]->at, 0);
		if (hypot(at.x_mm - home.x_mm, at.y_mm - home.y_mm) > farthest_mm)
			return false;
	}
	return true;
}

bool tags_make(const struct layout *layout, const struct stringing *stringing, double size_mm,
	       struct tags *out)
{
	out->count = 0;
	out->size_mm = size_mm;
	add_holes(layout, out);
	add_pulls(layout, stringing, out);
	add_strings(layout, stringing, out);
	add_arms(layout, out);
	bool inner = make_room(layout, out, 0);
	bool outer = make_room(layout, out, 1);
	return inner && outer;
}
