#include "report/internal.h"

#include <math.h>
#include <stdio.h>

static const double top = 14, bottom = 176;
static const double margin = 8; /* beside the first and the last point */
static const double hair = 0.5, thin = 0.9, curve = 1.8, dash = 4, point = 2.4, ring = 5;

/* Keeps a number readable where lines cross it. */
#define PAPER_BEHIND                                                                               \
	"stroke=\"#ffffff\" stroke-width=\"3\" stroke-linejoin=\"round\" paint-order=\"stroke\""

enum { STROKES = 6, NUMBERS = 8, CURVE_STEPS = 60, NEWEST = 50 };

struct series_view {
	struct canvas *canvas;
	const struct review_group *group;
	size_t first;   /* index of the first job shown */
	double from_us; /* the time axis: first and last line, and the step between lines */
	double to_us;
	double step_us;
	double left;
	double right;
};

size_t series_first(const struct review_group *group)
{
	return group->count > NEWEST ? group->count - NEWEST : 0;
}

/* n: the job's number in the group, from 1. */
static double x_of(const struct series_view *view, double n)
{
	double steps = fmax((double)(view->group->count - view->first) - 1, 1);

	return view->left + margin +
	       (view->right - view->left - 2 * margin) * (n - 1 - (double)view->first) / steps;
}

static double y_of(const struct series_view *view, double us)
{
	double share = (us - view->from_us) / (view->to_us - view->from_us);

	return bottom - (bottom - top) * fmin(fmax(share, 0), 1);
}

static struct spot spot_of(const struct series_view *view, size_t i)
{
	return (struct spot){x_of(view, (double)(i + 1)), y_of(view, view->group->jobs[i].work_us)};
}

static void draw_times(const struct series_view *view)
{
	const struct lettering letters = {PICTURE_LETTERS, GREY, ANCHOR_END, false};

	int steps = (int)lround((view->to_us - view->from_us) / view->step_us);

	for (int i = 0; i <= steps; i++) {
		double us = view->from_us + i * view->step_us, y = y_of(view, us);
		canvas_line(view->canvas, (struct spot){view->left, y},
			    (struct spot){view->right, y}, pen_line(FAINT, hair), NULL);
		time_label(view->canvas, (struct spot){view->left - 4, y}, letters, us,
			   "class=\"scale\"");
	}
}

static void draw_numbers(const struct series_view *view)
{
	struct lettering letters = {PICTURE_LETTERS, GREY, ANCHOR_END, false};
	size_t shown = view->group->count - view->first; /* at most NEWEST */
	size_t step = shown < NUMBERS ? 1 : shown < 2 * NUMBERS ? 2 : shown < 5 * NUMBERS ? 5 : 10;

	canvas_label(view->canvas, (struct spot){view->left - 4, bottom + 13}, letters, "n-th job",
		     NULL);
	letters.anchor = ANCHOR_MIDDLE;
	for (size_t n = view->first + 1; n <= view->group->count; n++) {
		char number[24];
		if (n % step != 0)
			continue;
		snprintf(number, sizeof number, "%zu", n);
		canvas_label(view->canvas, (struct spot){x_of(view, (double)n), bottom + 13},
			     letters, number, "class=\"scale\"");
	}
}

static void draw_level(const struct series_view *view, double us, struct pen pen)
{
	const struct lettering letters = {PICTURE_LETTERS, INK, ANCHOR_START, false};
	double y = y_of(view, us);

	canvas_line(view->canvas, (struct spot){view->left, y}, (struct spot){view->right, y}, pen,
		    "class=\"level\"");
	time_label(view->canvas, (struct spot){view->right + 4, y}, letters, us, "class=\"value\"");
}

static void draw_limits(const struct series_view *view)
{
	const struct stats_limits *limits = &view->group->limits;
	struct pen limit = pen_line(INK, thin);

	limit.dash_mm = dash;
	draw_level(view, limits->centre, pen_line(INK, thin));
	if (limits->high <= limits->centre)
		return; /* all jobs took the same time */
	draw_level(view, fmax(limits->low, 0), limit);
	draw_level(view, limits->high, limit);
}

/* Joins the points in order. */
static void draw_thread(const struct series_view *view)
{
	for (size_t i = view->first; i < view->group->count; i++)
		canvas_to(view->canvas, spot_of(view, i));
	canvas_draw(view->canvas, pen_line(GREY, thin), NULL);
}

/* A ring's number is the one that its job has on the axis. */
static void draw_points(const struct series_view *view)
{
	const struct lettering letters = {PICTURE_LETTERS, ACCENT, ANCHOR_MIDDLE, true};

	for (size_t i = view->first; i < view->group->count; i++) {
		struct spot spot = spot_of(view, i);
		char number[24];
		canvas_circle(view->canvas, spot, point, pen_fill(INK), "class=\"point\"");
		if (!review_is_outside(view->group, i))
			continue;
		canvas_circle(view->canvas, spot, ring, pen_line(ACCENT, 1.6), "class=\"outside\"");
		snprintf(number, sizeof number, "%zu", i + 1);
		spot.y_mm += spot.y_mm < top + 20 ? 14 : -14;
		canvas_label(view->canvas, spot, letters, number, "class=\"value\" " PAPER_BEHIND);
	}
}

static void draw_law(const struct series_view *view, enum stats_law_name law)
{
	const struct stats_learning *fit = &view->group->learning;
	bool better = law == fit->better;
	struct pen pen = better ? pen_line(ACCENT, curve) : pen_line(GREY, thin);
	double first = (double)view->first + 1, last = (double)view->group->count;

	pen.dash_mm = better ? 0 : dash;
	for (int i = 0; i <= CURVE_STEPS; i++) {
		double n = first + (last - first) * i / CURVE_STEPS;
		canvas_to(view->canvas,
			  (struct spot){x_of(view, n), y_of(view, stats_law_at(fit, law, n))});
	}
	canvas_draw(view->canvas, pen, better ? "class=\"law better\"" : "class=\"law\"");
}

static void make_scale(struct series_view *view)
{
	const struct review_group *group = view->group;
	double least = INFINITY, most = 0;

	for (size_t i = view->first; i < group->count; i++) {
		least = fmin(least, group->jobs[i].work_us);
		most = fmax(most, group->jobs[i].work_us);
	}
	if (group->has_limits) {
		least = fmin(least, fmax(group->limits.low, 0));
		most = fmax(most, group->limits.high);
	}
	view->step_us = round_step_us((most - least) / STROKES);
	view->from_us = view->step_us * floor(least / view->step_us);
	view->to_us =
		fmax(view->step_us * ceil(most / view->step_us), view->from_us + view->step_us);
	view->left = fmax(time_width(view->from_us, view->to_us),
			  lettering_width_mm("n-th job", PICTURE_LETTERS, false)) +
		     4;
	view->right = PICTURE_WIDTH - (group->has_limits ? time_width(least, most) + 4 : 4);
}

void series_picture(struct text *out, const char *id, const struct review_group *group)
{
	struct series_view view = {.group = group, .first = series_first(group)};
	const struct page page = {
		.width_mm = PICTURE_WIDTH,
		.height_mm = bottom + 22,
		.title = "Work on each job",
		.description =
			group->has_limits
				? "Jobs in the order in which they were begun. The line across is "
				  "their mean, the dashed lines are the limits within which the "
				  "jobs of a steady hand stay; jobs outside are ringed and carry "
				  "their number on the axis. The table has all of it."
				: "Jobs in the order in which they were begun, with the two laws of "
				  "learning as curves: the one that fits better drawn through, the "
				  "other dashed. The table has all of it.",
		.inside = id,
	};

	make_scale(&view);
	view.canvas = canvas_new(&page);
	draw_times(&view);
	draw_numbers(&view);
	if (group->has_limits) {
		draw_thread(&view);
		draw_limits(&view);
	} else {
		draw_law(&view,
			 group->learning.better == STATS_POWER ? STATS_EXPONENTIAL : STATS_POWER);
		draw_law(&view, group->learning.better);
	}
	draw_points(&view);
	canvas_finish(view.canvas, out);
}
