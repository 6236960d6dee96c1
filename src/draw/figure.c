#include "draw/internal.h"

#include <math.h>

static const double words_mm = 5.5; /* kept at both ends for "head" and "throat" */

/* At the top of the box: room to spare goes below, where the handle is. */
static void fit(struct figure *figure, double size_mm)
{
	const struct box *box = &figure->box;
	struct spot room = tags_room(size_mm);
	double around_mm = words_mm + room.y_mm;
	struct spot top = {box->x_mm + box->width_mm / 2, box->y_mm + around_mm};

	layout_fit(figure->stringing->sequence->pattern, top, box->width_mm - 2 * room.x_mm,
		   box->height_mm - 2 * around_mm, &figure->layout);
	figure->bottom_mm = 2 * figure->layout.centre.y_mm - box->y_mm;
}

void figure_fit(const struct stringing *stringing, const struct draw_options *options,
		const struct box *box, double size_mm, struct figure *out)
{
	const int sizes = 9;
	const double step_mm = 0.2;

	out->stringing = stringing;
	out->options = options;
	out->box = *box;
	for (int i = 0; i < sizes; i++) {
		double size = size_mm - i * step_mm;
		fit(out, size);
		if (tags_make(&out->layout, stringing, size, &out->tags))
			return;
	}
}

static void draw_holes(struct canvas *canvas, const struct figure *figure)
{
	static const char *const classes[] = {"hole", "hole skipped", "hole shared", "hole unused"};
	const struct layout *layout = &figure->layout;
	const struct pattern *pattern = layout->pattern;
	double radius = fmin(1.15, 0.3 * layout->band_mm);

	canvas_group(canvas, "class=\"holes\"", NULL);
	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		for (int i = 0; i < pattern_hole_count(pattern); i++) {
			struct sided_hole place = {pattern_hole_at(pattern, i), side};
			enum hole_look look = hole_look(pattern, place.hole);
			draw_hole(canvas, look, layout_hole(layout, place), radius,
				  place_attributes(canvas, classes[look], place));
		}
	}
	canvas_end(canvas);
}

/* The label of the same hole. */
static const struct tag *label_of(const struct tags *tags, const struct tag *tag)
{
	for (int i = 0; i < tags->count; i++) {
		const struct tag *label = &tags->items[i];
		if (label->kind == TAG_HOLE && label->place.side == tag->place.side &&
		    hole_same(label->place.hole, tag->place.hole))
			return label;
	}
	return NULL;
}

/* Where a line from the middle of a tag towards a spot leaves it, with a little air. */
static struct spot edge_towards(const struct tag *tag, struct spot spot)
{
	const double air_mm = 0.4;
	double dx = spot.x_mm - tag->centre.x_mm, dy = spot.y_mm - tag->centre.y_mm;
	double width = tag->half_width_mm + air_mm, height = tag->half_height_mm + air_mm;
	double share = 1 / fmax(fmax(fabs(dx) / width, fabs(dy) / height), 1);

	if (tag->kind == TAG_PULL)
		share = fmin(width / hypot(dx, dy), 1);
	return (struct spot){tag->centre.x_mm + share * dx, tag->centre.y_mm + share * dy};
}

/* A guide from a hole to its label, from a label to what else stands there. */
static void draw_guide(struct canvas *canvas, const struct figure *figure, const struct tag *tag)
{
	const struct tag *label = tag->kind == TAG_HOLE ? NULL : label_of(&figure->tags, tag);
	struct spot from = layout_spot(&figure->layout, tag->home, figure->layout.band_mm + 0.3);

	if (label)
		from = edge_towards(label, tag->centre);
	canvas_line(canvas, from, edge_towards(tag, label ? label->centre : from),
		    pen_line(FAINT, HAIR_MM), "class=\"guide\"");
}

static void draw_tag(struct canvas *canvas, const struct figure *figure, const struct tag *tag)
{
	static const char *const classes[] = {
		[TAG_HOLE] = "label", [TAG_PULL] = "pull", [TAG_STRING] = "name"};
	double size = tag_size_mm(tag->kind, figure->tags.size_mm);
	struct lettering letters = {size, INK, ANCHOR_MIDDLE, .bold = tag->next};
	const char *attributes = place_attributes(canvas, classes[tag->kind], tag->place);

	if (tag->kind == TAG_STRING)
		letters.colour = tag->next ? ACCENT : GREY;
	if (tag->kind == TAG_PULL)
		draw_pull(canvas, tag->centre, tag->half_width_mm, size, tag->text,
			  figure->stringing->by_call, tag->next, attributes);
	else
		canvas_label(canvas, tag->centre, letters, tag->text, attributes);
}

static void draw_tags(struct canvas *canvas, const struct figure *figure)
{
	const struct tags *tags = &figure->tags;

	canvas_group(canvas, "class=\"tags\"", NULL);
	for (int i = 0; i < tags->count; i++)
		if (tags->items[i].kind != TAG_ARM)
			draw_guide(canvas, figure, &tags->items[i]);
	for (int i = 0; i < tags->count; i++)
		if (tags->items[i].kind != TAG_ARM)
			draw_tag(canvas, figure, &tags->items[i]);
	canvas_end(canvas);
}

static void draw_words(struct canvas *canvas, const struct figure *figure)
{
	const struct box *box = &figure->box;
	struct lettering letters = {3.4, GREY, ANCHOR_MIDDLE, .bold = true};
	const char *const *words = figure->options->side_words;
	double middle = figure->layout.centre.x_mm, right = box->x_mm + box->width_mm;
	double top = box->y_mm + CAPITAL_SHARE * letters.size_mm;

	canvas_text(canvas, (struct spot){middle, top}, letters, "HEAD", NULL);
	canvas_text(canvas, (struct spot){middle, figure->bottom_mm}, letters, "THROAT", NULL);
	letters.anchor = ANCHOR_START;
	canvas_text(canvas, (struct spot){box->x_mm, top}, letters,
		    words[SIDE_LEFT] ? words[SIDE_LEFT] : "LEFT", NULL);
	letters.anchor = ANCHOR_END;
	canvas_text(canvas, (struct spot){right, top}, letters,
		    words[SIDE_RIGHT] ? words[SIDE_RIGHT] : "RIGHT", NULL);
}

void figure_draw(struct canvas *canvas, const struct figure *figure)
{
	canvas_group(canvas, "id=\"bed\"", NULL);
	draw_frame(canvas, &figure->layout, figure->bottom_mm);
	draw_strands(canvas, figure);
	draw_holes(canvas, figure);
	draw_tags(canvas, figure);
	draw_words(canvas, figure);
	canvas_end(canvas);
}
