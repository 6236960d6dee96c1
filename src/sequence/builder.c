#include "sequence/internal.h"

#include "base/base.h"

#include <math.h>

static void new_call(struct builder *builder, enum call_kind kind)
{
	struct sequence *sequence = builder->sequence;

	if (sequence->call_count == builder->call_capacity) {
		builder->call_capacity = builder->call_capacity ? 2 * builder->call_capacity : 64;
		sequence->calls = memory_resize(sequence->calls, (size_t)builder->call_capacity,
						sizeof(sequence->calls[0]));
	}
	sequence->calls[sequence->call_count++] = (struct call){
		.kind = kind,
		.first = sequence->move_count,
		.last = sequence->move_count - 1,
		.subject = sequence->move_count,
	};
}

void builder_whole_call(struct builder *builder, enum call_kind kind)
{
	new_call(builder, kind);
	builder->call_open = true;
}

void builder_call(struct builder *builder, enum call_kind kind)
{
	builder->call_open = false;
	if (builder->sequence->job->detail != DETAIL_LEARNER)
		builder_whole_call(builder, kind);
}

void builder_add(struct builder *builder, enum call_kind learner_kind, const struct move *move)
{
	struct sequence *sequence = builder->sequence;

	if (!builder->call_open)
		new_call(builder, learner_kind);
	if (sequence->move_count == builder->move_capacity) {
		builder->move_capacity = builder->move_capacity ? 2 * builder->move_capacity : 256;
		sequence->moves = memory_resize(sequence->moves, (size_t)builder->move_capacity,
						sizeof(sequence->moves[0]));
	}
	sequence->moves[sequence->move_count] = *move;
	sequence->calls[sequence->call_count - 1].last = sequence->move_count;
	sequence->move_count++;
}

void builder_subject(struct builder *builder)
{
	struct sequence *sequence = builder->sequence;

	sequence->calls[sequence->call_count - 1].subject = sequence->move_count - 1;
}

void builder_tension(struct builder *builder, enum phase phase, enum string_kind strings,
		     int number)
{
	const struct job *job = builder->sequence->job;
	struct quantity tension = job_tension(job, strings, number);
	const struct string_length *length =
		job->method == METHOD_ONE_PIECE ? &job->whole : &job->length[strings];
	double prestretch = length->prestretch;

	if (builder->tension_set && quantity_same(builder->tension, tension) &&
	    fabs(builder->prestretch - prestretch) < 1e-6)
		return;
	builder->tension_set = true;
	builder->tension = tension;
	builder->prestretch = prestretch;
	builder_whole_call(builder, CALL_SET_TENSION);
	builder_add(builder, CALL_SET_TENSION,
		    &(struct move){
			    .action = DO_SET_TENSION,
			    .phase = phase,
			    .subject = strings == STRING_MAIN ? SUBJECT_MAINS : SUBJECT_CROSSES,
			    .tension = tension,
			    .prestretch = prestretch,
		    });
}
