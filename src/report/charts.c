/* Charts: of a stringer's jobs in order, of a trainee's levels, and the timeline of one job. */
#include "report/internal.h"

#include <math.h>
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

/* ---- Values by their order ---- */

static const double chart_top = 14, curve = 1.8;

struct chart {
	struct canvas *canvas;
	double left, right, bottom;
	double from, to; /* the values of the lowest and the highest line */

	/* Of a stringer's jobs. */
	const struct review_group *group;
	size_t first;   /* index of the first job shown */
	double step_us; /* between lines */
};

static double y_of(const struct chart *chart, double value)
{
	double share = (value - chart->from) / (chart->to - chart->from);

	return chart->bottom - (chart->bottom - chart_top) * fmin(fmax(share, 0), 1);
}

/* A line across, and its words before it. */
static void draw_line(const struct chart *chart, double value, const char *words)
{
	const struct lettering letters = {PICTURE_LETTERS, GREY, ANCHOR_END, false};
	double y = y_of(chart, value);

	canvas_line(chart->canvas, (struct spot){chart->left, y}, (struct spot){chart->right, y},
		    pen_line(FAINT, hair), NULL);
	canvas_label(chart->canvas, (struct spot){chart->left - 4, y}, letters, words,
		     "class=\"scale\"");
}

/* ---- A trainee's levels: a step a racket; fewer words, further down ---- */

void skill_picture(struct text *out, const struct review_teaching *teaching, int skill)
{
	const struct lettering letters = {PICTURE_LETTERS, GREY, ANCHOR_END, false};
	struct chart chart = {
		.left = 52, .right = PICTURE_WIDTH - 8, .bottom = 102, .to = LEVELS - 1};
	double step = (chart.right - chart.left) / (double)teaching->racket_count;
	char *id = memory_format("skill-%d-", skill);
	char *title = memory_format("How much is said of %s", teach_skill_name(skill));

	chart.canvas = canvas_new(PICTURE_WIDTH, chart.bottom + 20, title,
				  "The level after each racket, from the first to the last.", id);
	for (int level = 0; level < LEVELS; level++)
		draw_line(&chart, level, level_names[level]);
	for (size_t i = 0; i < teaching->racket_count; i++) {
		double x = chart.left + step * (double)i;
		double y = y_of(&chart, teaching->rackets[i].levels[skill]);
		canvas_to(chart.canvas, (struct spot){x, y});
		canvas_to(chart.canvas, (struct spot){x + step, y});
	}
	canvas_draw(chart.canvas, pen_line(ACCENT, curve), NULL);
	canvas_label(chart.canvas, (struct spot){chart.right, chart.bottom + 13}, letters,
		     "rackets", NULL);
	canvas_finish(chart.canvas, out);
	free(id);
	free(title);
}

/* ---- A stringer's jobs in order ---- */

static const double margin = 8; /* beside the first and the last point */
static const double dash = 4, point = 2.4, ring = 5;

enum { STROKES = 6, NUMBERS = 8, CURVE_STEPS = 60, NEWEST = 50 };

size_t series_first(const struct review_group *group)
{
	return group->count > NEWEST ? group->count - NEWEST : 0;
}

/* n: the job's number in the group, from 1. */
static double x_of(const struct chart *chart, double n)
{
	double steps = fmax((double)(chart->group->count - chart->first) - 1, 1);

	return chart->left + margin +
	       (chart->right - chart->left - 2 * margin) * (n - 1 - (double)chart->first) / steps;
}

static struct spot point_of(const struct chart *chart, size_t i)
{
	return (struct spot){x_of(chart, (double)(i + 1)),
			     y_of(chart, chart->group->jobs[i].work_us)};
}

static void draw_times(const struct chart *chart)
{
	char time[DURATION_TEXT_MAX];

	for (int i = 0; i <= lround((chart->to - chart->from) / chart->step_us); i++) {
		double us = chart->from + i * chart->step_us;
		draw_line(chart, us, duration_text(us, time));
	}
}

static void draw_numbers(const struct chart *chart)
{
	struct lettering letters = {PICTURE_LETTERS, GREY, ANCHOR_END, false};
	size_t shown = chart->group->count - chart->first; /* at most NEWEST */
	size_t step = shown < NUMBERS ? 1 : shown < 2 * NUMBERS ? 2 : shown < 5 * NUMBERS ? 5 : 10;

	canvas_label(chart->canvas, (struct spot){chart->left - 4, chart->bottom + 13}, letters,
		     "n-th job", NULL);
	letters.anchor = ANCHOR_MIDDLE;
	for (size_t n = chart->first + 1; n <= chart->group->count; n++) {
		char number[24];
		if (n % step != 0)
			continue;
		snprintf(number, sizeof number, "%zu", n);
		canvas_label(chart->canvas,
			     (struct spot){x_of(chart, (double)n), chart->bottom + 13}, letters,
			     number, "class=\"scale\"");
	}
}

static void draw_level(const struct chart *chart, double us, struct pen pen)
{
	const struct lettering letters = {PICTURE_LETTERS, INK, ANCHOR_START, false};
	double y = y_of(chart, us);

	canvas_line(chart->canvas, (struct spot){chart->left, y}, (struct spot){chart->right, y},
		    pen, "class=\"level\"");
	time_label(chart->canvas, (struct spot){chart->right + 4, y}, letters, us,
		   "class=\"value\"");
}

/* The limits, and a line that joins the points in order. */
static void draw_limits(const struct chart *chart)
{
	const struct stats_limits *limits = &chart->group->limits;
	struct pen limit = pen_line(INK, thin);

	for (size_t i = chart->first; i < chart->group->count; i++)
		canvas_to(chart->canvas, point_of(chart, i));
	canvas_draw(chart->canvas, pen_line(GREY, thin), NULL);
	limit.dash_mm = dash;
	draw_level(chart, limits->centre, pen_line(INK, thin));
	if (limits->high <= limits->centre)
		return; /* all jobs took the same time */
	draw_level(chart, fmax(limits->low, 0), limit);
	draw_level(chart, limits->high, limit);
}

/* A ring's number is the one that its job has on the axis. */
static void draw_points(const struct chart *chart)
{
	const struct lettering letters = {PICTURE_LETTERS, ACCENT, ANCHOR_MIDDLE, true, true};

	for (size_t i = chart->first; i < chart->group->count; i++) {
		struct spot spot = point_of(chart, i);
		char number[24];
		canvas_circle(chart->canvas, spot, point, pen_fill(INK), "class=\"point\"");
		if (!review_is_outside(chart->group, i))
			continue;
		canvas_circle(chart->canvas, spot, ring, pen_line(ACCENT, 1.6),
			      "class=\"outside\"");
		snprintf(number, sizeof number, "%zu", i + 1);
		spot.y_mm += spot.y_mm < chart_top + 20 ? 14 : -14;
		canvas_label(chart->canvas, spot, letters, number, "class=\"value\"");
	}
}

static void draw_law(const struct chart *chart, enum stats_law_name law)
{
	const struct stats_learning *fit = &chart->group->learning;
	bool better = law == fit->better;
	struct pen pen = better ? pen_line(ACCENT, curve) : pen_line(GREY, thin);
	double first = (double)chart->first + 1, last = (double)chart->group->count;

	pen.dash_mm = better ? 0 : dash;
	for (int i = 0; i <= CURVE_STEPS; i++) {
		double n = first + (last - first) * i / CURVE_STEPS;
		canvas_to(chart->canvas,
			  (struct spot){x_of(chart, n), y_of(chart, stats_law_at(fit, law, n))});
	}
	canvas_draw(chart->canvas, pen, better ? "class=\"law better\"" : "class=\"law\"");
}

static void make_scale(struct chart *chart)
{
	const struct review_group *group = chart->group;
	double least = INFINITY, most = 0;

	for (size_t i = chart->first; i < group->count; i++) {
		least = fmin(least, group->jobs[i].work_us);
		most = fmax(most, group->jobs[i].work_us);
	}
	if (group->has_limits) {
		least = fmin(least, fmax(group->limits.low, 0));
		most = fmax(most, group->limits.high);
	}
	chart->step_us = round_step_us((most - least) / STROKES);
	chart->from = chart->step_us * floor(least / chart->step_us);
	chart->to =
		fmax(chart->step_us * ceil(most / chart->step_us), chart->from + chart->step_us);
	chart->left = fmax(time_width(chart->from, chart->to),
			   lettering_width_mm("n-th job", PICTURE_LETTERS, false)) +
		      4;
	chart->right = PICTURE_WIDTH - (group->has_limits ? time_width(least, most) + 4 : 4);
}

void series_picture(struct text *out, const char *id, const struct review_group *group)
{
	struct chart chart = {.group = group, .first = series_first(group), .bottom = 176};
	const char *description =
		group->has_limits
			? "Jobs in the order in which they were begun. The line across is "
			  "their mean, the dashed lines are the limits within which the "
			  "jobs of a steady hand stay; jobs outside are ringed and carry "
			  "their number on the axis. The table has all of it."
			: "Jobs in the order in which they were begun, with the two laws of "
			  "learning as curves: the one that fits better drawn through, the "
			  "other dashed. The table has all of it.";

	make_scale(&chart);
	chart.canvas =
		canvas_new(PICTURE_WIDTH, chart.bottom + 22, "Work on each job", description, id);
	draw_times(&chart);
	draw_numbers(&chart);
	if (group->has_limits)
		draw_limits(&chart);
	for (enum stats_law_name law = 0; !group->has_limits && law < STATS_LAWS; law++)
		draw_law(&chart, law);
	draw_points(&chart);
	canvas_finish(chart.canvas, out);
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

	if (lettering_width_mm(call->label, PICTURE_LETTERS, true) + 2 > to.x_mm - from.x_mm)
		return;
	from.x_mm = (from.x_mm + to.x_mm) / 2;
	from.y_mm += height / 2;
	canvas_label(timeline->canvas, from, letters, call->label, "class=\"string\"");
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

/* A mark is moved aside where others stand; its stalk points to the moment. A break is filled. */
static void draw_mark(const struct timeline *timeline, const struct review_mark *mark, double x)
{
	bool is_break = mark->label[0] <= '9';
	const struct lettering letters = {mark->label[1] ? 10 : 11.5, is_break ? PAPER : ACCENT,
					  ANCHOR_MIDDLE, true};
	int line = line_of(timeline, (double)mark->at_us);
	struct spot head = spot_of(timeline, line, (double)mark->at_us);
	struct spot foot = {head.x_mm, head.y_mm + height};
	struct spot place = {x, foot.y_mm + mark_below};

	head.y_mm -= 1.5;
	if (is_break) {
		canvas_line(timeline->canvas, head, foot, pen_line(PAPER, 3), NULL);
		canvas_to(timeline->canvas, head);
	}
	canvas_to(timeline->canvas, foot);
	canvas_to(timeline->canvas, place);
	canvas_draw(timeline->canvas, pen_line(ACCENT, thin), NULL);
	canvas_circle(timeline->canvas, place, mark_radius - 0.6,
		      pen_edge(ACCENT, 1.2, is_break ? ACCENT : PAPER), NULL);
	canvas_label(timeline->canvas, place, letters, mark->label,
		     is_break ? "class=\"value\"" : NULL);
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

void timeline_picture(struct text *out, const struct review *review)
{
	/* At least a minute a line, at most LINES_MOST lines. */
	double work_us = fmax((double)review->work_us, 60.0 * LINES_MOST * SECOND_US);
	struct timeline timeline = {.review = review,
				    .line_us = round_step_us(work_us / LINES_MOST)};
	char time[DURATION_TEXT_MAX];
	char *description = memory_format(
		"The calls in the order in which they were worked on, along %s of work. Marked: %d "
		"asked again, %d stepped back, %d steps taken back, %d pauses, closed %d times. "
		"The table below has all of it.",
		duration_text((double)review->work_us, time), review->repeats, review->backs,
		review->undos, review->pauses, review->aways);

	timeline.lines = (int)fmax(ceil((double)review->work_us / timeline.line_us), 1);
	timeline.left = time_width(0, (timeline.lines - 1) * timeline.line_us) + 5;
	timeline.canvas = canvas_new(PICTURE_WIDTH, top + timeline.lines * pitch - 10,
				     "Timeline of the job", description, "timeline-");
	for (int line = 0; line < timeline.lines; line++)
		draw_scale(&timeline, line);
	for (size_t i = 0; i < review->visit_count; i++)
		draw_visit(&timeline, &review->visits[i]);
	draw_phases(&timeline);
	draw_marks(&timeline);
	canvas_finish(timeline.canvas, out);
	free(description);
}
