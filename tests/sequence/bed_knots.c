/* Ends, tied to strings that are there already. */
#include "sequence/bed_state.h"

/* A string under tension, other than the one that is tied, goes through this hole. */
static bool is_anchor(const struct strung_bed *bed, enum side side, struct hole hole,
		      const struct pass *own)
{
	for (enum working_end on = 0; on < WORKING_ENDS; on++) {
		const struct strand *strand = &bed->strands[on];
		for (int i = 0; i < strand->count; i++) {
			const struct pass *pass = &strand->passes[i];
			bool here = pass->kind == STRING_CROSS ||
				    (on == END_OF_LEFT) == (side == SIDE_LEFT);
			if (pass != own && here && pass->slack == TENSIONED &&
			    (hole_same(pass->entry, hole) || hole_same(pass->exit, hole)))
				return true;
		}
	}
	return false;
}

/* Crosses that begin at the other end than the pattern has it: each knot takes the other one's
 * hole, if that is a main's. */
static struct hole turned_hole(const struct strung_bed *bed, enum tie_off other, enum side side,
			       struct hole near)
{
	struct hole named = bed->racket->tie_off[other][side];

	for (int k = 1; k <= bed->racket->half; k++)
		if (named.number && named.number == bed->racket->main_hole[named.end][k] &&
		    !hole_same(named, near))
			return named;
	return (struct hole){0};
}

/* The hole that the pattern names for a knot here; number 0: none of use. A one-piece route may end
 * where the pattern has another knot in mind. */
static struct hole named_for(const struct strung_bed *bed, enum side side, const struct pass *own)
{
	const struct racket *racket = bed->racket;
	const struct hole none = {0};
	enum tie_off tie_off = TIE_OFF_CROSS_END;

	if (own->kind == STRING_MAIN)
		tie_off = TIE_OFF_MAINS;
	else if (racket->turned)
		return turned_hole(bed, TIE_OFF_CROSS_START, side, own->exit);
	else if (racket->one_piece && own->number == 1)
		tie_off = TIE_OFF_CROSS_START;
	else if (own->number != racket->crosses)
		return none;
	struct hole named = racket->tie_off[tie_off][side];
	if (named.number == 0)
		return none;
	/* Where the mains end is for the plan to say; where the crosses end, for the pattern. */
	if ((tie_off == TIE_OFF_MAINS || racket->one_piece) && named.end != own->exit.end)
		return none;
	return bed->strings[side][named.end][named.number] < 2 ? named : none;
}

/* What the pattern names no hole for is a suggestion, and that is said; and only there. */
static void check_hole(struct strung_bed *bed, struct hole named, struct hole near)
{
	const struct move *move = this_move(bed);

	if (move->suggested != (named.number == 0))
		wrong(bed, "a suggestion is one where the pattern names no hole of use");
	if (named.number && !hole_same(named, move->hole))
		wrong(bed, "the pattern names another hole");
	if (!named.number && bed->suggestion_count < 4)
		bed->suggestions[bed->suggestion_count++] = (struct suggestion){
			move->side, near, move->hole, move->string == STRING_MAIN};
}

static void follow_start_knot(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);
	struct strand *strand = &bed->strands[END_OF_CROSSES];

	if (bed->racket->one_piece)
		wrong(bed, "one piece has no starting knot");
	if (move->string != STRING_CROSS || move->number != 1)
		wrong(bed, "the starting knot is that of the first cross");
	if (strand->start_knot)
		wrong(bed, "a second starting knot");
	if (move->side != bed->racket->weave_side)
		wrong(bed, "the first cross starts on the other side");
	if (!is_anchor(bed, move->side, move->hole, NULL))
		wrong(bed, "nothing to tie to there");
	/* Its hole may be full: mains that end where none is named are tied alike on both sides. */
	struct hole near = bed->racket->cross_hole[cross_of_number(bed, 1)];
	struct hole named = bed->racket->turned
				    ? turned_hole(bed, TIE_OFF_CROSS_END, move->side, near)
				    : bed->racket->tie_off[TIE_OFF_CROSS_START][move->side];
	if (named.number && bed->strings[move->side][named.end][named.number] > 1)
		named.number = 0;
	check_hole(bed, named, near);
	put_string(bed, move->side, move->hole);
	strand->start_knot = true;
	strand->start_anchor = move->hole;
}

void follow_tie_off(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);
	enum working_end on;
	int index;
	const struct pass *pass = pass_of(bed, &on, &index);

	if (!pass)
		return;
	struct strand *strand = &bed->strands[on];
	if (index != strand->count - 1 || strand->tensioned != strand->count)
		wrong(bed, "tied off before all is tensioned");
	if (move->side != pass->exit_side || !hole_same(move->from, pass->exit))
		wrong(bed, "the end comes out elsewhere");
	if (!is_anchor(bed, move->side, move->hole, pass))
		wrong(bed, "nothing to tie to there");
	if (strand->through_anchor)
		wrong(bed, "tied off already");
	check_hole(bed, named_for(bed, move->side, pass), pass->exit);
	put_string(bed, move->side, move->hole);
	strand->through_anchor = true;
	strand->anchor = move->hole;
}

void follow_knot(struct strung_bed *bed)
{
	const struct move *move = this_move(bed);
	enum working_end on;
	int index;

	if (move->start) {
		follow_start_knot(bed);
		return;
	}
	const struct pass *pass = pass_of(bed, &on, &index);
	if (!pass)
		return;
	struct strand *strand = &bed->strands[on];
	if (!strand->through_anchor || strand->tied || !hole_same(strand->anchor, move->hole))
		wrong(bed, "a knot where no end was led through");
	if (move->side != pass->exit_side)
		wrong(bed, "the end is on the other side");
	if (!is_clamped(bed, on, index))
		wrong(bed, "the clamp stays on until the knot is tight");
	strand->tied = true;
}
