#include "daemon/work.h"

#include "base/clock.h"
#include "base/memory.h"
#include "daemon/version.h"
#include "session/pace.h"

#include <stdlib.h>

/* Seconds that a practised hand takes for a call of each kind, from memory; a job's own pace soon
 * corrects them (session/pace.h), so only their proportions matter. */
static double usual_s(enum call_kind kind)
{
	switch (kind) {
	case CALL_CUT_OUT:
	case CALL_MOUNT:
		return 90;
	case CALL_INSPECT_FRAME:
	case CALL_INSPECT_STRING:
	case CALL_CUT:
	case CALL_CHECK_BED:
	case CALL_STRAIGHTEN:
	case CALL_CROSS:
	case CALL_CROSS_BEHIND:
	case CALL_CROSS_PULL:
		return 45;
	case CALL_WEAVE:
	case CALL_WEAVE_LOOP:
		return 30;
	case CALL_TIE_OFF:
	case CALL_START_KNOT:
	case CALL_DISMOUNT:
	case CALL_TRIM:
		return 40;
	case CALL_MAIN:
	case CALL_FEED_CENTRE:
		return 20;
	default:
		return 10;
	}
}

static void set_options(struct work *work, const struct bench *bench)
{
	work->options = (struct phrase_options){
		.side_words = {bench->side_words[SIDE_LEFT], bench->side_words[SIDE_RIGHT]},
		.unit_chosen = !bench->unit_as_written,
		.unit = bench->unit,
	};
}

/* Words and weights for the compiled sequence. */
static void prepare_calls(struct work *work)
{
	int calls = work->sequence->call_count;

	work->words = memory_new((size_t)calls + 1, sizeof(char *));
	work->weight_s = memory_new((size_t)calls + 1, sizeof(double));
	for (int call = 1; call <= calls; call++) {
		work->words[call] =
			phrase_call(work->book, work->sequence, call - 1, &work->options);
		work->weight_s[call] = usual_s(work->sequence->calls[call - 1].kind);
	}
}

static struct work *new_work(const struct phrasebook *book, const struct bench *bench)
{
	struct work *work = memory_new(1, sizeof(*work));

	work->book = book;
	work->reach_mm = bench->reach_mm;
	work->language = bench->language;
	set_options(work, bench);
	return work;
}

/* Compiles what was read; frees work and returns NULL where that fails. */
static struct work *compile(struct work *work, int call, struct faults *faults)
{
	if (work->job)
		work->job->reach_mm = work->reach_mm;
	if (work->job && work->pattern)
		work->sequence = sequence_compile(work->job, work->pattern, faults);
	if (!work->sequence) {
		work_free(work);
		return NULL;
	}
	prepare_calls(work);
	int last = work->sequence->call_count + 1;
	session_init(&work->session, work->sequence->call_count, call < last ? call : last);
	return work;
}

struct work *work_load(const char *path, const struct phrasebook *book, const struct bench *bench,
		       struct faults *faults)
{
	struct work *work = new_work(book, bench);

	work->job = job_read(path, faults);
	if (work->job)
		work->pattern = job_find_pattern(work->job, faults);
	return compile(work, 1, faults);
}

struct work *work_reopen(const struct journal_place *place, const struct phrasebook *book,
			 const struct bench *bench, struct faults *faults)
{
	struct work *work = new_work(book, bench);

	work->job = job_read_text(place->plan_file, place->plan_text, faults);
	work->pattern = pattern_read_text(place->pattern, place->pattern_text, faults);
	return compile(work, place->call > 0 ? place->call : 1, faults);
}

void work_free(struct work *work)
{
	if (!work)
		return;
	int calls = work->sequence ? work->sequence->call_count : 0;
	for (int call = 1; call <= calls; call++)
		free(work->words[call]);
	free(work->words);
	free(work->weight_s);
	session_free(&work->session);
	sequence_free(work->sequence);
	pattern_free(work->pattern);
	job_free(work->job);
	free(work);
}

const struct move *work_subject(const struct work *work, int call)
{
	return &work->sequence->moves[work->sequence->calls[call - 1].subject];
}

const char *work_phase(const struct work *work, int call)
{
	return call > work->sequence->call_count ? phase_name(PHASE_FINISH)
						 : phase_name(call_phase(work->sequence, call - 1));
}

struct tally work_tally(const struct work *work, int call)
{
	const struct sequence *sequence = work->sequence;
	struct tally tally = {.mains = work->pattern->mains, .crosses = work->pattern->crosses};
	int end = call > sequence->call_count ? sequence->move_count
					      : sequence->calls[call - 1].first;

	for (int i = 0; i < end; i++) {
		const struct move *move = &sequence->moves[i];
		if (move->action != DO_PULL)
			continue;
		if (move->string == STRING_MAIN)
			tally.mains_done++;
		else
			tally.crosses_done += move->pulls_last - move->pulls_first + 1;
	}
	return tally;
}

enum journal_status work_journal(const struct work *work, struct journal *journal)
{
	int count = work->sequence->call_count;
	struct journal_call *calls = memory_new((size_t)count, sizeof(*calls));
	const struct journal_job job = {
		.name = work->job->name,
		.stringer = work->job->stringer,
		.pattern = work->pattern->name,
		.sport = sport_name(work->pattern->sport),
		.method = method_name(work->job->method),
		.plan_file = work->job->file,
		.plan_text = work->job->text,
		.pattern_text = work->pattern->text,
		.language = work->language,
		.program = PULLCALL_PROGRAM,
		.created_us = clock_wall_us(),
	};

	for (int i = 0; i < count; i++) {
		const struct move *move = work_subject(work, i + 1);
		calls[i] = (struct journal_call){
			.phase = work_phase(work, i + 1),
			.kind = call_kind_name(work->sequence->calls[i].kind),
			.string = move->has_string ? string_name(move->string) : NULL,
			.number = move->number,
			.side = move->has_side ? side_name(move->side) : NULL,
			.text = work->words[i + 1],
		};
	}
	enum journal_status status = journal_begin(journal, &job, calls, count);
	free(calls);
	return status;
}

int64_t work_left_us(const struct work *work, int64_t now_us)
{
	return pace_left_us(&work->session, work->weight_s, now_us);
}

char *work_notice(const struct work *work, enum notice notice, int64_t now_us)
{
	int calls = work->sequence->call_count;
	int call = work->session.call > calls ? calls : work->session.call;
	struct notice_facts facts = {
		.call = call - 1,
		.seconds_left = (double)work_left_us(work, now_us) / (double)SECOND_US,
		.seconds_worked =
			(double)session_worked_us(&work->session, now_us) / (double)SECOND_US,
	};

	return phrase_notice(work->book, work->sequence, notice, &facts, &work->options);
}
