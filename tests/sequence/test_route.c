/* The search for one-piece routes against one that simply tries everything, and against the worked
 * example. */
#include "base/base.h"
#include "random.h"
#include "sequence/internal.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { OUTSIDE_USUAL = 3, FRAMES = 3000, CROSSES_LEAST = 3, CROSSES_MOST = 8, FOUND_MAX = 4096 };

static const uint64_t seed = 1619;

/* ---- trying everything: one step after another, by the rules alone ---- */

struct attempt {
	const struct route_problem *problem;
	bool woven[CROSSES_MAX + 1];
	bool main_strung;
	bool on_other_side;
	int place;
	struct route route;
	struct route *found; /* those with the fewest breaks so far */
	int found_count;
	int fewest;
};

static bool allowed(const struct route_problem *problem, int from, int to)
{
	int low = from < to ? from : to, high = from < to ? to : from;

	if (low == high || high - low > problem->reach)
		return false;
	return !(problem->gap >= 0 && low <= problem->gap && high > problem->gap);
}

static void finish(struct attempt *attempt)
{
	const struct route *route = &attempt->route;
	int last = route->steps[route->count - 1];
	bool knot = last ? attempt->problem->knot_at_cross[last]
			 : attempt->problem->knot_at_main[!route->main_from];

	if (!knot || route->breaks > attempt->fewest)
		return;
	int before = route->steps[route->count - 2];
	bool alone = last && (before == 0 || before != last - 1);
	attempt->route.leftover = alone ? attempt->problem->leftover[last] : 0;
	if (route->breaks < attempt->fewest)
		attempt->found_count = 0;
	attempt->fewest = route->breaks;
	assert_true(attempt->found_count < FOUND_MAX);
	attempt->found[attempt->found_count++] = *route;
}

static void go_on(struct attempt *attempt);

static void step(struct attempt *attempt, int what, int to, int out)
{
	struct attempt before = *attempt;
	struct route *route = &attempt->route;

	if (!allowed(attempt->problem, attempt->place, to))
		return;
	if (what > 0 &&
	    (what == 1 ? route->count != 0
		       : route->count == 0 || route->steps[route->count - 1] != what - 1))
		route->breaks++;
	route->outside += abs(to - attempt->place);
	route->outside_mm += attempt->problem->run_mm[attempt->place][to];
	route->steps[route->count++] = what;
	attempt->place = out;
	if (what == 0) {
		attempt->main_strung = true;
	} else {
		attempt->woven[what] = true;
		attempt->on_other_side = !attempt->on_other_side;
	}
	go_on(attempt);
	int count = attempt->found_count, fewest = attempt->fewest;
	*attempt = before;
	attempt->found_count = count;
	attempt->fewest = fewest;
}

static void go_on(struct attempt *attempt)
{
	const struct route_problem *problem = attempt->problem;

	if (attempt->route.count == problem->crosses + 1) {
		finish(attempt);
		return;
	}
	for (int c = 1; c <= problem->crosses; c++)
		if (!attempt->woven[c])
			step(attempt, c, problem->cross[c], problem->cross[c]);
	for (int end = 0; end < 2 && !attempt->main_strung && !attempt->on_other_side; end++) {
		attempt->route.main_from = (enum frame_end)end;
		step(attempt, 0, problem->main[end], problem->main[!end]);
	}
}

static int try_everything(const struct route_problem *problem, struct route *found)
{
	struct attempt attempt = {
		.problem = problem,
		.place = problem->start,
		.route = {.delayed = true},
		.found = found,
		.fewest = 1000,
	};

	go_on(&attempt);
	return attempt.found_count;
}

/* ---- made-up frames ---- */

static void make_problem(struct random *random, struct route_problem *problem, bool dense)
{
	int places = 0;
	bool rising = random_chance(random, 50);

	memset(problem, 0, sizeof(*problem));
	problem->crosses = random_between(random, CROSSES_LEAST, CROSSES_MOST);
	for (int i = 1; i <= problem->crosses; i++) {
		places += dense ? 1 : random_between(random, 1, 2);
		problem->cross[rising ? i : problem->crosses + 1 - i] = places;
	}
	places++;
	problem->start = random_chance(random, 50) ? random_between(random, 0, 3)
						   : random_between(random, 0, places);
	problem->main[END_HEAD] = random_between(random, 0, places / 2);
	problem->main[END_THROAT] = random_between(random, places / 2 + 1, places);
	problem->gap = random_chance(random, 30) ? random_between(random, 0, places) : -1;
	problem->reach = random_between(random, 1, OUTSIDE_MAX);
	for (int c = 1; c <= problem->crosses; c++) {
		problem->knot_at_cross[c] = random_chance(random, 80);
		problem->leftover[c] = random_between(random, 1, 3);
	}
	problem->knot_at_main[END_HEAD] = random_chance(random, 80);
	problem->knot_at_main[END_THROAT] = random_chance(random, 80);
	for (int a = 0; a <= places; a++)
		for (int b = 0; b <= places; b++)
			problem->run_mm[a][b] =
				9.0 * abs(a - b) + (dense ? 0 : random_between(random, 0, 4));
}

/* Crosses that are missing, when the delayed main goes in, between those that it goes through. */
static int missing(const struct route *route)
{
	int low = CROSSES_MAX, high = 0, woven = 0;

	for (; route->steps[woven] != 0; woven++) {
		int cross = route->steps[woven];
		low = cross < low ? cross : low;
		high = cross > high ? cross : high;
	}
	return woven ? high - low + 1 - woven : 0;
}

/* The cross left for last, the run outside, the string it takes; then what eases the delayed main.
 */
static bool ranks_before(const struct route *a, const struct route *b)
{
	if (a->leftover != b->leftover)
		return a->leftover < b->leftover;
	if (a->outside != b->outside)
		return a->outside < b->outside;
	if (fabs(a->outside_mm - b->outside_mm) > 1e-6)
		return a->outside_mm < b->outside_mm;
	return missing(a) < missing(b);
}

static bool same_steps(const struct route *a, const struct route *b)
{
	return a->count == b->count && a->main_from == b->main_from &&
	       memcmp(a->steps, b->steps, (size_t)a->count * sizeof(a->steps[0])) == 0;
}

static const struct route *find_same(const struct route *route, const struct route *found,
				     int count)
{
	for (int i = 0; i < count; i++)
		if (same_steps(route, &found[i]))
			return &found[i];
	return NULL;
}

static void compare(const struct routes *routes, const struct route *found, int count, int number)
{
	int wanted = count < ROUTE_NUMBER_MAX ? count : ROUTE_NUMBER_MAX;

	if (routes->count != wanted || routes->more != (count > ROUTE_NUMBER_MAX))
		fail_msg("frame %d of seed %d: %d routes instead of %d", number, (int)seed,
			 routes->count, count);
	for (int i = 0; i < routes->count; i++) {
		const struct route *route = &routes->items[i];
		const struct route *same = find_same(route, found, count);
		int better = 0;
		if (!same || same->breaks != route->breaks || same->outside != route->outside ||
		    same->leftover != route->leftover ||
		    fabs(same->outside_mm - route->outside_mm) > 0.01)
			fail_msg("frame %d of seed %d: route %d is none", number, (int)seed, i);
		if (find_same(route, routes->items, i))
			fail_msg("frame %d of seed %d: route %d stands twice", number, (int)seed,
				 i);
		for (int f = 0; f < count; f++)
			better += ranks_before(&found[f], route);
		if (better > i || (i > 0 && ranks_before(route, route - 1)))
			fail_msg("frame %d of seed %d: route %d is out of order", number, (int)seed,
				 i);
	}
}

static void what_trying_everything_finds_is_found(void **state)
{
	(void)state;
	struct random random = {seed};
	struct route_problem *problem = memory_new(1, sizeof(*problem));
	struct routes *routes = memory_new(1, sizeof(*routes));
	struct route *found = memory_new(FOUND_MAX, sizeof(*found));
	int none = 0, most = 0;

	for (int i = 1; i <= FRAMES; i++) {
		make_problem(&random, problem, i % 3 == 0);
		int count = try_everything(problem, found);
		assert_int_equal(routes_find(problem, routes), count > 0);
		compare(routes, found, count, i);
		none += count == 0;
		most = count > most ? count : most;
	}
	print_message("%d frames, %d without a route, %d routes at most\n", FRAMES, none, most);
	assert_in_range(none, FRAMES / 20, FRAMES * 19 / 20);
	assert_in_range(most, ROUTE_NUMBER_MAX + 1, FOUND_MAX);
	free(problem);
	free(routes);
	free(found);
}

/* ---- the worked example: sixteen by nineteen, six bridge holes ---- */

enum { HEAD_HOLES = 18 };

static int head(int number)
{
	return number - 1;
}

static int throat(int throat_holes, int number)
{
	return HEAD_HOLES + throat_holes - number;
}

/* Head holes 1 to 18, mains skip 7H 9H 7T 9T; main 7 comes out at 8H, main 8 is 10H and 10T. */
static void make_example(struct route_problem *problem, int throat_holes)
{
	int count = 0;

	memset(problem, 0, sizeof(*problem));
	for (int number = 7; number <= HEAD_HOLES; number++)
		if (number != 8 && number != 10)
			problem->cross[++count] = head(number);
	for (int number = throat_holes; number >= 7; number--)
		if (number != 8 && number != 10)
			problem->cross[++count] = throat(throat_holes, number);
	problem->crosses = count;
	problem->start = head(8);
	problem->main[END_HEAD] = head(10);
	problem->main[END_THROAT] = throat(throat_holes, 10);
	problem->gap = throat(throat_holes, 4);
	problem->reach = OUTSIDE_USUAL;
	memset(problem->knot_at_cross, true, sizeof(problem->knot_at_cross));
	memset(problem->knot_at_main, true, sizeof(problem->knot_at_main));
}

/* Crosses 2 to 19 downward, main 8 from 10T up to 10H, cross 1 last: two breaks. An exhaustive
 * search finds exactly four with two breaks: the odd one out, woven last, is cross 1, 3, 4 or 5. */
static void sixteen_by_nineteen_has_four_routes(void **state)
{
	(void)state;
	struct route_problem *problem = memory_new(1, sizeof(*problem));
	struct routes *routes = memory_new(1, sizeof(*routes));
	bool odd_one_out[CROSSES_MAX + 1] = {false};

	make_example(problem, 17);
	assert_int_equal(problem->crosses, 19);
	assert_true(routes_find(problem, routes));
	assert_int_equal(routes->count, 4);
	assert_false(routes->more);
	for (int i = 0; i < 4; i++) {
		const struct route *route = &routes->items[i];
		assert_int_equal(route->breaks, 2);
		assert_int_equal(route->main_from, END_THROAT);
		assert_int_equal(route->count, 20);
		assert_int_equal(route->steps[18], 0);
		odd_one_out[route->steps[19]] = true;
	}
	assert_true(odd_one_out[1] && odd_one_out[3] && odd_one_out[4] && odd_one_out[5]);
	/* Cross 1 and cross 3 run as far outside; but for cross 3 a place has to be left free when
	 * main 8 is woven. */
	assert_int_equal(routes->items[0].steps[19], 1);
	for (int i = 0; i < 18; i++)
		assert_int_equal(routes->items[0].steps[i], i + 2);
	free(problem);
	free(routes);
}

/* With twenty crosses (18 throat holes) there is one without a break: 1 to 20, then main 8 upward.
 */
static void sixteen_by_twenty_has_one_without_a_break(void **state)
{
	(void)state;
	struct route_problem *problem = memory_new(1, sizeof(*problem));
	struct routes *routes = memory_new(1, sizeof(*routes));

	make_example(problem, 18);
	assert_int_equal(problem->crosses, 20);
	assert_true(routes_find(problem, routes));
	assert_int_equal(routes->count, 1);
	assert_int_equal(routes->items[0].breaks, 0);
	assert_int_equal(routes->items[0].main_from, END_THROAT);
	for (int i = 0; i < 20; i++)
		assert_int_equal(routes->items[0].steps[i], i + 1);
	assert_int_equal(routes->items[0].steps[20], 0);
	free(problem);
	free(routes);
}

/* ---- frames unlike any that is made ---- */

/* Every hole a cross, from beside the start on. */
static void make_dense(struct route_problem *problem, int crosses, int reach)
{
	memset(problem, 0, sizeof(*problem));
	problem->crosses = crosses;
	for (int c = 1; c <= crosses; c++)
		problem->cross[c] = c + 5;
	problem->start = 4;
	problem->main[END_HEAD] = 5;
	problem->main[END_THROAT] = crosses + 6;
	problem->gap = -1;
	problem->reach = reach;
}

static void many_crosses_are_no_hindrance(void **state)
{
	(void)state;
	struct route_problem *problem = memory_new(1, sizeof(*problem));
	struct routes *routes = memory_new(1, sizeof(*routes));

	for (int reach = OUTSIDE_USUAL; reach <= OUTSIDE_MAX; reach++) {
		make_dense(problem, CROSSES_MAX, reach);
		/* Nowhere to tie off. */
		assert_false(routes_find(problem, routes));
		assert_false(routes->given_up);
		memset(problem->knot_at_cross, true, sizeof(problem->knot_at_cross));
		assert_true(routes_find(problem, routes));
		assert_false(routes->given_up);
	}
	free(problem);
	free(routes);
}

/* Fifty-nine crosses and a delayed main that is out of reach until half of them are in: nothing
 * shows early that one attempt after another fails. */
static void an_endless_search_is_given_up(void **state)
{
	(void)state;
	struct route_problem *problem = memory_new(1, sizeof(*problem));
	struct routes *routes = memory_new(1, sizeof(*routes));

	make_dense(problem, CROSSES_MAX - 1, OUTSIDE_MAX);
	problem->start = 2;
	problem->main[END_HEAD] = 0;
	problem->main[END_THROAT] = 50;
	memset(problem->knot_at_cross, true, sizeof(problem->knot_at_cross));
	memset(problem->knot_at_main, true, sizeof(problem->knot_at_main));
	assert_false(routes_find(problem, routes));
	assert_true(routes->given_up);
	free(problem);
	free(routes);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(sixteen_by_nineteen_has_four_routes),
		cmocka_unit_test(sixteen_by_twenty_has_one_without_a_break),
		cmocka_unit_test(what_trying_everything_finds_is_found),
		cmocka_unit_test(many_crosses_are_no_hindrance),
		cmocka_unit_test(an_endless_search_is_given_up),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
