/* The way of the long side: straight on where that can be, else the best way round. */
#include "base/base.h"
#include "frame/frame.h"
#include "sequence/internal.h"

#include <assert.h>
#include <stdlib.h>

static_assert((int)ROUTE_REACH_MAX == (int)OUTSIDE_MAX && (int)ROUTES_MAX == (int)ROUTE_NUMBER_MAX,
	      "a plan can ask for all that a search can do");

static int place_of_main(const struct pattern *pattern, enum frame_end end, int main)
{
	return pattern_hole_index(pattern, (struct hole){end, pattern->main_hole[end][main]});
}

/* Every run outside as string, where the pattern measures the head. */
static void measure_runs(const struct pattern *pattern, struct route_problem *problem)
{
	struct bed bed;
	int places = pattern_hole_count(pattern);

	if (!bed_of_pattern(pattern, &bed))
		return;
	for (int from = 0; from < places; from++)
		for (int to = 0; to < places; to++)
			problem->run_mm[from][to] =
				length_outside_mm(&bed, pattern, pattern_hole_at(pattern, from),
						  pattern_hole_at(pattern, to));
}

/* A cross left for last is easiest at the edge of the bed, where it has one neighbour; then, the
 * fewer mains it meets. */
static void rank_leftovers(const struct sequence *sequence, struct route_problem *problem)
{
	for (int cross = 1; cross <= problem->crosses; cross++) {
		bool edge = cross == 1 || cross == problem->crosses;
		problem->leftover[cross] = edge ? 1 : MAINS_MAX;
		for (int k = 1; k <= pattern_half(sequence->pattern); k++)
			problem->leftover[cross] +=
				2 *
				pattern_meets(sequence->pattern, sequence->cross_hole[cross], k);
	}
}

/* Every cross changes the side, so the number of crosses says where the string ends. */
static void find_room(const struct builder *builder, struct route_problem *problem)
{
	const struct sequence *sequence = builder->sequence;
	enum side entry = sequence->job->weave_side;

	if (problem->crosses % 2 == 0)
		entry = other_side(entry);
	for (int cross = 1; cross <= problem->crosses; cross++) {
		struct step step = cross_step(sequence, cross, entry);
		problem->knot_at_cross[cross] = tie_off_has_room(builder, &step);
	}
	/* Comes to the main on its own side, or not at all. */
	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++) {
		struct step step = main_step(sequence, other_end(end));
		problem->knot_at_main[end] = tie_off_has_room(builder, &step);
	}
}

static void fill_problem(const struct builder *builder, struct route_problem *problem)
{
	const struct sequence *sequence = builder->sequence;
	const struct pattern *pattern = sequence->pattern;
	int half = pattern_half(pattern);
	int bridge = pattern->bridge / 2;

	problem->crosses = pattern->crosses;
	for (int cross = 1; cross <= pattern->crosses; cross++)
		problem->cross[cross] = pattern_hole_index(pattern, sequence->cross_hole[cross]);
	problem->start =
		place_of_main(pattern, pattern_main_end(sequence->mains_start, half - 1), half - 1);
	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++)
		problem->main[end] = place_of_main(pattern, end, half);
	/* The row of places ends in the middle of the throat, with the bridge's holes. */
	problem->gap = bridge > 0 ? pattern_hole_count(pattern) - bridge - 1 : -1;
	problem->reach = sequence->job->outside;
	rank_leftovers(sequence, problem);
	find_room(builder, problem);
	measure_runs(pattern, problem);
}

/* Straight on from the last main to the crosses in their order. */
static bool go_straight_on(const struct sequence *sequence, const struct route_problem *problem,
			   struct route *route)
{
	int from = problem->main[sequence->mains_end];
	int to = problem->cross[1];

	if (sequence->mains_end != sequence->crosses_start || !route_may_run(problem, from, to) ||
	    !problem->knot_at_cross[problem->crosses])
		return false;
	*route = (struct route){.count = problem->crosses};
	for (int i = 0; i < problem->crosses; i++) {
		to = problem->cross[i + 1];
		route->steps[i] = i + 1;
		route->outside += abs(to - from);
		route->outside_mm += problem->run_mm[from][to];
		from = to;
	}
	return true;
}

/* What the string would have to do against the rules. */
static void say_forbidden(const struct sequence *sequence, enum route_rule rule, int reach,
			  struct text *out)
{
	switch (rule) {
	case ROUTE_RULE_KNOT:
		text_add(out, "end where every hole for a knot has two strings already");
		break;
	case ROUTE_RULE_BRIDGE:
		text_add(out, "cross the gap where the bridge ends");
		break;
	case ROUTE_RULE_SIDES:
		text_format(out,
			    "come to main %d on the other side, as every cross changes the side",
			    pattern_half(sequence->pattern));
		break;
	default:
		text_format(out,
			    "run %d holes along outside the frame, where %d is the limit (order: "
			    "outside)",
			    reach, sequence->job->outside);
		break;
	}
}

static void report_none(const struct builder *builder, const struct route_problem *problem)
{
	const struct sequence *sequence = builder->sequence;
	struct text forbidden = {0};
	unsigned rules;
	int reach;

	if (!routes_forbidden_by(problem, &rules, &reach))
		text_add(&forbidden, "break the rules of its way round the frame");
	else if (!rules)
		text_format(&forbidden, "run more than %d holes along outside the frame", reach);
	for (enum route_rule rule = 0; rule < ROUTE_RULES; rule++) {
		if (!(rules >> rule & 1))
			continue;
		text_add(&forbidden, forbidden.length ? ", and " : "");
		say_forbidden(sequence, rule, reach, &forbidden);
	}
	fault_add(builder->faults, FAULT_ERROR, sequence->job->file, sequence->job->method_position,
		  "route-none",
		  "%s cannot be strung in one piece: the string would have to %s; two-piece works",
		  sequence->pattern->name, text_string(&forbidden));
	text_free(&forbidden);
}

/* Only patterns unlike any frame come to this. */
static void report_given_up(const struct builder *builder, const struct routes *routes)
{
	const struct sequence *sequence = builder->sequence;

	fault_add(builder->faults, routes->count ? FAULT_WARNING : FAULT_ERROR, sequence->job->file,
		  sequence->job->method_position, "route-search",
		  routes->count
			  ? "there are too many ways to string %s in one piece to try them all: "
			    "the route taken may not be the best"
			  : "there are too many ways to string %s in one piece to try them all, "
			    "and none was found: string it in two pieces",
		  sequence->pattern->name);
}

bool find_routes(const struct builder *builder, struct routes *out)
{
	struct route_problem *problem = memory_new(1, sizeof(*problem));

	fill_problem(builder, problem);
	*out = (struct routes){0};
	if (go_straight_on(builder->sequence, problem, &out->items[0]))
		out->count = 1;
	else if (!routes_find(problem, out) && !out->given_up)
		report_none(builder, problem);
	if (out->given_up)
		report_given_up(builder, out);
	free(problem);
	return out->count > 0;
}
