#include "sequence/sequence.h"

#include "base/base.h"
#include "sequence/internal.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

/* What comes next, beside a cross number. */
enum { THE_MAIN = 0, THE_END = -1 };

/* The route being put together, and those worth keeping so far. */
struct hunt {
	const struct search *search;
	int next[CROSSES_MAX + 1]; /* after each cross */
	int after_start;
	int after_main;
	int64_t bound; /* what costs as much has a break too many */
	struct routes *out;
	int64_t costs[ROUTES_MAX];
};

/* The steps, from the pieces put together. */
static struct route string_together(const struct hunt *hunt, uint64_t key, int64_t cost)
{
	uint8_t used = state_unpack(key, 0).used;
	struct route route = {
		.delayed = true,
		.main_from = hunt->search->main_from,
		.breaks = cost_breaks(cost),
		.leftover = cost_leftover(cost),
		.outside = cost_outside(cost),
		.outside_mm = cost_mm(cost),
	};
	int at = used & state_loose_end(AT_START) ? hunt->after_start : THE_MAIN;

	while (at != THE_END) {
		route.steps[route.count++] = at;
		if (at != THE_MAIN)
			at = hunt->next[at];
		else
			at = used & state_loose_end(AT_END) ? hunt->after_main : THE_END;
	}
	assert(route.count == hunt->search->frame->crosses + 1);
	return route;
}

/* Crosses that are missing in the midst of the others when the delayed main is woven: the fewer,
 * the easier. */
static int missing_in_midst(const struct route *route)
{
	bool woven[CROSSES_MAX + 2] = {false};
	int first = CROSSES_MAX, last = 0, missing = 0;

	for (int i = 0; route->steps[i] != THE_MAIN; i++) {
		int cross = route->steps[i];
		woven[cross] = true;
		first = cross < first ? cross : first;
		last = cross > last ? cross : last;
	}
	for (int cross = first; cross <= last; cross++)
		missing += !woven[cross];
	return missing;
}

/* Of routes that rank the same, the easier one; then any fixed order. */
static bool goes_before(const struct route *a, int64_t a_cost, const struct route *b,
			int64_t b_cost)
{
	if (a_cost != b_cost)
		return a_cost < b_cost;
	int more = missing_in_midst(a) - missing_in_midst(b);
	if (more != 0)
		return more < 0;
	return memcmp(a->steps, b->steps, sizeof(a->steps)) < 0;
}

static void keep(struct hunt *hunt, const struct route *route, int64_t cost)
{
	struct route *items = hunt->out->items;
	int at = hunt->out->count;

	if (at == ROUTES_MAX) {
		hunt->out->more = true;
		at--;
	} else {
		hunt->out->count++;
	}
	for (; at > 0 && goes_before(route, cost, &items[at - 1], hunt->costs[at - 1]); at--) {
		items[at] = items[at - 1];
		hunt->costs[at] = hunt->costs[at - 1];
	}
	items[at] = *route;
	hunt->costs[at] = cost;
}

/* Whether a route of that cost is wanted. */
static bool is_wanted(const struct hunt *hunt, int64_t cost)
{
	struct routes *out = hunt->out;

	if (cost >= hunt->bound)
		return false;
	if (out->count < ROUTES_MAX || cost < hunt->costs[out->count - 1])
		return true;
	out->more = true;
	return false;
}

static void take(struct hunt *hunt, int done, const struct turn *turn)
{
	int cross = done + 1;

	if (turn->from == AT_START)
		hunt->after_start = cross;
	else if (turn->from == AT_WAY_OUT)
		hunt->after_main = cross;
	else if (turn->from != LATER)
		hunt->next[search_cross(hunt->search, done, turn->from)] = cross;
	if (turn->to == AT_WAY_IN)
		hunt->next[cross] = THE_MAIN;
	else if (turn->to == AT_END)
		hunt->next[cross] = THE_END;
	else if (turn->to != LATER)
		hunt->next[cross] = search_cross(hunt->search, done, turn->to);
}

static int by_cost(const void *a, const void *b)
{
	const struct turn *left = a, *right = b;
	int64_t difference = left->cost + left->rest - right->cost - right->rest;

	return (difference > 0) - (difference < 0);
}

/* Every wanted route from a state on, the best first, so that the others need not be looked at. */
static void follow(struct hunt *hunt, int done, uint64_t key, int64_t spent)
{
	struct turn turns[TURNS_MAX];

	if (done == hunt->search->frame->crosses) {
		int64_t cost = spent + search_close(hunt->search, key);
		struct route route = string_together(hunt, key, cost);
		keep(hunt, &route, cost);
		return;
	}
	int count = search_turns(hunt->search, done, key, turns);
	qsort(turns, (size_t)count, sizeof(turns[0]), by_cost);
	for (int t = 0; t < count; t++) {
		if (!is_wanted(hunt, spent + turns[t].cost + turns[t].rest))
			continue;
		take(hunt, done, &turns[t]);
		follow(hunt, done + 1, turns[t].after, spent + turns[t].cost);
	}
}

/* Few breaks leave little to look at, and most frames need few. */
static const int breaks_tried[] = {2, 5, CROSSES_MAX};
enum { BREAKS_TRIED = sizeof(breaks_tried) / sizeof(breaks_tried[0]) };

/* Both ways of entering the delayed main, within so many breaks. */
struct searches {
	struct search *by_end[2];
	bool cut;
};

static struct searches search_both(const struct route_frame *frame, bool sides_matter, int breaks)
{
	struct searches both = {0};

	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++) {
		both.by_end[end] = search_new(frame, end, sides_matter, breaks);
		both.cut |= both.by_end[end]->cut;
	}
	return both;
}

static void free_both(struct searches *both)
{
	search_free(both->by_end[END_HEAD]);
	search_free(both->by_end[END_THROAT]);
}

static void collect(const struct searches *both, struct routes *out)
{
	struct hunt hunt = {.out = out};
	int64_t least = NO_WAY;

	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++)
		if (search_least(both->by_end[end]) < least)
			least = search_least(both->by_end[end]);
	if (least == NO_WAY)
		return;
	hunt.bound = cost_of(cost_breaks(least) + 1, 0, 0, 0);
	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++) {
		hunt.search = both->by_end[end];
		if (is_wanted(&hunt, search_least(hunt.search)))
			follow(&hunt, 0, 0, 0);
	}
}

bool routes_find(const struct route_frame *frame, struct routes *out)
{
	bool more = true;

	*out = (struct routes){0};
	for (size_t i = 0; i < BREAKS_TRIED && more; i++) {
		struct searches both = search_both(frame, true, breaks_tried[i]);
		collect(&both, out);
		more = out->count == 0 && both.cut;
		free_both(&both);
	}
	return out->count > 0;
}

static bool is_there_a_way(const struct route_frame *frame, bool sides_matter)
{
	bool found = false, more = true;

	for (size_t i = 0; i < BREAKS_TRIED && more; i++) {
		struct searches both = search_both(frame, sides_matter, breaks_tried[i]);
		found = both.by_end[END_HEAD]->found || both.by_end[END_THROAT]->found;
		more = !found && both.cut;
		free_both(&both);
	}
	return found;
}

/* Whether there would be a way without those rules (bit n: rule n). */
static bool is_way_without(const struct route_frame *frame, unsigned rules, int reach)
{
	struct route_frame *other = memory_new(1, sizeof(*other));

	*other = *frame;
	other->reach = reach;
	if (rules >> ROUTE_RULE_BRIDGE & 1)
		other->gap = -1;
	if (rules >> ROUTE_RULE_KNOT & 1) {
		for (int c = 1; c <= frame->crosses; c++)
			other->knot_at_cross[c] = true;
		other->knot_at_main[END_HEAD] = true;
		other->knot_at_main[END_THROAT] = true;
	}
	bool found = is_there_a_way(other, !(rules >> ROUTE_RULE_SIDES & 1));
	free(other);
	return found;
}

static int count_rules(unsigned rules)
{
	int count = 0;

	for (; rules; rules >>= 1)
		count += (int)(rules & 1);
	return count;
}

unsigned routes_forbidden_by(const struct route_frame *frame, int *reach)
{
	const unsigned all = (1U << ROUTE_RULES) - 1;
	const unsigned longer = 1U << ROUTE_RULE_REACH;

	*reach = ROUTE_REACH_MAX;
	if (!is_way_without(frame, all, ROUTE_REACH_MAX))
		return 0;
	for (int count = 1; count <= ROUTE_RULES; count++) {
		for (unsigned rules = 1; rules <= all; rules++) {
			if (count_rules(rules) != count)
				continue;
			for (*reach = frame->reach + !!(rules & longer); *reach <= ROUTE_REACH_MAX;
			     ++*reach) {
				if (is_way_without(frame, rules, *reach))
					return rules;
				if (!(rules & longer))
					break;
			}
		}
	}
	return 0;
}
