#include "sequence/internal.h"

static struct length_allowance allowance_of(const struct job *job)
{
	struct length_allowance allowance = LENGTH_ALLOWANCE_DEFAULT;

	allowance.reach_mm = job->machine.reach_mm;
	allowance.margin_mm = job->machine.margin_mm;
	return allowance;
}

/* All 0 if the pattern does not say how large the head is. */
static struct lengths lengths_of(const struct sequence *sequence)
{
	const struct job *job = sequence->job;
	struct length_allowance allowance = allowance_of(job);
	struct lengths lengths = {0};
	struct bed bed;

	if (!bed_of_pattern(sequence->pattern, &bed))
		return lengths;
	if (sequence->route) {
		lengths.short_mm = length_of_short_side_mm(&bed, &allowance);
		lengths.long_mm = length_of_long_side_mm(&bed, &allowance,
							 mains_in_a_row(sequence, job->weave_side),
							 sequence->route->outside_mm);
	} else {
		lengths.mains_mm = length_of_mains_mm(&bed, &allowance);
		lengths.crosses_mm = length_of_crosses_mm(&bed, &allowance);
	}
	lengths.total_mm =
		lengths.short_mm + lengths.long_mm + lengths.mains_mm + lengths.crosses_mm;
	return lengths;
}

/* Too short is an error that says by how much, and a warning if the plan accepts it. */
static bool suffices(const struct job *job, const struct string_length *length, const char *what,
		     double needed_mm, struct faults *faults)
{
	double short_mm = needed_mm - length->on_hand_mm;
	/* The margin is there to be used. */
	bool enough = job->accept_short || short_mm <= job->machine.margin_mm;

	if (length->on_hand_mm == 0 || needed_mm == 0 || short_mm <= 0)
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

bool string_suffices(struct sequence *sequence, struct faults *faults)
{
	const struct job *job = sequence->job;
	const struct lengths *lengths = &sequence->lengths;

	sequence->lengths = lengths_of(sequence);
	if (sequence->route)
		return suffices(job, &job->whole, "all strings", lengths->total_mm, faults);
	bool mains =
		suffices(job, &job->length[STRING_MAIN], "the mains", lengths->mains_mm, faults);
	bool crosses = suffices(job, &job->length[STRING_CROSS], "the crosses", lengths->crosses_mm,
				faults);
	return mains && crosses;
}
