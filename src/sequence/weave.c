#include "sequence/weave.h"

static int first_met(int mains, enum side side)
{
	return side == SIDE_LEFT ? 1 : mains;
}

int weave_parity(int mains, enum side side, bool over)
{
	int sum = 1 + first_met(mains, side);

	return over ? sum % 2 : (sum + 1) % 2;
}

bool weave_is_over(int parity, int cross, int main)
{
	return (cross + main) % 2 == parity;
}

struct weave weave_of(int parity, int mains, int cross, enum side side)
{
	return (struct weave){
		.travel = side == SIDE_LEFT ? TRAVEL_LEFT_TO_RIGHT : TRAVEL_RIGHT_TO_LEFT,
		.first_over = weave_is_over(parity, cross, first_met(mains, side)),
		.last_over = weave_is_over(parity, cross, first_met(mains, other_side(side))),
	};
}

const char *travel_name(enum travel travel)
{
	return travel == TRAVEL_LEFT_TO_RIGHT ? "left-to-right" : "right-to-left";
}
