/* Strings through holes, and over and under each other. */
#include "sequence/bed_state.h"

void put_string(struct bed *bed, enum side side, struct hole hole)
{
	if (hole.number < 1 || hole.number > bed->racket->holes[hole.end])
		wrong(bed, "there is no such hole");
	else if (++bed->strings[side][hole.end][hole.number] > 2)
		wrong(bed, "a third string in a hole");
}

/* The way outside the frame from one hole to the next. */
static void check_way(struct bed *bed, const struct strand *strand, const struct pass *next,
		      enum side entry_side)
{
	if (strand->count == 0)
		return;
	const struct pass *last = &strand->passes[strand->count - 1];
	if (last->exit_side != entry_side)
		wrong(bed, "the string is on the other side");
	if (last->kind == STRING_MAIN && next->kind == STRING_MAIN &&
	    last->exit.end != next->entry.end)
		wrong(bed, "the string is at the other end");
	if (last->slack == WOVEN_WITH_LOOP)
		wrong(bed, "the one before is not drawn through yet");
}

static void add_pass(struct bed *bed, enum working_end on, struct pass pass, enum side entry_side)
{
	struct strand *strand = &bed->strands[on];

	if (strand->tied)
		wrong(bed, "that end is tied off already");
	if (find_pass(strand, pass.kind, pass.number) >= 0 || strand->count == PASSES_MAX) {
		wrong(bed, "that string is there already");
		return;
	}
	check_way(bed, strand, &pass, entry_side);
	put_string(bed, entry_side, pass.entry);
	put_string(bed, pass.exit_side, pass.exit);
	strand->passes[strand->count++] = pass;
}

void follow_feed(struct bed *bed)
{
	const struct move *move = this_move(bed);
	enum working_end on = end_of(bed, move);

	if (on == NOWHERE || move->string != STRING_MAIN || move->number < 1 ||
	    move->number > bed->racket->half) {
		wrong(bed, "no such main");
		return;
	}
	if (move->number != bed->strands[on].count + 1)
		wrong(bed, "mains go outward one by one");
	for (int i = 0; i < 2; i++) {
		struct hole hole = i == 0 ? move->from : move->to;
		if (hole.number != bed->racket->main_hole[hole.end][move->number])
			wrong(bed, "not a hole of that main");
	}
	if (move->from.end == move->to.end)
		wrong(bed, "a main goes from one end to the other");
	if (move->number == 1) {
		if (bed->first_end >= 0 && bed->first_end != (int)move->from.end)
			wrong(bed, "both centre mains start at one end");
		bed->first_end = move->from.end;
	}
	add_pass(
		bed, on,
		(struct pass){STRING_MAIN, move->number, THROUGH, move->side, move->from, move->to},
		move->side);
}

/* Over and under alternately from the first main met, as announced. */
static void interlace_cross(struct bed *bed, const struct move *move, int cross)
{
	bool from_left = move->side == SIDE_LEFT;
	bool over = move->weave.first_over, last = over;
	bool met = false;

	if (move->weave.travel != (from_left ? TRAVEL_LEFT_TO_RIGHT : TRAVEL_RIGHT_TO_LEFT))
		wrong(bed, "it cannot travel that way from that side");
	for (int i = 1; i <= 2 * bed->racket->half; i++) {
		int m = from_left ? i : 2 * bed->racket->half + 1 - i;
		int main =
			m <= bed->racket->half ? bed->racket->half + 1 - m : m - bed->racket->half;
		const struct strand *strand =
			&bed->strands[m <= bed->racket->half ? END_OF_LEFT : END_OF_RIGHT];
		if (find_pass(strand, STRING_MAIN, main) < 0)
			continue;
		if (!met && bed->woven == 1 && over != bed->racket->weave_over)
			wrong(bed, "the plan wants the first cross to start otherwise");
		met = true;
		bed->over[cross][m] = over ? CROSS_OVER : CROSS_UNDER;
		last = over;
		over = !over;
	}
	if (last != move->weave.last_over)
		wrong(bed, "it does not come out over or under as announced");
}

void follow_weave(struct bed *bed)
{
	const struct move *move = this_move(bed);
	enum working_end on = end_of_crosses(bed);
	int cross = cross_place(bed, move->from);

	if (!hole_same(move->from, move->to))
		wrong(bed, "a cross uses the same hole on both sides");
	if (cross == 0 || cross != cross_of_number(bed, move->number)) {
		wrong(bed, "not the hole of that cross");
		return;
	}
	if (move->number != bed->woven + 1)
		wrong(bed, "crosses are woven in order");
	if (bed->woven == 0 && move->side != bed->racket->weave_side)
		wrong(bed, "the plan wants the first cross from the other side");
	if (on == END_OF_CROSSES && !bed->strands[on].start_knot)
		wrong(bed, "no starting knot yet");
	bed->woven++;
	add_pass(bed, on,
		 (struct pass){STRING_CROSS, move->number, WOVEN_WITH_LOOP,
			       move->side == SIDE_LEFT ? SIDE_RIGHT : SIDE_LEFT, move->from,
			       move->to},
		 move->side);
	interlace_cross(bed, move, cross);
}

void follow_draw(struct bed *bed)
{
	const struct move *move = this_move(bed);
	enum working_end on;
	int index;
	struct pass *pass = pass_of(bed, &on, &index);

	if (!pass)
		return;
	if (pass->slack != WOVEN_WITH_LOOP)
		wrong(bed, "it is drawn through already");
	if (move->side != pass->exit_side || !hole_same(move->hole, pass->exit))
		wrong(bed, "it is drawn from where it comes out");
	if (bed->head.on != NOWHERE)
		wrong(bed, "the tension head still holds a string");
	pass->slack = THROUGH;
}
