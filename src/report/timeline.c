#include "report/internal.h"

#include <math.h>
#include <string.h>

static const double hair = 0.5, thin = 0.9;

enum { LINES_MOST = 12, TICKS = 5 };

/* The shortest round length of a line that needs at most LINES_MOST lines. */
static double line_length_us(int64_t work_us)
{
	static const int minutes[] = {1, 2, 5, 10, 15, 30, 60, 120};
	double longest_us = 0;

	for (size_t i = 0; i < sizeof minutes / sizeof minutes[0]; i++) {
		longest_us = minutes[i] * 60.0 * (double)SECOND_US;
		if ((double)work_us <= LINES_MOST * longest_us)
			return longest_us;
	}
	while ((double)work_us > LINES_MOST * longest_us)
		longest_us *= 2;
	return longest_us;
}

static void draw_scale(const struct timeline *timeline, int line)
{
	const struct lettering letters = {PICTURE_LETTERS, GREY, false, ANCHOR_END, COLOUR_NONE};
	const struct pen pen = pen_line(FAINT, hair);
	double from_us = line * timeline->line_us;
	double end_us = fmin((double)timeline->review->work_us, from_us + timeline->line_us);
	struct spot from = timeline_spot(timeline, line, from_us),
		    to = timeline_spot(timeline, line, end_us);

	sketch_time(timeline->canvas,
		    (struct spot){timeline->left - 5, from.y_mm + TIMELINE_HEIGHT / 2}, &letters,
		    from_us, "class=\"scale\"");
	from.y_mm = to.y_mm += TIMELINE_HEIGHT + 2.5;
	sketch_line(timeline->canvas, from, to, &pen, NULL);
	for (int i = 0; i <= TICKS; i++) {
		double tick_us = from_us + i * timeline->line_us / TICKS;
		struct spot top = {timeline_spot(timeline, line, tick_us).x_mm, from.y_mm};
		if (tick_us <= end_us)
			sketch_line(timeline->canvas, top, (struct spot){top.x_mm, top.y_mm + 2.5},
				    &pen, NULL);
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

/* The longest stretch between two pause marks: room for a label. */
static void find_uncut(const struct review *review, double *from_us, double *to_us)
{
	double begin_us = *from_us, end_us = *to_us, best_us = -1, at_us = begin_us;

	for (size_t i = 0; i <= review->mark_count; i++) {
		double cut_us = i < review->mark_count ? (double)review->marks[i].at_us : end_us;
		if (i < review->mark_count &&
		    (!review->marks[i].number || cut_us < begin_us || cut_us > end_us))
			continue;
		if (cut_us - at_us > best_us) {
			best_us = cut_us - at_us;
			*from_us = at_us;
			*to_us = cut_us;
		}
		at_us = cut_us;
	}
}

static void draw_label(const struct timeline *timeline, const struct review_call *call, int line,
		       double from_us, double to_us)
{
	const struct lettering letters = {PICTURE_LETTERS, is_solid(call) ? PAPER : INK, true,
					  ANCHOR_MIDDLE, COLOUR_NONE};
	char label[CALL_LABEL_MAX];

	find_uncut(timeline->review, &from_us, &to_us);
	struct spot from = timeline_spot(timeline, line, from_us),
		    to = timeline_spot(timeline, line, to_us);
	call_label(call, label);
	if (lettering_width_mm(label, PICTURE_LETTERS, true) + 2 > to.x_mm - from.x_mm)
		return;
	from.x_mm = (from.x_mm + to.x_mm) / 2;
	from.y_mm += TIMELINE_HEIGHT / 2;
	sketch_text(timeline->canvas, from, &letters, label, "class=\"string\"");
}

/* The part of a visit that is in one line. */
static void draw_part(const struct timeline *timeline, const struct review_call *call, int line,
		      double from_us, double to_us)
{
	const double gap = 0.7;
	struct spot from = timeline_spot(timeline, line, from_us),
		    to = timeline_spot(timeline, line, to_us);
	double wide = fmax(to.x_mm - from.x_mm - gap, 0.3);
	bool solid = is_solid(call) || wide < 2 * thin;
	double edge = solid ? 0 : thin / 2;
	struct pen pen = {INK, thin, 0, false, call->string ? CORE : PALE};

	if (solid)
		pen = pen_fill(INK);
	sketch_box(timeline->canvas, (struct spot){from.x_mm + edge, from.y_mm + edge},
		   wide - 2 * edge, TIMELINE_HEIGHT - 2 * edge, &pen, "class=\"block\"");
}

/* A visit may span several lines; its label goes into the longest part. */
static void draw_visit(const struct timeline *timeline, const struct review_visit *visit)
{
	const struct review_call *call = &timeline->review->calls[visit->call];
	double begin_us = (double)visit->begin_us, end_us = begin_us + (double)visit->work_us;
	int last = timeline_line(timeline, end_us), widest = 0;
	double most_us = 0;

	if (visit->work_us <= 0)
		return;
	for (int pass = 0; pass < 2; pass++) {
		for (int line = timeline_line(timeline, begin_us); line <= last; line++) {
			double from_us = fmax(begin_us, line * timeline->line_us);
			double to_us = fmin(end_us, (line + 1) * timeline->line_us);
			if (to_us <= from_us)
				continue;
			if (pass == 0)
				draw_part(timeline, call, line, from_us, to_us);
			else if (line == widest)
				draw_label(timeline, call, line, from_us, to_us);
			if (to_us - from_us > most_us) {
				most_us = to_us - from_us;
				widest = line;
			}
		}
	}
}

static void draw_visits(const struct timeline *timeline)
{
	const struct lettering letters = {PICTURE_LETTERS, GREY, true, ANCHOR_START, COLOUR_NONE};
	const char *phase = "";
	double room[LINES_MOST + 1];

	for (int i = 0; i <= LINES_MOST; i++)
		room[i] = 0;
	for (size_t i = 0; i < timeline->review->visit_count; i++) {
		const struct review_visit *visit = &timeline->review->visits[i];
		const char *its = timeline->review->calls[visit->call].phase;
		draw_visit(timeline, visit);
		if (strcmp(its, phase) == 0)
			continue;
		/* A phase is named where it begins, if the name before leaves room. */
		int line = timeline_line(timeline, (double)visit->begin_us + 1);
		struct spot spot = timeline_spot(timeline, line, (double)visit->begin_us);
		phase = its;
		double wide = lettering_width_mm(its, PICTURE_LETTERS, true);
		spot.x_mm = fmin(spot.x_mm, TIMELINE_RIGHT - wide);
		if (spot.x_mm < room[line])
			continue;
		spot.y_mm -= 4;
		canvas_text(timeline->canvas, spot, &letters, its, "class=\"phase\"");
		room[line] = spot.x_mm + wide + 3;
	}
}

static void describe(struct text *out, const struct review *review)
{
	int steps[REVIEW_MARKS] = {0};
	char time[DURATION_TEXT_MAX];

	for (size_t i = 0; i < review->mark_count; i++)
		steps[review->marks[i].kind]++;
	text_format(out, "The calls in the order in which they were worked on, along %s of work.",
		    duration_text((double)review->work_us, time));
	text_format(out,
		    " Marked: %d asked again, %d stepped back, %d steps taken back, %d pauses, "
		    "closed %d times. The table below has all of it.",
		    steps[REVIEW_AGAIN], steps[REVIEW_BACK], steps[REVIEW_UNDO],
		    steps[REVIEW_PAUSE], steps[REVIEW_AWAY]);
}

void timeline_picture(struct text *out, const struct review *review)
{
	struct timeline timeline = {.review = review, .line_us = line_length_us(review->work_us)};
	struct text description = {0};
	const char *why;

	timeline.lines = (int)fmax(ceil((double)review->work_us / timeline.line_us), 1);
	timeline.left = time_width(0, (timeline.lines - 1) * timeline.line_us) + 5;
	describe(&description, review);
	double foot = TIMELINE_TOP + timeline.lines * TIMELINE_PITCH - 10;
	struct page page = {
		.width_mm = PICTURE_WIDTH,
		.height_mm = foot + timeline_legend(&timeline, foot),
		.title = "Timeline of the job",
		.description = text_string(&description),
		.inside = "timeline-",
	};
	timeline.canvas = canvas_new(CANVAS_SVG, &page);
	for (int line = 0; line < timeline.lines; line++)
		draw_scale(&timeline, line);
	draw_visits(&timeline);
	timeline_marks(&timeline);
	timeline_legend(&timeline, foot);
	canvas_finish(timeline.canvas, out, &why);
	text_free(&description);
}
