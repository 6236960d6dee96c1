/* What a plan can ask of a frame that cannot be done, or had better not: the exact words, and where
 * they point. */
#include "base/base.h"
#include "sequence/sequence.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#define PATTERN(bridge, more)                                                                      \
	"pattern: small\nsport: tennis\nmains: 16\ncrosses: 19\nholes: { head: 18, throat: 17 }\n" \
	"bridge: " bridge "\ncrosses_start: head\nmains_skip: [7H, 9H, 7T, 9T]\n" more

#define PLAN(more)                                                                                 \
	"job: one\npattern: small\nstringer: apprentice\nmethod: two-piece\n"                      \
	"tension: { mains: 54 lb, crosses: 52 lb }\n" more

/* Every hole of a main holds a cross too, so no knot finds room. */
static const char full[] = "pattern: small\nsport: badminton\nmains: 4\ncrosses: 8\n"
			   "holes: { head: 4, throat: 4 }\nbridge: 0\ncrosses_start: head\n"
			   "shared: [1H, 2H, 1T, 2T]\n";

struct frame_case {
	const char *pattern;
	const char *plan;
	bool compiles;
	const char *messages; /* all that is printed */
};

static const struct frame_case cases[] = {
	{PATTERN("6", ""), PLAN(""), true, ""},
	{PATTERN("6", ""), PLAN("order: { start: throat }\n"), true, ""},
	{PATTERN("6", ""), PLAN("order: { start: head }\n"), true,
	 "job.yaml:6:17: warning: mains started at the head loop from 3 to 4 across the gap where "
	 "the bridge ends: the throat is the usual start for small [start-gap]\n"},
	{PATTERN("8", ""), PLAN(""), true, ""},
	{PATTERN("8", ""), PLAN("order: { lead: 2, start: throat }\n"), true,
	 "job.yaml:6:26: warning: mains started at the throat loop from 4 to 5 across the gap where "
	 "the bridge ends: the head is the usual start for small [start-gap]\n"},
	{PATTERN("0", ""), PLAN("order: { start: throat }\n"), true, ""},
	{PATTERN("6", ""),
	 PLAN("adjust:\n- { strings: mains 1, by: 1 lb }\n"
	      "- { strings: crosses 2-4, by: 1 lb }\n"),
	 false,
	 "job.yaml:8:14: error: crosses 1 and 2 are pulled together but differ in tension: adjust "
	 "both, or set first_pull to 1 [adjust-first-pull]\n"},
	{PATTERN("6", ""), PLAN("adjust: [ { strings: crosses 1, by: 1 lb } ]\n"), false,
	 "job.yaml:6:22: error: crosses 1 and 2 are pulled together but differ in tension: adjust "
	 "both, or set first_pull to 1 [adjust-first-pull]\n"},
	{PATTERN("6", ""),
	 PLAN("adjust: [ { strings: crosses 1, by: 1 lb } ]\n"
	      "weave: { first_pull: 1 }\n"),
	 true, ""},
	{PATTERN("6", ""), PLAN("adjust: [ { strings: crosses 1-2, by: 1 lb } ]\n"), true, ""},
	{PATTERN("6", "tension: { min: 22 kg, max: 28 kg }\n"),
	 PLAN("adjust: [ { strings: crosses 1, by: -6 lb } ]\norder: { start: head }\n"), false,
	 "job.yaml:6:22: error: 46 lb for cross 1 is outside the maker's range of small, 48.6 to "
	 "61.7 lb: if it is really wanted, the plan must say \"beyond_makers_range: wanted\" "
	 "[tension-range]\n"
	 "job.yaml:6:22: error: crosses 1 and 2 are pulled together but differ in tension: adjust "
	 "both, or set first_pull to 1 [adjust-first-pull]\n"
	 "job.yaml:7:17: warning: mains started at the head loop from 3 to 4 across the gap where "
	 "the bridge ends: the throat is the usual start for small [start-gap]\n"},
	{full, PLAN(""), false,
	 "job.yaml:2:10: error: small has no hole left at the head to tie off the mains on the left "
	 "side: name one in the pattern [tie-off-none]\n"
	 "job.yaml:2:10: error: small has no hole left at the head to tie off the mains on the "
	 "right side: name one in the pattern [tie-off-none]\n"
	 "job.yaml:2:10: error: small has no hole left at the head to tie off the start of the "
	 "crosses on the left side: name one in the pattern [tie-off-none]\n"
	 "job.yaml:2:10: error: small has no hole left at the throat to tie off the end of the "
	 "crosses on the left side: name one in the pattern [tie-off-none]\n"},
};

#define ONE(more)                                                                                  \
	"job: one\npattern: small\nstringer: apprentice\nmethod: one-piece\n"                      \
	"tension: { mains: 54 lb, crosses: 52 lb }\n" more

#define NONE "job.yaml:4:9: error: small cannot be strung in one piece: the string would have to "
#define TWO  "; two-piece works [route-none]\n"

/* In one piece: the frame of the first cases, and small ones that a single rule forbids. */
static const struct frame_case one_piece_cases[] = {
	{PATTERN("6", ""), ONE(""), true, ""},
	{PATTERN("6", ""), ONE("order: { route: 4 }\n"), true, ""},
	{PATTERN("6", ""), ONE("order: { route: 5 }\n"), false,
	 "job.yaml:6:17: error: there is no route 5: small has 4 [route-number]\n"},
	{PATTERN("8", ""), ONE("order: { route: 2 }\n"), false,
	 "job.yaml:6:17: error: there is no route 2: small has 1 [route-number]\n"},
	{PATTERN("6", ""), ONE("order: { outside: 2, route: 1 }\n"), true, ""},
	{PATTERN("6", ""), ONE("order: { outside: 2 }\n"), false,
	 "job.yaml:4:9: error: in one piece the crosses of small break off 13 times: string it in "
	 "two pieces, begin the crosses at the other end (weave: from), or name a route (order: "
	 "route) [route-breaks]\n"},
	{PATTERN("6", ""), ONE("order: { outside: 1 }\n"), false,
	 NONE "run 2 holes along outside the frame, where 1 is the limit (order: outside)" TWO},
	{"pattern: small\nsport: tennis\nmains: 4\ncrosses: 4\nholes: { head: 4, throat: 4 }\n"
	 "bridge: 6\ncrosses_start: throat\n",
	 ONE(""), false, NONE "cross the gap where the bridge ends" TWO},
	{"pattern: small\nsport: tennis\nmains: 4\ncrosses: 4\nholes: { head: 12, throat: 12 }\n"
	 "bridge: 0\ncrosses_start: head\n"
	 "unused: [3H, 4H, 5H, 6H, 7H, 8H, 9H, 10H, 3T, 4T, 5T, 6T, 7T, 8T, 9T, 10T]\n",
	 ONE(""), false, NONE "run more than 4 holes along outside the frame" TWO},
	{"pattern: small\nsport: tennis\nmains: 6\ncrosses: 6\nholes: { head: 5, throat: 10 }\n"
	 "bridge: 0\ncrosses_start: head\nmains_skip: [3H]\nunused: [5H, 6T, 10T]\n",
	 ONE(""), false,
	 NONE "come to main 3 on the other side, as every cross changes the side" TWO},
	{"pattern: small\nsport: tennis\nmains: 4\ncrosses: 13\nholes: { head: 7, throat: 8 }\n"
	 "bridge: 0\ncrosses_start: throat\nshared: [2H, 1T, 2T]\nunused: [7H]\n"
	 "tie_off: { mains: 1H }\n",
	 ONE("weave: { side: right }\n"), false,
	 NONE "end where every hole for a knot has two strings already" TWO},
	{"pattern: small\nsport: tennis\nmains: 4\ncrosses: 6\nholes: { head: 5, throat: 6 }\n"
	 "bridge: 0\ncrosses_start: throat\nshared: [1T]\nunused: [2T, 3T]\n"
	 "tie_off: { mains: { right: 1H }, cross_end: { left: 1H } }\n",
	 ONE("weave: { side: right }\n"), false,
	 NONE "run 4 holes along outside the frame, where 3 is the limit (order: outside)" TWO},
	{"pattern: small\nsport: tennis\nmains: 6\ncrosses: 5\nholes: { head: 10, throat: 5 }\n"
	 "bridge: 6\ncrosses_start: head\nmains_skip: [3T]\nunused: [3H, 4H, 5H, 7H]\n",
	 ONE(""), false,
	 NONE
	 "cross the gap where the bridge ends, and run 4 holes along outside the frame, where 3 "
	 "is the limit (order: outside)" TWO},
	{"pattern: small\nsport: tennis\nmains: 12\ncrosses: 60\nholes: { head: 36, throat: 36 }\n"
	 "bridge: 0\ncrosses_start: head\n"
	 "mains_skip: [2H, 3H, 5H, 8H, 10H, 11H, 1T, 2T, 4T, 5T, 8T, 9T, 11T, 12T, 14T]\n",
	 ONE("order: { outside: 4, start: head }\n"), false,
	 "job.yaml:4:9: error: there are too many ways to string small in one piece to try them all, "
	 "and none was found: string it in two pieces [route-search]\n"},
	{PATTERN("6", ""),
	 ONE("adjust: [ { strings: crosses 2, by: 1 lb } ]\nweave: { first_pull: 2 }\n"), false,
	 "job.yaml:6:22: error: crosses 2 and 3 are pulled together but differ in tension: adjust "
	 "both, or set first_pull to 1 [adjust-first-pull]\n"},
	{PATTERN("6", "head: { length: 330 mm, width: 247 mm, area: 640 cm2 }\n"),
	 ONE("string: { whole: { on_hand: 10 m } }\n"), false,
	 "job.yaml:6:29: error: 10.00 m on hand, but all strings need 11.27 m (an estimate, 30 cm "
	 "of it a margin): 127 cm short; to go on all the same, write \"accept_short: yes\" [length-short]\n"},
};

static void check_case(const struct frame_case *it)
{
	struct faults faults = {0};
	struct pattern *pattern = pattern_read(yaml_read_text("small.yaml", it->pattern, &faults));
	struct job *job = job_read(yaml_read_text("job.yaml", it->plan, &faults));
	char *messages = NULL;
	size_t length = 0;

	assert_non_null(pattern);
	assert_non_null(job);
	struct sequence *sequence = sequence_compile(job, pattern, &faults);
	FILE *out = open_memstream(&messages, &length);
	faults_print(&faults, out);
	fclose(out);
	assert_string_equal(messages, it->messages);
	assert_int_equal(sequence != NULL, it->compiles);
	free(messages);
	faults_free(&faults);
	sequence_free(sequence);
	job_free(job);
	pattern_free(pattern);
}

static void each_has_its_place_and_words(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		check_case(&cases[i]);
}

static void one_piece_says_what_forbids_it(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof(one_piece_cases) / sizeof(one_piece_cases[0]); i++)
		check_case(&one_piece_cases[i]);
}

static void a_two_piece_job_has_no_routes(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct pattern *pattern =
		pattern_read(yaml_read_text("small.yaml", PATTERN("6", ""), &faults));
	struct job *job = job_read(yaml_read_text("job.yaml", PLAN(""), &faults));
	struct routes *routes = memory_new(1, sizeof(*routes));

	assert_false(sequence_routes(job, pattern, routes, &faults));
	assert_int_equal(faults.errors, 1);
	assert_string_equal(faults.items[0].code, "route-two-piece");
	assert_int_equal(faults.items[0].position.line, 4);
	faults_free(&faults);
	free(routes);
	job_free(job);
	pattern_free(pattern);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(each_has_its_place_and_words),
		cmocka_unit_test(one_piece_says_what_forbids_it),
		cmocka_unit_test(a_two_piece_job_has_no_routes),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
