/* Thousands of made-up rackets strung in one piece: the bed finds nothing wrong with any move, and
 * a racket is refused only where the rules leave no way. */
#include "base/base.h"
#include "sequence/bed.h"
#include "sequence/internal.h"
#include "sequence/work.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { RACKETS = 800 };

static const uint64_t seed = 4711;

static int place(const struct racket *racket, struct hole hole)
{
	const int *holes = racket->holes;

	return hole.end == END_HEAD ? hole.number - 1
				    : holes[END_HEAD] + holes[END_THROAT] - hole.number;
}

static int main_place(const struct racket *racket, enum frame_end end, int main)
{
	return place(racket, (struct hole){end, racket->main_hole[end][main]});
}

static bool is_shared(const struct racket *racket, struct hole hole)
{
	for (int c = 1; c <= racket->crosses; c++)
		if (hole_same(racket->cross_hole[c], hole))
			return true;
	return false;
}

/* Where the outermost main of the short side finishes, by counting to and fro. */
static enum frame_end end_of_mains(const struct racket *racket, enum frame_end start)
{
	enum frame_end end = start;

	for (int k = 1; k <= racket->half; k++)
		end = end == END_HEAD ? END_THROAT : END_HEAD;
	return end;
}

/* Holes of mains at one end of one side that could take a knot, without the one that the last
 * string comes out of itself, and without the short side's knot if that is tied there. */
static int holes_with_room(const struct racket *racket, enum side side, enum frame_end end,
			   struct hole own, enum frame_end mains_end)
{
	int room = 0;

	for (int k = 1; k <= racket->half; k++) {
		struct hole hole = {end, racket->main_hole[end][k]};
		room += !is_shared(racket, hole) && !hole_same(hole, own);
	}
	/* The short side's knot takes one of them, but not its own main's. */
	return side != racket->weave_side && end == mains_end ? room - 1 : room;
}

/* Mains whose holes lie on either side of that of a cross, both sides together. */
static int mains_met(const struct racket *racket, struct hole cross)
{
	int count = 0;

	for (int k = 1; k <= racket->half; k++)
		count += 2 * (main_place(racket, END_HEAD, k) < place(racket, cross) &&
			      place(racket, cross) < main_place(racket, END_THROAT, k));
	return count;
}

/* The frame as the search should see it; only the room for knots is not told exactly. */
static void make_problem(const struct racket *racket, enum frame_end start,
			 struct route_problem *problem)
{
	int bridge = racket->bridge / 2;
	enum frame_end mains_end = end_of_mains(racket, start);
	enum side last_side = racket->crosses % 2 ? !racket->weave_side : racket->weave_side;

	memset(problem, 0, sizeof(*problem));
	problem->crosses = racket->crosses;
	for (int c = 1; c <= racket->crosses; c++) {
		int from_head = racket->crosses_start == END_HEAD ? c : racket->crosses + 1 - c;
		struct hole hole = racket->cross_hole[from_head];
		bool edge = c == 1 || c == racket->crosses;
		problem->cross[c] = place(racket, hole);
		problem->leftover[c] = (edge ? 1 : MAINS_MAX) + mains_met(racket, hole);
		problem->knot_at_cross[c] =
			holes_with_room(racket, last_side, hole.end, hole, mains_end) > 0;
	}
	problem->start = main_place(racket, !mains_end, racket->half - 1);
	for (int end = 0; end < 2; end++) {
		struct hole own = {(enum frame_end)end, racket->main_hole[end][racket->half]};
		problem->main[end] = place(racket, own);
		problem->knot_at_main[end] =
			holes_with_room(racket, racket->weave_side, own.end, own, mains_end) > 0;
	}
	problem->gap =
		bridge ? racket->holes[END_HEAD] + racket->holes[END_THROAT] - bridge - 1 : -1;
	problem->reach = racket->outside;
}

static bool goes_straight_on(const struct racket *racket, enum frame_end start,
			     const struct route_problem *problem)
{
	enum frame_end end = end_of_mains(racket, start);
	bool from_in = problem->gap >= 0 && problem->main[end] > problem->gap;
	bool to_in = problem->gap >= 0 && problem->cross[1] > problem->gap;

	return end == racket->crosses_start && problem->main[end] != problem->cross[1] &&
	       abs(problem->main[end] - problem->cross[1]) <= problem->reach && from_in == to_in &&
	       problem->knot_at_cross[racket->crosses];
}

struct tally {
	int straight;
	int round;
	int breaks[10];
	int refused;
	int late; /* delayed mains that were woven with crosses missing */
};

/* A cross that has no neighbour in when it is pulled, nor one that is pulled with it: a flying
 * clamp could not hold it. */
static bool leaves_cross_alone(const struct route *route)
{
	bool in[CROSSES_MAX + 2] = {false};

	for (int i = 0; i < route->count; i++) {
		int cross = route->steps[i];
		if (cross == 0)
			continue;
		bool pair = i + 1 < route->count && route->steps[i + 1] == cross + 1;
		if (!in[cross - 1] && !in[cross + 1] && !pair)
			return true;
		in[cross] = true;
	}
	return false;
}

/* The best that there is, and no worse; but for one that flying clamps cannot hold. */
static char *judge_route(const struct work *work, const struct racket *racket,
			 const struct route_problem *problem, bool straight, struct tally *tally)
{
	const struct route *route = work->sequence->route;
	struct routes *best = memory_new(1, sizeof(*best));
	char *fault = NULL;

	if (straight) {
		tally->straight++;
		if (route->delayed || route->breaks)
			fault = memory_copy("goes round where it can go straight on");
	} else {
		tally->round++;
		tally->breaks[route->breaks < 9 ? route->breaks : 9]++;
		bool found = routes_find(problem, best);
		if (!found || route->breaks != best->items[0].breaks ||
		    route->leftover != best->items[0].leftover ||
		    route->outside != best->items[0].outside ||
		    (route->breaks > 2 && !racket->route_named))
			fault = memory_copy("takes another route than the best");
	}
	for (int i = 0; i < work->sequence->move_count; i++)
		tally->late += work->sequence->moves[i].missing != 0;
	free(best);
	if (!fault)
		fault = calls_fault(work->sequence);
	return fault ? fault : bed_and_strings_fault(work->sequence, racket);
}

/* A refusal has to have a ground. */
static char *judge_refusal(const struct work *work, const struct racket *racket,
			   const struct route_problem *problem, bool straight)
{
	struct routes *routes = memory_new(1, sizeof(*routes));
	bool found = straight || routes_find(problem, routes);
	bool alone = found && !straight && leaves_cross_alone(&routes->items[0]);
	int breaks = straight ? 0 : routes->items[0].breaks;

	free(routes);
	if (work_has(work, "adjust-first-pull") && racket->first_pull == 2)
		return NULL;
	if (work_has(work, "tie-off-none") && racket->half <= 3 + racket->crosses)
		return NULL;
	if (work_has(work, "flying-alone") && racket->machine.clamps == CLAMPS_FLYING && alone)
		return NULL;
	/* Too many ways to try them all. */
	if (work_has(work, "route-search") && !found)
		return NULL;
	if (work_has(work, "route-none") && !found)
		return NULL;
	if (work_has(work, "route-breaks") && !racket->route_named && breaks > 2)
		return NULL;
	return memory_copy("is refused");
}

static char *judge(struct work *work, const struct racket *racket, struct random *random,
		   void *context)
{
	struct tally *tally = context;
	struct route_problem *problem = memory_new(1, sizeof(*problem));
	enum frame_end start = racket->mains_start;

	(void)random;
	if (!work->pattern || !work->job) {
		free(problem);
		return memory_copy("cannot be read");
	}
	if (!racket->start_forced)
		start = pattern_mains_start(work->pattern);
	make_problem(racket, start, problem);
	bool straight = goes_straight_on(racket, start, problem);
	char *fault = work->sequence ? judge_route(work, racket, problem, straight, tally)
				     : judge_refusal(work, racket, problem, straight);
	tally->refused += !work->sequence;
	free(problem);
	return fault;
}

static void no_move_is_wrong(void **state)
{
	(void)state;
	struct tally tally = {0};
	int wrong = work_judge_all(seed, RACKETS, 1, judge, &tally);

	print_message(
		"%d straight on, %d round (breaks 0: %d, 1: %d, 2: %d, 3: %d, 4: %d), %d with "
		"crosses missing, %d refused\n",
		tally.straight, tally.round, tally.breaks[0], tally.breaks[1], tally.breaks[2],
		tally.breaks[3], tally.breaks[4], tally.late, tally.refused);
	assert_int_equal(wrong, 0);
	assert_true(tally.straight > RACKETS / 10);
	assert_true(tally.round > RACKETS / 10);
	assert_true(tally.late > 0);
	assert_true(tally.refused < RACKETS * 4 / 5);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(no_move_is_wrong),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
