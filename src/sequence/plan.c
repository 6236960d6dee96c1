#include "sequence/sequence.h"

static bool compile(struct plan *plan, struct faults *faults)
{
	if (plan->job && plan->pattern)
		plan->sequence = sequence_compile(plan->job, plan->pattern, faults);
	return plan->sequence != NULL;
}

/* Takes job, which may be NULL. */
static bool complete(struct plan *plan, struct job *job, const struct machine *machine,
		     struct faults *faults)
{
	*plan = (struct plan){.job = job};
	if (!job)
		return false;
	job->machine = *machine;
	plan->pattern = job_find_pattern(job, faults);
	return compile(plan, faults);
}

bool plan_read(struct plan *out, const char *path, const struct machine *machine,
	       struct faults *faults)
{
	return complete(out, job_read(path, faults), machine, faults);
}

bool plan_read_text(struct plan *out, const char *file, const char *text,
		    const struct machine *machine, struct faults *faults)
{
	return complete(out, job_read_text(file, text, faults), machine, faults);
}

bool plan_read_texts(struct plan *out, const char *file, const char *text, const char *pattern_file,
		     const char *pattern_text, const struct machine *machine, struct faults *faults)
{
	*out = (struct plan){
		.job = job_read_text(file, text, faults),
		.pattern = pattern_read_text(pattern_file, pattern_text, faults),
	};
	if (out->job)
		out->job->machine = *machine;
	return compile(out, faults);
}

void plan_free(struct plan *plan)
{
	sequence_free(plan->sequence);
	pattern_free(plan->pattern);
	job_free(plan->job);
	*plan = (struct plan){0};
}
