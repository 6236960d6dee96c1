#include "sequence/internal.h"

static struct length_allowance allowance_of(const struct job *job)
{
	struct length_allowance allowance = LENGTH_ALLOWANCE_DEFAULT;

	allowance.reach_mm = job->machine.reach_mm;
	allowance.margin_mm = job->machine.margin_mm;
	return allowance;
}

struct lengths lengths_of_two_pieces(const struct job *job, const struct pattern *pattern)
{
	struct length_allowance allowance = allowance_of(job);
	struct bed bed;

	if (!bed_of_pattern(pattern, &bed))
		return (struct lengths){0};
	double mains_mm = length_of_mains_mm(&bed, &allowance);
	double crosses_mm = length_of_crosses_mm(&bed, &allowance);
	return (struct lengths){
		.mains_mm = mains_mm,
		.crosses_mm = crosses_mm,
		.total_mm = mains_mm + crosses_mm,
	};
}

struct lengths lengths_of_one_piece(const struct job *job, const struct pattern *pattern,
				    int in_a_row, double outside_mm)
{
	struct length_allowance allowance = allowance_of(job);
	struct bed bed;

	if (!bed_of_pattern(pattern, &bed))
		return (struct lengths){0};
	double short_mm = length_of_short_side_mm(&bed, &allowance);
	double long_mm = length_of_long_side_mm(&bed, &allowance, in_a_row, outside_mm);
	return (struct lengths){
		.short_mm = short_mm,
		.long_mm = long_mm,
		.total_mm = short_mm + long_mm,
	};
}

bool length_suffices(const struct job *job, const struct string_length *length, const char *what,
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
