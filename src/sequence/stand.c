/* Where a job stands after so many of its calls: told by the moves of those that were done. */
#include "sequence/internal.h"

#include "base/base.h"

#include <stdlib.h>

void stand_begin(struct builder *builder)
{
	const struct route *route = builder->sequence->route;

	holding_begin(&builder->holding);
	builder->all_in = !route || !route->delayed;
	plan_steps(builder);
}

static int count_strings(const struct builder *builder, enum string_kind string)
{
	int count = string == STRING_MAIN ? builder->fed[SIDE_LEFT] + builder->fed[SIDE_RIGHT] : 0;

	for (int i = 0; i < builder->steps_in; i++)
		count += builder->steps[i].string == string;
	return count;
}

static void lose_crosses(struct builder *builder)
{
	enum strand strand = strand_of_crosses(builder);

	builder->sequence->undone[STRING_CROSS] = count_strings(builder, STRING_CROSS);
	holding_lose(&builder->holding, strand);
	builder->led[strand] = builder->taken_up = builder->start_knot = false;
	builder->steps_in = builder->drawn = 0;
	builder->woven = builder->woven_checked = 0;
	builder->any_set[STRING_CROSS] = false;
	builder->redo.crosses = 0;
}

static void lose_mains(struct builder *builder)
{
	const struct route *route = builder->sequence->route;

	builder->sequence->undone[STRING_MAIN] = count_strings(builder, STRING_MAIN);
	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++) {
		holding_lose(&builder->holding, (enum strand)side);
		builder->fed[side] = 0;
		builder->led[side] = false;
		builder->redo.mains[side] = 0;
	}
	builder->mains_counted = builder->mounts_checked = false;
	builder->any_set[STRING_MAIN] = false;
	builder->clamps_set &= builder->sequence->job->machine.clamps == CLAMPS_GLIDE_BAR;
	builder->all_in = !route || !route->delayed;
}

void stand_lose(struct builder *builder, enum loss lost)
{
	if (lost == LOSS_BED)
		lose_mains(builder);
	lose_crosses(builder);
	builder->cutting = true;
}

void stand_follow(struct builder *builder, const struct call *call)
{
	for (int i = call->first; i <= call->last && !call->abandoned; i++)
		builder_follow(builder, &builder->sequence->moves[i]);
	if (call->redo.number)
		*strings_with(&builder->redo, call->redo.string, call->redo.side) |=
			UINT64_C(1) << call->redo.number;
	if (call->lost != LOSS_NONE)
		stand_lose(builder, call->lost);
}

/* The first so many mains of each side, and of the steps. */
static struct strings first_strings(const struct builder *builder, const int mains[2], int steps)
{
	struct strings strings = {0};

	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++)
		strings.mains[side] = (UINT64_C(2) << mains[side]) - 2;
	for (int i = 0; i < steps; i++) {
		const struct step *step = &builder->steps[i];
		*strings_with(&strings, step->string, step->entry) |= UINT64_C(1) << step->number;
	}
	return strings;
}

struct strings strings_in(const struct builder *builder)
{
	return first_strings(builder, builder->fed, builder->steps_in);
}

const char *stand_refusal(const struct builder *builder, const struct mishap *redo)
{
	struct strings in = strings_in(builder);

	if (builder->cutting)
		return "broke-cut";
	if (redo->string == STRING_MAIN && builder->woven)
		return "redo-main";
	if (!(*strings_with(&in, redo->string, redo->side) >> redo->number & 1))
		return "redo-string";
	if (redo->string == STRING_CROSS && builder->holding.tied[strand_of_crosses(builder)])
		return "redo-knot";
	return NULL;
}

static struct bed_strings bed_now(const struct builder *builder)
{
	const int pulled[2] = {mains_pulled(builder, SIDE_LEFT), mains_pulled(builder, SIDE_RIGHT)};
	struct bed_strings bed = {
		.in = strings_in(builder),
		.tensioned = first_strings(builder, pulled, steps_pulled(builder)),
	};

	for (int number = 1; number <= CROSSES_MAX; number++) {
		for (int i = 0; i < 3; i++) {
			struct mishap redo = {.string = i < 2 ? STRING_MAIN : STRING_CROSS,
					      .side = i % 2 ? SIDE_RIGHT : SIDE_LEFT,
					      .number = number};
			if (!stand_refusal(builder, &redo))
				*strings_with(&bed.redo, redo.string, redo.side) |= UINT64_C(1)
										    << number;
		}
	}
	return bed;
}

struct bed_strings *sequence_bed_strings(const struct sequence *sequence)
{
	struct sequence copy = *sequence; /* what is counted on the way is not kept */
	struct builder *builder = memory_new(1, sizeof(*builder));
	struct bed_strings *beds = memory_new((size_t)sequence->call_count + 1, sizeof(*beds));

	builder->sequence = &copy;
	stand_begin(builder);
	for (int i = 0; i < sequence->call_count; i++) {
		stand_follow(builder, &sequence->calls[i]);
		beds[i + 1] = bed_now(builder);
	}
	free(builder);
	return beds;
}
