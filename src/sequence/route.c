/* The way of the long side: straight on where that can be, else the best way round, found by a
 * search that goes depth first along the string. */
#include "sequence/internal.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Where the string can be, each a bit of a set: at the start, at a cross (its number), at either
 * hole of the delayed main. */
enum { START = 0, MAIN_HEAD = CROSSES_MAX + 1, MAIN_THROAT = CROSSES_MAX + 2, NODES };

static_assert(NODES <= 64, "a set of nodes is a uint64_t");

/* Frames in use take a few thousand steps; this many take a fraction of a second. */
enum { STEPS_MOST = 2000000 };

static const uint64_t main_nodes = UINT64_C(1) << MAIN_HEAD | UINT64_C(1) << MAIN_THROAT;

/* No route goes on from node `at` to all that are left with that many breaks or fewer. */
struct failure {
	uint64_t left;
	int at;
	int breaks;
};

enum { FAILURES_BITS = 14, ANY_BREAKS = CROSSES_MAX + 1 };

struct search {
	const struct route_problem *problem;
	uint64_t near[NODES]; /* nodes that the string may run to from each */
	uint64_t knots;       /* nodes with room for a knot */
	bool sides_matter;    /* false: as if a cross did not change the side */
	struct routes *out;   /* NULL: whether there is one is all that matters */
	int found;
	bool cut;       /* the limit on breaks ended an attempt */
	int steps_left; /* at 0 the search is given up */
	int count;      /* nodes visited so far: */
	int visited[CROSSES_MAX + 1];
	struct failure *failures; /* a hash table; a new one replaces the one in its place */
};

static uint64_t bit(int node)
{
	return UINT64_C(1) << node;
}

static int lowest(uint64_t nodes)
{
	return __builtin_ctzll(nodes);
}

static bool is_main(int node)
{
	return node == MAIN_HEAD || node == MAIN_THROAT;
}

static int other_main(int node)
{
	return MAIN_HEAD + MAIN_THROAT - node;
}

static int place_of(const struct route_problem *problem, int node)
{
	if (node == START)
		return problem->start;
	return is_main(node) ? problem->main[node - MAIN_HEAD] : problem->cross[node];
}

/* Whether the string may run outside from one place to another. */
static bool may_run(const struct route_problem *problem, int from, int to)
{
	int distance = abs(to - from);
	bool over_gap = problem->gap >= 0 && (from <= problem->gap) != (to <= problem->gap);

	return distance >= 1 && distance <= problem->reach && !over_gap;
}

static uint64_t all_nodes(const struct route_problem *problem)
{
	return ((UINT64_C(2) << problem->crosses) - 2) | main_nodes;
}

static void see_problem(struct search *search)
{
	const struct route_problem *problem = search->problem;

	for (int from = START; from < NODES; from++) {
		if (!((all_nodes(problem) | bit(START)) & bit(from)))
			continue;
		uint64_t to = all_nodes(problem) & ~(is_main(from) ? main_nodes : 0);
		for (; to; to &= to - 1)
			if (may_run(problem, place_of(problem, from),
				    place_of(problem, lowest(to))))
				search->near[from] |= bit(lowest(to));
	}
	for (int cross = 1; cross <= problem->crosses; cross++)
		if (problem->knot_at_cross[cross])
			search->knots |= bit(cross);
	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++)
		if (problem->knot_at_main[end])
			search->knots |= bit(MAIN_HEAD + (int)end);
}

/* Whether the string is on the side opposite to the start: each cross changes the side. */
static bool is_on_other_side(const struct search *search, uint64_t left)
{
	int crosses_left = __builtin_popcountll(left & ~main_nodes);

	return search->sides_matter && (search->problem->crosses - crosses_left) % 2 != 0;
}

/* Whether each of the strings left can still be reached, taken by itself. */
static bool can_reach(const struct search *search, int at, uint64_t left)
{
	uint64_t from = search->near[at] & left, fresh = from;

	while (fresh) {
		uint64_t near = 0;
		for (; fresh; fresh &= fresh - 1) {
			int node = lowest(fresh);
			near |= search->near[is_main(node) ? other_main(node) : node];
		}
		fresh = near & left & ~from;
		from |= fresh;
	}
	return !(left & ~main_nodes & ~from) && (!(left & main_nodes) || (from & main_nodes));
}

/* At least so many breaks: every block of crosses left begins with one, unless it goes on from
 * here. */
static int breaks_to_come(int at, uint64_t left)
{
	return __builtin_popcountll(left & ~(left << 1) & ~main_nodes & ~bit(at + 1));
}

/* Crosses still missing between the first and the last one woven when the delayed main goes in: the
 * fewer, the easier. */
static int missing_between(const struct route *route)
{
	uint64_t woven = 0;

	for (int i = 0; route->steps[i] != 0; i++)
		woven |= bit(route->steps[i]);
	if (!woven)
		return 0;
	int first_to_last = 64 - __builtin_clzll(woven) - __builtin_ctzll(woven);
	return first_to_last - __builtin_popcountll(woven);
}

/* Below 0 if route a is the better one of two with as many breaks. */
static int compare(const struct route *a, const struct route *b)
{
	/* The same runs in another order add up to the same. */
	int64_t a_um = llround(a->outside_mm * 1000), b_um = llround(b->outside_mm * 1000);

	if (a->leftover != b->leftover)
		return a->leftover - b->leftover;
	if (a->outside != b->outside)
		return a->outside - b->outside;
	if (a_um != b_um)
		return a_um < b_um ? -1 : 1;
	int more = missing_between(a) - missing_between(b);
	for (int i = 0; i < a->count && more == 0; i++)
		more = a->steps[i] - b->steps[i];
	return more;
}

static void keep(struct routes *out, const struct route *route)
{
	int at = out->count;

	if (at == ROUTE_NUMBER_MAX) {
		out->more = true;
		at--;
		if (compare(route, &out->items[at]) >= 0)
			return;
	} else {
		out->count++;
	}
	for (; at > 0 && compare(route, &out->items[at - 1]) < 0; at--)
		out->items[at] = out->items[at - 1];
	out->items[at] = *route;
}

/* The route from a place along these nodes. */
static struct route route_along(const struct route_problem *problem, int place, const int *nodes,
				int count)
{
	struct route route = {.count = count};
	int before = START;
	bool is_break = false;

	for (int i = 0; i < count; i++) {
		int node = nodes[i], to = place_of(problem, node);
		bool main = is_main(node);
		is_break = !main && node != before + 1;
		route.breaks += is_break;
		route.outside += abs(to - place);
		route.outside_mm += problem->run_mm[place][to];
		route.steps[i] = main ? 0 : node;
		route.delayed |= main;
		if (main)
			route.main_from = (enum frame_end)(node - MAIN_HEAD);
		before = main ? other_main(node) : node;
		place = place_of(problem, before);
	}
	if (is_break)
		route.leftover = problem->leftover[before];
	return route;
}

static struct failure *failure_of(const struct search *search, int at, uint64_t left)
{
	uint64_t hash = (left ^ (uint64_t)at << 56) * UINT64_C(0x9e3779b97f4a7c15);

	return &search->failures[hash >> (64 - FAILURES_BITS)];
}

/* Whether it is clear at once that no route goes on from here. */
static bool is_hopeless(struct search *search, int at, uint64_t left, int breaks_left)
{
	const struct failure *failure = failure_of(search, at, left);

	if (failure->left == left && failure->at == at && failure->breaks >= breaks_left) {
		search->cut |= failure->breaks != ANY_BREAKS;
		return true;
	}
	if (!(search->knots & left) || !can_reach(search, at, left))
		return true;
	if (breaks_to_come(at, left) <= breaks_left)
		return false;
	search->cut = true;
	return true;
}

static void finish(struct search *search, int at)
{
	if (!(search->knots & bit(at)))
		return;
	search->found++;
	if (search->out) {
		struct route route = route_along(search->problem, search->problem->start,
						 search->visited, search->count);
		keep(search->out, &route);
	}
}

/* Follows the string from a node to those that are left. */
static void go_on(struct search *search, int at, uint64_t left, int breaks_left)
{
	if (search->steps_left == 0 || (search->found > 0 && !search->out))
		return;
	search->steps_left--;
	if (!left) {
		finish(search, at);
		return;
	}
	if (is_hopeless(search, at, left, breaks_left))
		return;
	uint64_t next = search->near[at] & left;
	if (is_on_other_side(search, left))
		next &= ~main_nodes;
	int found = search->found;
	bool cut = search->cut;
	search->cut = false;
	for (; next; next &= next - 1) {
		int to = lowest(next);
		bool main = is_main(to);
		search->visited[search->count++] = to;
		go_on(search, main ? other_main(to) : to, left & ~(main ? main_nodes : bit(to)),
		      breaks_left - (!main && to != at + 1));
		search->count--;
	}
	if (search->found == found && search->steps_left > 0)
		*failure_of(search, at, left) =
			(struct failure){left, at, search->cut ? breaks_left : ANY_BREAKS};
	search->cut |= cut;
}

/* Whether there is a route; the best go to `out`, unless it is NULL. Takes no more than *steps_left
 * steps, and subtracts them. */
static bool find(const struct route_problem *problem, bool sides_matter, struct routes *out,
		 int *steps_left)
{
	struct search search = {
		.problem = problem,
		.sides_matter = sides_matter,
		.out = out,
		.cut = true,
		.steps_left = *steps_left,
		.failures = memory_new((size_t)1 << FAILURES_BITS, sizeof(struct failure)),
	};

	see_problem(&search);
	for (int breaks = 0; search.cut && !search.found; breaks++) {
		search.cut = false;
		go_on(&search, START, all_nodes(problem), breaks);
	}
	free(search.failures);
	*steps_left = search.steps_left;
	return search.found;
}

bool routes_find(const struct route_problem *problem, struct routes *out)
{
	int steps_left = STEPS_MOST;

	*out = (struct routes){0};
	find(problem, true, out, &steps_left);
	out->given_up = steps_left == 0;
	return out->count > 0;
}

/* ---- The way of a job ---- */

/* Every run outside as string, where the pattern measures the head. */
static void measure_runs(const struct pattern *pattern, struct route_problem *problem)
{
	struct bed bed;
	int places = pattern_hole_count(pattern);

	if (!bed_of_pattern(pattern, &bed))
		return;
	for (int from = 0; from < places; from++)
		for (int to = 0; to < places; to++)
			problem->run_mm[from][to] =
				length_outside_mm(&bed, pattern, pattern_hole_at(pattern, from),
						  pattern_hole_at(pattern, to));
}

/* A cross left for last is easiest at the edge of the bed, where it has one neighbour; then, the
 * fewer mains it meets. */
static void rank_leftovers(const struct sequence *sequence, struct route_problem *problem)
{
	for (int cross = 1; cross <= problem->crosses; cross++) {
		bool edge = cross == 1 || cross == problem->crosses;
		problem->leftover[cross] = edge ? 1 : MAINS_MAX;
		for (int k = 1; k <= pattern_half(sequence->pattern); k++)
			problem->leftover[cross] +=
				2 *
				pattern_meets(sequence->pattern, sequence->cross_hole[cross], k);
	}
}

/* Every cross changes the side, so the number of crosses says where the string ends. */
static void find_room(const struct sequence *sequence, struct route_problem *problem)
{
	enum side entry = sequence->job->weave_side;

	if (problem->crosses % 2 == 0)
		entry = other_side(entry);
	for (int cross = 1; cross <= problem->crosses; cross++) {
		struct step step = cross_step(sequence, cross, entry);
		problem->knot_at_cross[cross] = tie_off_has_room(sequence, &step);
	}
	/* Comes to the main on its own side, or not at all. */
	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++) {
		struct step step = late_main_step(sequence, other_end(end));
		problem->knot_at_main[end] = tie_off_has_room(sequence, &step);
	}
}

static void fill_problem(const struct sequence *sequence, struct route_problem *problem)
{
	const struct pattern *pattern = sequence->pattern;
	int half = pattern_half(pattern);
	int bridge = pattern->bridge / 2;

	problem->crosses = pattern->crosses;
	for (int cross = 1; cross <= pattern->crosses; cross++)
		problem->cross[cross] = pattern_hole_index(pattern, sequence->cross_hole[cross]);
	enum frame_end start = pattern_main_end(sequence->mains_start, half - 1);
	problem->start = pattern_hole_index(pattern, pattern_main_hole(pattern, start, half - 1));
	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++)
		problem->main[end] =
			pattern_hole_index(pattern, pattern_main_hole(pattern, end, half));
	/* The row of places ends in the middle of the throat, with the bridge's holes. */
	problem->gap = bridge > 0 ? pattern_hole_count(pattern) - bridge - 1 : -1;
	problem->reach = sequence->job->outside;
	rank_leftovers(sequence, problem);
	find_room(sequence, problem);
	measure_runs(pattern, problem);
}

/* Straight on from the last main to the crosses in their order. */
static bool go_straight_on(const struct sequence *sequence, const struct route_problem *problem,
			   struct route *out)
{
	int from = problem->main[sequence->mains_end];
	int nodes[CROSSES_MAX];

	if (sequence->mains_end != sequence->crosses_start ||
	    !may_run(problem, from, problem->cross[1]) || !problem->knot_at_cross[problem->crosses])
		return false;
	for (int i = 0; i < problem->crosses; i++)
		nodes[i] = i + 1;
	*out = route_along(problem, from, nodes, problem->crosses);
	return true;
}

/* ---- Why there is none ---- */

enum {
	RULE_KNOT = 1,   /* room for a knot where it ends */
	RULE_BRIDGE = 2, /* not across the bridge's gap */
	RULE_SIDES = 4,  /* every cross changes the side */
	RULE_REACH = 8,  /* no longer run outside */
	RULES_ALL = 15,
};

/* Whether there would be a route without those rules. */
static bool is_way_without(const struct route_problem *problem, unsigned rules, int reach,
			   int *steps_left)
{
	struct route_problem eased = *problem;

	eased.reach = reach;
	if (rules & RULE_BRIDGE)
		eased.gap = -1;
	if (rules & RULE_KNOT) {
		memset(eased.knot_at_cross, true, sizeof(eased.knot_at_cross));
		memset(eased.knot_at_main, true, sizeof(eased.knot_at_main));
	}
	return find(&eased, !(rules & RULE_SIDES), NULL, steps_left);
}

/* What the string would have to do against these rules. */
static char *say_forbidden(const struct sequence *sequence, unsigned rules, int reach)
{
	struct text out = {0};

	if (rules & RULE_KNOT)
		text_add(&out, ", and end where every hole for a knot has two strings already");
	if (rules & RULE_BRIDGE)
		text_add(&out, ", and cross the gap where the bridge ends");
	if (rules & RULE_SIDES)
		text_format(&out,
			    ", and come to main %d on the other side, as every cross changes the "
			    "side",
			    pattern_half(sequence->pattern));
	if (rules & RULE_REACH)
		text_format(&out,
			    ", and run %d holes along outside the frame, where %d is the limit "
			    "(order: outside)",
			    reach, sequence->job->outside);
	char *rules_told = memory_copy(text_string(&out) + strlen(", and "));
	text_free(&out);
	return rules_told;
}

/* The fewest rules without which there would be a route, and the shortest run. */
static char *what_is_forbidden(const struct sequence *sequence, const struct route_problem *problem)
{
	int steps_left = STEPS_MOST;

	if (!is_way_without(problem, RULES_ALL, OUTSIDE_MAX, &steps_left) && steps_left > 0)
		return memory_format("run more than %d holes along outside the frame", OUTSIDE_MAX);
	for (int count = 1; count <= __builtin_popcount(RULES_ALL) && steps_left > 0; count++) {
		for (unsigned rules = 1; rules <= RULES_ALL; rules++) {
			bool longer = rules & RULE_REACH;
			int most = longer ? OUTSIDE_MAX : problem->reach;
			for (int reach = problem->reach + longer; reach <= most; reach++)
				if (__builtin_popcount(rules) == count &&
				    is_way_without(problem, rules, reach, &steps_left))
					return say_forbidden(sequence, rules, reach);
		}
	}
	/* The search was given up. */
	return memory_copy("break the rules of its way round the frame");
}

bool find_routes(const struct builder *builder, struct routes *out)
{
	const struct sequence *sequence = builder->sequence;
	struct position position = sequence->job->method_position;
	const char *name = sequence->pattern->name;
	struct route_problem problem = {0};

	fill_problem(sequence, &problem);
	*out = (struct routes){0};
	if (go_straight_on(sequence, &problem, &out->items[0]))
		out->count = 1;
	else
		routes_find(&problem, out);
	if (out->given_up) { /* only patterns unlike any frame come to this */
		builder_fault(
			builder, out->count ? FAULT_WARNING : FAULT_ERROR, position, "route-search",
			"there are too many ways to string %s in one piece to try them all%s", name,
			out->count ? ": the route taken may not be the best"
				   : ", and none was found: string it in two pieces");
	} else if (!out->count) {
		char *forbidden = what_is_forbidden(sequence, &problem);
		builder_fault(
			builder, FAULT_ERROR, position, "route-none",
			"%s cannot be strung in one piece: the string would have to %s; two-piece "
			"works",
			name, forbidden);
		free(forbidden);
	}
	return out->count > 0;
}
