/* What holds the strings under tension: clamps, the tension head, and knots (common practice, no
 * published source).
 *
 *   - A clamp comes off only while the tension head holds that string's pull or the string beyond
 *     it is clamped; or when the knot is tight.
 *   - Two clamps are there, and with a starting clamp three.
 *   - The tension head is released only when its string is clamped, unless it is let down slowly.
 *   - A flying clamp grips a string that is under tension and a neighbour that is, too.
 */
#include "sequence/internal.h"

#include <stdio.h>
#include <stdlib.h>

static void must(const struct builder *builder, bool kept, const char *rule)
{
	const struct move *move = builder->followed;

	if (kept)
		return;
	if (builder->refuse)
		longjmp(*builder->refuse, 1);
	fprintf(stderr, "bug in the order of moves: %s %s %d: %s\n", action_name(move->action),
		string_name(move->string), move->number, rule);
	abort();
}

static bool is_delayed(const struct builder *builder, enum string_kind string, enum side side,
		       int number)
{
	const struct sequence *sequence = builder->sequence;

	return string == STRING_MAIN && is_long_side(sequence, side) &&
	       number > mains_in_a_row(sequence, side);
}

enum strand strand_of_crosses(const struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;

	return sequence->route ? (enum strand)sequence->job->weave_side : STRAND_CROSSES;
}

enum strand strand_of(const struct builder *builder, const struct move *move)
{
	return move->string == STRING_MAIN ? (enum strand)move->side : strand_of_crosses(builder);
}

static int mains_before_steps(const struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;

	return sequence->route ? mains_in_a_row(sequence, sequence->job->weave_side) : 0;
}

int step_index(const struct builder *builder, enum string_kind string, int number)
{
	int index = 0;

	while (index < builder->step_count &&
	       (builder->steps[index].string != string || builder->steps[index].number != number))
		index++;
	return index;
}

int string_place(const struct builder *builder, const struct move *move)
{
	if (move->string == STRING_MAIN &&
	    !is_delayed(builder, move->string, move->side, move->number))
		return move->number;
	return mains_before_steps(builder) + step_index(builder, move->string, move->number) + 1;
}

int mains_pulled(const struct builder *builder, enum side side)
{
	int most = mains_in_a_row(builder->sequence, side);
	int tensioned = builder->holding.tensioned[side];

	return tensioned < most ? tensioned : most;
}

int steps_pulled(const struct builder *builder)
{
	int pulled = builder->holding.tensioned[strand_of_crosses(builder)] -
		     mains_before_steps(builder);

	return pulled > 0 ? pulled : 0;
}

int flying_neighbour(const struct builder *builder, enum string_kind string, int number)
{
	int own = step_index(builder, STRING_CROSS, number);

	if (string == STRING_MAIN)
		return number > 1 ? number - 1 : 1;
	for (int neighbour = number - 1; neighbour <= number + 1; neighbour += 2)
		if (step_index(builder, STRING_CROSS, neighbour) < own)
			return neighbour;
	return 0;
}

void holding_begin(struct holding *holding)
{
	*holding = (struct holding){.head.strand = NO_STRAND};
	for (int i = 0; i < GRIPS; i++)
		holding->clamps[i].strand = NO_STRAND;
}

const struct grip *holding_clamp(const struct holding *holding, enum strand strand)
{
	const struct grip *furthest = NULL;

	for (int i = 0; i < GRIPS; i++) {
		const struct grip *grip = &holding->clamps[i];
		if (grip->strand == strand && !grip->first_hold &&
		    (!furthest || grip->place > furthest->place))
			furthest = grip;
	}
	return furthest;
}

const struct grip *holding_clamp_at(const struct holding *holding, enum strand strand, int place)
{
	for (int i = 0; i < GRIPS; i++)
		if (holding->clamps[i].strand == strand && !holding->clamps[i].first_hold &&
		    holding->clamps[i].place == place)
			return &holding->clamps[i];
	return NULL;
}

const struct grip *holding_first(const struct holding *holding)
{
	for (int i = 0; i < GRIPS; i++)
		if (holding->clamps[i].strand != NO_STRAND && holding->clamps[i].first_hold)
			return &holding->clamps[i];
	return NULL;
}

void holding_lose(struct holding *holding, enum strand strand)
{
	holding->tensioned[strand] = 0;
	holding->tied[strand] = false;
}

static bool is_tensioned(const struct builder *builder, const struct move *move)
{
	return string_place(builder, move) <= builder->holding.tensioned[strand_of(builder, move)];
}

/* The other string of a flying clamp. */
static struct move neighbour_of(const struct move *move)
{
	struct move neighbour = *move;

	if (move->string == STRING_MAIN && move->number == 1)
		neighbour.side = other_side(move->side);
	neighbour.number = move->across;
	return neighbour;
}

static bool neighbour_holds(const struct builder *builder, const struct move *move)
{
	struct move neighbour = neighbour_of(move);
	const struct grip *first = holding_first(&builder->holding);

	return is_tensioned(builder, &neighbour) ||
	       (first && neighbour.number == 1 && first->move.side == neighbour.side);
}

static int clamps_in_use(const struct holding *holding, bool starting)
{
	int count = 0;

	for (int i = 0; i < GRIPS; i++)
		count += holding->clamps[i].strand != NO_STRAND &&
			 (holding->clamps[i].move.with == CLAMP_STARTING) == starting;
	return count;
}

static void follow_clamp(struct builder *builder, const struct move *move)
{
	struct holding *holding = &builder->holding;
	const struct machine *machine = &builder->sequence->job->machine;
	bool starting = move->with == CLAMP_STARTING;
	enum strand strand = strand_of(builder, move);
	bool first_hold = !is_tensioned(builder, move);
	int most = starting ? machine->starting_clamp : MACHINE_CLAMPS;
	struct grip *grip = holding->clamps;

	must(builder, clamps_in_use(holding, starting) < most, "no clamp is free");
	if (first_hold)
		must(builder,
		     move->string == STRING_MAIN && move->number == 1 &&
			     holding->tensioned[strand] == 0 && !holding_first(holding),
		     "a clamp on a string without tension");
	else
		must(builder, !holding_clamp_at(holding, strand, string_place(builder, move)),
		     "clamped already");
	must(builder, first_hold || !move->outside, "outside the frame only for the first pull");
	must(builder,
	     (move->with == CLAMP_FLYING) == (machine->clamps == CLAMPS_FLYING) || starting,
	     "not a clamp of this machine");
	if (move->with == CLAMP_FLYING && !move->outside)
		must(builder, move->across > 0 && neighbour_holds(builder, move),
		     "no neighbour to hold by");
	while (grip->strand != NO_STRAND)
		grip++;
	*grip = (struct grip){strand, string_place(builder, move), first_hold, *move};
}

static struct grip *grip_of(struct builder *builder, const struct move *move)
{
	struct holding *holding = &builder->holding;

	for (int i = 0; i < GRIPS; i++) {
		struct grip *grip = &holding->clamps[i];
		if (grip->strand == strand_of(builder, move) &&
		    grip->place == string_place(builder, move) && grip->move.with == move->with &&
		    hole_same(grip->move.hole, move->hole))
			return grip;
	}
	must(builder, false, "no clamp is there");
	return NULL;
}

static bool may_come_off(const struct holding *holding, const struct grip *grip)
{
	enum strand strand = grip->strand;
	bool pulled = holding->head.strand == strand && holding->head.place >= grip->place;

	if (holding->tied[strand] || pulled)
		return true;
	for (int i = 0; i < GRIPS; i++) {
		const struct grip *beyond = &holding->clamps[i];
		if (beyond->strand == strand && beyond != grip && !grip->first_hold &&
		    beyond->place > grip->place)
			return true;
	}
	/* What has no tension needs no clamp; but the first hold holds the other side. */
	return grip->place > holding->tensioned[strand] &&
	       (strand == STRAND_CROSSES || !grip->first_hold ||
		holding->tensioned[strand == STRAND_LEFT ? STRAND_RIGHT : STRAND_LEFT] == 0);
}

static void follow_unclamp(struct builder *builder, const struct move *move)
{
	struct grip *grip = grip_of(builder, move);

	must(builder, may_come_off(&builder->holding, grip),
	     "a string under tension would be let go");
	grip->strand = NO_STRAND;
}

static void follow_pull(struct builder *builder, const struct move *move)
{
	struct holding *holding = &builder->holding;
	enum strand strand = strand_of(builder, move);
	int place = string_place(builder, move);
	int first = move->pulls_last ? place - (move->pulls_last - move->pulls_first) : place;

	must(builder, holding->head.strand == NO_STRAND, "the tension head holds another string");
	must(builder,
	     place == holding->tensioned[strand] || first == holding->tensioned[strand] + 1,
	     "not the next string, and not the last one again");
	must(builder, !holding->tied[strand], "tied off already");
	holding->tensioned[strand] = place;
	holding->head = (struct grip){strand, place, false, *move};
}

static void follow_release(struct builder *builder, const struct move *move)
{
	struct holding *holding = &builder->holding;
	enum strand strand = holding->head.strand;

	must(builder, strand == strand_of(builder, move), "the tension head does not hold it");
	must(builder,
	     holding->tensioned[strand] == 0 ||
		     holding_clamp_at(holding, strand, holding->head.place),
	     "released before it is clamped");
	holding->head.strand = NO_STRAND;
}

/* What lies beyond the last clamp loses its tension; with main 1, the other side's does too. */
static void follow_let_down(struct builder *builder, const struct move *move)
{
	struct holding *holding = &builder->holding;
	enum strand strand = holding->head.strand;

	must(builder, strand == strand_of(builder, move), "the tension head does not hold it");
	const struct grip *clamp = holding_clamp(holding, strand);
	holding->tensioned[strand] = clamp ? clamp->place : 0;
	holding->head.strand = NO_STRAND;
	if (strand != STRAND_CROSSES && !clamp) {
		enum strand other = strand == STRAND_LEFT ? STRAND_RIGHT : STRAND_LEFT;
		must(builder, holding->tensioned[other] <= 1, "the other side would be let go");
		holding->tensioned[other] = 0;
	}
	for (int i = 0; i < GRIPS; i++) {
		const struct grip *grip = &holding->clamps[i];
		bool holds = grip->strand != NO_STRAND && !grip->first_hold &&
			     grip->place <= holding->tensioned[grip->strand];
		if (holds && grip->move.across)
			must(builder, neighbour_holds(builder, &grip->move),
			     "a flying clamp would lose its neighbour");
	}
}

void holding_follow(struct builder *builder, const struct move *move)
{
	struct holding *holding = &builder->holding;
	enum strand strand = strand_of(builder, move);

	builder->followed = move;
	switch (move->action) {
	case DO_CLAMP:
		follow_clamp(builder, move);
		break;
	case DO_UNCLAMP:
		follow_unclamp(builder, move);
		break;
	case DO_PULL:
		follow_pull(builder, move);
		break;
	case DO_RELEASE:
		follow_release(builder, move);
		break;
	case DO_LET_DOWN:
		follow_let_down(builder, move);
		break;
	case DO_KNOT:
		if (move->start)
			break;
		must(builder, holding_clamp_at(holding, strand, holding->tensioned[strand]),
		     "the clamp stays on until the knot is tight");
		holding->tied[strand] = true;
		break;
	case DO_UNTIE:
		if (move->start)
			break;
		must(builder, holding_clamp_at(holding, strand, holding->tensioned[strand]),
		     "a knot that holds is undone");
		holding->tied[strand] = false;
		break;
	case DO_TAKE_OUT:
		must(builder, string_place(builder, move) > holding->tensioned[strand],
		     "a string under tension is taken out");
		break;
	default:
		break;
	}
}
