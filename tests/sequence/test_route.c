/* The search for one-piece routes against one that simply tries everything, and against the worked
 * example. */
#include "base/base.h"
#include "random.h"
#include "sequence/sequence.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

enum { OUTSIDE_USUAL = 3, FRAMES = 3000, CROSSES_LEAST = 3, CROSSES_MOST = 8, FOUND_MAX = 4096 };

static const uint64_t seed = 1619;

/* ---- trying everything: one step after another, by the rules alone ---- */

struct attempt {
	const struct route_frame *frame;
	bool woven[CROSSES_MAX + 1];
	bool main_strung;
	bool on_other_side;
	int place;
	struct route route;
	struct route *found; /* those with the fewest breaks so far */
	int found_count;
	int fewest;
};

static bool allowed(const struct route_frame *frame, int from, int to)
{
	int low = from < to ? from : to, high = from < to ? to : from;

	if (low == high || high - low > frame->reach)
		return false;
	return !(frame->gap >= 0 && low <= frame->gap && high > frame->gap);
}

static void finish(struct attempt *attempt)
{
	const struct route *route = &attempt->route;
	int last = route->steps[route->count - 1];
	bool knot = last ? attempt->frame->knot_at_cross[last]
			 : attempt->frame->knot_at_main[!route->main_from];

	if (!knot || route->breaks > attempt->fewest)
		return;
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

	if (!allowed(attempt->frame, attempt->place, to))
		return;
	if (what > 0 &&
	    (what == 1 ? route->count != 0
		       : route->count == 0 || route->steps[route->count - 1] != what - 1))
		route->breaks++;
	route->outside += abs(to - attempt->place);
	route->outside_mm += attempt->frame->run_mm[attempt->place][to];
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
	const struct route_frame *frame = attempt->frame;

	if (attempt->route.count == frame->crosses + 1) {
		finish(attempt);
		return;
	}
	for (int c = 1; c <= frame->crosses; c++)
		if (!attempt->woven[c])
			step(attempt, c, frame->cross[c], frame->cross[c]);
	for (int end = 0; end < 2 && !attempt->main_strung && !attempt->on_other_side; end++) {
		attempt->route.main_from = (enum frame_end)end;
		step(attempt, 0, frame->main[end], frame->main[!end]);
	}
}

static int try_everything(const struct route_frame *frame, struct route *found)
{
	struct attempt attempt = {
		.frame = frame,
		.place = frame->start,
		.route = {.delayed = true},
		.found = found,
		.fewest = 1000,
	};

	go_on(&attempt);
	return attempt.found_count;
}

/* ---- made-up frames ---- */

static void make_frame(struct random *random, struct route_frame *frame, bool dense)
{
	int places = 0;
	bool rising = random_chance(random, 50);

	memset(frame, 0, sizeof(*frame));
	frame->crosses = random_between(random, CROSSES_LEAST, CROSSES_MOST);
	for (int i = 1; i <= frame->crosses; i++) {
		places += dense ? 1 : random_between(random, 1, 2);
		frame->cross[rising ? i : frame->crosses + 1 - i] = places;
	}
	places++;
	frame->start = random_chance(random, 50) ? random_between(random, 0, 3)
						 : random_between(random, 0, places);
	frame->main[END_HEAD] = random_between(random, 0, places / 2);
	frame->main[END_THROAT] = random_between(random, places / 2 + 1, places);
	frame->gap = random_chance(random, 30) ? random_between(random, 0, places) : -1;
	frame->reach = random_between(random, 1, ROUTE_REACH_MAX);
	for (int c = 1; c <= frame->crosses; c++)
		frame->knot_at_cross[c] = random_chance(random, 80);
	frame->knot_at_main[END_HEAD] = random_chance(random, 80);
	frame->knot_at_main[END_THROAT] = random_chance(random, 80);
	for (int a = 0; a <= places; a++)
		for (int b = 0; b <= places; b++)
			frame->run_mm[a][b] = 9.0 * abs(a - b) + random_between(random, 0, 4);
}

static bool ranks_before(const struct route *a, const struct route *b)
{
	if (a->outside != b->outside)
		return a->outside < b->outside;
	return a->outside_mm < b->outside_mm - 1e-6;
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
	int wanted = count < ROUTES_MAX ? count : ROUTES_MAX;

	if (routes->count != wanted || routes->more != (count > ROUTES_MAX))
		fail_msg("frame %d of seed %d: %d routes instead of %d", number, (int)seed,
			 routes->count, count);
	for (int i = 0; i < routes->count; i++) {
		const struct route *route = &routes->items[i];
		const struct route *same = find_same(route, found, count);
		int better = 0;
		if (!same || same->breaks != route->breaks || same->outside != route->outside ||
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
	struct route_frame *frame = memory_new(1, sizeof(*frame));
	struct routes *routes = memory_new(1, sizeof(*routes));
	struct route *found = memory_new(FOUND_MAX, sizeof(*found));
	int none = 0, most = 0;

	for (int i = 1; i <= FRAMES; i++) {
		make_frame(&random, frame, i % 3 == 0);
		int count = try_everything(frame, found);
		assert_int_equal(routes_find(frame, routes), count > 0);
		compare(routes, found, count, i);
		none += count == 0;
		most = count > most ? count : most;
	}
	print_message("%d frames, %d without a route, %d routes at most\n", FRAMES, none, most);
	assert_in_range(none, FRAMES / 20, FRAMES * 19 / 20);
	assert_in_range(most, ROUTES_MAX + 1, FOUND_MAX);
	free(frame);
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
static void make_example(struct route_frame *frame, int throat_holes)
{
	int count = 0;

	memset(frame, 0, sizeof(*frame));
	for (int number = 7; number <= HEAD_HOLES; number++)
		if (number != 8 && number != 10)
			frame->cross[++count] = head(number);
	for (int number = throat_holes; number >= 7; number--)
		if (number != 8 && number != 10)
			frame->cross[++count] = throat(throat_holes, number);
	frame->crosses = count;
	frame->start = head(8);
	frame->main[END_HEAD] = head(10);
	frame->main[END_THROAT] = throat(throat_holes, 10);
	frame->gap = throat(throat_holes, 4);
	frame->reach = OUTSIDE_USUAL;
	memset(frame->knot_at_cross, true, sizeof(frame->knot_at_cross));
	memset(frame->knot_at_main, true, sizeof(frame->knot_at_main));
}

/* Crosses 2 to 19 downward, main 8 from 10T up to 10H, cross 1 last: two breaks. An exhaustive
 * search finds exactly four with two breaks: the odd one out, woven last, is cross 1, 3, 4 or 5. */
static void sixteen_by_nineteen_has_four_routes(void **state)
{
	(void)state;
	struct route_frame *frame = memory_new(1, sizeof(*frame));
	struct routes *routes = memory_new(1, sizeof(*routes));
	bool odd_one_out[CROSSES_MAX + 1] = {false};

	make_example(frame, 17);
	assert_int_equal(frame->crosses, 19);
	assert_true(routes_find(frame, routes));
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
	free(frame);
	free(routes);
}

/* With twenty crosses (18 throat holes) there is one without a break: 1 to 20, then main 8 upward.
 */
static void sixteen_by_twenty_has_one_without_a_break(void **state)
{
	(void)state;
	struct route_frame *frame = memory_new(1, sizeof(*frame));
	struct routes *routes = memory_new(1, sizeof(*routes));

	make_example(frame, 18);
	assert_int_equal(frame->crosses, 20);
	assert_true(routes_find(frame, routes));
	assert_int_equal(routes->count, 1);
	assert_int_equal(routes->items[0].breaks, 0);
	assert_int_equal(routes->items[0].main_from, END_THROAT);
	for (int i = 0; i < 20; i++)
		assert_int_equal(routes->items[0].steps[i], i + 1);
	assert_int_equal(routes->items[0].steps[20], 0);
	free(frame);
	free(routes);
}

/* ---- speed ---- */

static double milliseconds_of(const struct route_frame *frame, struct routes *routes)
{
	struct timespec from, to;

	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &from);
	routes_find(frame, routes);
	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &to);
	return (double)(to.tv_sec - from.tv_sec) * 1e3 + (double)(to.tv_nsec - from.tv_nsec) / 1e6;
}

/* Every hole a cross: nothing narrows the search. Twenty-two by twenty-two within a second, and far
 * below it at the reach that is usual; more crosses cost no more than their number. */
static void it_is_quick(void **state)
{
	(void)state;
	static const int crosses[] = {19, 22, 40, CROSSES_MAX};
	struct route_frame *frame = memory_new(1, sizeof(*frame));
	struct routes *routes = memory_new(1, sizeof(*routes));

	for (size_t i = 0; i < sizeof(crosses) / sizeof(crosses[0]); i++) {
		for (int reach = OUTSIDE_USUAL; reach <= ROUTE_REACH_MAX; reach++) {
			memset(frame, 0, sizeof(*frame));
			frame->crosses = crosses[i];
			for (int c = 1; c <= crosses[i]; c++)
				frame->cross[c] = c + 5;
			frame->start = 4;
			frame->main[END_HEAD] = 5;
			frame->main[END_THROAT] = crosses[i] + 6;
			frame->gap = -1;
			frame->reach = reach;
			memset(frame->knot_at_cross, true, sizeof(frame->knot_at_cross));
			double found_ms = milliseconds_of(frame, routes);
			assert_true(routes->count > 0);
			/* Nowhere to tie off: all that there is has to be looked at. */
			memset(frame->knot_at_cross, false, sizeof(frame->knot_at_cross));
			double none_ms = milliseconds_of(frame, routes);
			assert_int_equal(routes->count, 0);
			print_message("%d crosses, reach %d: %.1f ms, none %.1f ms\n", crosses[i],
				      reach, found_ms, none_ms);
			assert_true(found_ms < 1000);
		}
	}
	free(frame);
	free(routes);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(sixteen_by_nineteen_has_four_routes),
		cmocka_unit_test(sixteen_by_twenty_has_one_without_a_break),
		cmocka_unit_test(what_trying_everything_finds_is_found),
		cmocka_unit_test(it_is_quick),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
