#include "sequence/internal.h"

#include "base/base.h"

#include <math.h>
#include <stdlib.h>

enum { STRING_BITS = 30, OUTSIDE_BITS = 12, LEFTOVER_BITS = 8 };

int64_t cost_of(int breaks, int leftover, int outside, double mm)
{
	int64_t cost = breaks;

	cost = (cost << LEFTOVER_BITS) + leftover;
	cost = (cost << OUTSIDE_BITS) + outside;
	/* In thousandths of a millimetre: a kilometre of string fits. */
	return (cost << STRING_BITS) + llround(mm * 1000);
}

int cost_breaks(int64_t cost)
{
	return (int)(cost >> (LEFTOVER_BITS + OUTSIDE_BITS + STRING_BITS));
}

int cost_leftover(int64_t cost)
{
	return (int)(cost >> (OUTSIDE_BITS + STRING_BITS) & ((1 << LEFTOVER_BITS) - 1));
}

int cost_outside(int64_t cost)
{
	return (int)(cost >> STRING_BITS & ((1 << OUTSIDE_BITS) - 1));
}

double cost_mm(int64_t cost)
{
	return (double)(cost & ((INT64_C(1) << STRING_BITS) - 1)) / 1000;
}

/* Whether the string may run outside from one place to another. */
static bool in_reach(const struct route_frame *frame, int from, int to)
{
	int distance = abs(to - from);
	bool over_gap = frame->gap >= 0 && (from <= frame->gap) != (to <= frame->gap);

	return distance >= 1 && distance <= frame->reach && !over_gap;
}

static int64_t run_cost(const struct route_frame *frame, int from, int to, bool is_break)
{
	return cost_of(is_break, 0, abs(to - from), frame->run_mm[from][to]);
}

static int way_in(const struct search *search)
{
	return search->frame->main[search->main_from];
}

static int way_out(const struct search *search)
{
	return search->frame->main[other_end(search->main_from)];
}

int search_cross(const struct search *search, int done, int slot)
{
	return done - search->layers[done].slots + 1 + slot;
}

/* Where the string may come from or go to at a cross. */
struct way {
	int code;
	int64_t cost;
};

/* Each cross bears the cost of its own break, which is known at once: what comes later has a higher
 * number and is never the cross numbered one less. */
static int ways_from(const struct search *search, int done, struct way ways[static WAYS_MAX])
{
	const struct route_frame *frame = search->frame;
	int cross = done + 1;
	int place = frame->cross[cross];
	int count = 0;

	ways[count++] = (struct way){LATER, cost_of(1, 0, 0, 0)};
	for (int slot = 0; slot < search->layers[done].slots; slot++) {
		int other = search_cross(search, done, slot);
		ways[count++] = (struct way){
			slot, run_cost(frame, frame->cross[other], place, other != cross - 1)};
	}
	if (in_reach(frame, frame->start, place))
		ways[count++] =
			(struct way){AT_START, run_cost(frame, frame->start, place, cross != 1)};
	if (in_reach(frame, way_out(search), place))
		ways[count++] =
			(struct way){AT_WAY_OUT, run_cost(frame, way_out(search), place, true)};
	return count;
}

static int ways_to(const struct search *search, int done, struct way ways[static WAYS_MAX])
{
	const struct route_frame *frame = search->frame;
	int cross = done + 1;
	int place = frame->cross[cross];
	int count = 0;

	ways[count++] = (struct way){LATER, 0};
	for (int slot = 0; slot < search->layers[done].slots; slot++) {
		int other = search_cross(search, done, slot);
		ways[count++] =
			(struct way){slot, run_cost(frame, place, frame->cross[other], false)};
	}
	if (in_reach(frame, place, way_in(search)))
		ways[count++] =
			(struct way){AT_WAY_IN, run_cost(frame, place, way_in(search), false)};
	if (frame->knot_at_cross[cross])
		ways[count++] = (struct way){AT_END, 0};
	return count;
}

/* All turns, whether they lead to a route or not; without what is still to come. */
static int all_turns(const struct search *search, int done, uint64_t key,
		     struct turn turns[static TURNS_MAX])
{
	struct way from[WAYS_MAX], to[WAYS_MAX];
	int from_count = ways_from(search, done, from);
	int to_count = ways_to(search, done, to);
	int slots = search->layers[done].slots;
	int keep = slots + 1 - search->layers[done + 1].slots;
	const struct state before = state_unpack(key, slots);
	int64_t leftover_cost = cost_of(0, search->frame->leftover[done + 1], 0, 0);
	int count = 0;

	for (int f = 0; f < from_count; f++) {
		for (int t = 0; t < to_count; t++) {
			struct state state = before;
			if (!state_add(&state, from[f].code, to[t].code, search->sides_matter) ||
			    !state_drop(&state, keep))
				continue;
			bool leftover = to[t].code == AT_END && cost_breaks(from[f].cost);
			turns[count++] = (struct turn){
				.from = from[f].code,
				.to = to[t].code,
				.after = state_pack(&state),
				.cost = from[f].cost + to[t].cost + (leftover ? leftover_cost : 0),
			};
		}
	}
	return count;
}

int search_turns(const struct search *search, int done, uint64_t key,
		 struct turn turns[static TURNS_MAX])
{
	const struct layer *after = &search->layers[done + 1];
	int count = all_turns(search, done, key, turns);
	int good = 0;

	for (int t = 0; t < count; t++) {
		int index = layer_find(after, turns[t].after);
		if (index < 0 || after->rest[index] >= NO_WAY)
			continue;
		turns[good] = turns[t];
		turns[good++].rest = after->rest[index];
	}
	return good;
}

/* Crosses that the one behind the first `done` can be joined to. */
static int slots_behind(const struct route_frame *frame, int done)
{
	int count = 0;

	if (done == frame->crosses)
		return 0;
	while (count < done && in_reach(frame, frame->cross[done - count], frame->cross[done + 1]))
		count++;
	return count;
}

/* The delayed main may come first of all, or last. */
int64_t search_close(const struct search *search, uint64_t key)
{
	const struct route_frame *frame = search->frame;
	uint8_t used = state_unpack(key, 0).used;
	bool begun = used & state_loose_end(AT_START);
	bool ended = used & state_loose_end(AT_END);

	if (begun != !!(used & state_loose_end(AT_WAY_IN)) ||
	    ended != !!(used & state_loose_end(AT_WAY_OUT)))
		return NO_WAY;
	if (!ended && !frame->knot_at_main[other_end(search->main_from)])
		return NO_WAY;
	if (begun)
		return 0;
	return in_reach(frame, frame->start, way_in(search))
		       ? run_cost(frame, frame->start, way_in(search), false)
		       : NO_WAY;
}

static void find_states(struct search *search)
{
	int crosses = search->frame->crosses;
	struct turn turns[TURNS_MAX];

	for (int done = 0; done <= crosses; done++)
		search->layers[done].slots = slots_behind(search->frame, done);
	layer_add(&search->layers[0], 0, 0);
	for (int done = 0; done < crosses; done++) {
		const struct layer *layer = &search->layers[done];
		for (int i = 0; i < layer->count; i++) {
			int count = all_turns(search, done, layer->keys[i], turns);
			for (int t = 0; t < count; t++) {
				int breaks = layer->breaks[i] + cost_breaks(turns[t].cost);
				if (breaks <= search->breaks_most)
					layer_add(&search->layers[done + 1], turns[t].after,
						  breaks);
				else
					search->cut = true;
			}
		}
	}
}

static bool is_closed(const struct search *search)
{
	const struct layer *last = &search->layers[search->frame->crosses];

	for (int i = 0; i < last->count; i++)
		if (search_close(search, last->keys[i]) < NO_WAY)
			return true;
	return false;
}

static int64_t least_rest(const struct search *search, int done, uint64_t key)
{
	struct turn turns[TURNS_MAX];
	int64_t least = NO_WAY;

	if (done == search->frame->crosses)
		return search_close(search, key);
	int count = search_turns(search, done, key, turns);
	for (int t = 0; t < count; t++)
		if (turns[t].cost + turns[t].rest < least)
			least = turns[t].cost + turns[t].rest;
	return least;
}

static void find_rests(struct search *search)
{
	for (int done = search->frame->crosses; done >= 0; done--) {
		struct layer *layer = &search->layers[done];
		layer->rest = memory_new((size_t)layer->count, sizeof(int64_t));
		for (int i = 0; i < layer->count; i++)
			layer->rest[i] = least_rest(search, done, layer->keys[i]);
	}
}

struct search *search_new(const struct route_frame *frame, enum frame_end main_from,
			  bool sides_matter, int breaks_most)
{
	struct search *search = memory_new(1, sizeof(*search));

	search->frame = frame;
	search->main_from = main_from;
	search->sides_matter = sides_matter;
	search->breaks_most = breaks_most;
	find_states(search);
	search->found = is_closed(search);
	if (search->found)
		find_rests(search);
	return search;
}

void search_free(struct search *search)
{
	for (int done = 0; done <= search->frame->crosses; done++)
		layer_free(&search->layers[done]);
	free(search);
}

int64_t search_least(const struct search *search)
{
	int64_t least = search->found ? search->layers[0].rest[0] : NO_WAY;

	/* One with more breaks than are looked for may be seen in passing, but not the best. */
	return least < NO_WAY && cost_breaks(least) <= search->breaks_most ? least : NO_WAY;
}
