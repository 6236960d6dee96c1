#include "sequence/internal.h"

#include <stddef.h>

enum { CODE_BITS = 4, CODE_MASK = 15, SLOT_BITS = 2 * CODE_BITS + 1 };

uint64_t state_pack(const struct state *state)
{
	uint64_t key = state->used;

	for (int i = 0; i < state->count; i++) {
		const struct slot *slot = &state->slots[i];
		key = key << CODE_BITS | slot->far_end;
		key = key << CODE_BITS | slot->far_begin;
		key = key << 1 | slot->odd;
	}
	return key;
}

struct state state_unpack(uint64_t key, int count)
{
	struct state state = {.count = count};

	for (int i = count - 1; i >= 0; i--) {
		state.slots[i] = (struct slot){
			.far_end = key >> (CODE_BITS + 1) & CODE_MASK,
			.far_begin = key >> 1 & CODE_MASK,
			.odd = key & 1,
		};
		key >>= SLOT_BITS;
	}
	state.used = (uint8_t)key;
	return state;
}

static bool is_slot(int code)
{
	return code < SLOTS_MAX;
}

static bool use_loose_end(struct state *state, int code)
{
	uint8_t bit = state_loose_end(code);
	bool is_free = !(state->used & bit);

	state->used |= bit;
	return is_free;
}

/* A piece that is whole goes from the start to the delayed main, or from there to the end; and it
 * comes to the main on the side where it started. */
static bool is_whole(int begin, int end, bool odd)
{
	if (begin == AT_START && end == AT_WAY_IN)
		return !odd;
	return begin == AT_WAY_OUT && end == AT_END;
}

/* What an inner cross of a piece was once the end of is no longer of interest; states that differ
 * only in that must be equal. */
static void forget_inner(struct slot *slot)
{
	if (slot->far_begin == NOT_OPEN && slot->far_end == NOT_OPEN)
		slot->odd = false;
}

/* The piece that ends at `a` goes on with the one that begins at `b`. */
static bool join(struct state *state, int a, int b)
{
	struct slot *left = is_slot(a) ? &state->slots[a] : NULL;
	struct slot *right = is_slot(b) ? &state->slots[b] : NULL;
	int begin = left ? left->far_begin : a;
	int end = right ? right->far_end : b;
	bool odd = (left && left->odd) != (right && right->odd);

	if (begin == NOT_OPEN || end == NOT_OPEN || begin == b)
		return false;
	if ((!left && !use_loose_end(state, a)) || (!right && !use_loose_end(state, b)))
		return false;
	if (left)
		left->far_begin = NOT_OPEN;
	if (right)
		right->far_end = NOT_OPEN;
	if (is_slot(begin)) {
		state->slots[begin].far_end = (uint8_t)end;
		state->slots[begin].odd = odd;
	}
	if (is_slot(end)) {
		state->slots[end].far_begin = (uint8_t)begin;
		state->slots[end].odd = odd;
	}
	if (left)
		forget_inner(left);
	if (right)
		forget_inner(right);
	return is_slot(begin) || is_slot(end) || is_whole(begin, end, odd);
}

bool state_add(struct state *state, int from, int to, bool sides_matter)
{
	uint8_t here = (uint8_t)state->count++;

	/* Where sides do not matter nothing is odd, so that fewer states differ. */
	state->slots[here] = (struct slot){
		.far_end = here,
		.far_begin = here,
		.odd = sides_matter,
	};
	return (from == LATER || join(state, from, here)) && (to == LATER || join(state, here, to));
}

static uint8_t shifted(uint8_t code, int by)
{
	return is_slot(code) ? (uint8_t)(code - by) : code;
}

bool state_drop(struct state *state, int keep)
{
	for (int i = 0; i < keep; i++)
		if (state->slots[i].far_end != NOT_OPEN || state->slots[i].far_begin != NOT_OPEN)
			return false;
	for (int i = keep; i < state->count; i++) {
		struct slot slot = state->slots[i];
		slot.far_end = shifted(slot.far_end, keep);
		slot.far_begin = shifted(slot.far_begin, keep);
		state->slots[i - keep] = slot;
	}
	state->count -= keep;
	return true;
}
