/* Patterns written by answering questions: from a file of answers, and by a person who errs. */
#include "cli/cli.h"
#include "frame/frame.h"
#include "frame/near.h"
#include "job/job.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>

enum { RANDOM_TALKS = 2000 };

struct outcome {
	bool done;
	char *file;
	char *name;
	char *shown;
	char *faults;
};

static struct outcome answer(const char *answers, bool person)
{
	struct outcome outcome = {0};
	struct text file = {0};
	size_t shown_length, faults_length;
	char *typed = strdup(answers);
	FILE *in = fmemopen(typed, strlen(typed), "r");
	FILE *show = open_memstream(&outcome.shown, &shown_length);
	FILE *out = open_memstream(&outcome.faults, &faults_length);
	struct form form;

	pattern_form(&form, &MACHINE_DEFAULT);
	form.in = in;
	form.in_name = "answers";
	form.show = show;
	form.person = person;
	form.is_taken = NULL;
	outcome.done = form_fill(&form, &file);
	outcome.file = text_take(&file);
	outcome.name = memory_copy(form.answer[0]);
	faults_print(&form.faults, out);
	form_free(&form);
	fclose(in);
	free(typed);
	fclose(show);
	fclose(out);
	return outcome;
}

static void forget(struct outcome *outcome)
{
	free(outcome->file);
	free(outcome->name);
	free(outcome->shown);
	free(outcome->faults);
}

static struct pattern *read_file(const char *file)
{
	struct faults faults = {0};
	struct pattern *pattern = pattern_read(yaml_read_text("file", file, &faults));

	faults_print(&faults, stderr);
	faults_free(&faults);
	return pattern;
}

static int occurrences(const char *text, const char *part)
{
	int count = 0;

	for (const char *at = strstr(text, part); at; at = strstr(at + 1, part))
		count++;
	return count;
}

static void add_set(struct text *answers, const struct pattern *pattern, const struct hole_set *set)
{
	char label[HOLE_TEXT_MAX];

	for (int place = 0; place < pattern_hole_count(pattern); place++)
		if (hole_in(set, pattern_hole_at(pattern, place)))
			text_format(answers, " %s",
				    hole_text(pattern_hole_at(pattern, place), label));
	text_add(answers, "\n");
}

static void add_gaps(struct text *answers, const double *gaps_mm, int count)
{
	for (int i = 0; i < count && gaps_mm[0] > 0; i++)
		text_format(answers, "%s%g mm", i ? ", " : "", gaps_mm[i]);
	text_add(answers, "\n");
}

/* What a person would answer who has the frame of this pattern in hand. */
static char *answers_for(const struct pattern *pattern)
{
	struct text answers = {0};
	char left[HOLE_TEXT_MAX], right[HOLE_TEXT_MAX];
	char min[QUANTITY_TEXT_MAX], max[QUANTITY_TEXT_MAX];

	text_format(&answers, "%s\n%s\n%s\n%d\n%d\n%d\n%d\n%d\n", pattern->name, pattern->title,
		    sport_names[pattern->sport], pattern->mains, pattern->crosses,
		    pattern->holes[END_HEAD], pattern->holes[END_THROAT], pattern->bridge);
	add_set(&answers, pattern, &pattern->mains_skip);
	add_set(&answers, pattern, &pattern->shared);
	add_set(&answers, pattern, &pattern->unused);
	text_format(&answers, "%s\n", end_names[pattern->crosses_start]);
	for (int i = 0; i < TIE_OFFS; i++)
		text_format(&answers, "%s %s\n", hole_text(pattern->tie_off[i][SIDE_LEFT], left),
			    hole_text(pattern->tie_off[i][SIDE_RIGHT], right));
	text_format(&answers, "%g mm\n%g mm\n%g mm2\n%g mm\n", pattern->head.length_mm,
		    pattern->head.width_mm, pattern->head.area_mm2, pattern->head.beam_mm);
	add_gaps(&answers, pattern->main_gap_mm, pattern_half(pattern));
	add_gaps(&answers, &pattern->cross_gap_mm[1], pattern->crosses - 1);
	text_format(&answers, "%s\n%s\n", quantity_text(pattern->tension_min, min),
		    quantity_text(pattern->tension_max, max));
	return text_take(&answers);
}

static void assert_same_pattern(const struct pattern *a, const struct pattern *b)
{
	assert_string_equal(a->name, b->name);
	assert_string_equal(a->title, b->title);
	assert_int_equal(a->sport, b->sport);
	assert_int_equal(a->bridge, b->bridge);
	assert_int_equal(a->crosses_start, b->crosses_start);
	assert_memory_equal(a->holes, b->holes, sizeof(a->holes));
	assert_memory_equal(a->main_hole, b->main_hole, sizeof(a->main_hole));
	assert_memory_equal(a->cross_hole, b->cross_hole, sizeof(a->cross_hole));
	assert_memory_equal(a->tie_off, b->tie_off, sizeof(a->tie_off));
	assert_memory_equal(a->main_gap_mm, b->main_gap_mm, sizeof(a->main_gap_mm));
	assert_memory_equal(a->cross_gap_mm, b->cross_gap_mm, sizeof(a->cross_gap_mm));
	assert_near(a->head.length_mm, b->head.length_mm, 0);
	assert_near(a->head.width_mm, b->head.width_mm, 0);
	assert_near(a->head.area_mm2, b->head.area_mm2, 1e-9);
	assert_near(a->head.beam_mm, b->head.beam_mm, 0);
	assert_true(quantity_same(a->tension_min, b->tension_min));
	assert_true(quantity_same(a->tension_max, b->tension_max));
}

static int is_yaml(const struct dirent *entry)
{
	return strstr(entry->d_name, ".yaml") != NULL;
}

static void every_bundled_pattern_can_be_answered(void **state)
{
	(void)state;
	struct dirent **entries;
	int count = scandir(SOURCE_DIR "/patterns", &entries, is_yaml, alphasort);

	assert_true(count > 0);
	for (int i = 0; i < count; i++) {
		char path[1024];
		struct faults faults = {0};
		snprintf(path, sizeof(path), SOURCE_DIR "/patterns/%s", entries[i]->d_name);
		struct pattern *pattern = pattern_read(yaml_read(path, &faults));
		assert_non_null(pattern);
		char *answers = answers_for(pattern);
		struct outcome outcome = answer(answers, false);
		assert_string_equal(outcome.faults, "");
		assert_true(outcome.done);
		struct pattern *written = read_file(outcome.file);
		assert_non_null(written);
		assert_same_pattern(written, pattern);
		assert_string_equal(outcome.name, pattern->name);
		pattern_free(pattern);
		pattern_free(written);
		forget(&outcome);
		free(answers);
		free(entries[i]);
	}
	free(entries);
}

/* A file may leave out what may be left out, and end there. */
static void few_answers_will_do(void **state)
{
	(void)state;
	struct outcome outcome =
		answer("# my frame\nshort\n\n\n16\n19\n18\n17\n6\n7h,9h,7t 9t\n", false);

	assert_string_equal(outcome.faults, "");
	assert_true(outcome.done);
	assert_non_null(strstr(outcome.file, "\nmains_skip: [7H, 9H, 7T, 9T]\n"));
	assert_null(strstr(outcome.file, "head:\n  length"));
	assert_null(strstr(outcome.file, "tie_off"));
	struct pattern *pattern = read_file(outcome.file);
	assert_non_null(pattern);
	assert_string_equal(pattern->title, "short");
	assert_int_equal(pattern->sport, SPORT_TENNIS);
	pattern_free(pattern);
	/* Nothing is asked of a file, but what came of it is shown. */
	assert_null(strstr(outcome.shown, "Number of mains"));
	assert_non_null(strstr(outcome.shown, "  mains at the head    1H-6H 8H 10H\n"));
	assert_non_null(
		strstr(outcome.shown, "  crosses from the head 7H 9H 11H-18H 17T-11T 9T 7T\n"));
	assert_non_null(
		strstr(outcome.shown, "the mains start at the throat and end at the throat"));
	forget(&outcome);
}

static void answers_at_fault_have_their_lines(void **state)
{
	(void)state;
	static const struct {
		const char *answers;
		const char *faults;
	} cases[] = {
		{"",
		 "answers:1:1: error: Name of the pattern: an answer is needed here [answer]\n"},
		{"a\n\ntennis\n16\n",
		 "answers:5:1: error: Number of crosses: an answer is needed here [answer]\n"},
		{"a b\n\ngolf\n15\n19\n18\n17\n7\n7X\n",
		 "answers:1:1: error: Name of the pattern: expected small letters, digits and "
		 "hyphens, beginning with a letter or a digit, not \"a b\" [answer]\n"
		 "answers:3:1: error: Sport: expected tennis, badminton, squash or racquetball, not "
		 "\"golf\" [answer]\n"
		 "answers:4:1: error: Number of mains: an odd number of mains: the mains lie evenly "
		 "on both sides of the centre [answer]\n"
		 "answers:8:1: error: Holes in the bridge, both sides together: an odd number of "
		 "bridge holes: count both sides together [answer]\n"
		 "answers:9:1: error: Holes the mains pass over: expected a hole such as 7H (head) "
		 "or 7T (throat), not \"7X\" [answer]\n"},
		{"a\n\n\n16\n20\n18\n17\n6\n7H 9H 7T 9T\n\n\n",
		 "answers:11:1: error: 20 crosses, but 19 holes a side are left for crosses: 7H 9H "
		 "11H-18H 17T-11T 9T 7T [crosses-count]\n"},
		{"a\n\n\n16\n18\n18\n17\n6\n7H 9H 7T 9T\n\n\n",
		 "answers:11:1: error: 18 crosses, but 19 holes a side are left for crosses: 7H 9H "
		 "11H-18H 17T-11T 9T 7T; if the counts are right, name each hole that stays "
		 "empty as unused [crosses-count]\n"},
		{"a\n\n\n16: 17\n",
		 "answers:4:1: error: Number of mains: expected a whole number from 4 to 40, not "
		 "\"16: 17\" [answer]\n"
		 "answers:5:1: error: Number of crosses: an answer is needed here [answer]\n"},
		{"a\n\n\n16\n19\n18\n17\n6\n7H 9H 7T 9T\n\n\n\n7T\n\n\n330 mm\n24.7\n900 cm2\n",
		 "answers:13:1: error: Tie-off hole of the mains: only a cross goes through 7T, and "
		 "it is not there yet: tie off on a main [answer]\n"
		 "answers:17:1: error: Width of the head inside: a unit is missing: expected a "
		 "length such as \"330 mm\" (mm, cm, m, in) [answer]\n"},
		{"\xc3\x96land 16x18\n",
		 "answers:1:1: error: Name of the pattern: expected small letters, digits and "
		 "hyphens, beginning with a letter or a digit, not \"\xc3\x96land 16x18\" "
		 "[answer]\n"
		 "answers:4:1: error: Number of mains: an answer is needed here [answer]\n"},
		{"a\n\n\n16\n19\n18\n17\n6\n7H 9H 7T 9T; 8T\n\n\n\n7H 8H 9H\n24,5 cm\n8T; 6T\n",
		 "answers:9:1: error: Holes the mains pass over: expected holes, such as 7H 9H "
		 "[answer]\n"
		 "answers:13:1: error: Tie-off hole of the mains: expected a hole, such as 8T, or "
		 "two where left and right differ: 8T 6T [answer]\n"
		 "answers:14:1: error: Hole of the crosses' starting knot: expected a hole, such "
		 "as 8T, or two where left and right differ: 8T 6T [answer]\n"
		 "answers:15:1: error: Tie-off hole where the crosses end: expected a hole, such "
		 "as 8T, or two where left and right differ: 8T 6T [answer]\n"},
		{"a\n\n\n16\n19\n18\n17\n6\n7H 9H 7T 9T\n\n\n\n8T\n\n\n\n247 mm\n",
		 "answers:17:1: error: Width of the head inside: this needs \"head/length\" "
		 "[answer]\n"},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct outcome outcome = answer(cases[i].answers, false);
		assert_string_equal(outcome.faults, cases[i].faults);
		assert_false(outcome.done);
		assert_string_equal(outcome.file, "");
		forget(&outcome);
	}
}

/* Wrong answers are asked again, "?" explains, "back" goes back, counts that do not add up are gone
 * through again with what was answered kept. */
static void a_person_may_err(void **state)
{
	(void)state;
	struct outcome outcome =
		answer("?\nMine!\nmine\nback\nmine\n\"Quoted\" \\ title\nTENNIS\n\n"
		       "15\n16\n20\n18\n17\n6\n7H 9H 7T 9T\n\n\n" /* 20: wrong */
		       "\n19\n\n\n\n\n\n\n"                       /* kept, but 19 */
		       "maybe\nyes\n"
		       "\n7T\n8T\n\n6T\n"
		       "330 mm\nback\n-\n"
		       "22 kg\n21 kg\n28 kg\n",
		       true);

	assert_string_equal(outcome.faults, "");
	assert_true(outcome.done);
	assert_int_equal(occurrences(outcome.shown, "Name of the pattern"), 4);
	assert_int_equal(occurrences(outcome.shown, "Name of the pattern [mine]"), 1);
	assert_int_equal(occurrences(outcome.shown, "file is named so"), 1);
	assert_int_equal(occurrences(outcome.shown, "an odd number of mains"), 1);
	assert_int_equal(occurrences(outcome.shown, "Number of mains [16]: "), 1);
	assert_int_equal(occurrences(outcome.shown, "20 crosses, but 19 holes"), 1);
	assert_int_equal(occurrences(outcome.shown, "Is this how the frame is drilled?"), 2);
	assert_int_equal(occurrences(outcome.shown, "tie off on a main"), 1);
	assert_int_equal(occurrences(outcome.shown, "Width of the head"), 1);
	struct pattern *pattern = read_file(outcome.file);
	assert_non_null(pattern);
	assert_string_equal(pattern->title, "\"Quoted\" \\ title");
	assert_int_equal(pattern->crosses, 19);
	assert_int_equal(pattern->tie_off[TIE_OFF_MAINS][SIDE_RIGHT].number, 8);
	assert_int_equal(pattern->tie_off[TIE_OFF_CROSS_START][SIDE_LEFT].number, 0);
	assert_near(pattern->head.length_mm, 0, 0);
	assert_near(pattern->tension_max.value, 28, 0);
	pattern_free(pattern);
	forget(&outcome);
}

static void a_person_may_give_up(void **state)
{
	(void)state;
	static const char *const talks[] = {
		"",
		"mine\n",
		"mine\n\n\n16\n19\n18\n17\n6\n7H 9H 7T 9T\n\n\n",
		"mine\n\n\n16\n19\n18\n17\n6\n7H 9H 7T 9T\n\n\nno\n",
		"mine\n\n\n16\n19\n18\n17\n6\n7H 9H 7T 9T\n\n\nyes\nhead\n",
	};

	for (size_t i = 0; i < sizeof(talks) / sizeof(talks[0]); i++) {
		struct outcome outcome = answer(talks[i], true);
		assert_false(outcome.done);
		assert_string_equal(outcome.file, "");
		assert_string_equal(outcome.faults, "");
		forget(&outcome);
	}
}

/* Whatever is typed, there is an end to it, and what is written can be read. */
static void random_talk_ends(void **state)
{
	(void)state;
	static const char *const words[] = {
		"16",     "19",   "7H",      "8T 6T", "none", "-",       "back", "?",    "yes",
		"no",     "head", "tennis",  "13 mm", "\"",   "a: b",    "[1]",  "mine", "22 kg",
		"28 kg",  "18",   "17",      "6",     "",     "\x1b[0m", "\xff", "- x",  "&a",
		"330 mm", "4",    "640 cm2", "5,5",   "#",    "240 mm",  "*a",   "|",    "0"};
	uint64_t random = 20;

	for (int n = 0; n < RANDOM_TALKS; n++) {
		struct text talk = {0};
		for (int i = 0; i < 60; i++) {
			random = random * UINT64_C(6364136223846793005) + 1442695040888963407;
			text_format(&talk, "%s\n",
				    words[(random >> 33) % (sizeof(words) / sizeof(words[0]))]);
		}
		struct outcome outcome = answer(text_string(&talk), n % 2);
		struct pattern *pattern = outcome.done ? read_file(outcome.file) : NULL;
		assert_int_equal(outcome.done, pattern != NULL);
		pattern_free(pattern);
		forget(&outcome);
		text_free(&talk);
	}
	/* A line longer than any answer, and a file that is one line without end. */
	char *endless = malloc(100001);
	memset(endless, '7', 100000);
	endless[100000] = '\0';
	struct outcome outcome = answer(endless, false);
	assert_non_null(strstr(outcome.faults, "the answer is too long"));
	forget(&outcome);
	free(endless);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(every_bundled_pattern_can_be_answered),
		cmocka_unit_test(few_answers_will_do),
		cmocka_unit_test(answers_at_fault_have_their_lines),
		cmocka_unit_test(a_person_may_err),
		cmocka_unit_test(a_person_may_give_up),
		cmocka_unit_test(random_talk_ends),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
