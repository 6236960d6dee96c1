/* A job plan with its pattern and the sequence compiled from them, held together. */
#ifndef SEQUENCE_PLAN_H
#define SEQUENCE_PLAN_H

#include "sequence/sequence.h"

struct plan {
	struct job *job;
	struct pattern *pattern;
	struct sequence *sequence;
};

/* From a job plan's file ("-": standard input) or text, its pattern looked for as usual
 * (job/job.h). reach_mm is the machine's. False if it cannot be done; faults says why, and *out
 * holds what could be made all the same. plan_free in any case. */
bool plan_read(struct plan *out, const char *path, double reach_mm, struct faults *faults);
bool plan_read_text(struct plan *out, const char *file, const char *text, double reach_mm,
		    struct faults *faults);

/* The same with the pattern as a text too: as it was when a journal was written. */
bool plan_read_texts(struct plan *out, const char *file, const char *text, const char *pattern_file,
		     const char *pattern_text, double reach_mm, struct faults *faults);

void plan_free(struct plan *plan);

#endif
