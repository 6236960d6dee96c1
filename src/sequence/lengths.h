/* How much string a job takes, and whether it is there. */
#ifndef SEQUENCE_LENGTHS_H
#define SEQUENCE_LENGTHS_H

#include "base/fault.h"
#include "job/job.h"

/* Estimates in millimetres; 0: not known, or not a length of this method. */
struct lengths {
	double mains_mm; /* two-piece */
	double crosses_mm;
	double short_mm; /* one-piece: the short side, the long side, both */
	double long_mm;
	double total_mm;
};

/* The lengths of a two-piece job; all 0 if the pattern does not say how large the head is. */
struct lengths lengths_of_two_pieces(const struct job *job, const struct pattern *pattern);

/* The same of a one-piece job, whose long side strings so many mains in a row and then runs so far
 * outside the frame on its way. */
struct lengths lengths_of_one_piece(const struct job *job, const struct pattern *pattern,
				    int in_a_row, double outside_mm);

/* Compares a length on hand with the estimate. Too short is an error that says by how much, and a
 * warning if the plan accepts it. False if there was an error. */
bool length_suffices(const struct job *job, const struct string_length *length, const char *what,
		     double needed_mm, struct faults *faults);

#endif
