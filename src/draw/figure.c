/* The figure: strings, holes and what is at them; and its legend. Strings pass over and under each
 * other: the lower one has a gap where the upper one runs. */
#include "draw/internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- Marks: each kind has a shape of its own ---- */

/* The attributes of what is at a hole; they are good until the next ones are made. */
static const char *place_attributes(struct canvas *canvas, const char *class,
				    struct sided_hole place)
{
	char text[HOLE_TEXT_MAX];

	return canvas_attributes(canvas, "class=\"%s\" data-hole=\"%s\" data-side=\"%s\"", class,
				 hole_text(place.hole, text), side_names[place.side]);
}

enum hole_look { HOLE_PLAIN, HOLE_SKIPPED, HOLE_SHARED, HOLE_UNUSED };

static enum hole_look hole_look(const struct pattern *pattern, struct hole hole)
{
	if (hole_in(&pattern->unused, hole))
		return HOLE_UNUSED;
	if (hole_in(&pattern->mains_skip, hole))
		return HOLE_SKIPPED;
	return hole_in(&pattern->shared, hole) ? HOLE_SHARED : HOLE_PLAIN;
}

/* A square where the mains skip it, a disc in a ring where it holds a main and a cross, crossed out
 * where it is unused. */
static void draw_hole(struct canvas *canvas, enum hole_look look, struct spot spot,
		      double radius_mm, const char *attributes)
{
	double arm = 0.62 * radius_mm;

	switch (look) {
	case HOLE_PLAIN:
		canvas_circle(canvas, spot, 0.85 * radius_mm, pen_edge(INK, THIN_MM, PAPER),
			      attributes);
		break;
	case HOLE_SKIPPED:
		canvas_box(canvas, spot, radius_mm, radius_mm);
		canvas_draw(canvas, pen_edge(INK, MEDIUM_MM, PAPER), attributes);
		break;
	case HOLE_SHARED:
		canvas_circle(canvas, spot, 1.2 * radius_mm, pen_edge(INK, MEDIUM_MM, PAPER),
			      attributes);
		canvas_circle(canvas, spot, 0.55 * radius_mm, pen_fill(INK), NULL);
		break;
	case HOLE_UNUSED:
		canvas_circle(canvas, spot, radius_mm, pen_edge(GREY, THIN_MM, PAPER), attributes);
		canvas_begin(canvas, spot_beside(spot, -arm, -arm));
		canvas_to(canvas, spot_beside(spot, arm, arm));
		canvas_begin(canvas, spot_beside(spot, -arm, arm));
		canvas_to(canvas, spot_beside(spot, arm, -arm));
		canvas_draw(canvas, pen_line(GREY, THIN_MM), NULL);
		break;
	}
}

/* A tie-off is a diamond, a starting knot a triangle; hollow where the hole is only suggested. */
static void draw_knot(struct canvas *canvas, const struct move *knot, bool next, struct spot spot,
		      const char *attributes)
{
	static const struct spot diamond[] = {{0, -1.3}, {1.15, 0}, {0, 1.3}, {-1.15, 0}};
	static const struct spot triangle[] = {{0, -1.3}, {1.25, 0.9}, {-1.25, 0.9}};
	const struct spot *corners = knot->start ? triangle : diamond;
	double size = next ? 1.8 : 1.35;
	int colour = next ? ACCENT : INK;
	struct pen halo = pen_edge(PAPER, 1.1, PAPER);

	halo.round = true;
	for (int i = 0; i < (knot->start ? 3 : 4); i++)
		canvas_to(canvas,
			  spot_beside(spot, size * corners[i].x_mm, size * corners[i].y_mm));
	canvas_close(canvas);
	canvas_draw(canvas, halo, NULL);
	canvas_draw(canvas, pen_edge(colour, MEDIUM_MM, knot->suggested ? PAPER : colour),
		    attributes);
}

/* Two jaws, one on each side of the string. */
static void draw_clamp(struct canvas *canvas, struct spot spot, enum string_kind string,
		       const char *attributes)
{
	const double half_mm = 1.6, off_mm = 1.2, thin_mm = 0.72;

	for (int sign = -1; sign <= 1; sign += 2) {
		if (string == STRING_MAIN)
			canvas_box(canvas, spot_beside(spot, sign * off_mm, 0), thin_mm, half_mm);
		else
			canvas_box(canvas, spot_beside(spot, 0, sign * off_mm), half_mm, thin_mm);
	}
	canvas_draw(canvas, pen_edge(PAPER, THIN_MM, INK), attributes);
}

/* A flying clamp, on two strings. */
static void draw_clamp_across(struct canvas *canvas, struct spot spot, struct spot other,
			      enum string_kind string)
{
	draw_clamp(canvas, other, string, "class=\"clamp across\"");
	canvas_line(canvas, spot, other, pen_line(PAPER, 4 * MEDIUM_MM), NULL);
	canvas_draw(canvas, pen_line(INK, 2 * MEDIUM_MM), NULL);
	draw_clamp(canvas, spot, string, "class=\"clamp\"");
}

/* The number of a call in a square; the place in the order of the pulls in a disc. */
static void draw_pull(struct canvas *canvas, struct spot centre, double radius_mm, double size_mm,
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

/* ---- Strings ---- */

static const double gap_share = 0.45; /* of its width: white on each side of the upper string */
static const double loop_out_mm = 1.0, knot_out_mm = 2.0; /* of runs outside the frame */
static const double clamp_inside_mm = 4;
static const double next_share = 1.5, threaded_share = 0.55;

/* How thick strings are in this figure. */
static double strand_width_mm(const struct figure *figure)
{
	double spacing = 2 * figure->layout.scale * figure->layout.bed.main_x_mm[1];

	return fmin(1.1, 0.18 * spacing);
}

enum strand_look { LOOK_PULLED, LOOK_THREADED, LOOK_NEXT };

static enum strand_look look_of(const struct strand *strand)
{
	if (strand->next)
		return LOOK_NEXT;
	return strand->pulled ? LOOK_PULLED : LOOK_THREADED;
}

static double look_width_mm(enum strand_look look, double width_mm)
{
	static const double share[] = {1, threaded_share, next_share};

	return share[look] * width_mm;
}

/* Draws the path as a string: a main is a solid line, a cross an outline. */
static void draw_string_path(struct canvas *canvas, enum string_kind kind, enum strand_look look,
			     double width_mm)
{
	static const int colours[] = {INK, GREY, ACCENT};
	double width = look_width_mm(look, width_mm);

	canvas_draw(canvas, pen_line(colours[look], width), "class=\"string\"");
	if (kind == STRING_CROSS && look != LOOK_NEXT)
		canvas_draw(canvas, pen_line(CORE, width - 2 * fmin(THIN_MM, 0.28 * width)),
			    "class=\"core\"");
}

/* Where, from 0 to 1 along a strand, another one crosses it. */
struct meeting {
	double at;
	double half; /* how far a gap for the other one reaches to each side */
	bool under;  /* there is one */
};

static int compare_meetings(const void *a, const void *b)
{
	double x = ((const struct meeting *)a)->at, y = ((const struct meeting *)b)->at;

	return (x > y) - (x < y);
}

/* However near the next string is, a gap for one does not reach it. */
static void narrow_gaps(struct meeting *meetings, int count)
{
	for (int i = 1; i < count; i++) {
		double most = 0.4 * (meetings[i].at - meetings[i - 1].at);
		meetings[i].half = fmin(meetings[i].half, most);
		meetings[i - 1].half = fmin(meetings[i - 1].half, most);
	}
}

/* Mains stand upright, and crosses lie level. */
static int find_meetings(const struct figure *figure, const struct strand *strand,
			 const struct spot line[static 2], struct meeting *meetings)
{
	const struct stringing *stringing = figure->stringing;
	bool main = strand->move->string == STRING_MAIN;
	double x = line[1].x_mm - line[0].x_mm, y = line[1].y_mm - line[0].y_mm;
	int count = 0;

	for (int i = 0; i < stringing->strand_count; i++) {
		const struct strand *other = &stringing->strands[i];
		const struct strand *cross = main ? other : strand;
		struct spot at[2];
		if (other->move->string == strand->move->string ||
		    !pattern_meets(figure->layout.pattern, cross->from.hole,
				   main ? strand->move->number : other->move->number))
			continue;
		layout_strand(&figure->layout, other, at);
		double width = look_width_mm(look_of(other), strand_width_mm(figure));
		meetings[count++] = (struct meeting){
			.at = main ? (at[0].y_mm - line[0].y_mm) / y
				   : (at[0].x_mm - line[0].x_mm) / x,
			.half = (0.5 + gap_share) * width / hypot(x, y),
			.under = strand_is_over(cross, main ? strand : other) == main,
		};
	}
	qsort(meetings, (size_t)count, sizeof(meetings[0]), compare_meetings);
	narrow_gaps(meetings, count);
	return count;
}

static struct spot along(const struct spot line[static 2], double share)
{
	return (struct spot){line[0].x_mm + share * (line[1].x_mm - line[0].x_mm),
			     line[0].y_mm + share * (line[1].y_mm - line[0].y_mm)};
}

/* From hole to hole through the hoop, in pieces. */
static void cut_pieces(struct canvas *canvas, const struct figure *figure,
		       const struct strand *strand, const struct spot line[static 2])
{
	struct meeting meetings[STRANDS_MAX] = {0};
	int count = find_meetings(figure, strand, line, meetings);

	canvas_begin(canvas, layout_hole(&figure->layout, strand->from));
	canvas_to(canvas, line[0]);
	for (int i = 0; i < count; i++) {
		const struct meeting *meeting = &meetings[i];
		if (!meeting->under)
			continue;
		canvas_to(canvas, along(line, fmax(meeting->at - meeting->half, 0)));
		canvas_begin(canvas, along(line, fmin(meeting->at + meeting->half, 1)));
	}
	canvas_to(canvas, line[1]);
	canvas_to(canvas, layout_hole(&figure->layout, strand->to));
}

static void open_strand(struct canvas *canvas, const struct stringing *stringing,
			const struct strand *strand, enum strand_look look)
{
	static const char *const looks[] = {"", " slack", " next"};
	char from[HOLE_TEXT_MAX], to[HOLE_TEXT_MAX];
	const struct move *move = strand->move;
	const char *kind = string_names[move->string], *side = side_names[move->side];
	bool main = move->string == STRING_MAIN;
	const char *first = move->weave.first_over ? "over_first" : "under_first";

	hole_text(strand->from.hole, from);
	hole_text(strand->to.hole, to);
	char *title = memory_format("%s %d %s: %s – %s%s%s", shown(stringing, kind), move->number,
				    shown_side(stringing, move->side), from, to, main ? "" : ", ",
				    main ? "" : shown(stringing, first));
	const char *attributes = canvas_attributes(
		canvas,
		"id=\"%s-%d%s%s\" class=\"strand %s%s\" data-string=\"%s\" data-number=\"%d\" "
		"data-side=\"%s\" data-from=\"%s\" data-to=\"%s\" data-pull=\"%d\"",
		kind, move->number, main ? "-" : "", main ? side : "", kind, looks[look], kind,
		move->number, side, from, to, strand->pull);
	canvas_group(canvas, attributes, title);
	free(title);
}

/* Which way the string goes, at the end where it comes out. */
static void draw_arrow(struct canvas *canvas, struct spot from, struct spot to)
{
	const struct spot line[] = {from, to};
	const double long_mm = 4.2, half_mm = 1.7;
	double x = to.x_mm - from.x_mm, y = to.y_mm - from.y_mm;
	double length = hypot(x, y), half = half_mm / length;
	struct spot back = along(line, 1 - long_mm / length);
	struct pen halo = pen_edge(PAPER, 0.8, PAPER);

	halo.round = true;
	canvas_begin(canvas, to);
	canvas_to(canvas, spot_beside(back, half * y, -half * x));
	canvas_to(canvas, spot_beside(back, -half * y, half * x));
	canvas_close(canvas);
	canvas_draw(canvas, halo, NULL);
	canvas_draw(canvas, pen_fill(ACCENT), "class=\"way\"");
}

static void draw_strand(struct canvas *canvas, const struct figure *figure,
			const struct strand *strand)
{
	enum strand_look look = look_of(strand);
	struct spot line[2];

	layout_strand(&figure->layout, strand, line);
	open_strand(canvas, figure->stringing, strand, look);
	cut_pieces(canvas, figure, strand, line);
	draw_string_path(canvas, strand->move->string, look, strand_width_mm(figure));
	if (strand->next)
		draw_arrow(canvas, line[strand->out], line[!strand->out]);
	canvas_end(canvas);
}

/* String that runs outside the frame from one hole to another, the shorter way round. */
static void draw_run(struct canvas *canvas, const struct layout *layout, struct sided_hole from,
		     struct sided_hole to, double out_mm, struct pen pen, const char *attributes)
{
	double at = layout_at(layout, from);
	double way_mm = remainder(layout_at(layout, to) - at, 2 * rim_half_mm(&layout->bed.rim));
	int corners = 2 + (int)(fabs(way_mm) / 3);

	pen.round = true;
	canvas_begin(canvas, layout_hole(layout, from));
	for (int i = 0; i <= corners; i++)
		canvas_to(canvas,
			  layout_spot(layout, at + way_mm * i / corners, layout->band_mm + out_mm));
	canvas_to(canvas, layout_hole(layout, to));
	canvas_draw(canvas, pen, attributes);
}

static struct pen run_pen(enum string_kind string, bool next)
{
	if (next)
		return pen_line(ACCENT, 2 * MEDIUM_MM);
	return pen_line(string == STRING_MAIN ? INK : GREY, MEDIUM_MM);
}

static void draw_runs(struct canvas *canvas, const struct figure *figure)
{
	const struct stringing *stringing = figure->stringing;

	for (int i = 0; i < stringing->strand_count; i++) {
		const struct strand *strand = &stringing->strands[i];
		if (strand->before.hole.number)
			draw_run(canvas, &figure->layout, strand->before, strand->from, loop_out_mm,
				 run_pen(strand->move->string, strand->next), "class=\"run loop\"");
	}
	for (int i = 0; i < stringing->mark_count; i++) {
		const struct move *move = stringing->marks[i].move;
		struct sided_hole from = {move->from, move->side};
		if (move->action == DO_TIE_OFF)
			draw_run(canvas, &figure->layout, from, place_of(move), knot_out_mm,
				 run_pen(move->string, stringing->marks[i].next),
				 "class=\"run tie-off\"");
	}
}

/* A spot on the string of a hole, so far inside the hoop. */
static struct spot inside_of(const struct layout *layout, struct sided_hole place,
			     enum string_kind string, double inside_mm)
{
	struct spot spot = layout_spot(layout, layout_at(layout, place), 0);

	if (string == STRING_MAIN)
		spot.y_mm += place.hole.end == END_HEAD ? inside_mm : -inside_mm;
	else
		spot.x_mm += place.side == SIDE_LEFT ? inside_mm : -inside_mm;
	return spot;
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

/* A flying clamp stands square to its two strings, as near to the frame as both allow. */
static void draw_flying_clamp(struct canvas *canvas, const struct figure *figure,
			      const struct move *clamp, struct spot spot)
{
	const struct layout *layout = &figure->layout;
	struct sided_hole neighbour = neighbour_place(figure->stringing->sequence, clamp);
	struct spot other = inside_of(layout, neighbour, clamp->string, clamp_inside_mm);

	if (clamp->string == STRING_CROSS)
		spot.x_mm = other.x_mm = clamp->side == SIDE_LEFT ? fmax(spot.x_mm, other.x_mm)
								  : fmin(spot.x_mm, other.x_mm);
	else
		spot.y_mm = other.y_mm = clamp->hole.end == END_HEAD ? fmax(spot.y_mm, other.y_mm)
								     : fmin(spot.y_mm, other.y_mm);
	draw_clamp_across(canvas, spot, other, clamp->string);
}

/* Knots sit on the string that is already there: a main. */
static void draw_knot_at(struct canvas *canvas, const struct figure *figure,
			 const struct mark *mark)
{
	struct sided_hole place = place_of(mark->move);
	const char *class = mark->move->start ? "knot start" : "knot tie-off";

	draw_knot(canvas, mark->move, mark->next, inside_of(&figure->layout, place, STRING_MAIN, 3),
		  place_attributes(canvas, class, place));
}

static void draw_clamp_at(struct canvas *canvas, const struct figure *figure,
			  const struct move *clamp)
{
	struct spot spot = inside_of(&figure->layout, place_of(clamp), clamp->string,
				     clamp->outside ? -clamp_inside_mm : clamp_inside_mm);

	if (clamp->across)
		draw_flying_clamp(canvas, figure, clamp, spot);
	else
		draw_clamp(canvas, spot, clamp->string,
			   clamp->outside ? "class=\"clamp outside\"" : "class=\"clamp\"");
}

static void draw_strands(struct canvas *canvas, const struct figure *figure)
{
	const struct stringing *stringing = figure->stringing;

	canvas_group(canvas, "class=\"runs\"", NULL);
	draw_runs(canvas, figure);
	canvas_end(canvas);
	canvas_group(canvas, "class=\"strands\"", NULL);
	for (int i = 0; i < stringing->strand_count; i++)
		draw_strand(canvas, figure, &stringing->strands[i]);
	canvas_end(canvas);
	for (int i = 0; i < stringing->mark_count; i++)
		if (stringing->marks[i].move->action == DO_CLAMP)
			draw_clamp_at(canvas, figure, stringing->marks[i].move);
	for (int i = 0; i < stringing->mark_count; i++)
		if (stringing->marks[i].move->action == DO_KNOT)
			draw_knot_at(canvas, figure, &stringing->marks[i]);
}

/* ---- All of it ---- */

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

void figure_fit(const struct stringing *stringing, const struct box *box, double size_mm,
		struct figure *out)
{
	const int sizes = 9;
	const double step_mm = 0.2;

	out->stringing = stringing;
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

/* From a hole to what stands there; letters have paper round them. */
static void draw_guide(struct canvas *canvas, const struct figure *figure, const struct tag *tag)
{
	struct spot rim = layout_spot(&figure->layout, tag->home, figure->layout.band_mm + 0.3);

	canvas_line(canvas, rim, tag->centre, pen_line(FAINT, HAIR_MM), "class=\"guide\"");
}

static void draw_tag(struct canvas *canvas, const struct figure *figure, const struct tag *tag)
{
	static const char *const classes[] = {
		[TAG_HOLE] = "label", [TAG_PULL] = "pull", [TAG_STRING] = "name"};
	double size = tag_size_mm(tag->kind, figure->tags.size_mm);
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

/* ---- The legend: what the marks mean ---- */

static const double row_share = 1.85; /* from row to row, as a share of the size */

struct legend {
	const struct stringing *stringing;
	struct canvas *canvas; /* NULL: entries are only counted */
	struct spot top_left;
	double column_mm;
	double size_mm;
	int rows;
	int count; /* entries so far */
	struct spot sample;
};

/* The next entry, if its mark is in the figure. True if it is to be drawn at legend->sample. A long
 * meaning is set smaller. */
static bool add_entry(struct legend *legend, bool there, const char *key)
{
	const double sample_mm = 7, text_mm = 9.5;

	if (!there)
		return false;
	int n = legend->count++;
	if (!legend->canvas)
		return false;
	const char *meaning = shown(legend->stringing, key);
	int column = n / legend->rows, row = n % legend->rows;
	struct spot left = spot_beside(legend->top_left, column * legend->column_mm,
				       (row + 0.5) * row_share * legend->size_mm);
	double fitting_mm =
		(legend->column_mm - text_mm - 1) / lettering_width_mm(meaning, 1, false);
	legend->sample = spot_beside(left, sample_mm / 2, 0);
	canvas_label(
		legend->canvas, spot_beside(left, text_mm, 0),
		(struct lettering){fmin(legend->size_mm, fitting_mm), INK, ANCHOR_START, false},
		meaning, NULL);
	return true;
}

/* A string from left to right, with a gap where another one runs over it. */
static void draw_string(struct canvas *canvas, struct spot spot, enum string_kind kind,
			enum strand_look look, bool gap)
{
	canvas_begin(canvas, spot_beside(spot, -3.2, 0));
	if (gap) {
		canvas_to(canvas, spot_beside(spot, -1, 0));
		canvas_begin(canvas, spot_beside(spot, 1, 0));
	}
	canvas_to(canvas, spot_beside(spot, 3.2, 0));
	draw_string_path(canvas, kind, look, 1);
}

static void draw_bridge(struct canvas *canvas, struct spot spot)
{
	canvas_box(canvas, spot, 3.2, 1.2);
	canvas_draw(canvas, pen_edge(INK, THIN_MM, PAPER), NULL);
	for (int i = 0; i < 6; i++) {
		canvas_begin(canvas, spot_beside(spot, -3 + 0.72 * i, 1.2));
		canvas_to(canvas, spot_beside(spot, -0.6 + 0.72 * i, -1.2));
	}
	canvas_draw(canvas, pen_line(GREY, HAIR_MM), NULL);
}

static void add_strings(struct legend *legend)
{
	const struct stringing *stringing = legend->stringing;
	struct canvas *canvas = legend->canvas;
	bool mains = false, crosses = false, slack = false;

	for (int i = 0; i < stringing->strand_count; i++) {
		const struct strand *strand = &stringing->strands[i];
		mains |= strand->move->string == STRING_MAIN;
		crosses |= strand->move->string == STRING_CROSS;
		slack |= !strand->next && !strand->pulled;
	}
	if (add_entry(legend, mains, "legend_main"))
		draw_string(canvas, legend->sample, STRING_MAIN, LOOK_PULLED, true);
	if (add_entry(legend, crosses, "legend_cross"))
		draw_string(canvas, legend->sample, STRING_CROSS, LOOK_PULLED, false);
	if (add_entry(legend, stringing->options->at_call > 0, "legend_next"))
		draw_string(canvas, legend->sample, STRING_MAIN, LOOK_NEXT, false);
	if (add_entry(legend, slack, "legend_slack"))
		draw_string(canvas, legend->sample, STRING_MAIN, LOOK_THREADED, false);
}

static void add_frame(struct legend *legend)
{
	static const char *const meanings[] = {"legend_hole", "legend_skipped", "legend_shared",
					       "legend_unused"};
	const struct pattern *pattern = legend->stringing->sequence->pattern;
	bool there[] = {true, false, false, false};

	for (int i = 0; i < pattern_hole_count(pattern); i++)
		there[hole_look(pattern, pattern_hole_at(pattern, i))] = true;
	for (enum hole_look look = HOLE_PLAIN; look <= HOLE_UNUSED; look++)
		if (add_entry(legend, there[look], meanings[look]))
			draw_hole(legend->canvas, look, legend->sample, 1.3, NULL);
	if (add_entry(legend, pattern->bridge > 0, "bridge"))
		draw_bridge(legend->canvas, legend->sample);
}

/* Knots, clamps and pulls. */
static void add_marks(struct legend *legend)
{
	static const char *const meanings[] = {"tie_off", "legend_suggested", "starting_knot"};
	const struct move samples[] = {{0}, {.suggested = true}, {.start = true}};
	const struct stringing *stringing = legend->stringing;
	struct canvas *canvas = legend->canvas;
	struct spot spot;
	double size_mm = 0.86 * legend->size_mm;
	bool knots[3] = {false, false, false}, clamps[2] = {false, false};
	bool card = stringing->options->card;

	for (int i = 0; i < stringing->mark_count; i++) {
		const struct move *move = stringing->marks[i].move;
		if (move->action == DO_KNOT) {
			knots[move->start ? 2 : 0] = true;
			knots[1] |= move->suggested;
		} else if (move->action == DO_CLAMP) {
			clamps[move->across > 0] = true;
		}
	}
	for (int i = 0; i < 3; i++)
		if (add_entry(legend, knots[i], meanings[i]))
			draw_knot(canvas, &samples[i], false, legend->sample, NULL);
	if (add_entry(legend, clamps[0], "legend_clamp"))
		draw_clamp(canvas, legend->sample, STRING_MAIN, NULL);
	if (add_entry(legend, clamps[1], "legend_across")) {
		spot = spot_beside(legend->sample, -2.4, 0);
		draw_clamp_across(canvas, spot, spot_beside(spot, 4.8, 0), STRING_MAIN);
	}
	if (add_entry(legend, stringing->pull_count > 0, card ? "legend_calls" : "legend_pulls"))
		draw_pull(canvas, legend->sample, size_mm, size_mm, "12", card, false, NULL);
	if (add_entry(legend, stringing->strand_count > 0, "legend_names"))
		canvas_label(canvas, legend->sample,
			     (struct lettering){0.9 * legend->size_mm, GREY, ANCHOR_MIDDLE, false},
			     "M4 C9", NULL);
}

static void add_entries(struct legend *legend)
{
	legend->count = 0;
	add_strings(legend);
	add_frame(legend);
	add_marks(legend);
}

double legend_draw(struct canvas *canvas, const struct stringing *stringing, struct spot top_left,
		   double width_mm, int columns, double size_mm)
{
	struct legend legend = {.stringing = stringing,
				.top_left = top_left,
				.column_mm = width_mm / columns,
				.size_mm = size_mm};

	add_entries(&legend);
	legend.rows = (legend.count + columns - 1) / columns;
	if (canvas) {
		legend.canvas = canvas;
		canvas_group(canvas, "class=\"legend\"", NULL);
		add_entries(&legend);
		canvas_end(canvas);
	}
	return legend.rows * row_share * size_mm;
}

void scale_draw(struct canvas *canvas, const struct figure *figure, struct spot bottom_right,
		double size_mm)
{
	struct lettering letters = {size_mm, GREY, ANCHOR_END, false};
	struct spot above = spot_beside(bottom_right, 0, -1.4 * size_mm);
	double bar_mm = 100 * figure->layout.scale;
	const double tick_mm = 1;

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
