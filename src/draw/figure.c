/* The figure: the frame with its strings, and the marks and words at them. */
#include "draw/internal.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum tag_kind {
	TAG_HOLE,   /* "7H" */
	TAG_PULL,   /* "12", white on black: where the string leaves for the tension head */
	TAG_STRING, /* "M4", "C9": where the string goes in */
	TAG_ARM,    /* no word: an arm of the throat, which the others make room for */
};

enum { TAG_TEXT_MAX = 16, TAGS_MAX = 4 * HOLES_MAX + 2 * STRANDS_MAX + 4 };

struct tag {
	enum tag_kind kind;
	char text[TAG_TEXT_MAX];
	struct sided_hole place;
	int ring; /* 0: next to the frame, 1: outside that */
	bool next;
	double home;      /* its hole, along the rim */
	double at;        /* where there is room for it, along the rim */
	struct spot half; /* half its width and height */
	struct spot centre;
};

struct figure {
	const struct stringing *stringing;
	struct box box;
	double bottom_mm; /* where the picture ends: it may need less than the box */
	struct layout layout;
	double size_mm; /* of the hole labels */
	struct tag tags[TAGS_MAX];
	int tag_count;
};

/* ---- Tags: the words round the frame ----
 *
 * A ring of hole labels, and outside that a ring with the order of the pulls and the names of the
 * strings. Tags that would overlap make room along the rim. */

static const double loops_mm = 2.9; /* kept free outside the frame for the string's loops */
static const double between_rings_mm = 1.0;
static const double least_gap_mm = 0.55; /* between neighbours of a ring */
static const double farthest_mm = 9;     /* from its hole, along the rim */

enum { ROUNDS_MAX = 400 };

static const char widest_label[] = "20H", widest_name[] = "M10";

/* The size of the letters in a tag, where hole labels have that size. */
static double tag_size_mm(enum tag_kind kind, double size_mm)
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

/* The room that the rings take outside the frame, on each side and at each end. */
static struct spot tags_room(double size_mm)
{
	struct spot label = half_size(TAG_HOLE, widest_label, size_mm);
	struct spot name = half_size(TAG_STRING, widest_name, size_mm);
	struct spot disc = half_size(TAG_PULL, "", size_mm);
	double between_mm = loops_mm + between_rings_mm;

	return (struct spot){between_mm + 2 * (label.x_mm + fmax(name.x_mm, disc.x_mm)),
			     between_mm + 2 * (label.y_mm + fmax(name.y_mm, disc.y_mm))};
}

static void settle(const struct figure *figure, struct tag *tag)
{
	const struct layout *layout = &figure->layout;
	struct spot outward = layout_outward(layout, tag->at);
	double out_mm = layout->band_mm + loops_mm;

	if (tag->kind == TAG_ARM)
		return;
	if (tag->ring)
		out_mm += depth(half_size(TAG_HOLE, widest_label, figure->size_mm), outward) +
			  between_rings_mm;
	tag->centre = layout_spot(layout, tag->at, out_mm + depth(tag->half, outward) / 2);
}

static void add_tag(struct figure *figure, enum tag_kind kind, struct sided_hole place,
		    const char *text, bool next)
{
	assert(figure->tag_count < TAGS_MAX);
	struct tag *tag = &figure->tags[figure->tag_count++];
	double at = layout_at(&figure->layout, place);

	*tag = (struct tag){
		.kind = kind,
		.place = place,
		.ring = kind != TAG_HOLE,
		.next = next,
		.home = at,
		.at = at,
		.half = half_size(kind, text, figure->size_mm),
	};
	snprintf(tag->text, sizeof(tag->text), "%s", text);
	settle(figure, tag);
}

static void add_holes(struct figure *figure)
{
	const struct pattern *pattern = figure->layout.pattern;
	char text[HOLE_TEXT_MAX];

	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		for (int i = 0; i < pattern_hole_count(pattern); i++) {
			struct sided_hole place = {pattern_hole_at(pattern, i), side};
			add_tag(figure, TAG_HOLE, place, hole_text(place.hole, text), false);
		}
	}
}

static void add_strings(struct figure *figure)
{
	const struct stringing *stringing = figure->stringing;
	char text[TAG_TEXT_MAX];

	for (int i = 0; i < stringing->strand_count; i++) {
		const struct strand *strand = &stringing->strands[i];
		snprintf(text, sizeof(text), "%c%d",
			 strand->move->string == STRING_MAIN ? 'M' : 'C', strand->move->number);
		add_tag(figure, TAG_STRING, strand->from, text, strand->next);
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

static void add_pulls(struct figure *figure)
{
	const struct stringing *stringing = figure->stringing;
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
		add_tag(figure, TAG_PULL, place_of(mark->move), text, mark->next);
	}
}

/* The arms of the throat take room in both rings, all the way down. */
static void add_arms(struct figure *figure)
{
	const struct layout *layout = &figure->layout;
	double room_mm = tags_room(figure->size_mm).y_mm;

	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		if (layout->bridge_end[side] <= 0)
			continue;
		for (int ring = 0; ring < 2; ring++)
			figure->tags[figure->tag_count++] = (struct tag){
				.kind = TAG_ARM,
				.ring = ring,
				.home = layout->bridge_end[side],
				.at = layout->bridge_end[side],
				.half = {layout_arm_mm(layout) / 2, room_mm},
				.centre = layout_arm(layout, side, layout->band_mm + room_mm),
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
static bool push_apart(const struct figure *figure, struct tag **ring, int count)
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
		settle(figure, ring[i]);
	}
	return any;
}

/* False if the tags of a ring cannot be kept apart near their holes. */
static bool make_room(struct figure *figure, int which)
{
	struct tag *ring[TAGS_MAX];
	int count = 0, rounds = 0;

	for (int i = 0; i < figure->tag_count; i++)
		if (figure->tags[i].ring == which)
			ring[count++] = &figure->tags[i];
	if (count < 3)
		return true;
	qsort(ring, (size_t)count, sizeof(struct tag *), compare_homes);
	while (push_apart(figure, ring, count))
		if (++rounds == ROUNDS_MAX)
			return false;
	for (int i = 0; i < count; i++) {
		struct spot home = layout_spot(&figure->layout, ring[i]->home, 0);
		struct spot at = layout_spot(&figure->layout, ring[i]->at, 0);
		if (hypot(at.x_mm - home.x_mm, at.y_mm - home.y_mm) > farthest_mm)
			return false;
	}
	return true;
}

/* ---- Fitting ---- */

static const double words_mm = 5.5; /* kept at both ends for "head" and "throat" */

/* With letters of that size, at the top of the box: room to spare goes below, where the handle is.
 * False if there is no room for the tags. */
static bool fit_letters(struct figure *figure, double size_mm)
{
	const struct box *box = &figure->box;
	struct spot room = tags_room(size_mm);
	double around_mm = words_mm + room.y_mm;
	struct spot top = {box->x_mm + box->width_mm / 2, box->y_mm + around_mm};

	layout_fit(figure->stringing->sequence->pattern, top, box->width_mm - 2 * room.x_mm,
		   box->height_mm - 2 * around_mm, &figure->layout);
	figure->bottom_mm = 2 * figure->layout.centre.y_mm - box->y_mm;
	figure->size_mm = size_mm;
	figure->tag_count = 0;
	add_holes(figure);
	add_pulls(figure);
	add_strings(figure);
	add_arms(figure);
	bool inner = make_room(figure, 0);
	bool outer = make_room(figure, 1);
	return inner && outer;
}

static void fit(struct figure *figure, double size_mm)
{
	const int sizes = 9;
	const double step_mm = 0.2;

	for (int i = 0; i < sizes; i++)
		if (fit_letters(figure, size_mm - i * step_mm))
			return;
}

/* ---- Knots and clamps ---- */

/* A spot on the string of a hole, so far inside the hoop. */
static struct spot inside_of(const struct layout *layout, struct sided_hole place,
			     enum string_kind string, double inside_mm)
{
	struct spot spot = layout_inner(layout, place);

	if (string == STRING_MAIN)
		spot.y_mm += place.hole.end == END_HEAD ? inside_mm : -inside_mm;
	else
		spot.x_mm += place.side == SIDE_LEFT ? inside_mm : -inside_mm;
	return spot;
}

/* On the string that is already there: a main. */
static struct spot knot_spot(const struct figure *figure, const struct move *knot)
{
	return inside_of(&figure->layout, place_of(knot), STRING_MAIN, 3);
}

static void draw_knot(struct canvas *canvas, const struct figure *figure, const struct mark *mark)
{
	static const char *const symbols[2][2] = {{"tie_off", "legend_suggested"},
						  {"starting_knot", "suggested_start"}};
	const struct move *knot = mark->move;
	struct spot spot = knot_spot(figure, knot);
	char hole[HOLE_TEXT_MAX];

	canvas_symbol(canvas, symbols[knot->start][knot->suggested], spot, mark->next ? 1.33 : 1, 0,
		      canvas_attributes(
			      canvas,
			      "class=\"knot %s\" color=\"#%06x\" data-hole=\"%s\" data-side=\"%s\"",
			      knot->start ? "start" : "tie-off", mark->next ? ACCENT : INK,
			      hole_text(knot->hole, hole), side_names[knot->side]));
}

/* Where the other string of a flying clamp leaves the frame, beside the one that it holds. */
static struct sided_hole neighbour_place(const struct sequence *sequence, const struct move *clamp)
{
	struct sided_hole place = place_of(clamp);

	if (clamp->string == STRING_CROSS) {
		place.hole = sequence->cross_hole[clamp->across];
		return place;
	}
	place.hole.number = sequence->pattern->main_hole[place.hole.end][clamp->across];
	if (clamp->number == 1)
		place.side = other_side(place.side);
	return place;
}

static bool is_at_knot(const struct figure *figure, struct spot spot)
{
	const double near_mm = 3.5; /* symbols this near hide each other */
	const struct stringing *stringing = figure->stringing;

	for (int i = 0; i < stringing->mark_count; i++) {
		struct spot knot = knot_spot(figure, stringing->marks[i].move);
		if (stringing->marks[i].move->action == DO_KNOT &&
		    hypot(spot.x_mm - knot.x_mm, spot.y_mm - knot.y_mm) < near_mm)
			return true;
	}
	return false;
}

/* As near to the frame as leaves the knots to be seen. */
static double clamp_inside_mm(const struct figure *figure, const struct move *clamp)
{
	const double least_mm = 4, most_mm = 14;
	double inside_mm = least_mm;

	while (!clamp->outside && inside_mm < most_mm &&
	       is_at_knot(figure,
			  inside_of(&figure->layout, place_of(clamp), clamp->string, inside_mm)))
		inside_mm += 0.5;
	return inside_mm;
}

/* A flying clamp stands square to its two strings, as near to the frame as both allow. */
static void draw_clamp(struct canvas *canvas, const struct figure *figure, const struct move *clamp)
{
	const double inside_mm = clamp_inside_mm(figure, clamp);
	const struct layout *layout = &figure->layout;
	bool cross = clamp->string == STRING_CROSS;
	double degrees = cross ? 90 : 0;
	struct spot spot = inside_of(layout, place_of(clamp), clamp->string,
				     clamp->outside ? -inside_mm : inside_mm);

	if (clamp->across) {
		struct sided_hole place = neighbour_place(figure->stringing->sequence, clamp);
		struct spot other = inside_of(layout, place, clamp->string, inside_mm);
		if (cross)
			spot.x_mm = other.x_mm = clamp->side == SIDE_LEFT
							 ? fmax(spot.x_mm, other.x_mm)
							 : fmin(spot.x_mm, other.x_mm);
		else
			spot.y_mm = other.y_mm = clamp->hole.end == END_HEAD
							 ? fmax(spot.y_mm, other.y_mm)
							 : fmin(spot.y_mm, other.y_mm);
		canvas_symbol(canvas, "legend_clamp", other, 1, degrees, "class=\"clamp across\"");
		canvas_line(canvas, spot, other, pen_line(PAPER, 4 * MEDIUM_MM), NULL);
		canvas_draw(canvas, pen_line(INK, 2 * MEDIUM_MM), NULL);
	}
	canvas_symbol(canvas, "legend_clamp", spot, 1, degrees,
		      clamp->outside ? "class=\"clamp outside\"" : "class=\"clamp\"");
}

static void draw_marks(struct canvas *canvas, const struct figure *figure)
{
	const struct stringing *stringing = figure->stringing;

	for (int i = 0; i < stringing->mark_count; i++)
		if (stringing->marks[i].move->action == DO_CLAMP)
			draw_clamp(canvas, figure, stringing->marks[i].move);
	for (int i = 0; i < stringing->mark_count; i++)
		if (stringing->marks[i].move->action == DO_KNOT)
			draw_knot(canvas, figure, &stringing->marks[i]);
}

/* ---- Holes and tags ---- */

/* The attributes of what is at a hole; they are good until the next ones are made. */
static const char *place_attributes(struct canvas *canvas, const char *class,
				    struct sided_hole place)
{
	char text[HOLE_TEXT_MAX];

	return canvas_attributes(canvas, "class=\"%s\" data-hole=\"%s\" data-side=\"%s\"", class,
				 hole_text(place.hole, text), side_names[place.side]);
}

const char *hole_symbol(const struct pattern *pattern, struct hole hole)
{
	if (hole_in(&pattern->unused, hole))
		return "legend_unused";
	if (hole_in(&pattern->mains_skip, hole))
		return "legend_skipped";
	return hole_in(&pattern->shared, hole) ? "legend_shared" : "legend_hole";
}

static void draw_holes(struct canvas *canvas, const struct figure *figure)
{
	const struct layout *layout = &figure->layout;
	const struct pattern *pattern = layout->pattern;
	double size = fmin(0.88, 0.23 * layout->band_mm);

	canvas_group(canvas, "class=\"holes\"", NULL);
	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		for (int i = 0; i < pattern_hole_count(pattern); i++) {
			struct sided_hole place = {pattern_hole_at(pattern, i), side};
			canvas_symbol(canvas, hole_symbol(pattern, place.hole),
				      layout_hole(layout, place), size, 0,
				      place_attributes(canvas, "hole", place));
		}
	}
	canvas_end(canvas);
}

/* From a hole to what stands there; letters have paper round them. */
static void draw_guide(struct canvas *canvas, const struct figure *figure, const struct tag *tag)
{
	struct spot rim = layout_spot(&figure->layout, tag->home, figure->layout.band_mm + 0.3);

	canvas_line(canvas, rim, tag->centre, pen_line(FAINT, HAIR_MM), "class=\"guide\"");
}

void draw_pull(struct canvas *canvas, struct spot centre, double radius_mm, double size_mm,
	       const char *number, bool is_call, bool next, const char *attributes)
{
	/* Three digits are set smaller, to stay inside. */
	double letters_mm = strlen(number) > 2 ? 0.75 * size_mm : size_mm;
	struct pen pen = pen_fill(next ? ACCENT : INK);

	if (is_call) {
		canvas_box(canvas, centre, radius_mm, 0.85 * radius_mm);
		canvas_draw(canvas, pen, attributes);
	} else {
		canvas_circle(canvas, centre, radius_mm, pen, attributes);
	}
	if (next)
		canvas_circle(canvas, centre, radius_mm + 0.45, pen_line(ACCENT, THIN_MM), NULL);
	canvas_label(canvas, centre,
		     (struct lettering){letters_mm, PAPER, ANCHOR_MIDDLE, .bold = true}, number,
		     NULL);
}

static void draw_tag(struct canvas *canvas, const struct figure *figure, const struct tag *tag)
{
	static const char *const classes[] = {
		[TAG_HOLE] = "label", [TAG_PULL] = "pull", [TAG_STRING] = "name"};
	double size = tag_size_mm(tag->kind, figure->size_mm);
	struct lettering letters = {size, INK, ANCHOR_MIDDLE, .bold = tag->next, .halo = true};
	const char *attributes = place_attributes(canvas, classes[tag->kind], tag->place);

	if (tag->kind == TAG_STRING)
		letters.colour = tag->next ? ACCENT : GREY;
	if (tag->kind == TAG_PULL)
		draw_pull(canvas, tag->centre, tag->half.x_mm, size, tag->text,
			  figure->stringing->options->card, tag->next, attributes);
	else
		canvas_label(canvas, tag->centre, letters, tag->text, attributes);
}

static void draw_tags(struct canvas *canvas, const struct figure *figure)
{
	canvas_group(canvas, "class=\"tags\"", NULL);
	for (int i = 0; i < figure->tag_count; i++)
		if (figure->tags[i].kind != TAG_ARM)
			draw_guide(canvas, figure, &figure->tags[i]);
	for (int i = 0; i < figure->tag_count; i++)
		if (figure->tags[i].kind != TAG_ARM)
			draw_tag(canvas, figure, &figure->tags[i]);
	canvas_end(canvas);
}

/* ---- All of it ---- */

static void draw_words(struct canvas *canvas, const struct figure *figure)
{
	const struct stringing *stringing = figure->stringing;
	const struct box *box = &figure->box;
	struct lettering letters = {3.6, GREY, ANCHOR_MIDDLE, .bold = true};
	double middle = figure->layout.centre.x_mm;
	struct spot top = {middle, box->y_mm + CAPITAL_SHARE * letters.size_mm};

	canvas_text(canvas, top, letters, shown(stringing, "head"), NULL);
	canvas_text(canvas, (struct spot){middle, figure->bottom_mm}, letters,
		    shown(stringing, "throat"), NULL);
	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		letters.anchor = side == SIDE_LEFT ? ANCHOR_START : ANCHOR_END;
		top.x_mm = box->x_mm + (side == SIDE_LEFT ? 0 : box->width_mm);
		canvas_text(canvas, top, letters, shown_side(stringing, side), NULL);
	}
}

/* A bar of 100 real millimetres, or why there is none. */
static void draw_scale(struct canvas *canvas, const struct figure *figure)
{
	const double size_mm = 2.8, tick_mm = 1, bar_mm = 100 * figure->layout.scale;
	struct lettering letters = {size_mm, GREY, ANCHOR_END, false};
	struct spot bottom_right = {figure->box.x_mm + figure->box.width_mm, figure->bottom_mm};
	struct spot above = spot_beside(bottom_right, 0, -1.4 * size_mm);

	if (figure->layout.assumed) {
		canvas_text(canvas, above, letters, shown(figure->stringing, "not_to_scale"), NULL);
		canvas_text(canvas, bottom_right, letters, shown(figure->stringing, "no_head_size"),
			    NULL);
		return;
	}
	canvas_text(canvas, bottom_right, letters, "100 mm", NULL);
	for (int i = 0; i <= 2; i++) {
		struct spot spot = spot_beside(above, -bar_mm * i / 2, 0);
		canvas_begin(canvas, spot_beside(spot, 0, -tick_mm));
		canvas_to(canvas, spot);
	}
	canvas_begin(canvas, spot_beside(above, -bar_mm, 0));
	canvas_to(canvas, above);
	canvas_draw(canvas, pen_line(INK, THIN_MM), NULL);
}

double figure_draw(struct canvas *canvas, const struct stringing *stringing, const struct box *box,
		   double size_mm)
{
	struct figure figure = {.stringing = stringing, .box = *box};

	fit(&figure, size_mm);
	canvas_group(canvas, "id=\"bed\"", NULL);
	draw_frame(canvas, &figure.layout, figure.bottom_mm);
	draw_strings(canvas, &figure.layout, stringing);
	draw_marks(canvas, &figure);
	draw_holes(canvas, &figure);
	draw_tags(canvas, &figure);
	draw_words(canvas, &figure);
	canvas_end(canvas);
	draw_scale(canvas, &figure);
	return figure.bottom_mm;
}
