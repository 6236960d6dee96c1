#include "sequence/sequence.h"

#include <string.h>

static bool compile(struct plan *plan, struct faults *faults)
{
	if (plan->job && plan->pattern)
		plan->sequence = sequence_compile(plan->job, plan->pattern, faults);
	return plan->sequence != NULL;
}

/* Of a plan that has faults already, adds those that do not follow from them. */
static void add_independent(const struct plan *plan, struct faults *faults)
{
	static const char *const codes[] = {"tension-range", "adjust-range", "adjust-tension",
					    "tie-off-extra", "length-short"};
	struct faults found = {0};

	sequence_free(sequence_compile(plan->job, plan->pattern, &found));
	for (size_t i = 0; i < found.count; i++)
		for (size_t j = 0; j < sizeof(codes) / sizeof(codes[0]); j++)
			if (strcmp(found.items[i].code, codes[j]) == 0)
				fault_add(faults, found.items[i].severity, found.items[i].file,
					  found.items[i].position, codes[j], "%s",
					  found.items[i].text);
	faults_free(&found);
}

/* Takes the document, which may be NULL; `errors`: how many there were before it was read. */
static bool complete(struct plan *plan, struct yaml_document *document, size_t errors,
		     const struct machine *machine, struct faults *faults)
{
	*plan = (struct plan){.job = job_read_partly(document)};
	if (!plan->job)
		return false;
	plan->job->machine = *machine;
	bool good = faults->errors == errors;
	if (plan->job->pattern)
		plan->pattern = job_find_pattern(plan->job, faults);
	if (good)
		return compile(plan, faults);
	if (plan->pattern)
		add_independent(plan, faults);
	return false;
}

bool plan_read(struct plan *out, const char *path, const struct machine *machine,
	       struct faults *faults)
{
	size_t errors = faults->errors;

	return complete(out, yaml_read(path, faults), errors, machine, faults);
}

bool plan_read_text(struct plan *out, const char *file, const char *text,
		    const struct machine *machine, struct faults *faults)
{
	size_t errors = faults->errors;

	return complete(out, yaml_read_bytes(file, text, strlen(text), faults), errors, machine,
			faults);
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
