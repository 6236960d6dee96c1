/* Clamps: two of the machine's, and perhaps a starting clamp (common practice, no source). */
#include "sequence/bed_state.h"

#include <stdlib.h>

static enum clamp_kind machine_clamp(const struct strung_bed *bed)
{
	return bed->racket->machine.clamps == CLAMPS_FLYING ? CLAMP_FLYING : CLAMP_FIXED;
}

struct grip *clamp_on(struct strung_bed *bed, enum working_end on, int pass, bool first_hold)
{
	for (int i = 0; i < CLAMPS; i++)
		if (grips(&bed->clamps[i], on, pass) && bed->clamps[i].first_hold == first_hold)
			return &bed->clamps[i];
	return NULL;
}

/* A string that a flying clamp can hold another by: its neighbour, and under tension. */
static bool is_tight_neighbour(struct strung_bed *bed, const struct move *move)
{
	enum working_end on = end_of(bed, move);
	int across = move->across;

	if (move->string == STRING_CROSS) {
		int pass = find_pass(&bed->strands[on], STRING_CROSS, across);
		return abs(across - move->number) == 1 && pass >= 0 &&
		       pass < bed->strands[on].tensioned;
	}
	if (move->number > 1)
		return across == move->number - 1 && bed->strands[on].tensioned >= across;
	enum working_end other = on == END_OF_LEFT ? END_OF_RIGHT : END_OF_LEFT;
	return across == 1 && (bed->strands[other].tensioned > 0 || clamp_on(bed, other, 0, true));
}

/* Main 1 of the side pulled second is held for the first pull: by a starting clamp or a flying one
 * outside the frame where the string comes out, else by a fixed clamp inside where it starts. */
static void check_first_hold(struct strung_bed *bed, const struct pass *pass)
{
	const struct move *move = this_move(bed);
	enum clamp_kind with =
		bed->racket->machine.starting_clamp ? CLAMP_STARTING : machine_clamp(bed);
	bool outside = with != CLAMP_FIXED;

	if (pass->kind != STRING_MAIN || pass->number != 1 || move->side == bed->racket->first_side)
		wrong(bed, "the first hold belongs on the centre main that is pulled second");
	if (move->with != with || move->outside != outside || move->across)
		wrong(bed, "not how this machine holds for the first pull");
	if (!hole_same(move->hole, outside ? pass->exit : pass->entry))
		wrong(bed, "the first hold is at the wrong end");
}

static void check_clamp(struct strung_bed *bed, enum working_end on, int index,
			const struct pass *pass)
{
	const struct move *move = this_move(bed);
	const struct strand *strand = &bed->strands[on];

	if (move->with != machine_clamp(bed) || move->outside)
		wrong(bed, "not a clamp of this machine, or outside the frame");
	if (move->side != pass->exit_side || !hole_same(move->hole, pass->exit))
		wrong(bed, "a clamp goes close to where the string comes out");
	if (move->with == CLAMP_FLYING ? !is_tight_neighbour(bed, move) : move->across != 0)
		wrong(bed, "across a string that holds nothing");
	bool holds_back = bed->way_back && index < strand->tensioned;
	if (!grips(&bed->head, on, index) && !holds_back)
		wrong(bed, "only what the tension head holds is worth clamping");
	if (is_clamped(bed, on, index))
		wrong(bed, "it is clamped already");
}

static void put_clamp(struct strung_bed *bed, enum working_end on, int index,
		      const struct pass *pass)
{
	const struct move *move = this_move(bed);
	bool starting = move->with == CLAMP_STARTING;
	bool first_hold = bed->strands[END_OF_LEFT].tensioned == 0 &&
			  bed->strands[END_OF_RIGHT].tensioned == 0;
	struct grip *free_clamp = NULL;
	int in_use = 0;

	if (first_hold)
		check_first_hold(bed, pass);
	else
		check_clamp(bed, on, index, pass);
	for (int i = 0; i < CLAMPS; i++) {
		bool used = bed->clamps[i].on != NOWHERE;
		in_use += used && (bed->clamps[i].with == CLAMP_STARTING) == starting;
		free_clamp = used ? free_clamp : &bed->clamps[i];
	}
	if (in_use == (starting ? bed->racket->machine.starting_clamp : 2)) {
		wrong(bed, "no clamp is free");
		return;
	}
	*free_clamp = (struct grip){on, index, move->with, move->across, first_hold, move->hole};
}

/* A clamp comes off only while the tension head holds that string's pull or the string beyond it is
 * clamped; or when the knot is tight. */
static bool lets_go(struct strung_bed *bed, const struct grip *clamp)
{
	const struct strand *strand = &bed->strands[clamp->on];

	if (strand->tied || (bed->head.on == clamp->on && bed->head.pass >= clamp->pass))
		return false;
	for (int i = 0; i < CLAMPS; i++)
		if (bed->clamps[i].on == clamp->on && bed->clamps[i].pass > clamp->pass &&
		    !clamp->first_hold)
			return false;
	bool slack = strand->tensioned <= clamp->pass;
	bool centre_slack = bed->strands[END_OF_LEFT].tensioned == 0 &&
			    bed->strands[END_OF_RIGHT].tensioned == 0;
	return !(slack && (!clamp->first_hold || centre_slack));
}

/* Flying: the clamp on the long side's last main stays until the first crosses are clamped. */
static bool leaves_main_early(struct strung_bed *bed, const struct grip *clamp)
{
	const struct strand *strand = &bed->strands[clamp->on];
	int last = strand->tensioned - 1;

	return clamp->with == CLAMP_FLYING && last > clamp->pass &&
	       strand->passes[clamp->pass].kind == STRING_MAIN &&
	       strand->passes[last].kind == STRING_CROSS && !is_clamped(bed, clamp->on, last);
}

static void take_clamp(struct strung_bed *bed, enum working_end on, int index)
{
	const struct move *move = this_move(bed);
	struct grip *clamp = clamp_on(bed, on, index, false);

	if (!clamp || clamp->with != move->with || !hole_same(clamp->hole, move->hole))
		clamp = clamp_on(bed, on, index, true);
	if (!clamp || clamp->with != move->with || clamp->across != move->across ||
	    (clamp->first_hold && clamp->with != CLAMP_FIXED) != move->outside ||
	    !hole_same(clamp->hole, move->hole)) {
		wrong(bed, "no such clamp is there");
		return;
	}
	if (lets_go(bed, clamp) || leaves_main_early(bed, clamp))
		wrong(bed, "a string under tension is let go");
	clamp->on = NOWHERE;
}

void follow_clamp(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);
	enum working_end on;
	int index;
	const struct pass *pass = pass_of(bed, &on, &index);

	if (!pass)
		return;
	if (move->side != pass->exit_side)
		wrong(bed, "on the other side");
	if (move->action == DO_CLAMP)
		put_clamp(bed, on, index, pass);
	else
		take_clamp(bed, on, index);
}
