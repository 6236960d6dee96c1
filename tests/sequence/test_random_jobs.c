/* Thousands of made-up rackets, each strung by its moves: nothing may go wrong with any of them. */
#include "base/base.h"
#include "sequence/bed.h"
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

enum { RACKETS = 6000 };

static const uint64_t seed = 20250119;

/* A loop at the throat between neighbouring mains of which one is in the bridge and one is not. */
static bool loops_over_gap(const struct racket *racket, enum frame_end start)
{
	for (int k = 1; k < racket->half; k++) {
		bool ends_at_throat = (k % 2 == 1) == (start == END_HEAD);
		const int *holes = racket->main_hole[END_THROAT];
		if (ends_at_throat && holes[k] <= racket->bridge / 2 &&
		    holes[k + 1] > racket->bridge / 2)
			return true;
	}
	return false;
}

/* No main has a hole with room for a knot: then, and only then, there is none to suggest. That all
 * are full is not needed: the knots to come take room too. */
static int full_holes(const struct racket *racket, enum frame_end end)
{
	int full = 0;

	for (int k = 1; k <= racket->half; k++) {
		struct hole hole = {end, racket->main_hole[end][k]};
		bool taken = false;
		for (int c = 1; c <= racket->crosses; c++)
			taken |= hole_same(racket->cross_hole[c], hole);
		for (int t = 0; t < TIE_OFFS; t++)
			for (int side = 0; side < 2; side++)
				taken |= hole_same(racket->tie_off[t][side], hole);
		full += taken;
	}
	return full;
}

/* Three knots at most lie on one side, and one hole is the string's own. */
static bool may_lack_room(const struct racket *racket)
{
	return racket->half - full_holes(racket, END_HEAD) <= 3 ||
	       racket->half - full_holes(racket, END_THROAT) <= 3;
}

struct tally {
	int refused;
	int warned;
};

static char *judge(struct work *work, const struct racket *racket, struct random *random,
		   void *context)
{
	struct tally *tally = context;

	(void)random;
	tally->refused += work->sequence == NULL;
	tally->warned += work_has(work, "start-gap");
	if (!work->sequence) {
		if (work_has(work, "tie-off-none") && may_lack_room(racket))
			return NULL;
		return memory_copy("is refused");
	}
	bool crosses_gap = loops_over_gap(racket, work->sequence->mains_start);
	if (crosses_gap && !racket->start_forced)
		return memory_copy("loops over the gap where the bridge ends, unasked");
	if (crosses_gap != work_has(work, "start-gap"))
		return memory_copy("must warn of a loop over the gap where the bridge ends, and "
				   "only then");
	char *fault = calls_fault(work->sequence);
	return fault ? fault : bed_and_strings_fault(work->sequence, racket);
}

static void no_move_is_wrong(void **state)
{
	(void)state;
	struct tally tally = {0};
	int wrong = work_judge_all(seed, RACKETS, 0, judge, &tally);

	print_message("%d rackets, %d without room for a knot, %d warned of the bridge\n", RACKETS,
		      tally.refused, tally.warned);
	assert_int_equal(wrong, 0);
	assert_in_range(tally.refused, 1, RACKETS / 10);
	assert_in_range(tally.warned, RACKETS / 50, RACKETS);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(no_move_is_wrong),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
