/* The pattern reader against what nobody thought of: random frames whose map is known by
 * construction, and files damaged at random. */
#include "frame/frame.h"
#include "frame/near.h"
#include "frame/sample.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { FRAMES = 5000, DAMAGED = 30000 };

static const uint64_t seed = 20261125;

/* xorshift64*: the same numbers on every machine. */
static uint64_t random_state;

static uint64_t random_bits(void)
{
	random_state ^= random_state >> 12;
	random_state ^= random_state << 25;
	random_state ^= random_state >> 27;
	return random_state * UINT64_C(2685821657736338717);
}

/* From low to high, both included. */
static int random_int(int low, int high)
{
	return low + (int)((random_bits() >> 33) % (uint64_t)(high - low + 1));
}

static bool one_in(int chances)
{
	return random_int(1, chances) == 1;
}

/* A frame drawn hole by hole: what its file must be read as. */
enum use { USE_CROSS, USE_MAIN, USE_BOTH, USE_NONE };

struct drawn {
	int half;
	int crosses;
	int holes[2];
	int bridge;
	enum use use[2][HOLES_MAX + 1];
};

static void draw_end(struct drawn *drawn, enum frame_end end)
{
	int main = 0, number = 0;

	while (main < drawn->half && number < HOLES_MAX) {
		enum use use = one_in(6) ? USE_CROSS : USE_MAIN;
		if (one_in(15))
			use = USE_NONE;
		else if (use == USE_MAIN && one_in(6))
			use = USE_BOTH;
		main += use == USE_MAIN || use == USE_BOTH;
		drawn->use[end][++number] = use;
	}
	for (int more = random_int(0, 15); more > 0 && number < HOLES_MAX; more--)
		drawn->use[end][++number] = one_in(15) ? USE_NONE : USE_CROSS;
	drawn->holes[end] = number;
	for (int i = 1; i <= number; i++)
		drawn->crosses += drawn->use[end][i] == USE_CROSS || drawn->use[end][i] == USE_BOTH;
	if (main < drawn->half)
		drawn->crosses = -1000; /* not a frame: draw another */
}

static struct drawn draw_frame(void)
{
	struct drawn drawn;

	do {
		drawn = (struct drawn){.half = random_int(2, MAINS_MAX / 2)};
		draw_end(&drawn, END_HEAD);
		draw_end(&drawn, END_THROAT);
		drawn.bridge = 2 * random_int(0, drawn.holes[END_THROAT]);
	} while (drawn.crosses < 4 || drawn.crosses > CROSSES_MAX);
	return drawn;
}

static void write_holes(struct text *text, const char *key, const struct drawn *drawn, enum use use)
{
	const char *comma = "";

	text_format(text, "%s: [", key);
	for (int end = END_HEAD; end <= END_THROAT; end++) {
		int main = 0;
		for (int i = 1; i <= drawn->holes[end]; i++) {
			main += drawn->use[end][i] == USE_MAIN || drawn->use[end][i] == USE_BOTH;
			/* Beyond the outermost main there is nothing to skip. */
			if (drawn->use[end][i] != use || (use == USE_CROSS && main == drawn->half))
				continue;
			text_format(text, "%s%d%c", comma, i, end == END_HEAD ? 'H' : 'T');
			comma = ", ";
		}
	}
	text_add(text, "]\n");
}

static char *write_frame(const struct drawn *drawn)
{
	struct text text = {0};

	text_format(&text, "pattern: drawn\nsport: racquetball\nmains: %d\ncrosses: %d\n",
		    2 * drawn->half, drawn->crosses);
	text_format(&text, "holes: { head: %d, throat: %d }\nbridge: %d\n", drawn->holes[END_HEAD],
		    drawn->holes[END_THROAT], drawn->bridge);
	text_format(&text, "crosses_start: %s\n", one_in(2) ? "head" : "throat");
	write_holes(&text, "mains_skip", drawn, USE_CROSS);
	write_holes(&text, "shared", drawn, USE_BOTH);
	write_holes(&text, "unused", drawn, USE_NONE);
	text_format(&text, "head: { length: %d mm, width: %d mm }\n", random_int(230, 390),
		    random_int(180, 290));
	return text_take(&text);
}

/* Every hole is in the map exactly as it was drawn; mains count outward, crosses head to throat. */
static void check_map(const struct drawn *drawn, const struct pattern *pattern)
{
	int cross = 0;

	for (int end = END_HEAD; end <= END_THROAT; end++) {
		int main = 0;
		for (int i = 1; i <= drawn->holes[end]; i++) {
			enum use use = drawn->use[end][i];
			bool is_main = use == USE_MAIN || use == USE_BOTH;
			struct hole hole = {(enum frame_end)end, i};
			assert_int_equal(pattern_main_at(pattern, hole), is_main ? ++main : 0);
		}
		assert_int_equal(main, drawn->half);
	}
	for (int i = 0; i < pattern_hole_count(pattern); i++) {
		struct hole hole = pattern_hole_at(pattern, i);
		enum use use = drawn->use[hole.end][hole.number];
		bool is_cross = use == USE_CROSS || use == USE_BOTH;
		assert_int_equal(pattern_hole_index(pattern, hole), i);
		assert_int_equal(pattern_cross_at(pattern, hole), is_cross ? ++cross : 0);
		assert_int_equal(pattern_strings_in(pattern, hole),
				 use == USE_NONE ? 0 : 1 + (use == USE_BOTH));
	}
	assert_int_equal(cross, drawn->crosses);
}

/* Walks the string out from the centre and looks at every loop at the throat. */
static int loop_over_gap(const struct pattern *pattern, enum frame_end start)
{
	enum frame_end at = start;

	for (int k = 1; k < pattern_half(pattern); k++) {
		at = other_end(at);
		int from = pattern->main_hole[END_THROAT][k];
		int to = pattern->main_hole[END_THROAT][k + 1];
		if (at == END_THROAT && from <= pattern->bridge / 2 && to > pattern->bridge / 2)
			return k;
	}
	return 0;
}

static void check_start(const struct pattern *pattern)
{
	enum frame_end start = pattern_mains_start(pattern);

	assert_int_equal(loop_over_gap(pattern, start), 0);
	for (int end = END_HEAD; end <= END_THROAT; end++)
		assert_int_equal(pattern_loop_over_gap(pattern, (enum frame_end)end),
				 loop_over_gap(pattern, (enum frame_end)end));
}

/* Holes in order round the hoop, none in another, all on it. */
static void check_places(const struct pattern *pattern)
{
	struct bed bed;
	double last = 0;

	assert_true(bed_of_pattern(pattern, &bed));
	double half = rim_half_mm(&bed.rim);
	for (int i = 0; i < pattern_hole_count(pattern); i++) {
		struct hole hole = pattern_hole_at(pattern, i);
		double along = bed.hole_mm[hole.end][hole.number];
		struct point point = rim_point(&bed.rim, along);
		assert_true(along > last && along < half);
		assert_true(point.x_mm > 0);
		assert_near(hoop_half_width_mm(&bed.rim.hoop, point.y_mm), point.x_mm, 0.2);
		last = along;
	}
	for (int c = 1; c <= pattern->crosses; c++) {
		struct hole hole = pattern->cross_hole[c];
		struct point point = rim_point(&bed.rim, bed.hole_mm[hole.end][hole.number]);
		assert_near(point.y_mm, bed.cross_y_mm[c], 1e-6);
	}
}

static void random_frames_read_as_drawn(void **state)
{
	(void)state;
	random_state = seed;
	print_message("seed %llu\n", (unsigned long long)seed);
	for (int n = 0; n < FRAMES; n++) {
		struct faults faults = {0};
		struct drawn drawn = draw_frame();
		char *text = write_frame(&drawn);
		struct pattern *pattern = pattern_read(yaml_read_text("drawn.yaml", text, &faults));
		if (!pattern || faults.count > 0) {
			faults_print(&faults, stderr);
			fail_msg("frame %d:\n%s", n, text);
		}
		check_map(&drawn, pattern);
		check_start(pattern);
		check_places(pattern);
		pattern_free(pattern);
		free(text);
	}
}

/* Mostly one of a main, where knots may go. */
static struct hole random_hole(const struct drawn *drawn)
{
	enum frame_end end = one_in(2) ? END_HEAD : END_THROAT;
	int number;

	do
		number = random_int(1, drawn->holes[end]);
	while (drawn->use[end][number] != USE_MAIN && !one_in(20));
	return (struct hole){end, number};
}

/* Counted the slow way: the strings of a hole and the knots that a two-piece job ties there. */
static int strings_and_knots(const struct pattern *pattern, struct hole hole, enum side side,
			     enum side crosses_begin)
{
	enum side crosses_end = pattern->crosses % 2 ? other_side(crosses_begin) : crosses_begin;
	int count = pattern_strings_in(pattern, hole);

	count += hole_same(pattern->tie_off[TIE_OFF_MAINS][side], hole);
	if (side == crosses_begin)
		count += hole_same(pattern->tie_off[TIE_OFF_CROSS_START][side], hole);
	if (side == crosses_end)
		count += hole_same(pattern->tie_off[TIE_OFF_CROSS_END][side], hole);
	return count;
}

static bool any_hole_has_three(const struct pattern *pattern)
{
	for (int i = 0; i < pattern_hole_count(pattern); i++) {
		struct hole hole = pattern_hole_at(pattern, i);
		for (int which = 0; which < 4; which++)
			if (strings_and_knots(pattern, hole, (enum side)(which % 2),
					      (enum side)(which / 2)) > 2)
				return true;
	}
	return false;
}

/* Whatever knots a file asks for: if it is accepted, no hole holds three strings. */
static void no_hole_takes_three_strings(void **state)
{
	(void)state;
	static const char *const keys[] = {"mains", "cross_start", "cross_end"};
	int accepted = 0;

	random_state = seed + 1;
	for (int n = 0; n < FRAMES; n++) {
		struct faults faults = {0};
		struct drawn drawn = draw_frame();
		char *text = write_frame(&drawn);
		struct text whole = {0};
		text_format(&whole, "%stie_off:\n", text);
		for (int i = 0; i < TIE_OFFS; i++) {
			char left[HOLE_TEXT_MAX], right[HOLE_TEXT_MAX];
			text_format(&whole, "  %s: { left: %s, right: %s }\n", keys[i],
				    hole_text(random_hole(&drawn), left),
				    hole_text(random_hole(&drawn), right));
		}
		struct pattern *pattern =
			pattern_read(yaml_read_text("drawn.yaml", text_string(&whole), &faults));
		if (pattern && any_hole_has_three(pattern))
			fail_msg("three strings in a hole of\n%s", text_string(&whole));
		accepted += pattern != NULL;
		pattern_free(pattern);
		faults_free(&faults);
		text_free(&whole);
		free(text);
	}
	print_message("%d of %d accepted\n", accepted, FRAMES);
	assert_true(accepted > FRAMES / 4);
}

static const char *const scraps[] = {"7H",  "41T", "-1", "99999999999", "[",   "]",      "{",
				     "}",   ": ",  "# ", "\n",          "  ",  "0",      "mains",
				     "1e9", "mm",  "\"", "'",           "nan", "shared", "- "};

static void damage(struct text *text)
{
	size_t at = (size_t)random_int(0, (int)text->length - 1);

	switch (random_int(0, 3)) {
	case 0:
		text->bytes[at] = (char)random_int(1, 255);
		break;
	case 1: { /* a part goes missing */
		size_t end = at + (size_t)random_int(0, 12);
		if (end > text->length)
			end = text->length;
		memmove(text->bytes + at, text->bytes + end, text->length - end + 1);
		text->length -= end - at;
		break;
	}
	default: { /* something comes in between */
		char *rest = strdup(text->bytes + at);
		text->bytes[at] = '\0';
		text->length = at;
		text_add(text, scraps[random_int(0, sizeof(scraps) / sizeof(scraps[0]) - 1)]);
		text_add(text, rest);
		free(rest);
	}
	}
}

static void damaged_files_are_read_or_refused(void **state)
{
	(void)state;
	int refused = 0;

	random_state = seed + 2;
	for (int n = 0; n < DAMAGED; n++) {
		struct faults faults = {0};
		struct text text = {0};
		char *sample = sample_with(0, "");
		text_add(&text, sample);
		free(sample);
		for (int i = random_int(1, 4); i > 0 && text.length > 0; i--)
			damage(&text);
		struct pattern *pattern =
			pattern_read(yaml_read_text("test.yaml", text_string(&text), &faults));
		assert_true((pattern == NULL) == (faults.errors > 0));
		assert_true(!pattern || !any_hole_has_three(pattern));
		refused += pattern == NULL;
		pattern_free(pattern);
		faults_free(&faults);
		text_free(&text);
	}
	print_message("%d of %d refused\n", refused, DAMAGED);
	assert_in_range(refused, DAMAGED / 2, DAMAGED - 1);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(random_frames_read_as_drawn),
		cmocka_unit_test(no_hole_takes_three_strings),
		cmocka_unit_test(damaged_files_are_read_or_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
