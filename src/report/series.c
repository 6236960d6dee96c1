#include "report/internal.h"

#include "draw/draw.h"
#include "review/review.h"

#include <math.h>
#include <stdio.h>

static const double left = 38, right = PICTURE_WIDTH - 42, top = 12, bottom = 168;
static const double margin = 8; /* left and right of the first and the last point */
static const double hair = 0.5, thin = 0.9, curve = 1.8, dash = 4, point = 2.4, ring = 5;

enum { STROKES = 6, NUMBERS = 8, CURVE_STEPS = 60 };

struct series_view {
	struct canvas *canvas;
	const struct series *series;
	struct time_scale scale;
};

double series_power_us(const struct stats_learning *learning, double n)
{
	return stats_learning_unit(learning->power.first, learning->rate, n);
}

/* Of this law `first` is what it says of a job before the first. */
double series_exponential_us(const struct stats_learning *learning, double n)
{
	return learning->exponential.first * exp(learning->exponential.exponent * n);
}

bool series_is_outside(const struct series *series, size_t i)
{
	const struct stats_chart *limits = series->limits;

	return limits && (series->times_us[i] < limits->low || series->times_us[i] > limits->high);
}

/* n counts as the jobs do. */
static double x_of(const struct series_view *view, double n)
{
	double steps = view->series->count > 1 ? (double)view->series->count - 1 : 1;

	return left + margin +
	       (right - left - 2 * margin) * (n - (double)view->series->first) / steps;
}

static double y_of(const struct series_view *view, double us)
{
	double share = (us - view->scale.from_us) / (view->scale.to_us - view->scale.from_us);

	return bottom - (bottom - top) * fmin(fmax(share, 0), 1);
}

static struct spot spot_of(const struct series_view *view, size_t i)
{
	return (struct spot){x_of(view, (double)(view->series->first + i)),
			     y_of(view, view->series->times_us[i])};
}

static void draw_times(const struct series_view *view)
{
	const struct pen pen = pen_line(FAINT, hair);
	const struct lettering letters = {PICTURE_LETTERS, GREY, false, ANCHOR_END, COLOUR_NONE};
	char time[WORDS_TIME_MAX];
	int strokes = (int)lround((view->scale.to_us - view->scale.from_us) / view->scale.step_us);

	for (int i = 0; i <= strokes; i++) {
		double us = view->scale.from_us + i * view->scale.step_us, y = y_of(view, us);
		sketch_line(view->canvas, (struct spot){left, y}, (struct spot){right, y}, &pen,
			    NULL);
		sketch_text(view->canvas, (struct spot){left - 4, y}, &letters,
			    words_time((int64_t)us, time), "class=\"scale\"");
	}
}

static void draw_numbers(const struct series_view *view)
{
	struct lettering letters = {PICTURE_LETTERS, GREY, false, ANCHOR_END, COLOUR_NONE};
	size_t step = 1, last = view->series->first + view->series->count - 1;
	static const size_t rounds[] = {2, 5, 10};
	size_t power = 1;

	sketch_text(view->canvas, (struct spot){left - 4, bottom + 11}, &letters, "job", NULL);
	letters.anchor = ANCHOR_MIDDLE;
	for (size_t i = 0; view->series->count / step >= NUMBERS; i++) {
		step = power * rounds[i % 3];
		power *= i % 3 == 2 ? 10 : 1;
	}
	for (size_t n = view->series->first; n <= last; n++) {
		char number[24];
		if (n % step != 0)
			continue;
		snprintf(number, sizeof number, "%zu", n);
		sketch_text(view->canvas, (struct spot){x_of(view, (double)n), bottom + 11},
			    &letters, number, "class=\"scale\"");
	}
}

static void draw_level(const struct series_view *view, double us, const struct pen *pen)
{
	const struct lettering letters = {PICTURE_LETTERS, INK, false, ANCHOR_START, COLOUR_NONE};
	char time[WORDS_TIME_MAX];
	double y = y_of(view, us);

	sketch_line(view->canvas, (struct spot){left, y}, (struct spot){right, y}, pen,
		    "class=\"level\"");
	sketch_text(view->canvas, (struct spot){right + 4, y}, &letters,
		    words_time((int64_t)us, time), "class=\"value\"");
}

static void draw_limits(const struct series_view *view)
{
	const struct stats_chart *limits = view->series->limits;
	const struct pen middle = pen_line(INK, thin);
	struct pen limit = pen_line(INK, thin);

	limit.dash_mm = dash;
	draw_level(view, limits->centre, &middle);
	if (limits->high <= limits->centre)
		return; /* one time for all */
	draw_level(view, fmax(limits->low, 0), &limit);
	draw_level(view, limits->high, &limit);
}

/* From point to point: what came after what. */
static void draw_thread(const struct series_view *view)
{
	const struct pen pen = pen_line(GREY, thin);
	struct path path = {0};

	for (size_t i = 0; i < view->series->count; i++) {
		if (i == 0)
			path_begin(&path, spot_of(view, i));
		else
			path_to(&path, spot_of(view, i));
	}
	canvas_path(view->canvas, &path, &pen, NULL);
	path_free(&path);
}

static void draw_points(const struct series_view *view)
{
	const struct pen disc = pen_fill(INK), around = {ACCENT, 1.6, 0, false, COLOUR_NONE};
	const struct lettering letters = {PICTURE_LETTERS, ACCENT, true, ANCHOR_MIDDLE, PAPER};

	for (size_t i = 0; i < view->series->count; i++) {
		struct spot spot = spot_of(view, i);
		char job[24];
		canvas_circle(view->canvas, spot, point, &disc, "class=\"point\"");
		if (!series_is_outside(view->series, i))
			continue;
		canvas_circle(view->canvas, spot, ring, &around, "class=\"outside\"");
		snprintf(job, sizeof job, "%lld", (long long)view->series->jobs[i]);
		spot.y_mm += spot.y_mm < top + 20 ? 12 : -12;
		sketch_text(view->canvas, spot, &letters, job, "class=\"value\"");
	}
}

typedef double law(const struct stats_learning *learning, double n);

static void draw_law(const struct series_view *view, law *us, const struct pen *pen,
		     const char *attributes)
{
	const struct series *series = view->series;
	struct path path = {0};

	for (int i = 0; i <= CURVE_STEPS; i++) {
		double n = (double)series->first + ((double)series->count - 1) * i / CURVE_STEPS;
		struct spot spot = {x_of(view, n), y_of(view, us(series->learning, n))};
		if (i == 0)
			path_begin(&path, spot);
		else
			path_to(&path, spot);
	}
	canvas_path(view->canvas, &path, pen, attributes);
	path_free(&path);
}

/* The law that fits better is drawn through; neither is where nothing is shown by either. */
static void draw_learning(const struct series_view *view)
{
	const struct stats_learning *learning = view->series->learning;
	struct pen better = pen_line(ACCENT, curve), other = pen_line(GREY, thin);
	bool exponential = learning->better == STATS_LEARNING_EXPONENTIAL;

	other.dash_mm = dash;
	if (!learning->shown)
		better = other;
	draw_law(view, exponential ? series_power_us : series_exponential_us, &other,
		 "class=\"law\"");
	draw_law(view, exponential ? series_exponential_us : series_power_us, &better,
		 learning->shown ? "class=\"law better\"" : "class=\"law\"");
}

static struct time_scale scale_of(const struct series *series)
{
	double least = INFINITY, most = 0;

	for (size_t i = 0; i < series->count; i++) {
		least = fmin(least, series->times_us[i]);
		most = fmax(most, series->times_us[i]);
	}
	if (series->limits) {
		least = fmin(least, fmax(series->limits->low, 0));
		most = fmax(most, series->limits->high);
	}
	return time_scale_for(least, most, STROKES);
}

void series_picture(struct text *out, const struct series *series)
{
	struct series_view view = {.series = series, .scale = scale_of(series)};
	struct page page = {
		.width_mm = PICTURE_WIDTH,
		.height_mm = bottom + 20,
		.title = series->title,
		.description =
			series->limits
				? "Work on each job in the order in which they were begun. The line "
				  "across is their mean, the dashed lines are the limits within which "
				  "the jobs of a steady hand stay; jobs outside are ringed and carry "
				  "their number. The tables have all of it."
				: "Work on each job in the order in which they were begun, with the "
				  "two laws of learning as curves. The tables have all of it.",
		.inside = series->id,
	};
	const char *why;

	view.canvas = canvas_new(CANVAS_SVG, &page);
	draw_times(&view);
	draw_numbers(&view);
	if (series->limits) {
		draw_thread(&view);
		draw_limits(&view);
	}
	if (series->learning)
		draw_learning(&view);
	draw_points(&view);
	canvas_finish(view.canvas, out, &why);
}
