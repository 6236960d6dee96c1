#include "sequence/internal.h"

static const char *const travels[] = {
	[TRAVEL_LEFT_TO_RIGHT] = "left-to-right",
	[TRAVEL_RIGHT_TO_LEFT] = "right-to-left",
	[TRAVEL_HEAD_TO_THROAT] = "head-to-throat",
	[TRAVEL_THROAT_TO_HEAD] = "throat-to-head",
};

int weave_first_met(struct mains_met mains, enum side side)
{
	return side == SIDE_LEFT ? mains.first : mains.last;
}

int weave_parity(int cross, int main, bool over)
{
	return (cross + main + !over) % 2;
}

bool weave_is_over(int parity, int cross, int main)
{
	return (cross + main) % 2 == parity;
}

struct weave weave_of_cross(int parity, struct mains_met mains, int cross, enum side side)
{
	return (struct weave){
		.travel = side == SIDE_LEFT ? TRAVEL_LEFT_TO_RIGHT : TRAVEL_RIGHT_TO_LEFT,
		.first_over = weave_is_over(parity, cross, weave_first_met(mains, side)),
		.last_over = weave_is_over(parity, cross, weave_first_met(mains, other_side(side))),
	};
}

struct weave weave_of_main(int parity, int main, int first, int last, enum travel travel)
{
	return (struct weave){
		.travel = travel,
		.first_over = !weave_is_over(parity, first, main),
		.last_over = !weave_is_over(parity, last, main),
	};
}

const char *travel_name(enum travel travel)
{
	return travels[travel];
}
