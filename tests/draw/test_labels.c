/* Words can be read: every hole and every pull is labelled once, no two words overlap each other or
 * a mark, and all of them are on the page. Sizes are Cairo's, in the two families that an SVG of
 * ours is likely to be shown in. */
#include "draw/drawn.h"

#include "base/base.h"

#include <cairo.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const struct draw_options card = {.card = true};

enum { BOXES_MAX = 800 };

struct box_read {
	double left, top, right, bottom;
	const char *what;
	enum { WORD, DISC, SQUARE } shape;
};

/* A page, and the edge that most printers leave white (common, no source). */
struct paper {
	double width_mm, height_mm, white_mm;
};

static const struct paper a4 = {210, 297, 5}; /* ISO 216 */

struct boxes {
	struct box_read items[BOXES_MAX];
	int count;
};

static const char *const families[] = {"Helvetica", "DejaVu Sans"};

static cairo_t *measure; /* text is measured with it */

static struct box_read *add_box(struct boxes *boxes)
{
	assert_true(boxes->count < BOXES_MAX);
	return &boxes->items[boxes->count++];
}

static void add_text(struct boxes *boxes, const struct element *element, const char *family)
{
	const char *weight = element_get(element, "font-weight");
	const char *anchor = element_get(element, "text-anchor");
	cairo_text_extents_t extents;

	cairo_select_font_face(measure, family, CAIRO_FONT_SLANT_NORMAL,
			       weight ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
	/* Measured large, so that nothing is rounded away. */
	double scale = element_number(element, "font-size") / 100;
	cairo_set_font_size(measure, 100);
	cairo_text_extents(measure, element->text, &extents);
	assert_true(extents.width > 0);
	double x = element_number(element, "x"), y = element_number(element, "y");
	if (anchor && strcmp(anchor, "middle") == 0)
		x -= scale * extents.x_advance / 2;
	else if (anchor)
		x -= scale * extents.x_advance;
	*add_box(boxes) = (struct box_read){
		.left = x + scale * extents.x_bearing,
		.right = x + scale * (extents.x_bearing + extents.width),
		.top = y + scale * extents.y_bearing,
		.bottom = y + scale * (extents.y_bearing + extents.height),
		.what = element->text,
	};
}

static void add_disc(struct boxes *boxes, const struct element *element)
{
	double x = element_number(element, "cx"), y = element_number(element, "cy");
	double r = element_number(element, "r");

	*add_box(boxes) = (struct box_read){x - r, y - r, x + r, y + r, "a disc", DISC};
}

static void add_path(struct boxes *boxes, const struct element *element, const char *what,
		     int shape)
{
	struct corner_read corners[64];
	int count = corners_read(element_get(element, "d"), corners, 64);
	struct box_read box = {1e9, 1e9, -1e9, -1e9, what, shape};

	for (int i = 0; i < count; i++) {
		box.left = fmin(box.left, corners[i].x);
		box.right = fmax(box.right, corners[i].x);
		box.top = fmin(box.top, corners[i].y);
		box.bottom = fmax(box.bottom, corners[i].y);
	}
	*add_box(boxes) = box;
}

/* A number in its mark. */
static bool in_mark(const struct box_read *word, const struct box_read *mark)
{
	double x = (mark->left + mark->right) / 2, y = (mark->top + mark->bottom) / 2;
	double half_x = (mark->right - mark->left) / 2, half_y = (mark->bottom - mark->top) / 2;
	double far_x = fmax(fabs(word->left - x), fabs(word->right - x));
	double far_y = fmax(fabs(word->top - y), fabs(word->bottom - y));

	if (word->shape != WORD || mark->shape == WORD)
		return false;
	return mark->shape == DISC ? hypot(far_x, far_y) <= half_x
				   : far_x <= half_x && far_y <= half_y;
}

static bool overlap(const struct box_read *a, const struct box_read *b)
{
	return a->left < b->right && b->left < a->right && a->top < b->bottom && b->top < a->bottom;
}

static void check_boxes(const struct boxes *boxes, const struct paper *paper, const char *where)
{
	double white = paper->white_mm;

	for (int i = 0; i < boxes->count; i++) {
		const struct box_read *a = &boxes->items[i];
		if (a->left < white || a->right > paper->width_mm - white || a->top < white ||
		    a->bottom > paper->height_mm - white)
			fail_msg("%s: \"%s\" is off the page: %.1f %.1f to %.1f %.1f", where,
				 a->what, a->left, a->top, a->right, a->bottom);
		for (int j = 0; j < i; j++) {
			const struct box_read *b = &boxes->items[j];
			if (!overlap(a, b) || in_mark(a, b) || in_mark(b, a))
				continue;
			fail_msg("%s: \"%s\" and \"%s\" overlap at %.1f %.1f", where, a->what,
				 b->what, a->left, a->top);
		}
	}
}

/* Capitals are high enough: 2.4 mm in the picture, 1.6 mm on the card where there is less room. Of
 * the heights that technical drawing uses, 1.8 and 2.5 mm are the smallest (ISO 3098, memory). */
static void check_sizes(const struct picture *picture, double least_mm, const char *where)
{
	for (int i = 0; i < picture->count; i++) {
		const struct element *element = &picture->items[i];
		if (!element_is(element, "text", "label"))
			continue;
		double height = 0.73 * element_number(element, "font-size");
		if (height < least_mm)
			fail_msg("%s: labels are %.2f mm high", where, height);
	}
}

static void check_words(const struct picture *picture, const struct paper *paper, const char *where)
{
	static struct boxes boxes;

	for (size_t f = 0; f < sizeof(families) / sizeof(families[0]); f++) {
		boxes.count = 0;
		for (int i = 0; i < picture->count; i++) {
			const struct element *element = &picture->items[i];
			if (element_is(element, "text", NULL))
				add_text(&boxes, element, families[f]);
			else if (element_is(element, "circle", "pull"))
				add_disc(&boxes, element);
			else if (element_is(element, "path", "pull"))
				add_path(&boxes, element, "a square", SQUARE);
			else if (element_is(element, "path", "arm"))
				add_path(&boxes, element, "an arm of the throat", WORD);
		}
		assert_true(boxes.count > 5);
		check_boxes(&boxes, paper, where);
	}
}

static int count_of(const struct picture *picture, const char *name, const char *class,
		    const char *hole, const char *side)
{
	int count = 0;

	for (int i = 0; i < picture->count; i++) {
		const struct element *element = &picture->items[i];
		const char *at = element_get(element, "data-hole");
		count += element_is(element, name, class) && at && strcmp(at, hole) == 0 &&
			 strcmp(element_get(element, "data-side"), side) == 0;
	}
	return count;
}

/* What kind of mark stands at a hole: told apart by shape, as its symbol is drawn. */
enum mark { MARK_RING, MARK_SQUARE, MARK_DISC_IN_RING, MARK_CROSSED_RING, MARK_OTHER };

static enum mark mark_of(const struct picture *picture, const char *symbol)
{
	struct corner_read corners[8];
	int group = 0;

	while (strcmp(picture->items[group].name, "g") != 0 ||
	       strcmp(element_get(&picture->items[group], "id"), symbol) != 0)
		assert_true(++group < picture->count - 2);
	const struct element *first = &picture->items[group + 1], *second = first + 1;
	if (strcmp(first->name, "path") == 0)
		return corners_read(element_get(first, "d"), corners, 8) == 4 ? MARK_SQUARE
									      : MARK_OTHER;
	if (second->parent != group)
		return MARK_RING;
	if (strcmp(second->name, "circle") == 0)
		return element_number(second, "r") < element_number(first, "r") ? MARK_DISC_IN_RING
										: MARK_OTHER;
	return corners_read(element_get(second, "d"), corners, 8) == 4 ? MARK_CROSSED_RING
								       : MARK_OTHER;
}

static enum mark mark_at(const struct picture *picture, const char *hole, const char *side)
{
	for (int i = 0; i < picture->count; i++) {
		const struct element *mark = &picture->items[i];
		if (element_is(mark, "use", "hole") &&
		    strcmp(element_get(mark, "data-hole"), hole) == 0 &&
		    strcmp(element_get(mark, "data-side"), side) == 0)
			return mark_of(picture, element_get(mark, "xlink:href") + 1);
	}
	return MARK_OTHER;
}

static enum mark mark_due(const struct pattern *pattern, struct hole hole)
{
	if (hole_in(&pattern->unused, hole))
		return MARK_CROSSED_RING;
	if (hole_in(&pattern->mains_skip, hole))
		return MARK_SQUARE;
	return hole_in(&pattern->shared, hole) ? MARK_DISC_IN_RING : MARK_RING;
}

/* Every hole is there once a side, with its label, and is what the pattern says that it is. */
static void check_holes(const struct picture *picture, const struct pattern *pattern)
{
	char text[HOLE_TEXT_MAX];

	for (int side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		const char *name = side_names[(enum side)side];
		for (int i = 0; i < pattern_hole_count(pattern); i++) {
			struct hole hole = pattern_hole_at(pattern, i);
			hole_text(hole, text);
			assert_int_equal(count_of(picture, "text", "label", text, name), 1);
			assert_int_equal(mark_at(picture, text, name), mark_due(pattern, hole));
		}
	}
}

/* The discs in the order of the picture are the pulls in the order of the job, numbered from 1, at
 * the holes where the sequence pulls. */
static void check_pulls(const struct picture *picture, const struct sequence *sequence)
{
	char text[HOLE_TEXT_MAX];
	int pulls = 0, at = 0;

	for (int i = 0; i < sequence->move_count; i++) {
		const struct move *move = &sequence->moves[i];
		if (move->action != DO_PULL)
			continue;
		pulls++;
		while (at < picture->count && !element_is(&picture->items[at], "circle", "pull"))
			at++;
		assert_true(at + 1 < picture->count);
		const struct element *disc = &picture->items[at++];
		assert_string_equal(element_get(disc, "data-hole"), hole_text(move->hole, text));
		assert_string_equal(element_get(disc, "data-side"), side_names[move->side]);
		assert_int_equal(atoi(picture->items[at].text), pulls);
	}
	while (at < picture->count)
		assert_false(element_is(&picture->items[at++], "circle", "pull"));
}

/* The knots of the sequence, each at its hole. */
static void check_knots(const struct picture *picture, const struct sequence *sequence)
{
	char text[HOLE_TEXT_MAX];
	int knots = 0;

	for (int i = 0; i < sequence->move_count; i++) {
		const struct move *move = &sequence->moves[i];
		if (move->action != DO_KNOT)
			continue;
		knots++;
		assert_true(count_of(picture, "use", move->start ? "start" : "tie-off",
				     hole_text(move->hole, text), side_names[move->side]) > 0);
	}
	assert_int_equal(knots, 4); /* two-piece: TRADE, four knots */
}

static void check_reader(const struct picture *picture)
{
	const struct element *root = &picture->items[0];
	int title = picture_inside(picture, 0, "title", NULL);
	int description = picture_inside(picture, 0, "desc", NULL);

	assert_string_equal(root->name, "svg");
	assert_string_equal(element_get(root, "role"), "img");
	assert_true(title > 0 && picture->items[title].text[0]);
	assert_true(description > 0 && strlen(picture->items[description].text) > 200);
	for (int i = 0; i < picture->count; i++)
		assert_false(element_is(&picture->items[i], "text", NULL) &&
			     !picture->items[i].text[0]);
}

static void check_bed(const char *folder, const struct sequence *sequence)
{
	const struct pattern *pattern = sequence->pattern;
	struct picture picture;

	drawn_picture(folder, sequence, NULL, &picture);
	check_reader(&picture);
	check_holes(&picture, pattern);
	check_pulls(&picture, sequence);
	check_knots(&picture, sequence);
	check_words(&picture, &a4, pattern->name);
	check_sizes(&picture, 2.4, pattern->name);
	picture_free(&picture);
}

static void beds_can_be_read(void **state)
{
	drawn_each(DRAWN_PLANS, check_bed, *state);
}

static void check_card(const char *folder, const struct sequence *sequence)
{
	struct picture picture;

	drawn_picture(folder, sequence, &card, &picture);
	check_reader(&picture);
	check_words(&picture, &a4, sequence->pattern->name);
	check_sizes(&picture, 1.6, sequence->pattern->name);
	picture_free(&picture);
}

static void cards_can_be_read(void **state)
{
	drawn_each(DRAWN_PLANS, check_card, *state);
}

static const char *const languages[] = {"en", "de", "fr", "es", "it"};

/* As much as a plan and a machine can put on a card, in every language: every string pulled
 * differently, long names, flying clamps. */
static void a_full_card_can_be_read(void **state)
{
	struct drawn_work work;

	drawn_open(&work, "badminton-22x22", 0);
	struct job *job = work.job;
	memory_replace(&job->name, "card-0, a name as long as one may be, and longer than a card "
				   "is wide, to see that it ends");
	for (enum string_kind strings = STRING_MAIN; strings <= STRING_CROSS; strings++) {
		job->length[strings].prestretch = 0.1;
		for (int number = 3; number <= 21; number += 2)
			if (strings == STRING_CROSS || number <= 11)
				job->adjustments[job->adjustment_count++] = (struct adjustment){
					.strings = strings,
					.first = number,
					.last = number,
					.by = {0.5 * number, UNIT_LB},
				};
	}
	job->beyond_range = true;
	job->lead = 2;
	job->machine.clamps = CLAMPS_FLYING;
	job->machine.mounts = MOUNTS_MANY;
	drawn_compile(&work);
	for (size_t i = 0; i < sizeof(languages) / sizeof(languages[0]); i++) {
		drawn_speak(languages[i]);
		check_card(*state, work.sequence);
	}
	drawn_speak("en");
	drawn_close(&work);
}

static bool says(const struct picture *picture, const char *words)
{
	for (int i = 0; i < picture->count; i++)
		if (strcmp(picture->items[i].text, words) == 0)
			return true;
	return false;
}

/* 62 x 29 mm and three other sizes; the tension stays where a name is cut. */
static void a_label_can_be_read(void **state)
{
	static const struct paper papers[] = {{62, 29, 1}, {89, 36, 1}, {40, 40, 1}, {100, 20, 1}};
	char *path = memory_format("%s/label.svg", (const char *)*state);
	struct faults faults = {0};
	struct drawn_work work;
	struct picture picture;
	size_t length;

	drawn_open(&work, "open-16x19", 0);
	struct job *job = work.job;
	memory_replace(&job->racket, "R-118");
	job->tension[STRING_MAIN] = (struct quantity){54, UNIT_LB};
	job->tension[STRING_CROSS] = (struct quantity){23.5, UNIT_KG};
	job->adjustments[job->adjustment_count++] = (struct adjustment){
		.strings = STRING_MAIN, .first = 7, .last = 8, .by = {-2, UNIT_LB}};
	for (int i = 0; i < 8; i++) {
		const struct paper *paper = &papers[i / 2];
		const struct label label = {drawn_book(), paper->width_mm, paper->height_mm,
					    "2026-11-26", 17};
		bool long_names = i % 2;
		memory_replace(&job->length[STRING_CROSS].name,
			       long_names ? "a string whose name is longer than any label is wide, "
					    "and then some more words that are never printed"
					  : "multifilament");
		assert_int_equal(draw_label(job, work.pattern, &label, path, &faults), EXIT_DONE);
		char *bytes = drawn_bytes(path, &length);
		assert_true(picture_read(bytes, length, &picture));
		check_words(&picture, paper, long_names ? "a full label" : "a label");
		assert_non_null(strstr(bytes, ">52–54 lb co-poly"));
		assert_non_null(strstr(bytes, long_names ? ">23.5 kg a " : ">23.5 kg multi"));
		assert_true(says(&picture, "2026-11-26, job 17"));
		assert_true(says(&picture, "card-0") && says(&picture, "apprentice"));
		assert_true(says(&picture, "R-118"));
		picture_free(&picture);
		free(bytes);
	}
	drawn_close(&work);
	free(path);
}

static int open_measure(void **state)
{
	cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_A8, 1, 1);

	measure = cairo_create(surface);
	cairo_surface_destroy(surface);
	return drawn_folder(state);
}

static int close_measure(void **state)
{
	cairo_destroy(measure);
	return drawn_folder_gone(state);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(beds_can_be_read),
		cmocka_unit_test(cards_can_be_read),
		cmocka_unit_test(a_full_card_can_be_read),
		cmocka_unit_test(a_label_can_be_read),
	};
	return cmocka_run_group_tests(tests, open_measure, close_measure);
}
