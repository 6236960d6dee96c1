/* Strings of a bed are alternately interlaced where they cross: ITF Rules of Tennis, Appendix II b;
 * BWF Laws of Badminton, Law 4; WSF racket specification. */
#include "sequence/internal.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

enum { MAINS_LEAST = 3, MAINS_MOST = 24, CROSSES = 12 };

/* What hands do: over and under by turns from the first main met, sides by turns. */
static void weave_by_hand(int mains, enum side side, struct weave weave, bool over[])
{
	for (int met = 0; met < mains; met++)
		over[side == SIDE_LEFT ? met + 1 : mains - met] =
			weave.first_over == (met % 2 == 0);
}

static void check_bed(int mains, enum side side, bool start_over)
{
	bool over[CROSSES + 1][MAINS_MOST + 1];
	const struct mains_met in = {1, mains};
	int parity = weave_parity(1, weave_first_met(in, side), start_over);

	for (int c = 1; c <= CROSSES; c++) {
		struct weave weave = weave_of_cross(parity, in, c, side);
		weave_by_hand(mains, side, weave, over[c]);
		assert_int_equal(weave.travel,
				 side == SIDE_LEFT ? TRAVEL_LEFT_TO_RIGHT : TRAVEL_RIGHT_TO_LEFT);
		assert_int_equal(weave.last_over, over[c][side == SIDE_LEFT ? mains : 1]);
		if (c == 1)
			assert_int_equal(weave.first_over, start_over);
		for (int m = 1; m <= mains; m++) {
			assert_int_equal(over[c][m], weave_is_over(parity, c, m));
			if (m > 1)
				assert_int_not_equal(over[c][m], over[c][m - 1]);
			if (c > 1)
				assert_int_not_equal(over[c][m], over[c - 1][m]);
		}
		side = other_side(side);
	}
}

static void every_crossing_alternates(void **state)
{
	(void)state;
	for (int mains = MAINS_LEAST; mains <= MAINS_MOST; mains++) {
		for (int over = 0; over < 2; over++) {
			check_bed(mains, SIDE_LEFT, over);
			check_bed(mains, SIDE_RIGHT, over);
		}
	}
}

/* With an even number of mains every cross starts the same way and ends the opposite way; with an
 * odd number the starts alternate, and a cross ends as it started. */
static void what_is_announced(void **state)
{
	(void)state;
	const struct mains_met sixteen = {1, 16}, seventeen = {1, 17};
	int even = weave_parity(1, 1, true);
	int odd = even;

	for (int c = 1; c <= CROSSES; c++) {
		enum side side = c % 2 ? SIDE_LEFT : SIDE_RIGHT;
		assert_true(weave_of_cross(even, sixteen, c, side).first_over);
		assert_false(weave_of_cross(even, sixteen, c, side).last_over);
		assert_int_equal(weave_of_cross(odd, seventeen, c, side).first_over, c % 2 == 1);
		assert_int_equal(weave_of_cross(odd, seventeen, c, side).last_over, c % 2 == 1);
	}
}

/* The outermost main left for later: crosses are woven through fifteen of sixteen and alternate all
 * the same; then the main goes through them, under where they are over. */
static void a_main_can_come_later(void **state)
{
	(void)state;
	const struct mains_met fifteen = {2, 16};
	int parity = weave_parity(2, weave_first_met(fifteen, SIDE_LEFT), true);
	bool over[CROSSES + 1][MAINS_MOST + 1];
	enum side side = SIDE_LEFT;

	for (int c = 2; c <= CROSSES; c++) {
		struct weave weave = weave_of_cross(parity, fifteen, c, side);
		for (int met = 0; met < 15; met++)
			over[c][side == SIDE_LEFT ? met + 2 : 16 - met] =
				weave.first_over == (met % 2 == 0);
		side = other_side(side);
	}
	struct weave up = weave_of_main(parity, 1, CROSSES, 2, TRAVEL_THROAT_TO_HEAD);
	for (int c = CROSSES; c >= 2; c--)
		over[c][1] = up.first_over == ((CROSSES - c) % 2 == 1);
	assert_int_equal(up.last_over, !over[2][1]);
	for (int c = 2; c <= CROSSES; c++)
		for (int m = 1; m <= 16; m++) {
			if (m > 1)
				assert_int_not_equal(over[c][m], over[c][m - 1]);
			if (c > 2)
				assert_int_not_equal(over[c][m], over[c - 1][m]);
		}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(every_crossing_alternates),
		cmocka_unit_test(what_is_announced),
		cmocka_unit_test(a_main_can_come_later),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
