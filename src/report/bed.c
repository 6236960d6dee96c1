#include "report/internal.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* Bars for the mains stand above the frame, bars for the crosses to its right. */
static const double frame_left = 22, frame_width = 214, bar_longest = 58;
static const double bars_top = 38; /* leaves room for a time above the longest bar */
static const double number_room = 15, letters_small = 11;
static const double string_thin = 0.5, string_thick = 4.2, hair = 0.5, thin = 0.9;

/* One string, its bar and its labels. */
struct bar {
	const struct strand *strand;
	struct spot line[2]; /* inside the hoop */
	double at;           /* x of a main's bar, y of a cross's */
	int64_t work_us;     /* below 0: not in the journal */
	double share;        /* of the longest bar */
	bool slowest;
	bool labelled;
	bool numbered;
};

struct bed_view {
	struct canvas *canvas;
	struct layout layout;
	double bottom_mm;
	const struct pattern *pattern;
	struct strand strands[STRANDS_MAX];
	struct bar bars[STRANDS_MAX];
	int count;
	double longest_us[2]; /* by string_kind */
	double base[2];       /* y where the mains' bars begin, x where the crosses' do */
};

static void take_times(struct bed_view *view, const struct review *review)
{
	for (int i = 0; i < view->count; i++) {
		struct bar *bar = &view->bars[i];
		bar->strand = &view->strands[i];
		bar->work_us = review->string_us[review_string(bar->strand->kind == STRING_MAIN,
							       bar->strand->number,
							       side_names[bar->strand->side][0])];
		double *longest_us = &view->longest_us[bar->strand->kind];
		*longest_us = fmax(*longest_us, (double)bar->work_us);
	}
}

static double share_of(const struct bed_view *view, double work_us)
{
	double longest_us = fmax(view->longest_us[STRING_MAIN], view->longest_us[STRING_CROSS]);

	return work_us > 0 ? work_us / longest_us : 0;
}

static void place_frame(struct bed_view *view)
{
	struct layout *layout = &view->layout;

	view->base[STRING_MAIN] =
		bars_top + bar_longest * share_of(view, view->longest_us[STRING_MAIN]);
	view->base[STRING_CROSS] = frame_left + frame_width + 7;
	struct spot top = {frame_left + frame_width / 2, view->base[STRING_MAIN] + number_room + 4};
	layout_fit(view->pattern, top, frame_width, INFINITY, layout);
	view->bottom_mm = 2 * layout->centre.y_mm - top.y_mm + 16;
}

static void place_bars(struct bed_view *view)
{
	for (int i = 0; i < view->count; i++) {
		struct bar *bar = &view->bars[i];
		layout_strand(&view->layout, bar->strand, bar->line);
		bar->share = share_of(view, (double)bar->work_us);
		bar->at = bar->strand->kind == STRING_MAIN ? bar->line[0].x_mm : bar->line[0].y_mm;
	}
}

static int slower_first(const void *a, const void *b)
{
	const struct bar *x = a, *y = b;

	if (x->work_us != y->work_us)
		return x->work_us < y->work_us ? 1 : -1;
	return (x->at > y->at) - (x->at < y->at);
}

/* Where labels would overlap, the slower string keeps its time, and the number nearer to the centre
 * stays. */
static bool has_room(const struct bed_view *view, const struct bar *bar, bool numbers)
{
	for (int i = 0; i < view->count; i++) {
		const struct bar *other = &view->bars[i];
		if (other != bar && other->strand->kind == bar->strand->kind &&
		    (numbers ? other->numbered : other->labelled) &&
		    fabs(other->at - bar->at) < letters_small * (numbers ? 1.15 : 0.95))
			return false;
	}
	return true;
}

/* Sorts the bars, the slowest first. */
static void choose_labels(struct bed_view *view)
{
	bool found[2] = {false, false};

	for (int i = 0; i < view->count; i++)
		view->bars[i].numbered = has_room(view, &view->bars[i], true);
	qsort(view->bars, (size_t)view->count, sizeof view->bars[0], slower_first);
	for (int i = 0; i < view->count; i++) {
		struct bar *bar = &view->bars[i];
		bar->labelled = bar->work_us >= 0 && has_room(view, bar, false);
		bar->slowest = bar->work_us > 0 && !found[bar->strand->kind];
		found[bar->strand->kind] = true;
	}
}

/* Drawn without the weave, so that thickness can be compared. */
static void draw_strings(const struct bed_view *view)
{
	for (enum string_kind kind = STRING_MAIN; kind <= STRING_CROSS; kind++) {
		for (int i = 0; i < view->count; i++) {
			const struct bar *bar = &view->bars[i];
			if (bar->strand->kind != kind)
				continue;
			double wide = string_thin + (string_thick - string_thin) * bar->share;
			int colour = bar->slowest ? ACCENT : INK;
			canvas_line(view->canvas, bar->line[0], bar->line[1],
				    pen_line(colour, wide), "class=\"string\"");
			if (kind == STRING_CROSS && !bar->slowest && wide > 2 * hair + 0.4)
				canvas_draw(view->canvas, pen_line(CORE, wide - 2 * hair), NULL);
		}
	}
}

static void draw_guides(const struct bed_view *view, const struct bar *bar)
{
	double band = view->layout.band_mm + 2, at = bar->at;
	double base = view->base[bar->strand->kind];
	struct pen pen = pen_line(FAINT, hair);

	if (bar->strand->kind == STRING_MAIN) {
		double head = fmin(bar->line[0].y_mm, bar->line[1].y_mm) - band;
		canvas_line(view->canvas, (struct spot){at, head},
			    (struct spot){at, base + number_room - 1}, pen, "class=\"guide\"");
		return;
	}
	double left = fmin(bar->line[0].x_mm, bar->line[1].x_mm) - band;
	double right = fmax(bar->line[0].x_mm, bar->line[1].x_mm) + band;
	canvas_line(view->canvas, (struct spot){frame_left - 3, at}, (struct spot){left, at}, pen,
		    "class=\"guide\"");
	canvas_line(view->canvas, (struct spot){right, at}, (struct spot){base - 1, at}, pen,
		    "class=\"guide\"");
}

/* As wide as the two closest strings of the kind allow. */
static double bar_width(const struct bed_view *view, enum string_kind kind)
{
	double least = 12;

	for (int i = 0; i < view->count; i++) {
		for (int j = 0; j < i; j++) {
			if (view->bars[i].strand->kind == kind &&
			    view->bars[j].strand->kind == kind)
				least = fmin(least, fabs(view->bars[i].at - view->bars[j].at));
		}
	}
	return fmax(0.72 * least, 1);
}

static const char *side_word(const struct strand *strand)
{
	return strand->kind == STRING_CROSS ? "" : strand->side == SIDE_LEFT ? " left" : " right";
}

/* A spot that far out from the base line, and that far beside the middle of the bar. */
static struct spot spot_at(const struct bed_view *view, const struct bar *bar, double out,
			   double beside)
{
	double base = view->base[bar->strand->kind], at = bar->at + beside;

	return bar->strand->kind == STRING_MAIN ? (struct spot){at, base - out}
						: (struct spot){base + out, at};
}

static void draw_bar(const struct bed_view *view, const struct bar *bar, double wide)
{
	bool main = bar->strand->kind == STRING_MAIN, solid = main || bar->slowest;
	double edge = solid ? 0 : thin / 2;
	double half_wide = wide / 2 - edge, half_long = (bar_longest * bar->share - edge) / 2;
	struct pen pen = solid ? pen_fill(bar->slowest ? ACCENT : INK) : pen_edge(INK, thin, CORE);

	if (half_long <= 0)
		return;
	canvas_box(view->canvas, spot_at(view, bar, half_long, 0), main ? half_wide : half_long,
		   main ? half_long : half_wide);
	canvas_draw(view->canvas, pen,
		    canvas_attributes(view->canvas, "class=\"bar\" data-string=\"%s %d%s\"",
				      string_names[bar->strand->kind], bar->strand->number,
				      side_word(bar->strand)));
}

static void draw_time(const struct bed_view *view, const struct bar *bar)
{
	const struct lettering letters = {letters_small, bar->slowest ? ACCENT : INK, ANCHOR_START,
					  bar->slowest};
	struct spot spot =
		spot_at(view, bar, bar_longest * bar->share + 3, CAPITAL_SHARE * letters_small / 2);
	char time[DURATION_TEXT_MAX];
	const char *attributes = "class=\"value\"";

	if (bar->strand->kind == STRING_MAIN)
		attributes = canvas_attributes(
			view->canvas,
			"class=\"value\" transform=\"rotate(-90 %ld.%02ld %ld.%02ld)\"",
			lround(100 * spot.x_mm) / 100, lround(100 * spot.x_mm) % 100,
			lround(100 * spot.y_mm) / 100, lround(100 * spot.y_mm) % 100);
	canvas_text(view->canvas, spot, letters, duration_text((double)bar->work_us, time),
		    attributes);
}

static void draw_number(const struct bed_view *view, const struct bar *bar)
{
	bool main = bar->strand->kind == STRING_MAIN;
	const struct lettering letters = {letters_small, bar->slowest ? ACCENT : GREY,
					  main ? ANCHOR_MIDDLE : ANCHOR_END, bar->slowest};
	char number[16];
	struct spot spot = {frame_left - 5, bar->at};

	if (main)
		spot = (struct spot){bar->at, view->base[STRING_MAIN] + number_room / 2 + 1};
	snprintf(number, sizeof number, "%d", bar->strand->number);
	canvas_label(view->canvas, spot, letters, number, "class=\"number\"");
}

/* The base lines of the bars, and their headings. */
static void draw_bases(const struct bed_view *view)
{
	const struct layout *layout = &view->layout;
	const struct lettering name = {PICTURE_LETTERS, GREY, ANCHOR_START, true};
	const struct lettering side = {letters_small, GREY, ANCHOR_START, false};
	struct pen pen = pen_line(INK, thin);
	double base = view->base[STRING_MAIN], x = view->base[STRING_CROSS];
	double numbers = base + number_room / 2 + 1;
	double half = layout->scale * layout->bed.hoop.b_mm, top = layout->centre.y_mm - half;

	canvas_line(view->canvas, (struct spot){frame_left + 8, base},
		    (struct spot){frame_left + frame_width - 8, base}, pen, NULL);
	canvas_line(view->canvas, (struct spot){x, top},
		    (struct spot){x, layout->centre.y_mm + half}, pen, NULL);
	canvas_text(view->canvas, (struct spot){0, base - 3}, name, "mains", NULL);
	canvas_label(view->canvas, (struct spot){0, numbers}, side, "left", NULL);
	canvas_label(view->canvas, (struct spot){x - 16, numbers}, side, "right", NULL);
	canvas_text(view->canvas, (struct spot){x, top - 6}, name, "crosses", NULL);
}

static void describe(struct text *out, const struct bed_view *view)
{
	char time[DURATION_TEXT_MAX];

	text_add(out, "The bed seen from the face, head at the top. A string is the thicker, and "
		      "its bar the longer, the more work there was on it.");
	for (int i = 0; i < view->count; i++) {
		const struct bar *bar = &view->bars[i];
		if (!bar->slowest)
			continue;
		text_format(out, " Slowest %s: %d%s, %s.", string_names[bar->strand->kind],
			    bar->strand->number, side_word(bar->strand),
			    duration_text((double)bar->work_us, time));
	}
	text_add(out, " The table below has all of them.");
}

static void draw_view(const struct bed_view *view)
{
	double wide[2] = {bar_width(view, STRING_MAIN), bar_width(view, STRING_CROSS)};

	draw_frame(view->canvas, &view->layout, view->bottom_mm);
	draw_strings(view);
	draw_bases(view);
	for (int i = 0; i < view->count; i++) {
		const struct bar *bar = &view->bars[i];
		draw_guides(view, bar);
		draw_bar(view, bar, wide[bar->strand->kind]);
		if (bar->labelled)
			draw_time(view, bar);
		if (bar->numbered)
			draw_number(view, bar);
	}
}

void bed_picture(struct text *out, const struct sequence *sequence, const struct review *review)
{
	struct bed_view *view = memory_new(1, sizeof *view);
	struct text description = {0};

	view->pattern = sequence->pattern;
	view->count = strands_read(sequence, view->strands);
	take_times(view, review);
	place_frame(view);
	place_bars(view);
	choose_labels(view);
	describe(&description, view);
	struct page page = {
		.width_mm = PICTURE_WIDTH,
		.height_mm = view->bottom_mm + 1,
		.title = "Work on each string",
		.description = text_string(&description),
		.inside = "bed-",
	};
	view->canvas = canvas_new(&page);
	draw_view(view);
	canvas_finish(view->canvas, out);
	text_free(&description);
	free(view);
}
