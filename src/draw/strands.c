/* Strings that pass over and under each other: the lower one has a gap where the upper one runs. */
#include "draw/internal.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

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

static enum strand_look look_of(const struct stringing *stringing, const struct strand *strand)
{
	if (strand->next)
		return LOOK_NEXT;
	return strand_is_pulled(stringing, strand) ? LOOK_PULLED : LOOK_THREADED;
}

static double look_width_mm(enum strand_look look, double width_mm)
{
	static const double share[] = {1, threaded_share, next_share};

	return share[look] * width_mm;
}

void draw_string_path(struct canvas *canvas, enum string_kind kind, enum strand_look look,
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
	bool main = strand->kind == STRING_MAIN;
	double x = line[1].x_mm - line[0].x_mm, y = line[1].y_mm - line[0].y_mm;
	int count = 0;

	for (int i = 0; i < stringing->strand_count; i++) {
		const struct strand *other = &stringing->strands[i];
		const struct strand *cross = main ? other : strand;
		struct spot at[2];
		if (other->kind == strand->kind ||
		    !pattern_meets(figure->layout.pattern, cross->from.hole,
				   main ? strand->number : other->number))
			continue;
		layout_strand(&figure->layout, other, at);
		double width = look_width_mm(look_of(stringing, other), strand_width_mm(figure));
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

static void open_strand(struct canvas *canvas, const struct strand *strand, enum strand_look look)
{
	static const char *const looks[] = {"", " slack", " next"};
	char from[HOLE_TEXT_MAX], to[HOLE_TEXT_MAX];
	const char *kind = string_name(strand->kind), *side = side_name(strand->side);
	bool main = strand->kind == STRING_MAIN;
	const char *over = strand->weave.first_over ? "over" : "under";

	hole_text(strand->from.hole, from);
	hole_text(strand->to.hole, to);
	char *title = main ? memory_format("Main %d %s: in at %s, out at %s", strand->number, side,
					   from, to)
			   : memory_format("Cross %d from the %s, hole %s, first %s",
					   strand->number, side, from, over);
	const char *attributes = canvas_attributes(
		canvas,
		"id=\"%s-%d%s%s\" class=\"strand %s%s\" data-string=\"%s\" data-number=\"%d\" "
		"data-side=\"%s\" data-from=\"%s\" data-to=\"%s\" data-pull=\"%d\"",
		kind, strand->number, main ? "-" : "", main ? side : "", kind, looks[look], kind,
		strand->number, side, from, to, strand->pull);
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
	enum strand_look look = look_of(figure->stringing, strand);
	struct spot line[2];

	layout_strand(&figure->layout, strand, line);
	open_strand(canvas, strand, look);
	cut_pieces(canvas, figure, strand, line);
	draw_string_path(canvas, strand->kind, look, strand_width_mm(figure));
	if (strand->next)
		draw_arrow(canvas, line[strand->out], line[!strand->out]);
	canvas_end(canvas);
}

static void draw_run(struct canvas *canvas, const struct figure *figure, const struct run *run)
{
	const struct layout *layout = &figure->layout;
	bool loop = strcmp(run->kind, "loop") == 0;
	double out_mm = layout->band_mm + (loop ? loop_out_mm : knot_out_mm);
	double from = layout_at(layout, run->from);
	/* The shorter way round. */
	double way_mm =
		remainder(layout_at(layout, run->to) - from, 2 * rim_half_mm(&layout->bed.rim));
	int corners = 2 + (int)(fabs(way_mm) / 3);
	struct pen pen = pen_line(run->string == STRING_MAIN ? INK : GREY, MEDIUM_MM);

	if (run->next)
		pen = pen_line(ACCENT, 2 * MEDIUM_MM);
	pen.round = true;
	canvas_begin(canvas, layout_hole(layout, run->from));
	for (int i = 0; i <= corners; i++)
		canvas_to(canvas, layout_spot(layout, from + way_mm * i / corners, out_mm));
	canvas_to(canvas, layout_hole(layout, run->to));
	canvas_draw(canvas, pen, canvas_attributes(canvas, "class=\"run %s\"", run->kind));
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

/* Knots sit on the string that is already there: a main. */
static void draw_knots(struct canvas *canvas, const struct figure *figure)
{
	for (int i = 0; i < figure->stringing->knot_count; i++) {
		const struct knot *knot = &figure->stringing->knots[i];
		struct sided_hole place = place_of(knot->move);
		const char *class = knot->move->start ? "knot start" : "knot tie-off";
		draw_knot(canvas, knot->move, knot->next,
			  inside_of(&figure->layout, place, STRING_MAIN, 3),
			  place_attributes(canvas, class, place));
	}
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

static void draw_clamps(struct canvas *canvas, const struct figure *figure)
{
	const struct stringing *stringing = figure->stringing;

	for (int i = 0; stringing->call && i < stringing->clamp_count; i++) {
		const struct move *clamp = stringing->clamps[i];
		struct spot spot = inside_of(&figure->layout, place_of(clamp), clamp->string,
					     clamp->outside ? -clamp_inside_mm : clamp_inside_mm);
		if (clamp->across)
			draw_flying_clamp(canvas, figure, clamp, spot);
		else
			draw_clamp(canvas, spot, clamp->string,
				   clamp->outside ? "class=\"clamp outside\"" : "class=\"clamp\"");
	}
}

void draw_strands(struct canvas *canvas, const struct figure *figure)
{
	const struct stringing *stringing = figure->stringing;

	canvas_group(canvas, "class=\"runs\"", NULL);
	for (int i = 0; i < stringing->run_count; i++)
		draw_run(canvas, figure, &stringing->runs[i]);
	canvas_end(canvas);
	canvas_group(canvas, "class=\"strands\"", NULL);
	for (int i = 0; i < stringing->strand_count; i++)
		draw_strand(canvas, figure, &stringing->strands[i]);
	canvas_end(canvas);
	draw_clamps(canvas, figure);
	draw_knots(canvas, figure);
}
