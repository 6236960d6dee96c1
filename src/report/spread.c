#include "report/internal.h"

#include "draw/draw.h"
#include "review/review.h"

#include <math.h>

static const double left = 4, right = PICTURE_WIDTH - 44, top = 4, pitch = 42;
static const double bar_down = 27, box_half = 6.5, median_half = 9.5; /* within a row */
static const double hair = 0.5, thin = 0.9, thick = 2.6;

enum { STROKES = 6 };

struct spread_view {
	struct canvas *canvas;
	struct time_scale scale;
	double foot;
};

static double x_of(const struct spread_view *view, double us)
{
	const struct time_scale *scale = &view->scale;

	return left + (right - left) * (us - scale->from_us) / (scale->to_us - scale->from_us);
}

static void draw_scale(const struct spread_view *view)
{
	const struct pen pen = pen_line(FAINT, hair);
	struct lettering letters = {PICTURE_LETTERS, GREY, false, ANCHOR_MIDDLE, COLOUR_NONE};
	char time[WORDS_TIME_MAX];
	int strokes = (int)lround((view->scale.to_us - view->scale.from_us) / view->scale.step_us);

	for (int i = 0; i <= strokes; i++) {
		double us = view->scale.from_us + i * view->scale.step_us, x = x_of(view, us);
		sketch_line(view->canvas, (struct spot){x, top}, (struct spot){x, view->foot}, &pen,
			    NULL);
		letters.anchor = i == 0 ? ANCHOR_START : ANCHOR_MIDDLE;
		sketch_text(view->canvas, (struct spot){x, view->foot + 8}, &letters,
			    words_time((int64_t)us, time), "class=\"scale\"");
	}
}

static void draw_row(const struct spread_view *view, const struct spread_row *row, double y)
{
	const struct stats_summary *times = row->times_us;
	const struct lettering name = {PICTURE_LETTERS, INK, true, ANCHOR_START, PAPER};
	const struct lettering value = {PICTURE_LETTERS, INK, false, ANCHOR_START, COLOUR_NONE};
	const struct pen whisker = pen_line(INK, thin), median = pen_line(INK, thick);
	const struct pen box = {INK, thin, 0, false, CORE};
	double middle = y + bar_down, at = x_of(view, times->median);
	double low = x_of(view, times->quartile1), high = x_of(view, times->quartile3);
	char time[WORDS_TIME_MAX];
	struct text cut = {0};

	lettering_cut(&cut, row->name, PICTURE_LETTERS, true, right - left);
	sketch_text(view->canvas, (struct spot){left, y + 10}, &name, text_string(&cut), NULL);
	text_free(&cut);
	sketch_line(view->canvas, (struct spot){x_of(view, times->min), middle},
		    (struct spot){x_of(view, times->max), middle}, &whisker, "class=\"range\"");
	if (high > low)
		sketch_box(view->canvas, (struct spot){low, middle - box_half}, high - low,
			   2 * box_half, &box, "class=\"quartiles\"");
	sketch_line(view->canvas, (struct spot){at, middle - median_half},
		    (struct spot){at, middle + median_half}, &median, "class=\"median\"");
	sketch_text(view->canvas, (struct spot){right + 8, middle}, &value,
		    words_time((int64_t)times->median, time), "class=\"value\"");
}

void spread_picture(struct text *out, const char *id, const char *title,
		    const struct spread_row *rows, size_t count)
{
	double least = INFINITY, most = 0;
	struct spread_view view = {.foot = top + (double)count * pitch};
	struct page page = {
		.width_mm = PICTURE_WIDTH,
		.height_mm = view.foot + 16,
		.title = title,
		.description =
			"A row each: a line from the shortest to the longest, a box from the "
			"first to the third quartile, a stroke at the median, whose time "
			"stands beside it. The table has all of it.",
		.inside = id,
	};
	const char *why;

	for (size_t i = 0; i < count; i++) {
		least = fmin(least, rows[i].times_us->min);
		most = fmax(most, rows[i].times_us->max);
	}
	view.scale = time_scale_for(least, most, STROKES);
	view.canvas = canvas_new(CANVAS_SVG, &page);
	draw_scale(&view);
	for (size_t i = 0; i < count; i++)
		draw_row(&view, &rows[i], top + (double)i * pitch);
	canvas_finish(view.canvas, out, &why);
}
