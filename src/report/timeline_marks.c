/* The marks below the lines of a timeline, and their legend. */
#include "report/internal.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double mark_below = 12, mark_room = 16.5, mark_radius = 7.5;
static const double stalk_width = 0.9;

static void draw_triangle(struct canvas *canvas, struct spot spot, bool filled)
{
	const double r = mark_radius - 0.7;
	struct pen pen = {ACCENT, 1.2, 0, false, filled ? ACCENT : PAPER};
	struct path path = {.closed = true};

	path_begin(&path, (struct spot){spot.x_mm - r, spot.y_mm});
	path_to(&path, (struct spot){spot.x_mm + 0.7 * r, spot.y_mm - 0.9 * r});
	path_to(&path, (struct spot){spot.x_mm + 0.7 * r, spot.y_mm + 0.9 * r});
	canvas_path(canvas, &path, &pen, NULL);
	path_free(&path);
}

static void draw_number(struct canvas *canvas, struct spot spot, const char *number)
{
	const double size = strlen(number) > 1 ? 10 : 11.5;
	const struct lettering letters = {size, PAPER, true, ANCHOR_MIDDLE, COLOUR_NONE};

	sketch_text(canvas, spot, &letters, number, "class=\"value\"");
}

/* Disc: pause. Square: program closed. Ring: asked again. Triangle: a step back. */
static void draw_mark_shape(struct canvas *canvas, enum review_mark_kind kind, struct spot spot,
			    const char *number)
{
	const struct pen filled = pen_fill(ACCENT), ring = {ACCENT, 1.6, 0, false, PAPER};

	switch (kind) {
	case REVIEW_AGAIN:
		canvas_circle(canvas, spot, mark_radius - 1.4, &ring, NULL);
		break;
	case REVIEW_BACK:
	case REVIEW_UNDO:
		draw_triangle(canvas, spot, kind == REVIEW_BACK);
		break;
	case REVIEW_PAUSE:
		canvas_circle(canvas, spot, mark_radius, &filled, NULL);
		draw_number(canvas, spot, number);
		break;
	default:
		sketch_box(canvas, (struct spot){spot.x_mm - mark_radius, spot.y_mm - mark_radius},
			   2 * mark_radius, 2 * mark_radius, &filled, NULL);
		draw_number(canvas, spot, number);
		break;
	}
}

/* A mark is moved aside where others stand; its stalk points to the moment. */
static void draw_mark(const struct timeline *timeline, const struct review_mark *mark, double x)
{
	const struct pen stalk = pen_line(ACCENT, stalk_width), cut = pen_line(PAPER, 3);
	int line = timeline_line(timeline, (double)mark->at_us);
	struct spot head = timeline_spot(timeline, line, (double)mark->at_us);
	struct spot foot = {head.x_mm, head.y_mm + TIMELINE_HEIGHT};
	struct spot place = {x, foot.y_mm + mark_below};
	char number[16];

	head.y_mm -= 1.5;
	if (mark->number) {
		sketch_line(timeline->canvas, head, foot, &cut, NULL);
		sketch_line(timeline->canvas, head, foot, &stalk, NULL);
	}
	sketch_line(timeline->canvas, foot, place, &stalk, NULL);
	snprintf(number, sizeof number, "%d", mark->number);
	draw_mark_shape(timeline->canvas, mark->kind, place, number);
}

/* Spreads the marks of one line so that they overlap only if there are too many. */
static void draw_marks_of_line(const struct timeline *timeline, const struct review_mark *marks,
			       size_t count, int line)
{
	double last = TIMELINE_RIGHT, width = last - timeline->left;
	double room = fmin(mark_room, count > 1 ? width / (double)(count - 1) : width);
	double *x = memory_new(count, sizeof *x);

	for (size_t i = 0; i < count; i++) {
		x[i] = timeline_spot(timeline, line, (double)marks[i].at_us).x_mm;
		if (i > 0)
			x[i] = fmax(x[i], x[i - 1] + room);
	}
	for (size_t i = count; i-- > 0;) {
		x[i] = fmin(x[i], last);
		last = x[i] - room;
	}
	for (size_t i = 0; i < count; i++)
		draw_mark(timeline, &marks[i], x[i]);
	free(x);
}

void timeline_marks(const struct timeline *timeline)
{
	const struct review *review = timeline->review;
	size_t next = 0;

	for (size_t i = 0; i < review->mark_count; i = next) {
		int line = timeline_line(timeline, (double)review->marks[i].at_us);
		next = i + 1;
		while (next < review->mark_count &&
		       timeline_line(timeline, (double)review->marks[next].at_us) == line)
			next++;
		draw_marks_of_line(timeline, &review->marks[i], next - i, line);
	}
}

static const char *const mark_words[REVIEW_MARKS] = {
	[REVIEW_AGAIN] = "asked again",    [REVIEW_BACK] = "stepped back",
	[REVIEW_UNDO] = "step taken back", [REVIEW_PAUSE] = "pause",
	[REVIEW_AWAY] = "program closed",
};

static bool has_mark(const struct review *review, enum review_mark_kind kind)
{
	for (size_t i = 0; i < review->mark_count; i++) {
		if (review->marks[i].kind == kind)
			return true;
	}
	return false;
}

double timeline_legend(const struct timeline *timeline, double y)
{
	const struct lettering letters = {PICTURE_LETTERS, INK, false, ANCHOR_START, COLOUR_NONE};
	const double row = 18;
	const double left = timeline->left + mark_radius;
	struct canvas *canvas = timeline->canvas;
	double x = left, room = 0;

	for (enum review_mark_kind kind = 0; kind < REVIEW_MARKS; kind++) {
		if (!has_mark(timeline->review, kind))
			continue;
		double wide = lettering_width_mm(mark_words[kind], PICTURE_LETTERS, false);
		if (room == 0 || x + mark_room + wide > PICTURE_WIDTH) {
			x = left;
			room += row;
		}
		struct spot spot = {x, y + room - row / 2};
		x += 2 * mark_room + wide;
		if (!canvas)
			continue;
		draw_mark_shape(canvas, kind, spot, "1");
		spot.x_mm += mark_radius + 4;
		sketch_text(canvas, spot, &letters, mark_words[kind], NULL);
	}
	return room;
}
