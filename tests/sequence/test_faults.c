/* What a plan can ask of a frame that cannot be done, or had better not: the exact words, and where
 * they point. */
#include "base/memory.h"
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

static const struct {
	const char *pattern;
	const char *plan;
	bool compiles;
	const char *messages; /* all that is printed */
} cases[] = {
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
	 "job.yaml:6:22: error: 46 lb for cross 1 is outside the maker's range of small, 48.5 lb to "
	 "61.73 lb: if it is really wanted, the plan must say \"beyond_makers_range: wanted\" "
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

static void each_has_its_place_and_words(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct faults faults = {0};
		struct pattern *pattern =
			pattern_read_text("small.yaml", cases[i].pattern, &faults);
		struct job *job = job_read_text("job.yaml", cases[i].plan, &faults);
		char *messages = NULL;
		size_t length = 0;
		assert_non_null(pattern);
		assert_non_null(job);
		struct sequence *sequence = sequence_compile(job, pattern, &faults);
		FILE *out = open_memstream(&messages, &length);
		faults_print(&faults, out);
		fclose(out);
		assert_string_equal(messages, cases[i].messages);
		assert_int_equal(sequence != NULL, cases[i].compiles);
		free(messages);
		faults_free(&faults);
		sequence_free(sequence);
		job_free(job);
		pattern_free(pattern);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(each_has_its_place_and_words),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
