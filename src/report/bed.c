/* The string bed of a job, with a bar for the work on each string. */
#include "report/internal.h"

#include <math.h>
#include <stdlib.h>

/* Bars for the mains stand above the frame, bars for the crosses to its right. */
static const double frame_left = 22, frame_width = 214, bar_longest = 58;
static const double mains_base = 96; /* y where the mains' bars begin: room for one and its time */
static const double crosses_base = frame_left + frame_width + 7; /* x where the crosses' do */
static const double number_room = 15, letters_small = 11;
static const double string_thin = 0.5, string_thick = 4.2, thin = 0.9;

/* One string, its bar and its labels. */
struct bar {
	enum string_kind string;
	int number;
	enum side side;
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
	struct bar bars[MAINS_MAX + CROSSES_MAX];
	int count;
};

static bool is_main(const struct bar *bar)
{
	return bar->string == STRING_MAIN;
}

static const char *side_word(const struct bar *bar)
{
	return !is_main(bar) ? "" : bar->side == SIDE_LEFT ? " left" : " right";
}

/* ---- Where things go ---- */

static void add_bar(struct bed_view *view, const struct review *review, enum string_kind string,
		    int number, struct sided_hole from, struct sided_hole to)
{
	struct bar *bar = &view->bars[view->count++];

	*bar = (struct bar){
		.string = string,
		.number = number,
		.side = from.side,
		.line = {layout_inner(&view->layout, from), layout_inner(&view->layout, to)},
	};
	bar->at = is_main(bar) ? bar->line[0].x_mm : bar->line[0].y_mm;
	bar->work_us =
		review->string_us[review_string(is_main(bar), number, side_names[from.side][0])];
}

static void make_bars(struct bed_view *view, const struct sequence *sequence,
		      const struct review *review)
{
	const struct pattern *pattern = sequence->pattern;
	double longest_us = 1;

	for (int n = 1; n <= pattern_half(pattern); n++)
		for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++)
			add_bar(view, review, STRING_MAIN, n,
				(struct sided_hole){pattern_main_hole(pattern, END_HEAD, n), side},
				(struct sided_hole){pattern_main_hole(pattern, END_THROAT, n),
						    side});
	for (int n = 1; n <= pattern->crosses; n++)
		add_bar(view, review, STRING_CROSS, n,
			(struct sided_hole){sequence->cross_hole[n], SIDE_LEFT},
			(struct sided_hole){sequence->cross_hole[n], SIDE_RIGHT});
	for (int i = 0; i < view->count; i++)
		longest_us = fmax(longest_us, (double)view->bars[i].work_us);
	for (int i = 0; i < view->count; i++)
		view->bars[i].share = fmax((double)view->bars[i].work_us, 0) / longest_us;
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
		if (other != bar && is_main(other) == is_main(bar) &&
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
		bar->slowest = bar->work_us > 0 && !found[is_main(bar)];
		found[is_main(bar)] = true;
	}
}

/* As wide as the two closest strings of the kind allow. */
static double bar_width(const struct bed_view *view, const struct bar *bar)
{
	double least = 12;

	for (int i = 0; i < view->count; i++) {
		const struct bar *other = &view->bars[i];
		if (other != bar && is_main(other) == is_main(bar))
			least = fmin(least, fabs(other->at - bar->at));
	}
	return fmax(0.72 * least, 1);
}

/* A spot that far out from the base line, and that far beside the middle of the bar. */
static struct spot spot_at(const struct bar *bar, double out, double beside)
{
	return is_main(bar) ? (struct spot){bar->at + beside, mains_base - out}
			    : (struct spot){crosses_base + out, bar->at + beside};
}

/* ---- Drawing ---- */

/* Drawn without the weave, so that thickness can be compared. */
static void draw_string(struct canvas *canvas, const struct bar *bar)
{
	double wide = string_thin + (string_thick - string_thin) * bar->share;
	int colour = bar->slowest ? ACCENT : is_main(bar) ? INK : GREY;

	canvas_line(canvas, bar->line[0], bar->line[1], pen_line(colour, wide), "class=\"string\"");
}

/* A main's is solid, a cross's an outline. */
static void draw_bar(const struct bed_view *view, const struct bar *bar)
{
	bool solid = is_main(bar) || bar->slowest;
	double edge = solid ? 0 : thin / 2;
	double half_wide = bar_width(view, bar) / 2 - edge;
	double half_long = (bar_longest * bar->share - edge) / 2;
	struct pen pen = solid ? pen_fill(bar->slowest ? ACCENT : INK) : pen_edge(INK, thin, CORE);

	if (half_long <= 0)
		return;
	canvas_box(view->canvas, spot_at(bar, half_long, 0), is_main(bar) ? half_wide : half_long,
		   is_main(bar) ? half_long : half_wide);
	canvas_draw(view->canvas, pen,
		    canvas_attributes(view->canvas, "class=\"bar\" data-string=\"%s %d%s\"",
				      string_names[bar->string], bar->number, side_word(bar)));
}

static void draw_time(struct canvas *canvas, const struct bar *bar)
{
	const struct lettering letters = {letters_small, bar->slowest ? ACCENT : INK, ANCHOR_START,
					  bar->slowest};
	struct spot spot =
		spot_at(bar, bar_longest * bar->share + 3, CAPITAL_SHARE * letters_small / 2);
	char time[DURATION_TEXT_MAX];
	const char *attributes = "class=\"value\"";

	if (is_main(bar))
		attributes =
			canvas_attributes(canvas, "class=\"value\" transform=\"rotate(-90 %g %g)\"",
					  spot.x_mm, spot.y_mm);
	canvas_text(canvas, spot, letters, duration_text((double)bar->work_us, time), attributes);
}

static void draw_number(struct canvas *canvas, const struct bar *bar)
{
	const struct lettering letters = {letters_small, bar->slowest ? ACCENT : GREY,
					  is_main(bar) ? ANCHOR_MIDDLE : ANCHOR_END, bar->slowest};
	struct spot spot = is_main(bar) ? spot_at(bar, -number_room / 2 - 1, 0)
					: (struct spot){frame_left - 5, bar->at};
	char number[16];

	snprintf(number, sizeof number, "%d", bar->number);
	canvas_label(canvas, spot, letters, number, "class=\"number\"");
}

/* The base lines of the bars, and their headings. */
static void draw_bases(struct canvas *canvas, const struct layout *layout)
{
	const struct lettering name = {PICTURE_LETTERS, GREY, ANCHOR_START, true};
	const struct lettering side = {letters_small, GREY, ANCHOR_START, false};
	struct pen pen = pen_line(INK, thin);
	struct spot left = {frame_left + 8, mains_base};
	double half = layout->scale * layout->bed.rim.hoop.b_mm,
	       y = mains_base + number_room / 2 + 1;
	struct spot top = {crosses_base, layout->centre.y_mm - half};

	canvas_line(canvas, left, spot_beside(left, frame_width - 16, 0), pen, NULL);
	canvas_line(canvas, top, spot_beside(top, 0, 2 * half), pen, NULL);
	canvas_text(canvas, (struct spot){0, mains_base - 3}, name, "mains", NULL);
	canvas_label(canvas, (struct spot){0, y}, side, "left", NULL);
	canvas_label(canvas, (struct spot){crosses_base - 16, y}, side, "right", NULL);
	canvas_text(canvas, spot_beside(top, 0, -6), name, "crosses", NULL);
}

static void describe(struct text *out, const struct bed_view *view)
{
	char time[DURATION_TEXT_MAX];

	text_add(out, "The bed seen from the face, head at the top. A string is the thicker, and "
		      "its bar the longer, the more work there was on it.");
	for (int i = 0; i < view->count; i++) {
		const struct bar *bar = &view->bars[i];
		if (bar->slowest)
			text_format(out, " Slowest %s: %d%s, %s.", string_names[bar->string],
				    bar->number, side_word(bar),
				    duration_text((double)bar->work_us, time));
	}
	text_add(out, " The table below has all of them.");
}

/* The slowest come last, over the others. */
static void draw_view(struct bed_view *view, double bottom)
{
	struct canvas *canvas = view->canvas;

	draw_frame(canvas, &view->layout, bottom);
	for (int i = view->count - 1; i >= 0; i--)
		draw_string(canvas, &view->bars[i]);
	draw_bases(canvas, &view->layout);
	for (int i = 0; i < view->count; i++) {
		const struct bar *bar = &view->bars[i];
		draw_bar(view, bar);
		if (bar->labelled)
			draw_time(canvas, bar);
		if (bar->numbered)
			draw_number(canvas, bar);
	}
}

void bed_picture(struct text *out, const struct sequence *sequence, const struct review *review)
{
	struct bed_view *view = memory_new(1, sizeof *view);
	struct spot top = {frame_left + frame_width / 2, mains_base + number_room + 4};
	struct text description = {0};

	layout_fit(sequence->pattern, top, frame_width, INFINITY, &view->layout);
	make_bars(view, sequence, review);
	choose_labels(view);
	describe(&description, view);
	double bottom = 2 * view->layout.centre.y_mm - top.y_mm + 16;
	view->canvas = canvas_new(PICTURE_WIDTH, bottom + 1, "Work on each string",
				  text_string(&description), "bed-");
	draw_view(view, bottom);
	canvas_finish(view->canvas, out);
	text_free(&description);
	free(view);
}
