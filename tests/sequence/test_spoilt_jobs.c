/* The bed of these tests must be able to tell: no move of a job can be left out, doubled or changed
 * unnoticed. */
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

enum { RACKETS = 400 };

static const uint64_t seed = 20250119;

static bool nudge_number(struct move *move)
{
	move->number++;
	return move->has_string;
}

static bool flip_side(struct move *move)
{
	move->side = other_side(move->side);
	return move->has_string;
}

static bool shift_hole(struct move *move)
{
	move->hole.number++;
	return move->hole.number > 1;
}

static bool shift_from(struct move *move)
{
	move->from.number++;
	return move->from.number > 1;
}

static bool shift_to(struct move *move)
{
	move->to.number++;
	return move->to.number > 1;
}

static bool other_from(struct move *move)
{
	move->from.end = other_end(move->from.end);
	return move->from.number > 0;
}

static bool more_tension(struct move *move)
{
	move->tension.value += quantity_base(move->tension) / move->tension.value > 1 ? 0.5 : 5;
	return move->action == DO_PULL || move->action == DO_SET_TENSION;
}

static bool other_travel(struct move *move)
{
	static const enum travel back[] = {
		[TRAVEL_LEFT_TO_RIGHT] = TRAVEL_RIGHT_TO_LEFT,
		[TRAVEL_RIGHT_TO_LEFT] = TRAVEL_LEFT_TO_RIGHT,
		[TRAVEL_HEAD_TO_THROAT] = TRAVEL_THROAT_TO_HEAD,
		[TRAVEL_THROAT_TO_HEAD] = TRAVEL_HEAD_TO_THROAT,
	};

	move->weave.travel = back[move->weave.travel];
	return move->action == DO_WEAVE;
}

/* Cross 2 is there and said to be missing, or the other way round. */
static bool other_missing(struct move *move)
{
	move->missing ^= UINT64_C(1) << 2;
	return move->action == DO_WEAVE && move->string == STRING_MAIN;
}

static bool other_start(struct move *move)
{
	move->weave.first_over = !move->weave.first_over;
	return move->action == DO_WEAVE;
}

static bool other_way(struct move *move)
{
	move->weave.first_over = !move->weave.first_over;
	move->weave.last_over = !move->weave.last_over;
	return move->action == DO_WEAVE;
}

static bool other_last(struct move *move)
{
	move->weave.last_over = !move->weave.last_over;
	return move->action == DO_WEAVE;
}

static bool one_more_pull(struct move *move)
{
	move->pulls_first--;
	return move->pulls_last > 0;
}

static bool other_clamp(struct move *move)
{
	move->with = (move->with + 1) % CLAMP_KINDS;
	return move->action == DO_CLAMP || move->action == DO_UNCLAMP;
}

static bool other_neighbour(struct move *move)
{
	move->across++;
	return move->action == DO_CLAMP || move->action == DO_UNCLAMP;
}

static bool other_place(struct move *move)
{
	move->outside = !move->outside;
	return move->action == DO_CLAMP || move->action == DO_UNCLAMP;
}

static bool never_suggested(struct move *move)
{
	move->suggested = !move->suggested;
	return move->action == DO_TIE_OFF;
}

static bool next_phase(struct move *move)
{
	move->phase++;
	return move->phase < PHASES;
}

/* Each makes a move wrong; false where it does not apply. */
static const struct {
	const char *name;
	bool (*spoil)(struct move *move);
} spoilers[] = {
	{"number", nudge_number},
	{"side", flip_side},
	{"hole", shift_hole},
	{"from", shift_from},
	{"to", shift_to},
	{"end", other_from},
	{"tension", more_tension},
	{"travel", other_travel},
	{"first", other_start},
	{"last", other_last},
	{"missing", other_missing},
	{"weave", other_way},
	{"pulls", one_more_pull},
	{"clamp", other_clamp},
	{"named", never_suggested},
	{"phase", next_phase},
	{"across", other_neighbour},
	{"outside", other_place},
};

enum { SPOILERS = sizeof(spoilers) / sizeof(spoilers[0]) };

static struct move *copy_moves(const struct sequence *sequence)
{
	struct move *moves = memory_new((size_t)sequence->move_count + 1, sizeof(*moves));

	memcpy(moves, sequence->moves, (size_t)sequence->move_count * sizeof(*moves));
	return moves;
}

static void expect_fault(const struct work *work, const struct racket *racket,
			 struct sequence *spoilt, int number, int at, const char *how)
{
	char *fault = bed_fault(spoilt, racket);

	if (!fault) {
		work_show(work, racket, seed, number, "spoilt, and nobody noticed");
		print_error("move %d, %s: %s\n", at + 1,
			    action_names[work->sequence->moves[at].action], how);
		fail();
	}
	free(fault);
}

/* A cross from a hole before all the mains': whichever way it goes, it is over and under nothing.
 */
static bool meets_nothing(const struct racket *racket, const struct move *move)
{
	return move->string == STRING_CROSS &&
	       racket->main_hole[move->from.end][1] >= move->from.number;
}

/* One field of one move. */
static void spoil_field(const struct work *work, const struct racket *racket, int number, int at,
			int how)
{
	struct sequence spoilt = *work->sequence;

	spoilt.moves = copy_moves(work->sequence);
	bool tells_nothing = spoilers[how].spoil == other_way &&
			     meets_nothing(racket, &work->sequence->moves[at]);
	if (spoilers[how].spoil(&spoilt.moves[at]) && !tells_nothing)
		expect_fault(work, racket, &spoilt, number, at, spoilers[how].name);
	free(spoilt.moves);
}

/* A change of tension too small to tell from rounding, such as 57.0 lb to 253.5 N. */
static bool barely_changes(const struct sequence *sequence, int at)
{
	const struct move *set = &sequence->moves[at];

	if (set->action != DO_SET_TENSION)
		return false;
	for (int i = at - 1; i >= 0; i--)
		if (sequence->moves[i].action == DO_SET_TENSION)
			return fabs(quantity_base(set->tension) -
				    quantity_base(sequence->moves[i].tension)) <
			       2 * BED_TOLERANCE_NEWTON;
	return false;
}

/* One move left out, or done twice. */
static void spoil_count(const struct work *work, const struct racket *racket, int number, int at,
			int change)
{
	struct sequence spoilt = *work->sequence;

	if (change < 0 && barely_changes(work->sequence, at))
		return;
	spoilt.moves = copy_moves(work->sequence);
	if (change < 0)
		memmove(&spoilt.moves[at], &spoilt.moves[at + 1],
			(size_t)(spoilt.move_count - at) * sizeof(struct move));
	else
		memmove(&spoilt.moves[at + 1], &spoilt.moves[at],
			(size_t)(spoilt.move_count - at) * sizeof(struct move));
	spoilt.move_count += change;
	expect_fault(work, racket, &spoilt, number, at, change < 0 ? "left out" : "done twice");
	free(spoilt.moves);
}

static void every_spoilt_move_is_noticed(void **state)
{
	(void)state;
	struct random random = {seed};
	struct racket racket = {0};

	for (int i = 1; i <= RACKETS; i++) {
		struct work work;
		racket_make(&racket, &random, i % 2 == 0);
		work_compile(&work, &racket);
		for (int at = 0; work.sequence && at < work.sequence->move_count; at++) {
			spoil_count(&work, &racket, i, at, -1);
			spoil_count(&work, &racket, i, at, 1);
			spoil_field(&work, &racket, i, at,
				    random_between(&random, 0, SPOILERS - 1));
		}
		work_clear(&work);
	}
	racket_free(&racket);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(every_spoilt_move_is_noticed),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
