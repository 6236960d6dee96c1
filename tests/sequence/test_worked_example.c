/* One racket from the first check to the last knot, as a stringer would write it down: sixteen by
 * nineteen, six bridge holes, two pieces and one. open-16x19*.calls are the whole jobs, read line
 * by line against the rules of the trade (common practice, no published source). */
#include "base/base.h"
#include "sequence/bed.h"
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

	pattern = pattern_read(yaml_read(SOURCE_DIR "/patterns/open-16x19.yaml", &faults));
	job = job_read(yaml_read_text("ridge-court-0042.yaml", plan, &faults));
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

static void expect_listing(const char *file, const struct sequence *of)
{
	char *path = memory_format(SOURCE_DIR "/tests/sequence/%s", file);
	char *expected = read_file(path);
	char *found = listing_of(of);

	expect_lines(expected, found);
	free(path);
	free(expected);
	free(found);
}

static void the_whole_job(void **state)
{
	(void)state;
	expect_listing("open-16x19.calls", sequence);
	assert_null(calls_fault(sequence));
}

/* ---- in one piece ---- */

static struct job *one_piece_job(const char *order)
{
	struct faults faults = {0};
	char *text =
		memory_format("job: ridge-court-0043\npattern: open-16x19\nstringer: apprentice\n"
			      "method: one-piece\ntension: { mains: 54 lb, crosses: 52 lb }\n"
			      "weave: { side: right }\n%s",
			      order);
	struct job *one = job_read(yaml_read_text("ridge-court-0043.yaml", text, &faults));

	faults_print(&faults, stderr);
	assert_non_null(one);
	free(text);
	return one;
}

static void the_whole_job_in_one_piece(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct job *one = one_piece_job("");
	struct sequence *of = sequence_compile(one, pattern, &faults);

	assert_non_null(of);
	assert_int_equal(faults.count, 0);
	expect_listing("open-16x19-one-piece.calls", of);
	assert_null(calls_fault(of));
	sequence_free(of);
	job_free(one);
}

/* Four routes with two breaks: crosses downward, main 8 from 10T up to 10H, and the odd one out
 * last. Best is cross 1, at the edge of the bed. */
static void the_routes(void **state)
{
	(void)state;
	static const int odd_one_out[] = {1, 3, 4, 5};
	struct faults faults = {0};
	struct job *one = one_piece_job("");
	struct routes *routes = memory_new(1, sizeof(*routes));

	assert_true(sequence_routes(one, pattern, routes, &faults));
	assert_int_equal(routes->count, 4);
	for (int i = 0; i < 4; i++) {
		const struct route *route = &routes->items[i];
		assert_true(route->delayed);
		assert_int_equal(route->breaks, 2);
		assert_int_equal(route->main_from, END_THROAT);
		assert_int_equal(route->steps[18], 0);
		assert_int_equal(route->steps[19], odd_one_out[i]);
	}
	free(routes);
	job_free(one);
}

static void the_plan_can_name_another_route(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct job *one = one_piece_job("");
	struct job *other = one_piece_job("order: { route: 2 }\n");
	struct sequence *of = sequence_compile(other, pattern, &faults);

	assert_non_null(of);
	assert_int_equal(of->route->steps[19], 3);
	sequence_free(of);
	of = sequence_compile(one, pattern, &faults);
	assert_non_null(of);
	for (int i = 0; i < 18; i++)
		assert_int_equal(of->route->steps[i], i + 2);
	assert_int_equal(of->route->steps[19], 1);
	/* It ends at 7H, where a two-piece job would begin with a knot at 8H. */
	const struct move *knot = NULL;
	for (int i = 0; i < of->move_count; i++)
		if (of->moves[i].action == DO_TIE_OFF)
			knot = &of->moves[i];
	assert_true(hole_same(knot->from, (struct hole){END_HEAD, 7}));
	assert_true(hole_same(knot->hole, (struct hole){END_HEAD, 8}));
	assert_false(knot->suggested);
	sequence_free(of);
	job_free(one);
	job_free(other);
}

static enum frame_end start_of(const char *name)
{
	struct faults faults = {0};
	char *path = memory_format(SOURCE_DIR "/patterns/%s.yaml", name);
	struct pattern *other = pattern_read(yaml_read(path, &faults));

	assert_non_null(other);
	enum frame_end start = pattern_mains_start(other);
	pattern_free(other);
	free(path);
	return start;
}

/* Six bridge holes: start the mains at the throat; eight: at the head. */
static void the_two_facts_of_the_bridge(void **state)
{
	(void)state;
	assert_int_equal(start_of("open-16x19"), END_THROAT);
	assert_int_equal(start_of("open-16x19-bridge-8"), END_HEAD);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_hole_map),
		cmocka_unit_test(the_ends),
		cmocka_unit_test(the_pulls_of_the_crosses),
		cmocka_unit_test(the_whole_job),
		cmocka_unit_test(the_whole_job_in_one_piece),
		cmocka_unit_test(the_routes),
		cmocka_unit_test(the_plan_can_name_another_route),
		cmocka_unit_test(the_two_facts_of_the_bridge),
	};
	return cmocka_run_group_tests(tests, compile, clear);
}
