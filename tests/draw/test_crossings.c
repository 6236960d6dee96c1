/* Every crossing of a drawn bed is read back from the lines themselves: where two strings cross,
 * one line runs through and the other has a gap.
 *
 * The rule: strings are alternately interlaced where they cross (ITF Rules of Tennis, Appendix II
 * b; BWF Laws of Badminton, Law 4; WSF racket specification, as listed in sequence/sequence.h). */
#include "draw/drawn.h"
#include "sequence/work.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { CORNERS_MAX = 512, LINES_MAX = MAINS_MAX + CROSSES_MAX, RACKETS = 300 };

static const uint64_t seed = 20261125;

/* A string as it was read: its line inside the hoop, and the pieces that are drawn. */
struct line {
	const struct element *group;
	bool cross;
	int number;
	bool left; /* main: its side */
	struct corner_read corners[CORNERS_MAX];
	int count;
};

struct lines {
	struct line items[LINES_MAX];
	int count;
};

static void read_lines(const struct picture *picture, struct lines *lines)
{
	lines->count = 0;
	for (int i = 0; i < picture->count; i++) {
		const struct element *element = &picture->items[i];
		if (!element_is(element, "g", "strand"))
			continue;
		assert_true(lines->count < LINES_MAX);
		struct line *line = &lines->items[lines->count++];
		int path = picture_inside(picture, i, "path", "string");
		assert_true(path >= 0);
		line->group = element;
		line->cross = strcmp(element_get(element, "data-string"), "cross") == 0;
		line->left = strcmp(element_get(element, "data-side"), "left") == 0;
		line->number = atoi(element_get(element, "data-number"));
		line->count = corners_read(element_get(&picture->items[path], "d"), line->corners,
					   CORNERS_MAX);
		assert_true(line->count >= 4);
	}
}

static struct corner_read inner(const struct line *line, bool last)
{
	return line->corners[last ? line->count - 2 : 1];
}

/* Where two lines cross; false: nowhere inside the hoop. */
static bool crosses_at(const struct line *a, const struct line *b, double *x, double *y)
{
	struct corner_read p = inner(a, false), q = inner(a, true);
	struct corner_read r = inner(b, false), s = inner(b, true);
	double ax = q.x - p.x, ay = q.y - p.y, bx = s.x - r.x, by = s.y - r.y;
	double area = ax * by - ay * bx;
	double t = ((r.x - p.x) * by - (r.y - p.y) * bx) / area;
	double u = ((r.x - p.x) * ay - (r.y - p.y) * ax) / area;
	const double edge = 1e-4; /* the file's coordinates are to 0.01 mm in 150 */

	*x = p.x + t * ax;
	*y = p.y + t * ay;
	return t > edge && t < 1 - edge && u > edge && u < 1 - edge;
}

/* Whether the line is drawn at a spot that lies on it. */
static bool is_drawn_at(const struct line *line, double x, double y)
{
	for (int i = 1; i < line->count; i++) {
		struct corner_read a = line->corners[i - 1], b = line->corners[i];
		double length = hypot(b.x - a.x, b.y - a.y);
		if (b.begins || length == 0)
			continue;
		double along = ((x - a.x) * (b.x - a.x) + (y - a.y) * (b.y - a.y)) / length;
		double off = ((x - a.x) * (b.y - a.y) - (y - a.y) * (b.x - a.x)) / length;
		if (along >= 0 && along <= length && fabs(off) < 0.05)
			return true;
	}
	return false;
}

struct crossing {
	double at;
	bool over;
};

static int by_place(const void *a, const void *b)
{
	double x = ((const struct crossing *)a)->at, y = ((const struct crossing *)b)->at;

	return (x > y) - (x < y);
}

/* The crossings along one string in order. */
static int read_crossings(const struct lines *lines, const struct line *line,
			  struct crossing *crossings)
{
	int count = 0;

	for (int i = 0; i < lines->count; i++) {
		const struct line *other = &lines->items[i];
		double x, y;
		if (other->cross == line->cross || !crosses_at(line, other, &x, &y))
			continue;
		bool here = is_drawn_at(line, x, y), there = is_drawn_at(other, x, y);
		if (here == there)
			fail_msg("%s and %s: %s runs through", element_get(line->group, "id"),
				 element_get(other->group, "id"), here ? "each" : "neither");
		crossings[count++] = (struct crossing){line->cross ? x : y, here};
	}
	qsort(crossings, (size_t)count, sizeof(crossings[0]), by_place);
	return count;
}

static int check_alternation(const struct lines *lines)
{
	struct crossing crossings[LINES_MAX];
	int total = 0;

	for (int i = 0; i < lines->count; i++) {
		int count = read_crossings(lines, &lines->items[i], crossings);
		for (int c = 1; c < count; c++)
			if (crossings[c].over == crossings[c - 1].over)
				fail_msg("%s is %s twice running",
					 element_get(lines->items[i].group, "id"),
					 crossings[c].over ? "over" : "under");
		total += count;
	}
	return total / 2;
}

/* The crossings that a frame must have: a cross meets a main whose two holes lie on either side of
 * the cross's own, going round the frame from the middle of the head to that of the throat. */
static int place_of(const struct pattern *pattern, struct hole hole)
{
	int head = pattern->holes[END_HEAD], throat = pattern->holes[END_THROAT];

	return hole.end == END_HEAD ? hole.number : head + throat + 1 - hole.number;
}

static bool meet(const struct pattern *pattern, int cross, int main)
{
	int place = place_of(pattern, pattern->cross_hole[cross]);

	return place_of(pattern, (struct hole){END_HEAD, pattern->main_hole[END_HEAD][main]}) <
		       place &&
	       place < place_of(pattern,
				(struct hole){END_THROAT, pattern->main_hole[END_THROAT][main]});
}

static int crossings_due(const struct pattern *pattern)
{
	int due = 0;

	for (int c = 1; c <= pattern->crosses; c++)
		for (int k = 1; k <= pattern_half(pattern); k++)
			due += 2 * meet(pattern, c, k);
	return due;
}

static const struct line *find_line(const struct lines *lines, const struct move *move)
{
	for (int i = 0; i < lines->count; i++) {
		const struct line *line = &lines->items[i];
		if (line->cross == (move->string == STRING_CROSS) && line->number == move->number &&
		    (line->cross || line->left == (move->side == SIDE_LEFT)))
			return line;
	}
	fail_msg("%s %d is not in the picture", string_names[move->string], move->number);
	return NULL;
}

static bool meets_all(const struct lines *lines, const struct line *cross, int mains)
{
	struct crossing crossings[LINES_MAX];

	return read_crossings(lines, cross, crossings) == mains;
}

/* Each string that is fed or woven is drawn from the hole it enters to the one it leaves by, and a
 * cross that meets every main starts as it is called out. */
static void check_moves(const struct sequence *sequence, const struct lines *lines)
{
	struct crossing crossings[LINES_MAX];
	char text[HOLE_TEXT_MAX];
	int threaded = 0;

	for (int i = 0; i < sequence->move_count; i++) {
		const struct move *move = &sequence->moves[i];
		if (move->action != DO_FEED && move->action != DO_WEAVE)
			continue;
		const struct line *line = find_line(lines, move);
		threaded++;
		assert_string_equal(element_get(line->group, "data-from"),
				    hole_text(move->from, text));
		assert_string_equal(element_get(line->group, "data-to"), hole_text(move->to, text));
		if (!line->cross || !meets_all(lines, line, sequence->pattern->mains))
			continue;
		int count = read_crossings(lines, line, crossings);
		bool to_right = move->weave.travel == TRAVEL_LEFT_TO_RIGHT;
		assert_int_equal(crossings[to_right ? 0 : count - 1].over, move->weave.first_over);
		assert_int_equal(crossings[to_right ? count - 1 : 0].over, move->weave.last_over);
	}
	assert_int_equal(threaded, lines->count);
}

/* Each string bears the number of the pull that tensions it. */
static void check_pulls(const struct sequence *sequence, const struct lines *lines)
{
	int pulls = 0, pulled = 0;

	for (int i = 0; i < sequence->move_count; i++) {
		struct move move = sequence->moves[i];
		if (move.action != DO_PULL)
			continue;
		pulls++;
		int first = move.string == STRING_CROSS ? move.pulls_first : move.number;
		int last = move.string == STRING_CROSS ? move.pulls_last : move.number;
		for (move.number = first; move.number <= last; move.number++) {
			const struct line *line = find_line(lines, &move);
			assert_int_equal(atoi(element_get(line->group, "data-pull")), pulls);
			pulled++;
		}
	}
	assert_int_equal(pulled, lines->count);
}

static void check_count(const struct pattern *pattern, const struct lines *lines, int count)
{
	if (count == crossings_due(pattern))
		return;
	for (int i = 0; i < lines->count; i++) {
		for (int j = 0; j < lines->count; j++) {
			const struct line *main = &lines->items[i], *cross = &lines->items[j];
			int c = pattern->crosses_start == END_HEAD
					? cross->number
					: pattern->crosses + 1 - cross->number;
			double x, y;
			if (main->cross || !cross->cross ||
			    crosses_at(main, cross, &x, &y) == meet(pattern, c, main->number))
				continue;
			print_error("%s and %s ought %sto meet\n", element_get(main->group, "id"),
				    element_get(cross->group, "id"),
				    meet(pattern, c, main->number) ? "" : "not ");
		}
	}
	fail_msg("%d crossings, not %d\n%s", count, crossings_due(pattern), pattern->text);
}

static int check_bed(const char *folder, const struct sequence *sequence)
{
	static struct lines lines;
	struct picture picture;

	drawn_picture(folder, sequence, NULL, &picture);
	read_lines(&picture, &lines);
	check_moves(sequence, &lines);
	check_pulls(sequence, &lines);
	int count = check_alternation(&lines);
	check_count(sequence->pattern, &lines, count);
	picture_free(&picture);
	return count;
}

static void check_alternates(const char *folder, const struct sequence *sequence)
{
	check_bed(folder, sequence);
}

static void bundled_patterns_alternate_everywhere(void **state)
{
	drawn_each(DRAWN_PLANS, check_alternates, *state);
}

static double drawn_length(const struct line *line)
{
	struct corner_read from = inner(line, false), to = inner(line, true);

	return hypot(to.x - from.x, to.y - from.y);
}

static void check_chords(const char *folder, const struct sequence *sequence)
{
	static struct lines lines;
	const struct pattern *pattern = sequence->pattern;
	struct picture picture;
	struct bed bed;

	assert_true(bed_of_pattern(pattern, &bed));
	drawn_picture(folder, sequence, NULL, &picture);
	read_lines(&picture, &lines);
	double scale = drawn_length(&lines.items[0]) / bed_main_mm(&bed, 1);
	for (int i = 0; i < lines.count; i++) {
		const struct line *line = &lines.items[i];
		int cross = pattern->crosses_start == END_HEAD
				    ? line->number
				    : pattern->crosses + 1 - line->number;
		double measured =
			line->cross ? bed_cross_mm(&bed, cross) : bed_main_mm(&bed, line->number);
		assert_true(fabs(drawn_length(line) / scale - measured) < 1);
	}
	picture_free(&picture);
}

/* What is drawn is what is measured: at the scale of the first main, every string inside the hoop
 * is as long as the estimate of string has it, to a millimetre. */
static void chords_are_drawn_as_measured(void **state)
{
	drawn_each(1, check_chords, *state);
}

/* By hand: 16x19 with the mains skipping 7H, 9H, 7T, 9T. The first and the last cross lie between
 * mains 6 and 7, the second and the last but one between 7 and 8. */
static void known_count(void **state)
{
	struct drawn_work work;

	drawn_open(&work, "open-16x19", 0);
	assert_int_equal(check_bed(*state, work.sequence), 2 * 12 + 2 * 14 + 15 * 16);
	drawn_close(&work);
}

static void made_up_rackets_alternate_everywhere(void **state)
{
	struct random random = {seed};
	struct racket racket = {0};
	int drawn = 0;

	for (int i = 0; i < RACKETS; i++) {
		struct work work;
		racket_make(&racket, &random, false);
		work_compile(&work, &racket);
		if (work.sequence) {
			check_bed(*state, work.sequence);
			drawn++;
		}
		work_clear(&work);
	}
	racket_free(&racket);
	print_message("%d of %d made-up rackets drawn, seed %llu\n", drawn, RACKETS,
		      (unsigned long long)seed);
	assert_true(drawn > RACKETS / 2);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(bundled_patterns_alternate_everywhere),
		cmocka_unit_test(known_count),
		cmocka_unit_test(chords_are_drawn_as_measured),
		cmocka_unit_test(made_up_rackets_alternate_everywhere),
	};
	return cmocka_run_group_tests(tests, drawn_folder, drawn_folder_gone);
}
