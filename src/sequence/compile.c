#include "sequence/builder.h"

#include "base/memory.h"

#include <stdlib.h>

static void add_simple(struct builder *builder, enum call_kind kind, enum phase phase,
		       enum action action, enum subject subject)
{
	builder_call(builder, kind);
	builder_add(builder, kind,
		    &(struct move){.action = action, .phase = phase, .subject = subject});
}

static void add_cut(struct builder *builder, enum subject subject, double length_mm)
{
	builder_call(builder, CALL_CUT);
	builder_add(builder, CALL_CUT,
		    &(struct move){
			    .action = DO_CUT,
			    .phase = PHASE_PREPARE,
			    .subject = subject,
			    .length_mm = length_mm,
		    });
}

static void build_preparation(struct builder *builder)
{
	enum phase phase = PHASE_PREPARE;

	add_simple(builder, CALL_CHECK_EYES, phase, DO_CHECK, SUBJECT_EYES);
	add_simple(builder, CALL_CUT_OUT, phase, DO_CUT_OUT, SUBJECT_NONE);
	add_simple(builder, CALL_INSPECT_FRAME, phase, DO_INSPECT, SUBJECT_FRAME);
	add_simple(builder, CALL_INSPECT_STRING, phase, DO_INSPECT, SUBJECT_STRING);
	add_cut(builder, SUBJECT_MAINS, builder->sequence->lengths.mains_mm);
	add_cut(builder, SUBJECT_CROSSES, builder->sequence->lengths.crosses_mm);
	add_simple(builder, CALL_MOUNT, phase, DO_MOUNT, SUBJECT_NONE);
	add_simple(builder, CALL_LOCK, phase, DO_LOCK, SUBJECT_NONE);
	builder_tension(builder, phase, STRING_MAIN, 1);
}

static void build_finish(struct builder *builder)
{
	enum phase phase = PHASE_FINISH;

	add_simple(builder, CALL_DISMOUNT, phase, DO_DISMOUNT, SUBJECT_NONE);
	add_simple(builder, CALL_CHECK_BED, phase, DO_CHECK, SUBJECT_BED);
	add_simple(builder, CALL_TRIM, phase, DO_TRIM, SUBJECT_NONE);
	add_simple(builder, CALL_STRAIGHTEN, phase, DO_STRAIGHTEN, SUBJECT_NONE);
}

static void choose_start(struct builder *builder)
{
	struct sequence *sequence = builder->sequence;
	const struct pattern *pattern = sequence->pattern;
	const struct job *job = sequence->job;

	sequence->mains_start = job->start_forced ? job->mains_start : pattern_mains_start(pattern);
	sequence->mains_end = pattern_main_end(sequence->mains_start, pattern_half(pattern));
	int main = pattern_loop_over_gap(pattern, sequence->mains_start);
	if (main)
		fault_add(builder->faults, FAULT_WARNING, job->file, job->start_position,
			  "start-gap",
			  "mains started at the %s loop from %d to %d across the gap where the "
			  "bridge ends: the %s is the usual start for %s",
			  end_name(sequence->mains_start), main, main + 1,
			  end_name(other_end(sequence->mains_start)), pattern->name);
}

static void number_crosses(struct sequence *sequence)
{
	const struct pattern *pattern = sequence->pattern;
	int last = pattern->crosses;

	for (int c = 1; c <= last; c++)
		sequence->cross_hole[c] =
			pattern->cross_hole[pattern->crosses_start == END_HEAD ? c : last + 1 - c];
}

/* Where it is said that one of the first two crosses is pulled otherwise than the other. */
static struct position first_pull_split(const struct job *job)
{
	for (int i = 0; i < job->adjustment_count; i++) {
		const struct adjustment *adjustment = &job->adjustments[i];
		if (adjustment->strings == STRING_CROSS && adjustment->first <= 2 &&
		    (adjustment->first == 2 || adjustment->last == 1))
			return adjustment->position;
	}
	return job->tension_position[STRING_CROSS];
}

/* What cannot be done, with the reason. */
static bool can_be_done(const struct builder *builder)
{
	const struct job *job = builder->sequence->job;

	if (job->method == METHOD_ONE_PIECE) {
		fault_add(builder->faults, FAULT_ERROR, job->file, job->method_position, "method",
			  "one-piece work is not computed: write \"two-piece\"");
		return false;
	}
	if (job->first_pull == 2 &&
	    !quantity_same(job_tension(job, STRING_CROSS, 1), job_tension(job, STRING_CROSS, 2))) {
		fault_add(builder->faults, FAULT_ERROR, job->file, first_pull_split(job),
			  "adjust-first-pull",
			  "crosses 1 and 2 are pulled together but differ in tension: adjust both, "
			  "or set first_pull to 1");
		return false;
	}
	return true;
}

static bool string_is_there(struct sequence *sequence, struct faults *faults)
{
	const struct job *job = sequence->job;
	const struct string_length *length = job->length;

	sequence->lengths = lengths_of_two_pieces(job, sequence->pattern);
	bool mains = length_suffices(job, &length[STRING_MAIN], "the mains",
				     sequence->lengths.mains_mm, faults);
	bool crosses = length_suffices(job, &length[STRING_CROSS], "the crosses",
				       sequence->lengths.crosses_mm, faults);
	return mains && crosses;
}

struct sequence *sequence_compile(const struct job *job, const struct pattern *pattern,
				  struct faults *faults)
{
	struct sequence *sequence = memory_new(1, sizeof(*sequence));
	struct builder builder = {.sequence = sequence, .faults = faults};

	sequence->job = job;
	sequence->pattern = pattern;
	choose_start(&builder);
	number_crosses(sequence);
	/* All that is at fault is said at once. */
	bool good = job_fits(job, pattern, faults);
	good &= string_is_there(sequence, faults);
	good &= can_be_done(&builder);
	good &= tie_offs_choose(&builder);
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

void sequence_free(struct sequence *sequence)
{
	if (!sequence)
		return;
	free(sequence->moves);
	free(sequence->calls);
	free(sequence);
}

enum phase call_phase(const struct sequence *sequence, int call)
{
	return sequence->moves[sequence->calls[call].first].phase;
}
