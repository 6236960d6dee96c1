/* Strings through holes, and over and under each other. */
#include "sequence/bed_state.h"

#include <stdlib.h>

void put_string(struct strung_bed *bed, enum side side, struct hole hole)
{
	if (hole.number < 1 || hole.number > bed->racket->holes[hole.end])
		wrong(bed, "there is no such hole");
	else if (++bed->strings[side][hole.end][hole.number] > 2)
		wrong(bed, "a third string in a hole");
}

/* Where the bridge ends: behind its last hole. */
static bool over_gap(const struct strung_bed *bed, struct hole a, struct hole b)
{
	int bridge = bed->racket->bridge / 2;
	bool a_in = a.end == END_THROAT && a.number <= bridge;
	bool b_in = b.end == END_THROAT && b.number <= bridge;

	return bridge > 0 && a_in != b_in;
}

/* All mains of the long side are in, so it goes straight on to the crosses in their order. */
static bool goes_straight_on(const struct strung_bed *bed, const struct strand *strand,
			     const struct pass *next)
{
	int half = bed->racket->half;
	int mains = 0;

	while (mains < strand->count && strand->passes[mains].kind == STRING_MAIN)
		mains++;
	return mains == half && strand->passes[half - 1].exit.end == bed->racket->crosses_start &&
	       next->kind == STRING_CROSS && next->number == strand->count - half + 1;
}

/* What a one-piece route may do between two holes of one side. */
static void check_run(struct strung_bed *bed, const struct strand *strand, const struct pass *next)
{
	const struct pass *last = &strand->passes[strand->count - 1];
	int run = abs(hole_place(bed, next->entry) - hole_place(bed, last->exit));
	bool straight_on = goes_straight_on(bed, strand, next);
	bool beside = last->kind == STRING_CROSS && next->kind == STRING_CROSS &&
		      next->number == last->number + 1;

	if (run == 0)
		wrong(bed, "back into the hole that it came out of");
	if (run > bed->racket->outside && !straight_on)
		wrong(bed, "%d holes along outside the frame", run);
	if (over_gap(bed, last->exit, next->entry) && !(straight_on && beside))
		wrong(bed, "across the gap where the bridge ends");
	if (!beside && strand->tensioned != strand->count)
		wrong(bed, "goes elsewhere before everything is pulled up");
	if (beside && bed->pulled_up)
		wrong(bed, "everything was pulled up, but it goes on beside the cross before");
	bed->pulled_up = false;
}

/* The way outside the frame from one hole to the next. */
static void check_way(struct strung_bed *bed, const struct strand *strand, const struct pass *next,
		      enum side entry_side)
{
	if (strand->count == 0)
		return;
	const struct pass *last = &strand->passes[strand->count - 1];
	bool in_a_row = last->kind == STRING_MAIN && next->kind == STRING_MAIN;
	if (last->exit_side != entry_side)
		wrong(bed, "the string is on the other side");
	if (in_a_row && last->exit.end != next->entry.end)
		wrong(bed, "the string is at the other end");
	if (last->slack == WOVEN_WITH_LOOP)
		wrong(bed, "the one before is not drawn through yet");
	if (bed->racket->one_piece && !in_a_row)
		check_run(bed, strand, next);
}

static void add_pass(struct strung_bed *bed, enum working_end on, struct pass pass,
		     enum side entry_side)
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

static void check_main_holes(struct strung_bed *bed, const struct move *move)
{
	for (int i = 0; i < 2; i++) {
		struct hole hole = i == 0 ? move->from : move->to;
		if (hole.number != bed->racket->main_hole[hole.end][move->number])
			wrong(bed, "not a hole of that main");
	}
	if (move->from.end == move->to.end)
		wrong(bed, "a main goes from one end to the other");
}

static int mains_of(const struct strand *strand)
{
	int mains = 0;

	for (int main = 1; main <= MAINS_MAX / 2; main++)
		mains += find_pass(strand, STRING_MAIN, main) >= 0;
	return mains;
}

/* Going round the frame from the middle of the head to that of the throat. */
static int way_round(const struct strung_bed *bed, struct hole hole)
{
	const int *holes = bed->racket->holes;

	return hole.end == END_HEAD ? hole.number
				    : holes[END_HEAD] + holes[END_THROAT] + 1 - hole.number;
}

bool they_cross(const struct strung_bed *bed, struct hole cross, int main)
{
	int at = way_round(bed, cross);
	struct hole head = {END_HEAD, bed->racket->main_hole[END_HEAD][main]};
	struct hole throat = {END_THROAT, bed->racket->main_hole[END_THROAT][main]};

	return way_round(bed, head) < at && at < way_round(bed, throat);
}

/* Crosses that are in, of the string on that end, and cross the main. */
static int crosses_to_meet(const struct strung_bed *bed, enum working_end on, int main)
{
	int count = 0;

	for (int cross = 1; cross <= bed->racket->crosses; cross++)
		count += find_pass(&bed->strands[on], STRING_CROSS, cross_of_number(bed, cross)) >=
				 0 &&
			 they_cross(bed, bed->racket->cross_hole[cross], main);
	return count;
}

void follow_feed(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);
	enum working_end on = end_of(bed, move);

	if (on == NOWHERE || move->string != STRING_MAIN || move->number < 1 ||
	    move->number > bed->racket->half) {
		wrong(bed, "no such main");
		return;
	}
	if (move->number != mains_of(&bed->strands[on]) + 1)
		wrong(bed, "mains go outward one by one");
	if (crosses_to_meet(bed, on, move->number) > 0)
		wrong(bed, "crosses are in: a main has to be woven now");
	check_main_holes(bed, move);
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
static void interlace_cross(struct strung_bed *bed, const struct move *move, int cross)
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
		if (find_pass(strand, STRING_MAIN, main) < 0 || !they_cross(bed, move->from, main))
			continue;
		if (!met && bed->woven == 1 && over != bed->racket->weave_over)
			wrong(bed, "the plan wants the first cross to start otherwise");
		met = true;
		bed->over[cross][m] = over ? CROSS_OVER : CROSS_UNDER;
		last = over;
		over = !over;
	}
	/* Where nothing is met: the other way round, as after any even number. */
	if (!met)
		last = !move->weave.first_over;
	if (last != move->weave.last_over)
		wrong(bed, "it does not come out over or under as announced");
}

/* Every main but one has its tension, and the short side its knot. */
static void check_mains_are_in(struct strung_bed *bed, enum working_end long_end)
{
	const struct strand *long_side = &bed->strands[long_end];
	const struct strand *short_side =
		&bed->strands[long_end == END_OF_LEFT ? END_OF_RIGHT : END_OF_LEFT];

	if (!short_side->tied || long_side->tensioned < bed->racket->half - 1 ||
	    long_side->tensioned != long_side->count)
		wrong(bed, "the mains are not done");
}

static void weave_cross(struct strung_bed *bed, const struct move *move)
{
	enum working_end on = end_of_crosses(bed);
	int cross = cross_place(bed, move->from);

	if (!hole_same(move->from, move->to))
		wrong(bed, "a cross uses the same hole on both sides");
	if (cross == 0 || cross != cross_of_number(bed, move->number)) {
		wrong(bed, "not the hole of that cross");
		return;
	}
	if (!bed->racket->one_piece && move->number != bed->woven + 1)
		wrong(bed, "crosses are woven in order");
	if (bed->woven == 0 && move->side != bed->racket->weave_side)
		wrong(bed, "the plan wants the first cross from the other side");
	if (on == END_OF_CROSSES && !bed->strands[on].start_knot)
		wrong(bed, "no starting knot yet");
	if (bed->racket->one_piece && bed->woven == 0)
		check_mains_are_in(bed, on);
	bed->woven++;
	add_pass(bed, on,
		 (struct pass){STRING_CROSS, move->number, WOVEN_WITH_LOOP,
			       move->side == SIDE_LEFT ? SIDE_RIGHT : SIDE_LEFT, move->from,
			       move->to},
		 move->side);
	interlace_cross(bed, move, cross);
}

/* Over and under alternately, counting the crosses that are announced as missing. */
static void interlace_main(struct strung_bed *bed, const struct move *move,
			   const struct strand *strand)
{
	bool from_head = move->from.end == END_HEAD;
	int m = main_from_left(bed, move->side, move->number);
	int crosses = bed->racket->crosses;
	bool over = move->weave.first_over, last = over;
	int met = 0, to_meet = crosses_to_meet(bed, end_of_crosses(bed), move->number);

	if (move->weave.travel != (from_head ? TRAVEL_HEAD_TO_THROAT : TRAVEL_THROAT_TO_HEAD))
		wrong(bed, "it cannot travel that way from that end");
	for (int i = 1; i <= crosses; i++) {
		int cross = from_head ? i : crosses + 1 - i;
		int number = cross_of_number(bed, cross);
		bool is_there = find_pass(strand, STRING_CROSS, number) >= 0 &&
				they_cross(bed, bed->racket->cross_hole[cross], move->number);
		bool announced = move->missing >> number & 1;
		bool amid = met > 0 && met < to_meet;
		if (announced != (amid && !is_there))
			wrong(bed, "cross %d is announced as missing, or is not", number);
		if (!is_there && !announced)
			continue;
		if (is_there) {
			met++;
			bed->over[cross][m] = over ? CROSS_UNDER : CROSS_OVER;
			last = over;
		}
		over = !over;
	}
	if (last != move->weave.last_over)
		wrong(bed, "it does not come out over or under as announced");
}

static void weave_main(struct strung_bed *bed, const struct move *move)
{
	enum working_end on = end_of(bed, move);

	if (!bed->racket->one_piece || on != end_of_crosses(bed) ||
	    move->number != bed->racket->half || crosses_to_meet(bed, on, move->number) == 0) {
		wrong(bed, "only the long side's outermost main is ever woven");
		return;
	}
	check_main_holes(bed, move);
	add_pass(bed, on,
		 (struct pass){STRING_MAIN, move->number, WOVEN_WITH_LOOP, move->side, move->from,
			       move->to},
		 move->side);
	interlace_main(bed, move, &bed->strands[on]);
}

void follow_weave(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);

	if (move->string == STRING_CROSS)
		weave_cross(bed, move);
	else
		weave_main(bed, move);
}

void follow_draw(struct strung_bed *bed)
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
