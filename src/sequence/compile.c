/* A job as a whole: whether it can be done, how it begins and ends. */
#include "sequence/internal.h"

#include <stdlib.h>

/* ---- Lengths ---- */

/* Too short is an error that says by how much, and a warning if the plan accepts it. */
static bool suffices(const struct job *job, enum string_kind strings, const char *what,
		     double needed_mm, struct faults *faults)
{
	const struct string_length *length = job_length(job, strings);
	double short_mm = needed_mm - length->on_hand_mm;
	/* The margin is there to be used. */
	bool enough = job->accept_short || short_mm <= job->machine.margin_mm;

	if (length->on_hand_mm == 0 || short_mm <= 0)
		return true;
	fault_add(faults, enough ? FAULT_WARNING : FAULT_ERROR, job->file, length->on_hand_position,
		  "length-short",
		  "%.2f m on hand, but %s need %.2f m (an estimate, %g cm of it a margin): %.0f cm "
		  "short%s",
		  length->on_hand_mm / 1000, what, needed_mm / 1000, job->machine.margin_mm / 10,
		  short_mm / 10,
		  enough ? "" : "; to go on all the same, write \"accept_short: yes\"");
	return enough;
}

/* What is cut is taken off a reel only where it is known how much that is. */
static void warn_of_reel(const struct sequence *sequence, struct faults *faults)
{
	const struct job *job = sequence->job;
	const struct string_length *cut = job_length(job, STRING_MAIN);

	if (!cut->reel)
		cut = job_length(job, STRING_CROSS);
	if (cut->reel)
		fault_add(
			faults, FAULT_WARNING, job->file, cut->reel_position, "reel-no-size",
			"nothing will be taken off reel %s: pattern %s does not say how large the "
			"head is; it needs a line such as \"head: { length: 330 mm, width: 247 mm }\"",
			cut->reel, sequence->pattern->name);
}

/* Fills in the lengths to cut, if the pattern says how large the head is. False, with a fault, if
 * there is less string on hand. */
static bool string_suffices(struct sequence *sequence, struct faults *faults)
{
	const struct job *job = sequence->job;
	struct length_allowance allowance =
		LENGTH_ALLOWANCE(job->machine.reach_mm, job->machine.margin_mm);
	double *length_mm = sequence->length_mm;
	struct bed bed;

	if (!bed_of_pattern(sequence->pattern, &bed)) {
		warn_of_reel(sequence, faults);
		return true;
	}
	if (sequence->route) {
		length_mm[STRING_MAIN] = length_of_short_side_mm(&bed, &allowance);
		length_mm[STRING_CROSS] = length_of_long_side_mm(
			&bed, &allowance, mains_in_a_row(sequence, job->weave_side),
			sequence->route->outside_mm);
		return suffices(job, STRING_MAIN, "all strings", length_mm[0] + length_mm[1],
				faults);
	}
	length_mm[STRING_MAIN] = length_of_mains_mm(&bed, &allowance);
	length_mm[STRING_CROSS] = length_of_crosses_mm(&bed, &allowance);
	bool mains = suffices(job, STRING_MAIN, "the mains", length_mm[STRING_MAIN], faults);
	return suffices(job, STRING_CROSS, "the crosses", length_mm[STRING_CROSS], faults) && mains;
}

/* ---- How it begins and ends ---- */

/* Where the string on hand falls short of the margin, all of it. */
static void add_cut(struct builder *builder, enum subject subject, double length_mm)
{
	struct move cut = {.action = DO_CUT, .subject = subject, .length_mm = length_mm};
	double on_hand_mm = move_length(builder->sequence->job, &cut)->on_hand_mm;

	if (on_hand_mm > 0 && on_hand_mm < length_mm)
		cut.length_mm = on_hand_mm;
	builder_single(builder, CALL_CUT, &cut);
}

void build_cuts(struct builder *builder, bool mains, bool crosses)
{
	const double *length_mm = builder->sequence->length_mm;
	bool whole = builder->sequence->route;

	builder_chore(builder, CALL_INSPECT_STRING, DO_INSPECT, SUBJECT_STRING);
	if (whole)
		add_cut(builder, SUBJECT_WHOLE, length_mm[0] + length_mm[1]);
	if (mains && !whole)
		add_cut(builder, SUBJECT_MAINS, length_mm[STRING_MAIN]);
	if (crosses && !whole)
		add_cut(builder, SUBJECT_CROSSES, length_mm[STRING_CROSS]);
}

void build_mounting(struct builder *builder)
{
	bool many = builder->sequence->job->machine.mounts == MOUNTS_MANY;

	builder_chore(builder, many ? CALL_MOUNT_SIX : CALL_MOUNT, DO_MOUNT, SUBJECT_NONE);
	builder_chore(builder, CALL_LOCK, DO_LOCK, SUBJECT_NONE);
}

static void build_preparation(struct builder *builder)
{
	builder->phase = PHASE_PREPARE;
	builder_chore(builder, CALL_CHECK_EYES, DO_CHECK, SUBJECT_EYES);
	/* The old bed shows whether the pattern is the frame's; cracks show best before the load
	 * comes off. */
	builder_chore(builder, CALL_CHECK_PATTERN, DO_CHECK, SUBJECT_PATTERN);
	builder_chore(builder, CALL_INSPECT_FRAME, DO_INSPECT, SUBJECT_FRAME);
	builder_chore(builder, CALL_CUT_OUT, DO_CUT_OUT, SUBJECT_NONE);
	build_cuts(builder, true, true);
	build_mounting(builder);
	builder_tension(builder, builder->strands[builder->sequence->job->first_side].steps);
}

void build_finish(struct builder *builder)
{
	builder->phase = PHASE_FINISH;
	builder_chore(builder, CALL_DISMOUNT, DO_DISMOUNT, SUBJECT_NONE);
	builder_chore(builder, CALL_CHECK_BED, DO_CHECK, SUBJECT_BED);
	builder_chore(builder, CALL_TRIM, DO_TRIM, SUBJECT_NONE);
	builder_chore(builder, CALL_STRAIGHTEN, DO_STRAIGHTEN, SUBJECT_NONE);
}

/* ---- Whether it can be done ---- */

static void warn_of_gap(const struct builder *builder)
{
	const struct sequence *sequence = builder->sequence;
	const struct job *job = sequence->job;
	int main = pattern_loop_over_gap(sequence->pattern, sequence->mains_start);

	if (main)
		builder_fault(builder, FAULT_WARNING, job->start_position, "start-gap",
			      "mains started at the %s loop from %d to %d across the gap where the "
			      "bridge ends: the %s is the usual start for %s",
			      end_names[sequence->mains_start], main, main + 1,
			      end_names[other_end(sequence->mains_start)], sequence->pattern->name);
}

/* Where it is said that one of two crosses is pulled otherwise than the other. */
static struct position split_position(const struct job *job, int cross)
{
	for (int i = 0; i < job->adjustment_count; i++) {
		const struct adjustment *adjustment = &job->adjustments[i];
		bool one = adjustment->first <= cross && adjustment->last >= cross;
		bool other = adjustment->first <= cross + 1 && adjustment->last >= cross + 1;
		if (adjustment->strings == STRING_CROSS && one != other)
			return adjustment->position;
	}
	return job->tension_position[STRING_CROSS];
}

/* Crosses that are pulled at once must be wanted at one tension. */
static bool pull_fits(const struct builder *builder, const struct step *step)
{
	const struct job *job = builder->sequence->job;

	if (quantity_same(tension_of(builder, step), tension_of(builder, step + 1)))
		return true;
	builder_fault(builder, FAULT_ERROR, split_position(job, step->number), "adjust-first-pull",
		      "crosses %d and %d are pulled together but differ in tension: adjust both%s",
		      step->number, step->number + 1,
		      job->machine.clamps == CLAMPS_FLYING ? ", as flying clamps hold two strings"
							   : ", or set first_pull to 1");
	return false;
}

/* A flying clamp holds a cross by a neighbour: one that is in before, or that is pulled with it. */
static bool runs_fit(const struct builder *builder)
{
	const struct job *job = builder->sequence->job;
	const struct strand *strand = builder->crosses;

	for (int at = builder->mains_before; at < strand->count; at += run_length(builder, at)) {
		const struct step *step = &strand->steps[at];
		int pull = first_pull_of(builder, at);
		if (pull > 1 && !pull_fits(builder, step))
			return false;
		if (pull > 1 || step->string == STRING_MAIN ||
		    job->machine.clamps != CLAMPS_FLYING ||
		    flying_neighbour(builder, STRING_CROSS, step->number))
			continue;
		builder_fault(
			builder, FAULT_ERROR, job->method_position, "flying-alone",
			"a flying clamp has nothing to hold cross %d by when it is pulled: name "
			"another route (order: route), or string it in two pieces",
			step->number);
		return false;
	}
	return true;
}

/* No stringer takes a route with more breaks without asking for it (common practice). */
enum { BREAKS_UNASKED = 2 };

/* The number of the route that the plan names; the best unless it says otherwise; 0: neither. */
static int route_of(const struct job *job, const struct routes *routes)
{
	bool named = job->route_position.line > 0;
	bool good = named ? job->route <= routes->count : routes->items[0].breaks <= BREAKS_UNASKED;

	return good ? job->route : 0;
}

static bool choose_route(struct builder *builder)
{
	struct sequence *sequence = builder->sequence;
	const struct job *job = sequence->job;
	struct routes routes;
	bool found = find_routes(builder, &routes);
	int taken = found ? route_of(job, &routes) : 0;

	if (found && !taken && job->route_position.line == 0) {
		builder_fault(
			builder, FAULT_ERROR, job->method_position, "route-breaks",
			"in one piece the crosses of %s break off %d times: string it in two pieces, "
			"begin the crosses at the other end (weave: from), or name a route (order: "
			"route)",
			sequence->pattern->name, routes.items[0].breaks);
	} else if (taken) {
		sequence->route = memory_new(1, sizeof(*sequence->route));
		*sequence->route = routes.items[taken - 1];
	} else if (found) {
		builder_fault(builder, FAULT_ERROR, job->route_position, "route-number",
			      "there is no route %d: %s has %d", job->route,
			      sequence->pattern->name, routes.count);
	}
	return sequence->route;
}

static bool settle(struct builder *builder)
{
	if (builder->sequence->job->method == METHOD_TWO_PIECE) {
		builder_plan(builder);
		return tie_offs_of_two_piece(builder);
	}
	if (!tie_off_of_short_side(builder) || !choose_route(builder))
		return false;
	builder_plan(builder);
	return tie_off_of_long_side(builder);
}

static struct sequence *new_sequence(const struct job *job, const struct pattern *pattern)
{
	struct sequence *sequence = memory_new(1, sizeof(*sequence));

	sequence->job = job;
	sequence->pattern = pattern;
	sequence->mains_start = job->start_forced ? job->mains_start : pattern_mains_start(pattern);
	sequence->mains_end = pattern_main_end(sequence->mains_start, pattern_half(pattern));
	sequence->crosses_start = job->weave_from_given ? job->weave_from : pattern->crosses_start;
	for (int c = 1; c <= pattern->crosses; c++)
		sequence->cross_hole[c] = pattern->cross_hole[sequence->crosses_start == END_HEAD
								      ? c
								      : pattern->crosses + 1 - c];
	return sequence;
}

/* `dependent`: faults that may follow from others of the plan. */
static struct sequence *compile(const struct job *job, const struct pattern *pattern,
				struct faults *faults, struct faults *dependent)
{
	struct sequence *sequence = new_sequence(job, pattern);
	struct builder builder = {.sequence = sequence, .faults = dependent};

	warn_of_gap(&builder);
	/* All that is at fault is said at once. */
	bool good = job_fits(job, pattern, faults);
	good &= settle(&builder);
	/* Without a route there is no more to be said of a one-piece job. */
	if (builder.crosses) {
		good &= runs_fit(&builder);
		good &= string_suffices(sequence, faults);
	}
	if (!good) {
		sequence_free(sequence);
		return NULL;
	}
	build_preparation(&builder);
	build_mains(&builder);
	build_crosses(&builder);
	build_finish(&builder);
	return sequence;
}

struct sequence *sequence_compile(const struct job *job, const struct pattern *pattern,
				  struct faults *faults)
{
	return compile(job, pattern, faults, faults);
}

bool sequence_routes(const struct job *job, const struct pattern *pattern, struct routes *out,
		     struct faults *faults)
{
	struct sequence *sequence = new_sequence(job, pattern);
	struct builder builder = {.sequence = sequence, .faults = faults};
	bool found = false;

	*out = (struct routes){0};
	if (job->method != METHOD_ONE_PIECE)
		fault_add(faults, FAULT_ERROR, job->file, job->method_position, "route-two-piece",
			  "two-piece work has no routes: they are for \"one-piece\"");
	else
		found = tie_off_of_short_side(&builder) && find_routes(&builder, out);
	out->taken = found ? route_of(job, out) : 0;
	sequence_free(sequence);
	return found;
}

void sequence_free(struct sequence *sequence)
{
	if (!sequence)
		return;
	free(sequence->route);
	free(sequence->moves);
	free(sequence->calls);
	free(sequence);
}

/* ---- A plan with its pattern ---- */

bool plan_read(struct plan *out, const char *file, const char *text, const char *pattern_text,
	       const struct machine *machine, struct faults *faults)
{
	bool good;
	struct job *job = job_read_partly(yaml_read_text(file, text, faults), &good);

	*out = (struct plan){.job = job};
	if (!job || !job->pattern)
		return false;
	job->machine = *machine;
	out->pattern = pattern_text
			       ? pattern_read(yaml_read_text(job->pattern, pattern_text, faults))
			       : job_find_pattern(job, faults);
	if (!out->pattern)
		return false;
	if (good)
		return (out->sequence = sequence_compile(job, out->pattern, faults)) != NULL;
	/* The faults that do not follow from those there are already. */
	struct faults dependent = {0};
	sequence_free(compile(job, out->pattern, faults, &dependent));
	faults_free(&dependent);
	return false;
}

void plan_free(struct plan *plan)
{
	sequence_free(plan->sequence);
	pattern_free(plan->pattern);
	job_free(plan->job);
	*plan = (struct plan){0};
}
