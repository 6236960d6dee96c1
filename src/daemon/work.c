#include "daemon/daemon.h"

#include "base/base.h"
#include "daemon/internal.h"
#include "session/session.h"

#include <stdlib.h>

/* Words and weights for the compiled sequence. */
static void prepare_calls(struct work *work)
{
	int calls = work->plan.sequence->call_count;
	struct phrase_options again = work->options;

	again.again = true;
	work->words = memory_new((size_t)calls + 1, sizeof(char *));
	work->words_again = memory_new((size_t)calls + 1, sizeof(char *));
	work->weight_s = memory_new((size_t)calls + 1, sizeof(double));
	for (int call = 1; call <= calls; call++) {
		work->words[call] =
			phrase_call(work->book, work->plan.sequence, call - 1, &work->options);
		work->words_again[call] =
			phrase_call(work->book, work->plan.sequence, call - 1, &again);
		work->weight_s[call] = call_kind_seconds(work->plan.sequence->calls[call - 1].kind);
	}
}

static struct work *new_work(const struct phrasebook *book, const struct bench *bench)
{
	struct work *work = memory_new(1, sizeof(*work));

	work->book = book;
	work->language = bench->language;
	work->options = bench_phrase_options(bench);
	return work;
}

/* Frees work and returns NULL if its plan cannot be done. */
static struct work *finish(struct work *work, bool good, int call)
{
	if (!good) {
		work_free(work);
		return NULL;
	}
	prepare_calls(work);
	int calls = work->plan.sequence->call_count;
	session_init(&work->session, calls, call <= calls ? call : calls + 1);
	return work;
}

struct work *work_load(const char *path, const struct phrasebook *book, const struct bench *bench,
		       struct faults *faults)
{
	struct work *work = new_work(book, bench);

	return finish(work, plan_read(&work->plan, path, bench->reach_mm, faults), 1);
}

struct work *work_reopen(const struct journal_place *place, const struct phrasebook *book,
			 const struct bench *bench, struct faults *faults)
{
	struct work *work = new_work(book, bench);
	bool good = plan_read_texts(&work->plan, place->plan_file, place->plan_text, place->pattern,
				    place->pattern_text, bench->reach_mm, faults);

	return finish(work, good, place->call > 0 ? place->call : 1);
}

void work_free(struct work *work)
{
	if (!work)
		return;
	int calls = work->plan.sequence ? work->plan.sequence->call_count : 0;
	for (int call = 1; call <= calls; call++) {
		free(work->words[call]);
		free(work->words_again[call]);
	}
	free(work->words);
	free(work->words_again);
	free(work->weight_s);
	session_free(&work->session);
	plan_free(&work->plan);
	free(work);
}

const struct move *work_subject(const struct work *work, int call)
{
	return &work->plan.sequence->moves[work->plan.sequence->calls[call - 1].subject];
}

const char *work_phase(const struct work *work, int call)
{
	return call > work->plan.sequence->call_count
		       ? phase_name(PHASE_FINISH)
		       : phase_name(call_phase(work->plan.sequence, call - 1));
}

struct tally work_tally(const struct work *work, int call)
{
	const struct sequence *sequence = work->plan.sequence;
	struct tally tally = {.mains = work->plan.pattern->mains,
			      .crosses = work->plan.pattern->crosses};
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
	int count = work->plan.sequence->call_count;
	struct journal_call *calls = memory_new((size_t)count, sizeof(*calls));
	const struct journal_job job = {
		.name = work->plan.job->name,
		.stringer = work->plan.job->stringer,
		.pattern = work->plan.pattern->name,
		.sport = sport_name(work->plan.pattern->sport),
		.method = method_name(work->plan.job->method),
		.plan_file = work->plan.job->file,
		.plan_text = work->plan.job->text,
		.pattern_text = work->plan.pattern->text,
		.language = work->language,
		.program = PULLCALL_PROGRAM,
		.created_us = clock_wall_us(),
	};

	for (int i = 0; i < count; i++) {
		const struct move *move = work_subject(work, i + 1);
		calls[i] = (struct journal_call){
			.phase = work_phase(work, i + 1),
			.kind = call_kind_name(work->plan.sequence->calls[i].kind),
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
	int calls = work->plan.sequence->call_count;
	int call = work->session.call > calls ? calls : work->session.call;
	struct notice_facts facts = {
		.call = call - 1,
		.seconds_left = (double)work_left_us(work, now_us) / (double)SECOND_US,
		.seconds_worked =
			(double)session_worked_us(&work->session, now_us) / (double)SECOND_US,
	};

	return phrase_notice(work->book, work->plan.sequence, notice, &facts, &work->options);
}
