/* The pattern reader: the trade's worked example to the letter, the two bridge facts, and every
 * fault with its place and words. The rules of holes, bridges and knots are common practice without
 * a published source; what the sports allow is named in the messages. */
#include "frame/frame.h"
#include "frame/near.h"
#include "frame/sample.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static struct pattern *read_good(const char *text)
{
	struct faults faults = {0};
	struct pattern *pattern = pattern_read(yaml_read_text("test.yaml", text, &faults));

	faults_print(&faults, stderr);
	assert_non_null(pattern);
	assert_int_equal(faults.count, 0);
	faults_free(&faults);
	return pattern;
}

static struct pattern *read_sample(int number, const char *line)
{
	char *text = sample_with(number, line);
	struct pattern *pattern = read_good(text);

	free(text);
	return pattern;
}

static void the_worked_example_to_the_letter(void **state)
{
	(void)state;
	static const int mains[] = {1, 2, 3, 4, 5, 6, 8, 10};
	static const char *const crosses[] = {
		"7H",  "9H",  "11H", "12H", "13H", "14H", "15H", "16H", "17H", "18H",
		"17T", "16T", "15T", "14T", "13T", "12T", "11T", "9T",  "7T",
	};
	struct pattern *pattern = read_sample(0, "");
	char label[HOLE_TEXT_MAX];

	assert_int_equal(pattern_half(pattern), 8);
	for (int k = 1; k <= 8; k++) {
		assert_int_equal(pattern->main_hole[END_HEAD][k], mains[k - 1]);
		assert_int_equal(pattern->main_hole[END_THROAT][k], mains[k - 1]);
	}
	for (int c = 1; c <= 19; c++)
		assert_string_equal(hole_text(pattern->cross_hole[c], label), crosses[c - 1]);
	pattern_free(pattern);
}

static void what_a_file_says_is_kept(void **state)
{
	(void)state;
	struct pattern *pattern =
		read_sample(11, "tie_off: { mains: { left: 8T }, cross_end: { right: 8T } }");

	assert_string_equal(pattern->name, "test");
	assert_string_equal(pattern->title, "Test");
	assert_string_equal(sport_names[pattern->sport], "tennis");
	assert_int_equal(pattern->bridge, 6);
	assert_int_equal(pattern->tie_off[TIE_OFF_MAINS][SIDE_LEFT].number, 8);
	assert_int_equal(pattern->tie_off[TIE_OFF_MAINS][SIDE_RIGHT].number, 0);
	assert_int_equal(pattern->tie_off[TIE_OFF_CROSS_START][SIDE_LEFT].number, 0);
	assert_int_equal(pattern->tie_off[TIE_OFF_CROSS_END][SIDE_LEFT].number, 0);
	assert_int_equal(pattern->tie_off[TIE_OFF_CROSS_END][SIDE_RIGHT].number, 8);
	assert_near(pattern->head.area_mm2, 64000, 1e-9);
	assert_near(pattern->main_gap_mm[0], 13, 0);
	assert_near(pattern->main_gap_mm[7], 13, 0);
	assert_near(pattern->cross_gap_mm[18], 0, 0);
	assert_near(pattern->tension_max.value, 28, 0);
	pattern_free(pattern);
}

static void holes_follow_each_other_round_the_frame(void **state)
{
	(void)state;
	struct pattern *pattern = read_sample(0, "");
	static const struct {
		int place;
		struct hole hole;
	} cases[] = {
		{0, {END_HEAD, 1}},
		{17, {END_HEAD, 18}},
		{18, {END_THROAT, 17}},
		{34, {END_THROAT, 1}},
	};

	assert_int_equal(pattern_hole_count(pattern), 35);
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		assert_true(hole_same(pattern_hole_at(pattern, cases[i].place), cases[i].hole));
		assert_int_equal(pattern_hole_index(pattern, cases[i].hole), cases[i].place);
	}
	pattern_free(pattern);
}

/* Six bridge holes: start at the throat; eight: at the head. No bridge: nothing to mind. */
static void the_bridge_says_where_the_mains_start(void **state)
{
	(void)state;
	static const struct {
		const char *bridge;
		enum frame_end start;
		enum frame_end end_of_8;
		int over_gap_from_head;
		int over_gap_from_throat;
	} cases[] = {
		{"bridge: 6", END_THROAT, END_THROAT, 3, 0},
		{"bridge: 8", END_HEAD, END_HEAD, 0, 4},
		{"bridge: 0", END_HEAD, END_HEAD, 0, 0},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char *text = sample_with(7, cases[i].bridge);
		/* The knots stand where six bridge holes want them: not of interest here. */
		char *tie_off = strstr(text, "tie_off:");
		memmove(tie_off, strchr(tie_off, '\n') + 1, strlen(strchr(tie_off, '\n') + 1) + 1);
		struct pattern *pattern = read_good(text);
		enum frame_end start = pattern_mains_start(pattern);
		assert_int_equal(start, cases[i].start);
		assert_int_equal(pattern_main_end(start, 8), cases[i].end_of_8);
		assert_int_equal(pattern_main_end(start, 7), other_end(cases[i].end_of_8));
		assert_int_equal(pattern_loop_over_gap(pattern, END_HEAD),
				 cases[i].over_gap_from_head);
		assert_int_equal(pattern_loop_over_gap(pattern, END_THROAT),
				 cases[i].over_gap_from_throat);
		pattern_free(pattern);
		free(text);
	}
}

struct fault_case {
	int line; /* of the sample, written as: */
	const char *text;
	const char *message; /* all that is said, after the file's name */
};

static void expect(const struct fault_case *cases, size_t count)
{
	for (size_t i = 0; i < count; i++) {
		struct faults faults = {0};
		char *text = sample_with(cases[i].line, cases[i].text);
		char expected[2048];
		struct pattern *pattern = pattern_read(yaml_read_text("test.yaml", text, &faults));
		char *said = sample_printed(&faults);
		snprintf(expected, sizeof(expected), "test.yaml:%s\n", cases[i].message);
		if (strcmp(said, expected) != 0)
			fail_msg("%s\nexpected: %ssaid: %s", cases[i].text, expected, said);
		assert_true((pattern == NULL) == (faults.errors > 0));
		pattern_free(pattern);
		faults_free(&faults);
		free(said);
		free(text);
	}
}

#define EXPECT(cases) expect(cases, sizeof(cases) / sizeof((cases)[0]))

static void faults_of_names_and_counts(void **state)
{
	(void)state;
	static const struct fault_case cases[] = {
		{1, "# nothing", "2:1: error: key \"pattern\" is missing [key-missing]"},
		{1, "pattern: other",
		 "1:10: error: the pattern is named \"other\" but the file \"test.yaml\": they "
		 "must agree [pattern-name]"},
		{1, "pattern: Test",
		 "1:10: error: expected small letters, digits and hyphens, beginning with a letter "
		 "or a digit, not \"Test\" [pattern-name]"},
		{1, "pattern: -test",
		 "1:10: error: expected small letters, digits and hyphens, beginning with a letter "
		 "or a digit, not \"-test\" [pattern-name]"},
		{2, "title: \"red \\e[31m\"",
		 "2:8: error: expected a text of one line without control characters "
		 "[value-control]"},
		{3, "sport: golf",
		 "3:8: error: expected tennis, badminton, squash or racquetball, not \"golf\" "
		 "[value-choice]"},
		{4, "mains: 15",
		 "4:8: error: an odd number of mains: the mains lie evenly on both sides of the "
		 "centre [mains-odd]"},
		{4, "mains: 42",
		 "4:8: error: expected a whole number from 4 to 40, not \"42\" [value-number]"},
		{4, "main: 16",
		 "4:1: error: unknown key \"main\": did you mean \"mains\"? "
		 "[key-unknown]"},
		{5, "crosses: nineteen",
		 "5:10: error: expected a whole number from 4 to 60, not \"nineteen\" "
		 "[value-number]"},
		{6, "holes: { head: 18 }",
		 "6:1: error: key \"throat\" is missing in holes [key-missing]"},
		{6, "holes: 35",
		 "6:8: error: expected a map with the keys head or throat [value-kind]"},
		{7, "bridge: 7",
		 "7:9: error: an odd number of bridge holes: count both sides together "
		 "[bridge-odd]"},
		{7, "bridge: 36",
		 "7:9: error: 36 bridge holes are 18 a side, but there are 17 throat holes a side "
		 "[bridge-holes]"},
		{12, "crosses_start: 7H",
		 "12:16: error: expected head or throat, not \"7H\" [value-choice]"},
	};
	EXPECT(cases);
}

static void faults_of_holes(void **state)
{
	(void)state;
	static const struct fault_case cases[] = {
		{8, "mains_skip: [7H, 9X, 7T, 9T]",
		 "8:18: error: expected a hole such as 7H (head) or 7T (throat), not \"9X\" "
		 "[hole-label]"},
		{8, "mains_skip: [7H, 9H, 7T, 18T]",
		 "8:26: error: there is no hole 18T: the throat has holes 1 to 17 [hole-range]"},
		{8, "mains_skip: [7H, 9H, 7T, 7H]",
		 "8:26: error: duplicate hole 7H in mains_skip [hole-twice]"},
		{8, "mains_skip: 7H", "8:13: error: expected a list such as [a, b] [value-kind]"},
		{9, "shared: [7H]",
		 "9:10: error: hole 7H is in mains_skip too: it cannot be both [hole-conflict]"},
		{10, "unused: [ 9T ]",
		 "10:11: error: hole 9T is in mains_skip too: it cannot be both [hole-conflict]"},
		{4, "mains: 36",
		 "4:1: error: 36 mains need 18 holes a side at the head, but only 16 of its 18 "
		 "holes are left for mains [mains-count]\n"
		 "test.yaml:4:1: error: 36 mains need 18 holes a side at the throat, but only 15 "
		 "of its 17 holes are left for mains [mains-count]"},
		{5, "crosses: 20",
		 "5:1: error: 20 crosses, but 19 holes a side are left for crosses: 7H 9H 11H-18H "
		 "17T-11T 9T 7T [crosses-count]"},
		{10, "unused: [12H, 16H]",
		 "5:1: error: 19 crosses, but 17 holes a side are left for crosses: 7H 9H 11H "
		 "13H-15H 17H 18H 17T-11T 9T 7T [crosses-count]"},
		{9, "shared: [12H]",
		 "9:10: error: no main goes through 12H: a shared hole has a main and a cross in "
		 "it [shared-no-main]"},
		{8, "mains_skip: [7H, 9H, 7T, 9T, 14T]",
		 "8:30: warning: the mains do not get as far as 14T: there is nothing to skip "
		 "[skip-idle]"},
	};
	EXPECT(cases);
}

static void faults_of_knots(void **state)
{
	(void)state;
	static const struct fault_case cases[] = {
		{11, "tie_off: { mains: 99T }",
		 "11:19: error: expected a hole such as 7H (head) or 7T (throat), not \"99T\" "
		 "[hole-label]"},
		{11, "tie_off: { mains: { left: 8T, rigth: 6T } }",
		 "11:31: error: unknown key \"rigth\": did you mean \"right\"? [key-unknown]"},
		{11, "tie_off: { mains: 7T }",
		 "11:19: error: only a cross goes through 7T, and it is not there yet: tie off on "
		 "a main [tie-off-early]"},
		{11, "tie_off: { cross_start: 11H }",
		 "11:25: error: only a cross goes through 11H, and it is not there yet: tie off on "
		 "a main [tie-off-early]"},
		{11, "tie_off: { mains: 10T }",
		 "11:19: error: the string that ends here comes out of 10T itself: tie it to "
		 "another [tie-off-own]"},
		{11, "tie_off: { cross_end: 7T }",
		 "11:23: error: the string that ends here comes out of 7T itself: tie it to "
		 "another [tie-off-own]"},
		{11, "tie_off: { mains: 6T }",
		 "11:19: warning: a tie-off 4 holes away: more than 3 is suspect, look for a "
		 "nearer hole [tie-off-far]"},
		{11, "tie_off: { mains: 8T, cross_end: 8T }",
		 "11:34: error: 8T left takes the knots of mains and cross_end beside its string: "
		 "a hole takes two strings at most [hole-three]"},
		{11, "tie_off: { mains: { right: 8T }, cross_end: 8T }",
		 "11:45: error: 8T right takes the knots of mains and cross_end beside its string: "
		 "a hole takes two strings at most [hole-three]"},
		{11, "tie_off: { mains: 8T, cross_end: { left: 6T, right: 8T } }",
		 "11:53: error: 8T right takes the knots of mains and cross_end beside its string: "
		 "a hole takes two strings at most [hole-three]"},
		{11, "tie_off: { mains: 8H }",
		 "11:19: warning: the mains of this frame end at the throat, not near 8H "
		 "[tie-off-end]"},
		{11, "tie_off: { cross_start: 8T }",
		 "11:25: warning: the crosses of this frame begin at the head, not near 8T "
		 "[tie-off-end]"},
		{11, "tie_off: { cross_end: 8H }",
		 "11:23: warning: the crosses of this frame end at the throat, not near 8H "
		 "[tie-off-end]"},
	};
	EXPECT(cases);
}

/* A shared hole is full, an unused one has no anchor; with 18 crosses both knots are on one side.
 */
static void knots_mind_shared_and_unused_holes(void **state)
{
	(void)state;
	static const struct {
		const char *crosses;
		const char *holes;
		const char *lists;
		const char *tie_off;
		const char *message;
	} cases[] = {
		{"19", "{ head: 17, throat: 16 }", "shared: [8H, 8T]", "{ mains: 8T }",
		 "9:19: error: 8T holds a main and a cross already: a hole takes two strings at "
		 "most [hole-three]"},
		{"19", "{ head: 19, throat: 18 }",
		 "unused: [1H, 1T]\nmains_skip: [8H, 10H, 8T, 10T]", "{ mains: 1T }",
		 "10:19: error: no string goes through 1T: nothing to tie to there "
		 "[tie-off-empty]"},
		{"19", "{ head: 18, throat: 17 }",
		 "mains_skip: [7H, 9H, 7T, 9T]\nshared: [8T]\nunused: [8T]", "{ mains: 6T }",
		 "10:10: error: hole 8T is in shared too: it cannot be both [hole-conflict]"},
		{"18", "{ head: 17, throat: 17 }", "mains_skip: [7H, 9H, 7T, 9T]",
		 "{ cross_start: 6T, cross_end: 6T }",
		 "9:25: warning: the crosses of this frame begin at the head, not near 6T "
		 "[tie-off-end]\n"
		 "test.yaml:9:40: error: 6T left takes the knots of cross_start and cross_end "
		 "beside its string: a hole takes two strings at most [hole-three]"},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct faults faults = {0};
		char text[1024], expected[1024];
		snprintf(text, sizeof(text),
			 "pattern: test\nsport: tennis\nmains: 16\ncrosses: %s\nholes: %s\n"
			 "bridge: 6\ncrosses_start: head\n%s\ntie_off: %s\n",
			 cases[i].crosses, cases[i].holes, cases[i].lists, cases[i].tie_off);
		snprintf(expected, sizeof(expected), "test.yaml:%s\n", cases[i].message);
		assert_null(pattern_read(yaml_read_text("test.yaml", text, &faults)));
		char *said = sample_printed(&faults);
		assert_string_equal(said, expected);
		free(said);
		faults_free(&faults);
	}
}

static void faults_of_measures(void **state)
{
	(void)state;
	static const struct fault_case cases[] = {
		{13, "head: { length: 330 mm }",
		 "13:1: error: key \"width\" is missing in head [key-missing]"},
		{13, "head: { length: 330, width: 247 mm }",
		 "13:17: error: a unit is missing: expected a length such as \"330 mm\" (mm, cm, m, "
		 "in) [value-quantity]"},
		{13, "head: { length: nan mm, width: 247 mm }",
		 "13:17: error: expected a length such as \"330 mm\" (mm, cm, m, in), not \"nan "
		 "mm\" [value-quantity]"},
		{13, "head: { length: 0 mm, width: 247 mm }",
		 "13:17: error: 0 mm is not plausible: expected 150 to 450 mm "
		 "[value-range]"},
		{13, "head: { length: -330 mm, width: 247 mm }",
		 "13:17: error: -330 mm is not plausible: expected 150 to 450 mm "
		 "[value-range]"},
		{13, "head: { length: 330 cm, width: 247 mm }",
		 "13:17: error: 330 cm is not plausible: expected 15 to 45 cm "
		 "[value-range]"},
		{13, "head: { length: 330 mm, width: 247 mm, area: 816 cm2 }",
		 "13:46: error: 816 cm2 does not fit a head of 330 by 247 mm: expected more than "
		 "408 and less than 815 cm2 [head-area]"},
		{13, "head: { length: 330 mm, width: 247 mm, area: 407 cm2 }",
		 "13:46: error: 407 cm2 does not fit a head of 330 by 247 mm: expected more than "
		 "408 and less than 815 cm2 [head-area]"},
		{13, "head: { length: 330 mm, width: 247 mm, area: 0 cm2 }",
		 "13:46: error: 0 cm2 does not fit a head of 330 by 247 mm: expected more than 408 "
		 "and less than 815 cm2 [head-area]"},
		{13, "head: { length: 330 mm, width: 247 mm, area: 640 mm }",
		 "13:46: error: unit \"mm\" is not known here: expected an area such as \"640 cm2\" "
		 "(mm2, cm2, in2) [value-quantity]"},
		{13, "head: { length: 330 mm, width: 247 mm, beam: 2 mm }",
		 "13:46: error: 2 mm is not plausible: expected 4 to 40 mm "
		 "[value-range]"},
		{14, "spacing: { mains: 31 mm }",
		 "14:19: error: 31 mm is not plausible: expected 3 to 30 mm "
		 "[value-range]"},
		{14, "spacing: { mains: 17 mm }",
		 "14:19: error: the mains would be 255 mm from the first to the last, but the head "
		 "is 247 mm wide [spacing-room]"},
		{14, "spacing: { crosses: 18.5 mm }",
		 "14:21: error: the crosses would be 333 mm from the first to the last, but the "
		 "head is 330 mm long [spacing-room]"},
		{14, "spacing: { mains: [12 mm, 12 mm, 13 mm] }",
		 "14:19: error: 3 distances, but there are 8: between the two centre mains, then "
		 "outward on one side [spacing-count]"},
		{14, "spacing: { crosses: [16 mm, 16 mm] }",
		 "14:21: error: 2 distances, but there are 18: between neighbours, from the head "
		 "[spacing-count]"},
		{14, "spacing: { mains: [12 mm, 12, 13 mm, 13 mm, 13 mm, 13 mm, 13 mm, 13 mm] }",
		 "14:27: error: a unit is missing: expected a length such as \"330 mm\" (mm, cm, m, "
		 "in) [value-quantity]"},
		{15, "tension: { min: 22 kg }",
		 "15:1: error: key \"max\" is missing in tension [key-missing]"},
		{15, "tension: { min: 28 kg, max: 22 kg }",
		 "15:1: error: the least tension is above the greatest [tension-range]"},
		{15, "tension: { min: 22 kg, max: 280 kg }",
		 "15:29: error: 280 kg is not plausible: expected 2.1 to 50.9 kg "
		 "[value-range]"},
	};
	EXPECT(cases);
}

/* Limits as CHECKS names them: ITF Rules of Tennis, Appendix II b and c; BWF Laws of Badminton, Law
 * 4; WSF racket specification. At the limit nothing is said. */
static void what_the_sports_allow(void **state)
{
	(void)state;
	static const struct {
		const char *sport;
		const char *head;
		const char *message; /* "": none */
	} cases[] = {
		{"tennis", "{ length: 39.4 cm, width: 29.2 cm, beam: 12.5 mm }", ""},
		{"tennis", "{ length: 395 mm, width: 250 mm }",
		 "test.yaml:8:17: warning: the strings are up to 395 mm long: ITF Rules of Tennis, "
		 "Appendix II c allows 394 mm [rule-length]\n"},
		{"tennis", "{ length: 330 mm, width: 29.3 cm }",
		 "test.yaml:8:32: warning: the strung surface is 293 mm wide: ITF Rules of Tennis, "
		 "Appendix II c allows 292 mm [rule-width]\n"},
		/* 31.72 cm overall is too wide, although it is less than 12.5 in. */
		{"tennis", "{ length: 330 mm, width: 290 mm, beam: 13.6 mm }",
		 "test.yaml:8:46: warning: the frame is 317.2 mm wide with its beam: ITF Rules of "
		 "Tennis, Appendix II c allows 317 mm [rule-frame]\n"},
		{"badminton", "{ length: 280 mm, width: 214 mm, beam: 8 mm }", ""},
		{"badminton", "{ length: 290 mm, width: 221 mm, beam: 4 mm }",
		 "test.yaml:8:17: warning: the strings are up to 290 mm long: BWF Laws of "
		 "Badminton, Law 4 allows 280 mm, and beyond that only a throat at most 35 mm wide, "
		 "to 330 mm [rule-length]\n"
		 "test.yaml:8:32: warning: the strung surface is 221 mm wide: BWF Laws of "
		 "Badminton, Law 4 allows 220 mm [rule-width]\n"},
		{"squash", "{ length: 335 mm, width: 190 mm, beam: 12.5 mm }", ""},
		{"squash", "{ length: 340 mm, width: 190 mm }",
		 "test.yaml:8:7: warning: the strung area is 507 cm2 as an ellipse: WSF racket "
		 "specification, Appendix 4 allows 500 cm2 [rule-area]\n"},
		{"squash", "{ length: 300 mm, width: 198 mm, area: 501 cm2, beam: 9 mm }",
		 "test.yaml:8:46: warning: the strung area is 501 cm2: WSF racket specification, "
		 "Appendix 4 allows 500 cm2 [rule-area]\n"
		 "test.yaml:8:61: warning: the frame is 216 mm wide with its beam: WSF racket "
		 "specification, Appendix 4 allows 215 mm [rule-frame]\n"},
		{"racquetball", "{ length: 420 mm, width: 300 mm, beam: 12 mm }", ""},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct faults faults = {0};
		char text[1024];
		snprintf(text, sizeof(text),
			 "pattern: test\nsport: %s\nmains: 16\ncrosses: 19\n"
			 "holes: { head: 18, throat: 17 }\nbridge: 6\n"
			 "mains_skip: [7H, 9H, 7T, 9T]\nhead: %s\ncrosses_start: head\n",
			 cases[i].sport, cases[i].head);
		struct pattern *pattern = pattern_read(yaml_read_text("test.yaml", text, &faults));
		char *said = sample_printed(&faults);
		assert_string_equal(said, cases[i].message);
		assert_non_null(pattern);
		pattern_free(pattern);
		free(said);
		faults_free(&faults);
	}
}

static void a_bed_thin_in_the_centre_is_noticed(void **state)
{
	(void)state;
	static const struct fault_case cases[] = {
		{14, "spacing: { mains: [14 mm, 14 mm, 13 mm, 13 mm, 12 mm, 12 mm, 12 mm, 12 mm] }",
		 "14:19: warning: the bed is less dense in the centre than elsewhere: ITF Rules of "
		 "Tennis, Appendix II b, forbids it [rule-density]"},
		{14,
		 "spacing: { crosses: [14 mm, 14 mm, 14 mm, 14 mm, 14 mm, 14 mm, 16 mm, 16 mm, "
		 "16 mm, 16 mm, 16 mm, 16 mm, 17 mm, 17 mm, 17 mm, 17 mm, 17 mm, 17 mm] }",
		 "14:21: warning: with this spacing the cross in 7H would not stand at its hole: "
		 "lengths and pictures follow the holes instead [spacing-holes]\n"
		 "test.yaml:14:21: warning: the bed is less dense in the centre than elsewhere: ITF Rules of "
		 "Tennis, Appendix II b, forbids it [rule-density]"},
	};
	EXPECT(cases);
	/* Holes are drilled no finer than that. */
	pattern_free(read_sample(14, "spacing: { mains: [12.05 mm, 12.05 mm, 12.05 mm, 12 mm, "
				     "12 mm, 12 mm, 12 mm, 12 mm] }"));
	/* Closer in the centre than at the edge is what makers do. */
	pattern_free(read_sample(14, "spacing: { mains: [11 mm, 11 mm, 12 mm, 12 mm, 12 mm, 13 mm, "
				     "14 mm, 15 mm] }"));
}

/* All faults of a file in one run. */
static void faults_do_not_hide_each_other(void **state)
{
	(void)state;
	struct faults faults = {0};
	static const char text[] = "pattern: test\nsport: golf\nmains: 15\ncrosses: 2\n"
				   "holes: { head: 18, throat: 99 }\nbridge: 5\n"
				   "mains_skip: [7Q]\nunused: [40H]\ntie_off: { mains: 8 }\n"
				   "crosses_start: top\nhead: { length: 3 m, width: 2 in }\n"
				   "tension: { min: 1 kg, max: 2 lb }\nbrand: x\n";

	assert_null(pattern_read(yaml_read_text("test.yaml", text, &faults)));
	assert_int_equal(faults.errors, 14);
	faults_free(&faults);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_worked_example_to_the_letter),
		cmocka_unit_test(what_a_file_says_is_kept),
		cmocka_unit_test(holes_follow_each_other_round_the_frame),
		cmocka_unit_test(the_bridge_says_where_the_mains_start),
		cmocka_unit_test(faults_of_names_and_counts),
		cmocka_unit_test(faults_of_holes),
		cmocka_unit_test(faults_of_knots),
		cmocka_unit_test(knots_mind_shared_and_unused_holes),
		cmocka_unit_test(faults_of_measures),
		cmocka_unit_test(what_the_sports_allow),
		cmocka_unit_test(a_bed_thin_in_the_centre_is_noticed),
		cmocka_unit_test(faults_do_not_hide_each_other),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
