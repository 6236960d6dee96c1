/* The strings in the order of work: which of them are in, and what holds them (common practice, no
 * published source).
 *
 *   - A clamp comes off only while the tension head holds that string's pull or the string beyond
 *     it is clamped; or when the knot is tight.
 *   - Two clamps are there, and with a starting clamp three.
 *   - The tension head is released only when its string is clamped, unless it is let down slowly.
 *   - A flying clamp grips a string that is under tension and a neighbour that is, too.
 */
#include "sequence/internal.h"

#include <stdlib.h>
#include <string.h>

/* ---- The order of work ---- */

bool is_long_side(const struct sequence *sequence, enum side side)
{
	return sequence->route && side == sequence->job->weave_side;
}

int mains_in_a_row(const struct sequence *sequence, enum side side)
{
	int half = pattern_half(sequence->pattern);

	return is_long_side(sequence, side) && sequence->route->delayed ? half - 1 : half;
}

enum frame_end sequence_mains_end(const struct sequence *sequence, enum side side)
{
	return pattern_main_end(sequence->mains_start, mains_in_a_row(sequence, side));
}

struct step cross_step(const struct sequence *sequence, int cross, enum side entry)
{
	return (struct step){
		.phase = PHASE_CROSSES,
		.string = STRING_CROSS,
		.number = cross,
		.entry = entry,
		.exit = other_side(entry),
		.from = sequence->cross_hole[cross],
		.to = sequence->cross_hole[cross],
	};
}

static struct step main_step(const struct sequence *sequence, enum phase phase, enum side side,
			     int main, enum frame_end from)
{
	return (struct step){
		.phase = phase,
		.string = STRING_MAIN,
		.number = main,
		.entry = side,
		.exit = side,
		.from = pattern_main_hole(sequence->pattern, from, main),
		.to = pattern_main_hole(sequence->pattern, other_end(from), main),
	};
}

struct step late_main_step(const struct sequence *sequence, enum frame_end from)
{
	return main_step(sequence, PHASE_CROSSES, sequence->job->weave_side,
			 pattern_half(sequence->pattern), from);
}

void builder_plan(struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	const struct route *route = sequence->route;
	enum side side = sequence->job->weave_side;
	struct strand *crosses = &builder->strands[route ? (int)side : STRAND_CROSSES];

	for (enum side of = SIDE_LEFT; of <= SIDE_RIGHT; of++) {
		struct strand *mains = &builder->strands[of];
		while (mains->count < mains_in_a_row(sequence, of)) {
			int main = mains->count + 1;
			enum frame_end to = pattern_main_end(sequence->mains_start, main);
			mains->steps[mains->count++] =
				main_step(sequence, PHASE_MAINS, of, main, other_end(to));
		}
	}
	builder->crosses = crosses;
	builder->mains_before = crosses->count;
	for (int i = 0; i < (route ? route->count : sequence->pattern->crosses); i++) {
		int cross = route ? route->steps[i] : i + 1;
		struct step *step = &crosses->steps[crosses->count++];
		*step = cross ? cross_step(sequence, cross, side)
			      : late_main_step(sequence, route->main_from);
		side = step->exit;
	}
}

int run_length(const struct builder *builder, int from)
{
	const struct strand *strand = builder->crosses;
	const struct step *run = &strand->steps[from];
	int count = 1;

	while (run->string == STRING_CROSS && from + count < strand->count &&
	       run[count].string == STRING_CROSS && run[count].number == run->number + count)
		count++;
	return count;
}

struct move string_move(enum action action, const struct step *step)
{
	bool enters = action == DO_FEED || action == DO_WEAVE;
	struct move move = {
		.action = action,
		.phase = step->phase,
		.has_string = true,
		.string = step->string,
		.number = step->number,
		.side = enters ? step->entry : step->exit,
	};

	if (enters) {
		move.from = step->from;
		move.to = step->to;
	} else {
		move.hole = step->to;
	}
	return move;
}

struct strand *strand_of(struct builder *builder, const struct move *move)
{
	return move->string == STRING_MAIN ? &builder->strands[move->side] : builder->crosses;
}

static int place_of(const struct strand *strand, enum string_kind string, int number)
{
	int index = 0;

	while (index < strand->count &&
	       (strand->steps[index].string != string || strand->steps[index].number != number))
		index++;
	return index + 1;
}

int string_place(const struct strand *strand, const struct move *move)
{
	return place_of(strand, move->string, move->number);
}

struct quantity tension_of(const struct builder *builder, const struct step *step)
{
	const struct job *job = builder->sequence->job;
	const struct pattern *pattern = builder->sequence->pattern;
	const struct strand *strand =
		step->string == STRING_MAIN ? &builder->strands[step->exit] : builder->crosses;
	bool last = place_of(strand, step->string, step->number) == strand->count;

	return last ? job_tie_off_tension(job, pattern, step->string, step->number)
		    : job_tension(job, pattern, step->string, step->number);
}

int flying_neighbour(const struct builder *builder, enum string_kind string, int number)
{
	const struct strand *crosses = builder->crosses;
	int own = place_of(crosses, STRING_CROSS, number);

	if (string == STRING_MAIN)
		return number > 1 ? number - 1 : 1;
	for (int neighbour = number - 1; neighbour <= number + 1; neighbour += 2)
		if (place_of(crosses, STRING_CROSS, neighbour) < own)
			return neighbour;
	return 0;
}

/* ---- What is in ---- */

uint64_t *strings_with(struct strings *strings, enum string_kind string, enum side side)
{
	return string == STRING_CROSS ? &strings->crosses : &strings->mains[side];
}

static void add_strings(struct strings *strings, const struct strand *strand, int count)
{
	for (const struct step *step = strand->steps; step < strand->steps + count; step++)
		*strings_with(strings, step->string, step->exit) |= UINT64_C(1) << step->number;
}

struct strings strings_in(const struct builder *builder)
{
	struct strings strings = {0};

	for (int i = 0; i < STRANDS; i++)
		add_strings(&strings, &builder->strands[i], builder->strands[i].in);
	return strings;
}

/* ---- What holds them ---- */

static void must(const struct move *move, bool kept, const char *rule)
{
	if (kept)
		return;
	fprintf(stderr, "bug in the order of moves: %s %s %d: %s\n", action_names[move->action],
		string_names[move->string], move->number, rule);
	abort();
}

const struct grip *furthest_clamp(const struct builder *builder, const struct strand *strand)
{
	const struct grip *furthest = NULL;

	for (const struct grip *grip = builder->clamps; grip < builder->clamps + GRIPS; grip++)
		if (grip->strand == strand && !grip->first_hold &&
		    (!furthest || grip->place > furthest->place))
			furthest = grip;
	return furthest;
}

const struct grip *clamp_at(const struct builder *builder, const struct strand *strand, int place)
{
	for (const struct grip *grip = builder->clamps; grip < builder->clamps + GRIPS; grip++)
		if (grip->strand == strand && !grip->first_hold && grip->place == place)
			return grip;
	return NULL;
}

/* The strand of the other side's mains, which main 1 of this one's holds; NULL: it holds none. */
static struct strand *held_by_main_1(struct builder *builder, const struct strand *strand)
{
	int index = (int)(strand - builder->strands);

	return index == STRAND_CROSSES ? NULL : &builder->strands[!index];
}

static void follow_clamp(struct builder *builder, const struct move *move)
{
	struct strand *strand = strand_of(builder, move);
	int place = string_place(strand, move);
	struct grip *grip = builder->clamps;

	while (grip < builder->clamps + GRIPS - 1 && grip->strand)
		grip++;
	must(move, !grip->strand, "no clamp is free");
	*grip = (struct grip){strand, place, place > strand->tensioned, *move};
}

static bool may_come_off(struct builder *builder, const struct grip *grip)
{
	const struct strand *strand = grip->strand;
	const struct grip *head = &builder->head, *furthest = furthest_clamp(builder, strand);

	if (strand->tied || (head->strand == strand && head->place >= grip->place) ||
	    (furthest && furthest->place > grip->place && !grip->first_hold))
		return true;
	/* What has no tension needs no clamp; but the first hold holds the other side. */
	const struct strand *other = held_by_main_1(builder, strand);
	return grip->place > strand->tensioned &&
	       (!grip->first_hold || !other || other->tensioned == 0);
}

static void follow_unclamp(struct builder *builder, const struct move *move)
{
	const struct strand *strand = strand_of(builder, move);
	struct grip *grip = builder->clamps;

	while (grip < builder->clamps + GRIPS &&
	       (grip->strand != strand || grip->place != string_place(strand, move) ||
		grip->move.with != move->with || !hole_same(grip->move.hole, move->hole)))
		grip++;
	must(move, grip < builder->clamps + GRIPS, "no clamp is there");
	must(move, may_come_off(builder, grip), "a string under tension would be let go");
	grip->strand = NULL;
}

static void follow_pull(struct builder *builder, const struct move *move)
{
	struct strand *strand = strand_of(builder, move);

	must(move, !builder->head.strand, "the tension head holds another string");
	strand->tensioned = string_place(strand, move);
	builder->head = (struct grip){strand, strand->tensioned, false, *move};
}

static void follow_release(struct builder *builder, const struct move *move)
{
	struct grip *head = &builder->head;
	const struct strand *strand = strand_of(builder, move);

	must(move, head->strand == strand, "the tension head does not hold it");
	must(move, strand->tensioned == 0 || clamp_at(builder, strand, head->place),
	     "released before it is clamped");
	head->strand = NULL;
}

/* What lies beyond the last clamp loses its tension; with main 1, the other side's does too. */
static void follow_let_down(struct builder *builder, const struct move *move)
{
	struct strand *strand = strand_of(builder, move);
	struct strand *other = held_by_main_1(builder, strand);
	const struct grip *clamp = furthest_clamp(builder, strand);

	must(move, builder->head.strand == strand, "the tension head does not hold it");
	builder->head.strand = NULL;
	strand->tensioned = clamp ? clamp->place : 0;
	if (other && !clamp) {
		must(move, other->tensioned <= 1, "the other side would be let go");
		other->tensioned = 0;
	}
}

static void take_out(struct builder *builder, const struct move *move)
{
	struct strand *strand = strand_of(builder, move);
	int place = string_place(strand, move);

	must(move, place > strand->tensioned, "a string under tension is taken out");
	strand->in = place - 1;
	if (strand->redo >= place)
		strand->redo = 0;
	builder->loop = builder->unchecked = false;
	builder->mains_counted &= move->phase != PHASE_MAINS;
}

/* The last knot of a strand. */
static void follow_knot(struct builder *builder, const struct move *move)
{
	struct strand *strand = strand_of(builder, move);

	must(move, clamp_at(builder, strand, strand->tensioned) != NULL,
	     "the clamp stays on until the knot is tight");
	strand->tied = move->action == DO_KNOT;
	strand->led &= strand->tied;
}

/* ---- All moves ---- */

void builder_follow(struct builder *builder, const struct move *move)
{
	builder->phase = move->phase;
	switch (move->action) {
	case DO_FEED:
	case DO_WEAVE:
		strand_of(builder, move)->in++;
		builder->loop = move->action == DO_WEAVE;
		builder->unchecked |= move->string == STRING_CROSS;
		break;
	case DO_DRAW:
		builder->loop = false;
		break;
	case DO_TAKE_OUT:
		take_out(builder, move);
		break;
	case DO_CLAMP:
		follow_clamp(builder, move);
		break;
	case DO_UNCLAMP:
		follow_unclamp(builder, move);
		break;
	case DO_TURN:
		builder->facing = *move;
		break;
	case DO_PULL:
		builder->facing = *move;
		follow_pull(builder, move);
		break;
	case DO_RELEASE:
		follow_release(builder, move);
		break;
	case DO_LET_DOWN:
		follow_let_down(builder, move);
		break;
	case DO_TIE_OFF:
		strand_of(builder, move)->led = true;
		break;
	case DO_KNOT:
	case DO_UNTIE:
		if (move->start)
			builder->start_knot = move->action == DO_KNOT;
		else
			follow_knot(builder, move);
		break;
	case DO_SET_TENSION:
		builder->any_set[move->subject == SUBJECT_CROSSES] = true;
		builder->setting = *move;
		break;
	case DO_CHECK:
		builder->mains_counted |= move->subject == SUBJECT_MAINS;
		builder->mounts_checked |= move->subject == SUBJECT_MOUNTS;
		builder->unchecked &= move->subject != SUBJECT_WEAVE;
		break;
	case DO_INSPECT:
		builder->taken_up |= move->of_crosses;
		break;
	case DO_CUT_OUT:
		builder->cutting = false;
		break;
	case DO_SET_CLAMPS:
		builder->clamps_set = move->subject == SUBJECT_CROSSES;
		break;
	case DO_MOUNT:
	case DO_DISMOUNT:
		builder->mounted = move->action == DO_MOUNT;
		break;
	default:
		break;
	}
}

void builder_lose(struct builder *builder, enum loss lost)
{
	struct strings in = strings_in(builder);
	bool bed = lost == LOSS_BED;

	builder->sequence->undone = __builtin_popcountll(in.crosses);
	if (bed) {
		builder->sequence->undone += __builtin_popcountll(in.mains[SIDE_LEFT]) +
					     __builtin_popcountll(in.mains[SIDE_RIGHT]);
		builder->mains_counted = builder->mounts_checked = false;
		builder->any_set[STRING_MAIN] = false;
		builder->clamps_set &= builder->sequence->job->machine.clamps == CLAMPS_GLIDE_BAR;
	}
	for (int i = bed ? 0 : STRAND_CROSSES; i < STRANDS; i++) {
		struct strand *strand = &builder->strands[i];
		strand->in = strand->tensioned = strand->redo = 0;
		strand->led = strand->tied = false;
	}
	builder->loop = builder->unchecked = builder->taken_up = builder->start_knot = false;
	builder->begun = 0;
	builder->any_set[STRING_CROSS] = false;
	builder->cutting = true;
}

/* What was only begun is no more so once it is out, or in. */
static void follow_begun(struct builder *builder, const struct call *call)
{
	bool brings_in = false;

	for (int i = call->first; i <= call->last; i++)
		brings_in |= builder->sequence->moves[i].action == DO_FEED ||
			     builder->sequence->moves[i].action == DO_WEAVE;
	if (call->abandoned && brings_in)
		builder->begun = (int)(call - builder->sequence->calls) + 1;
	else if (!call->abandoned && (brings_in || call->kind == CALL_TAKE_OUT_BEGUN))
		builder->begun = 0;
}

void builder_follow_call(struct builder *builder, const struct call *call)
{
	const struct move redo = {
		.string = call->redo.string, .number = call->redo.number, .side = call->redo.side};

	follow_begun(builder, call);
	for (int i = call->first; i <= call->last && !call->abandoned; i++)
		builder_follow(builder, &builder->sequence->moves[i]);
	/* Where several ways back were asked for, the furthest holds for all: what one of them
	 * takes out is not known to be sound, and what none of them names stays in. */
	if (redo.number) {
		struct strand *strand = strand_of(builder, &redo);
		int place = string_place(strand, &redo);
		if (!strand->redo || place < strand->redo)
			strand->redo = place;
	}
	if (call->lost != LOSS_NONE)
		builder_lose(builder, call->lost);
}

struct bed_strings *sequence_bed_strings(const struct sequence *sequence)
{
	struct sequence copy = *sequence; /* what is counted on the way is not kept */
	struct builder builder = {.sequence = &copy};
	struct bed_strings *beds = memory_new((size_t)sequence->call_count + 1, sizeof(*beds));

	builder_plan(&builder);
	for (int i = 0; i < sequence->call_count; i++) {
		struct bed_strings *bed = &beds[i + 1];
		builder_follow_call(&builder, &sequence->calls[i]);
		bed->in = strings_in(&builder);
		for (int s = 0; s < STRANDS; s++)
			add_strings(&bed->tensioned, &builder.strands[s],
				    builder.strands[s].tensioned);
		/* A main cannot be strung again with crosses in, nor a cross behind its knot. */
		if (!builder.cutting && !builder.crosses->tied)
			bed->redo.crosses = bed->in.crosses;
		if (!builder.cutting && !bed->in.crosses)
			memcpy(bed->redo.mains, bed->in.mains, sizeof(bed->in.mains));
	}
	return beds;
}
