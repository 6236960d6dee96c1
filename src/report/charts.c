/* Pictures along time: a stringer's jobs in order, and the timeline of one job. */
#include "report/internal.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double hair = 0.5, thin = 0.9;

/* ---- Times on an axis ---- */

/* The least round time that is long enough: from a second to a day, then by tens. */
static double round_step_us(double least_us)
{
	static const int seconds[] = {1,   2,   5,    10,   15,   30,    60,    120,  300,
				      600, 900, 1800, 3600, 7200, 14400, 43200, 86400};
	double step_us = SECOND_US;

	for (size_t i = 0; i < sizeof seconds / sizeof seconds[0]; i++) {
		step_us = seconds[i] * (double)SECOND_US;
		if (step_us >= least_us)
			return step_us;
	}
	while (step_us < least_us)
		step_us *= 10;
	return step_us;
}

/* The width of the wider of two times, as text. */
static double time_width(double one_us, double other_us)
{
	char time[DURATION_TEXT_MAX];
	double one = lettering_width_mm(duration_text(one_us, time), PICTURE_LETTERS, false);

	return fmax(one, lettering_width_mm(duration_text(other_us, time), PICTURE_LETTERS, false));
}

/* Centred vertically on the spot. */
static void time_label(struct canvas *canvas, struct spot spot, struct lettering letters, double us,
		       const char *attributes)
{
	char time[DURATION_TEXT_MAX];

	canvas_label(canvas, spot, letters, duration_text(us, time), attributes);
}

/* ---- A stringer's jobs in order ---- */

static const double series_top = 14, series_bottom = 176;
static const double margin = 8; /* beside the first and the last point */
static const double curve = 1.8, dash = 4, point = 2.4, ring = 5;

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

	return series_bottom - (series_bottom - series_top) * fmin(fmax(share, 0), 1);
}

static struct spot point_of(const struct series_view *view, size_t i)
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

	canvas_label(view->canvas, (struct spot){view->left - 4, series_bottom + 13}, letters,
		     "n-th job", NULL);
	letters.anchor = ANCHOR_MIDDLE;
	for (size_t n = view->first + 1; n <= view->group->count; n++) {
		char number[24];
		if (n % step != 0)
			continue;
		snprintf(number, sizeof number, "%zu", n);
		canvas_label(view->canvas, (struct spot){x_of(view, (double)n), series_bottom + 13},
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
		canvas_to(view->canvas, point_of(view, i));
	canvas_draw(view->canvas, pen_line(GREY, thin), NULL);
}

/* A ring's number is the one that its job has on the axis. */
static void draw_points(const struct series_view *view)
{
	const struct lettering letters = {PICTURE_LETTERS, ACCENT, ANCHOR_MIDDLE, true, true};

	for (size_t i = view->first; i < view->group->count; i++) {
		struct spot spot = point_of(view, i);
		char number[24];
		canvas_circle(view->canvas, spot, point, pen_fill(INK), "class=\"point\"");
		if (!review_is_outside(view->group, i))
			continue;
		canvas_circle(view->canvas, spot, ring, pen_line(ACCENT, 1.6), "class=\"outside\"");
		snprintf(number, sizeof number, "%zu", i + 1);
		spot.y_mm += spot.y_mm < series_top + 20 ? 14 : -14;
		canvas_label(view->canvas, spot, letters, number, "class=\"value\"");
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
	const char *description =
		group->has_limits
			? "Jobs in the order in which they were begun. The line across is "
			  "their mean, the dashed lines are the limits within which the "
			  "jobs of a steady hand stay; jobs outside are ringed and carry "
			  "their number on the axis. The table has all of it."
			: "Jobs in the order in which they were begun, with the two laws of "
			  "learning as curves: the one that fits better drawn through, the "
			  "other dashed. The table has all of it.";

	make_scale(&view);
	view.canvas =
		canvas_new(PICTURE_WIDTH, series_bottom + 22, "Work on each job", description, id);
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

/* ---- The timeline of a job: blocks for the calls in lines, and marks below them ---- */

/* Top of the first line's blocks, their height, the distance between lines, the right end. */
static const double top = 18, height = 22, pitch = 60, right = PICTURE_WIDTH - 7;

static const double mark_below = 12, mark_room = 16.5, mark_radius = 7.5;

enum { LINES_MOST = 12, TICKS = 5 };

struct timeline {
	struct canvas *canvas;
	const struct review *review;
	double left;    /* x where lines begin */
	double line_us; /* work in one line */
	int lines;
	int count_of[REVIEW_MARKS];
};

/* The line that a moment is in; the end of a line belongs to it. Clamped before the conversion:
 * damaged times may not fit an int. */
static int line_of(const struct timeline *timeline, double at_us)
{
	return (int)fmin(fmax(ceil(at_us / timeline->line_us) - 1, 0), timeline->lines - 1);
}

/* A moment's spot at the top of the blocks of a line. */
static struct spot spot_of(const struct timeline *timeline, int line, double at_us)
{
	double share = fmin(fmax(at_us / timeline->line_us - line, 0), 1);

	return (struct spot){timeline->left + (right - timeline->left) * share, top + line * pitch};
}

static void draw_scale(const struct timeline *timeline, int line)
{
	const struct lettering letters = {PICTURE_LETTERS, GREY, ANCHOR_END, false};
	struct pen pen = pen_line(FAINT, hair);
	double from_us = line * timeline->line_us;
	double end_us = fmin((double)timeline->review->work_us, from_us + timeline->line_us);
	struct spot from = spot_of(timeline, line, from_us), to = spot_of(timeline, line, end_us);

	time_label(timeline->canvas, (struct spot){timeline->left - 5, from.y_mm + height / 2},
		   letters, from_us, "class=\"scale\"");
	from.y_mm = to.y_mm += height + 2.5;
	canvas_line(timeline->canvas, from, to, pen, NULL);
	for (int i = 0; i <= TICKS; i++) {
		double tick_us = from_us + i * timeline->line_us / TICKS;
		struct spot tick = {spot_of(timeline, line, tick_us).x_mm, from.y_mm};
		if (tick_us <= end_us)
			canvas_line(timeline->canvas, tick, spot_beside(tick, 0, 2.5), pen, NULL);
	}
}

const char *call_label(const struct review_call *call, char buffer[static CALL_LABEL_MAX])
{
	buffer[0] = '\0';
	if (call->string == 'm')
		snprintf(buffer, CALL_LABEL_MAX, "%d%c", call->number,
			 call->side == 'l' ? 'L' : 'R');
	else if (call->string == 'c')
		snprintf(buffer, CALL_LABEL_MAX, "%d", call->number);
	return buffer;
}

static bool is_solid(const struct review_call *call)
{
	return call->string == 'm';
}

static void draw_words(const struct timeline *timeline, const struct review_call *call, int line,
		       double from_us, double to_us)
{
	const struct lettering letters = {PICTURE_LETTERS, is_solid(call) ? PAPER : INK,
					  ANCHOR_MIDDLE, true};
	struct spot from = spot_of(timeline, line, from_us), to = spot_of(timeline, line, to_us);
	char label[CALL_LABEL_MAX];

	call_label(call, label);
	if (lettering_width_mm(label, PICTURE_LETTERS, true) + 2 > to.x_mm - from.x_mm)
		return;
	from.x_mm = (from.x_mm + to.x_mm) / 2;
	from.y_mm += height / 2;
	canvas_label(timeline->canvas, from, letters, label, "class=\"string\"");
}

/* A stretch of a visit, in one line. */
static void draw_part(const struct timeline *timeline, const struct review_call *call, int line,
		      double from_us, double to_us)
{
	const double gap = 0.7;
	struct spot from = spot_of(timeline, line, from_us), to = spot_of(timeline, line, to_us);
	double wide = fmax(to.x_mm - from.x_mm - gap, 0.3);
	bool solid = is_solid(call) || wide < 2 * thin;
	double edge = solid ? 0 : thin / 2;
	struct pen pen = solid ? pen_fill(INK) : pen_edge(INK, thin, call->string ? CORE : PALE);

	canvas_box(timeline->canvas, spot_beside(from, wide / 2, height / 2), wide / 2 - edge,
		   height / 2 - edge);
	canvas_draw(timeline->canvas, pen, "class=\"block\"");
}

/* The longest stretch has the label. */
static void draw_visit(const struct timeline *timeline, const struct review_visit *visit)
{
	const struct review_call *call = &visit->call;
	double from_us = (double)visit->begin_us, end_us = from_us + (double)visit->work_us;
	double widest_from_us = 0, widest_to_us = 0;
	int widest = 0;

	while (from_us < end_us) {
		int line = line_of(timeline, from_us + 1);
		double to_us = fmin(end_us, (line + 1) * timeline->line_us);
		if (to_us <= from_us)
			break; /* damaged times, too large to step through */
		draw_part(timeline, call, line, from_us, to_us);
		if (to_us - from_us > widest_to_us - widest_from_us) {
			widest = line;
			widest_from_us = from_us;
			widest_to_us = to_us;
		}
		from_us = to_us;
	}
	draw_words(timeline, call, widest, widest_from_us, widest_to_us);
}

/* A phase is named where it begins, if the name before leaves room. */
static void draw_phases(const struct timeline *timeline)
{
	const struct lettering letters = {PICTURE_LETTERS, GREY, ANCHOR_START, true};
	const struct review *review = timeline->review;
	double room[LINES_MOST + 1] = {0};
	const char *phase = "";

	for (size_t i = 0; i < review->visit_count; i++) {
		const char *before = phase;
		double begin_us = (double)review->visits[i].begin_us;
		int line = line_of(timeline, begin_us + 1);
		struct spot spot = spot_of(timeline, line, begin_us);
		phase = review->visits[i].call.phase;
		double wide = lettering_width_mm(phase, PICTURE_LETTERS, true);
		spot.x_mm = fmin(spot.x_mm, right - wide);
		if (strcmp(phase, before) == 0 || spot.x_mm < room[line])
			continue;
		spot.y_mm -= 4;
		canvas_text(timeline->canvas, spot, letters, phase, "class=\"phase\"");
		room[line] = spot.x_mm + wide + 3;
	}
}

static void draw_triangle(struct canvas *canvas, struct spot spot, bool filled)
{
	const double r = mark_radius - 0.7;

	canvas_begin(canvas, spot_beside(spot, -r, 0));
	canvas_to(canvas, spot_beside(spot, 0.7 * r, -0.9 * r));
	canvas_to(canvas, spot_beside(spot, 0.7 * r, 0.9 * r));
	canvas_close(canvas);
	canvas_draw(canvas, pen_edge(ACCENT, 1.2, filled ? ACCENT : PAPER), NULL);
}

static void draw_mark_number(struct canvas *canvas, struct spot spot, int number)
{
	const struct lettering letters = {number > 9 ? 10 : 11.5, PAPER, ANCHOR_MIDDLE, true};
	char text[16];

	snprintf(text, sizeof text, "%d", number);
	canvas_label(canvas, spot, letters, text, "class=\"value\"");
}

/* Disc: pause. Square: program closed. Ring: asked again. Triangle: a step back. */
static void draw_mark_shape(struct canvas *canvas, const struct review_mark *mark, struct spot spot)
{
	switch (mark->kind) {
	case REVIEW_AGAIN:
		canvas_circle(canvas, spot, mark_radius - 1.4, pen_edge(ACCENT, 1.6, PAPER), NULL);
		break;
	case REVIEW_BACK:
	case REVIEW_UNDO:
		draw_triangle(canvas, spot, mark->kind == REVIEW_BACK);
		break;
	case REVIEW_PAUSE:
		canvas_circle(canvas, spot, mark_radius, pen_fill(ACCENT), NULL);
		draw_mark_number(canvas, spot, mark->number);
		break;
	default:
		canvas_box(canvas, spot, mark_radius, mark_radius);
		canvas_draw(canvas, pen_fill(ACCENT), NULL);
		draw_mark_number(canvas, spot, mark->number);
		break;
	}
}

/* A mark is moved aside where others stand; its stalk points to the moment. */
static void draw_mark(const struct timeline *timeline, const struct review_mark *mark, double x)
{
	struct pen stalk = pen_line(ACCENT, thin);
	int line = line_of(timeline, (double)mark->at_us);
	struct spot head = spot_of(timeline, line, (double)mark->at_us);
	struct spot foot = {head.x_mm, head.y_mm + height};
	struct spot place = {x, foot.y_mm + mark_below};

	head.y_mm -= 1.5;
	if (mark->number) {
		canvas_line(timeline->canvas, head, foot, pen_line(PAPER, 3), NULL);
		canvas_line(timeline->canvas, head, foot, stalk, NULL);
	}
	canvas_line(timeline->canvas, foot, place, stalk, NULL);
	draw_mark_shape(timeline->canvas, mark, place);
}

/* Spreads the marks of one line so that they overlap only if there are too many. */
static void draw_marks_of_line(const struct timeline *timeline, const struct review_mark *marks,
			       size_t count, int line)
{
	double last = right, width = last - timeline->left;
	double room = fmin(mark_room, count > 1 ? width / (double)(count - 1) : width);
	double *x = memory_new(count, sizeof *x);

	for (size_t i = 0; i < count; i++) {
		x[i] = spot_of(timeline, line, (double)marks[i].at_us).x_mm;
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

static void draw_marks(const struct timeline *timeline)
{
	const struct review *review = timeline->review;
	size_t next = 0;

	for (size_t i = 0; i < review->mark_count; i = next) {
		int line = line_of(timeline, (double)review->marks[i].at_us);
		next = i + 1;
		while (next < review->mark_count &&
		       line_of(timeline, (double)review->marks[next].at_us) == line)
			next++;
		draw_marks_of_line(timeline, &review->marks[i], next - i, line);
	}
}

static void describe(struct text *out, const struct timeline *timeline)
{
	const int *count_of = timeline->count_of;
	char time[DURATION_TEXT_MAX];

	text_format(out,
		    "The calls in the order in which they were worked on, along %s of work. "
		    "Marked: %d asked again, %d stepped back, %d steps taken back, %d pauses, "
		    "closed %d times. The table below has all of it.",
		    duration_text((double)timeline->review->work_us, time), count_of[REVIEW_AGAIN],
		    count_of[REVIEW_BACK], count_of[REVIEW_UNDO], count_of[REVIEW_PAUSE],
		    count_of[REVIEW_AWAY]);
}

void timeline_picture(struct text *out, const struct review *review)
{
	/* At least a minute a line, at most LINES_MOST lines. */
	double work_us = fmax((double)review->work_us, 60.0 * LINES_MOST * SECOND_US);
	struct timeline timeline = {.review = review,
				    .line_us = round_step_us(work_us / LINES_MOST)};
	struct text description = {0};

	timeline.lines = (int)fmax(ceil((double)review->work_us / timeline.line_us), 1);
	timeline.left = time_width(0, (timeline.lines - 1) * timeline.line_us) + 5;
	for (size_t i = 0; i < review->mark_count; i++)
		timeline.count_of[review->marks[i].kind]++;
	describe(&description, &timeline);
	timeline.canvas = canvas_new(PICTURE_WIDTH, top + timeline.lines * pitch - 10,
				     "Timeline of the job", text_string(&description), "timeline-");
	for (int line = 0; line < timeline.lines; line++)
		draw_scale(&timeline, line);
	for (size_t i = 0; i < review->visit_count; i++)
		draw_visit(&timeline, &review->visits[i]);
	draw_phases(&timeline);
	draw_marks(&timeline);
	canvas_finish(timeline.canvas, out);
	text_free(&description);
}
