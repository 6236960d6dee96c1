#include "report/internal.h"

#include <math.h>

static const double left = 4, top = 4, pitch = 44;
static const double bar_down = 29, box_half = 6.5, median_half = 9.5; /* within a row */
static const double hair = 0.5, thin = 0.9, thick = 2.6;

enum { STROKES = 6 };

struct spread_view {
	struct canvas *canvas;
	struct time_scale scale;
	double right; /* of the scale; medians stand beyond it */
	double foot;
};

static double x_of(const struct spread_view *view, double us)
{
	const struct time_scale *scale = &view->scale;

	return left +
	       (view->right - left) * (us - scale->from_us) / (scale->to_us - scale->from_us);
}

static void draw_scale(const struct spread_view *view)
{
	const struct pen pen = pen_line(FAINT, hair);
	struct lettering letters = {PICTURE_LETTERS, GREY, false, ANCHOR_MIDDLE, COLOUR_NONE};

	for (int i = 0; i <= time_scale_strokes(&view->scale); i++) {
		double us = view->scale.from_us + i * view->scale.step_us, x = x_of(view, us);
		sketch_line(view->canvas, (struct spot){x, top}, (struct spot){x, view->foot}, &pen,
			    NULL);
		letters.anchor = i == 0 ? ANCHOR_START : ANCHOR_MIDDLE;
		sketch_time(view->canvas, (struct spot){x, view->foot + 9}, &letters, us,
			    "class=\"scale\"");
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
	struct text cut = {0};

	lettering_cut(&cut, row->name, PICTURE_LETTERS, true, PICTURE_WIDTH - left);
	sketch_text(view->canvas, (struct spot){left, y + 10}, &name, text_string(&cut), NULL);
	text_free(&cut);
	sketch_line(view->canvas, (struct spot){x_of(view, times->min), middle},
		    (struct spot){x_of(view, times->max), middle}, &whisker, "class=\"range\"");
	if (high > low)
		sketch_box(view->canvas, (struct spot){low, middle - box_half}, high - low,
			   2 * box_half, &box, "class=\"quartiles\"");
	sketch_line(view->canvas, (struct spot){at, middle - median_half},
		    (struct spot){at, middle + median_half}, &median, "class=\"median\"");
	sketch_time(view->canvas, (struct spot){view->right + 8, middle}, &value, times->median,
		    "class=\"value\"");
}

/* As many strokes as there is room for their times below them. */
static struct time_scale scale_for(double width, double least_us, double most_us)
{
	struct time_scale scale = {0};

	for (int strokes = STROKES; strokes > 0; strokes--) {
		scale = time_scale_for(least_us, most_us, strokes);
		if ((time_width(scale.from_us, scale.to_us) + 6) * time_scale_strokes(&scale) <=
		    width)
			break;
	}
	return scale;
}

void spread_picture(struct text *out, const char *id, const char *title,
		    const struct spread_row *rows, size_t count)
{
	double least = INFINITY, most = 0, widest = 0;
	struct spread_view view = {.foot = top};
	const char *why;

	for (size_t i = 0; i < count; i++) {
		if (!rows[i].times_us->count)
			continue;
		least = fmin(least, rows[i].times_us->min);
		most = fmax(most, rows[i].times_us->max);
		widest = fmax(widest, time_width(0, rows[i].times_us->median));
		view.foot += pitch;
	}
	view.right = PICTURE_WIDTH - fmax(widest + 8, time_width(least, most) / 2);
	view.scale = scale_for(view.right - left, least, most);
	const struct page page = {
		.width_mm = PICTURE_WIDTH,
		.height_mm = view.foot + 18,
		.title = title,
		.description =
			"A row each: a line from the shortest to the longest, a box from the "
			"first to the third quartile, a stroke at the median, whose time "
			"stands beside it. The table has all of it.",
		.inside = id,
	};
	view.canvas = canvas_new(CANVAS_SVG, &page);
	draw_scale(&view);
	view.foot = top;
	for (size_t i = 0; i < count; i++) {
		if (!rows[i].times_us->count)
			continue;
		draw_row(&view, &rows[i], view.foot);
		view.foot += pitch;
	}
	canvas_finish(view.canvas, out, &why);
}
