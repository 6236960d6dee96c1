/* One racket from the first check to the last knot, as a stringer would write it down: sixteen by
 * nineteen, six bridge holes, two pieces. open-16x19.calls is the whole job, read line by line
 * against the rules of the trade (common practice, no published source). */
#include "base/memory.h"
#include "sequence/listing.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const char plan[] = "job: ridge-court-0042\n"
			   "pattern: open-16x19\n"
			   "stringer: apprentice\n"
			   "method: two-piece\n"
			   "tension: { mains: 54 lb, crosses: 52 lb }\n"
			   "adjust: [ { strings: mains 7-8, by: -2 lb } ]\n"
			   "order: { start: auto, first: left, lead: 1 }\n"
			   "weave: { side: left, start: over, behind: 1, first_pull: 2 }\n"
			   "detail: bench\n";

static struct pattern *pattern;
static struct job *job;
static struct sequence *sequence;

static int compile(void **state)
{
	(void)state;
	struct faults faults = {0};

	pattern = pattern_read(SOURCE_DIR "/patterns/open-16x19.yaml", &faults);
	job = job_read_text("ridge-court-0042.yaml", plan, &faults);
	if (pattern && job)
		sequence = sequence_compile(job, pattern, &faults);
	faults_print(&faults, stderr);
	return sequence && faults.count == 0 ? 0 : -1;
}

static int clear(void **state)
{
	(void)state;
	sequence_free(sequence);
	job_free(job);
	pattern_free(pattern);
	return 0;
}

/* Mains 1 to 6 use 1H to 6H, main 7 uses 8H, main 8 uses 10H; the same at the throat. Crosses: 7H,
 * 9H, 11H to 18H, 17T to 11T, 9T, 7T. */
static void the_hole_map(void **state)
{
	(void)state;
	static const int mains[] = {1, 2, 3, 4, 5, 6, 8, 10};
	static const struct hole crosses[] = {
		{END_HEAD, 7},    {END_HEAD, 9},    {END_HEAD, 11},   {END_HEAD, 12},
		{END_HEAD, 13},   {END_HEAD, 14},   {END_HEAD, 15},   {END_HEAD, 16},
		{END_HEAD, 17},   {END_HEAD, 18},   {END_THROAT, 17}, {END_THROAT, 16},
		{END_THROAT, 15}, {END_THROAT, 14}, {END_THROAT, 13}, {END_THROAT, 12},
		{END_THROAT, 11}, {END_THROAT, 9},  {END_THROAT, 7},
	};

	assert_int_equal(pattern->crosses, 19);
	for (int k = 1; k <= 8; k++) {
		assert_int_equal(pattern->main_hole[END_HEAD][k], mains[k - 1]);
		assert_int_equal(pattern->main_hole[END_THROAT][k], mains[k - 1]);
	}
	for (int c = 1; c <= 19; c++)
		assert_true(hole_same(sequence->cross_hole[c], crosses[c - 1]));
}

/* Six bridge holes: start at the throat; main 8 is even, so it ends there too. */
static void the_ends(void **state)
{
	(void)state;
	assert_int_equal(sequence->mains_start, END_THROAT);
	assert_int_equal(sequence->mains_end, END_THROAT);
}

/* Weave 1 and 2, weave 3 with a loop, pull 2 which tensions 1 and 2 together, and so on. */
static void the_pulls_of_the_crosses(void **state)
{
	(void)state;
	int woven = 0, pulls = 0;

	for (int i = 0; i < sequence->move_count; i++) {
		const struct move *move = &sequence->moves[i];
		if (move->action == DO_WEAVE)
			woven = move->number;
		if (move->action != DO_PULL || move->string != STRING_CROSS)
			continue;
		pulls++;
		assert_int_equal(move->pulls_first, pulls == 1 ? 1 : pulls + 1);
		assert_int_equal(move->pulls_last, pulls + 1);
		assert_int_equal(woven, pulls + 2 < 19 ? pulls + 2 : 19);
	}
	assert_int_equal(pulls, 18);
}

static char *read_file(const char *path)
{
	FILE *in = fopen(path, "re");
	char *text = memory_new(1 << 20, 1);

	if (!in)
		fail_msg("cannot open %s", path);
	size_t length = fread(text, 1, (1 << 20) - 1, in);
	fclose(in);
	text[length] = '\0';
	return text;
}

static size_t line_length(const char *text)
{
	return strcspn(text, "\n");
}

static void expect_lines(const char *expected, const char *found)
{
	for (int line = 1; *expected || *found; line++) {
		size_t length = line_length(expected);
		if (length != line_length(found) || strncmp(expected, found, length) != 0)
			fail_msg("line %d: expected \"%.*s\", found \"%.*s\"", line, (int)length,
				 expected, (int)line_length(found), found);
		expected += length + (expected[length] == '\n');
		found += length + (found[length] == '\n');
	}
}

static void the_whole_job(void **state)
{
	(void)state;
	char *expected = read_file(SOURCE_DIR "/tests/sequence/open-16x19.calls");
	char *found = listing_of(sequence);

	expect_lines(expected, found);
	free(expected);
	free(found);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_hole_map),
		cmocka_unit_test(the_ends),
		cmocka_unit_test(the_pulls_of_the_crosses),
		cmocka_unit_test(the_whole_job),
	};
	return cmocka_run_group_tests(tests, compile, clear);
}
