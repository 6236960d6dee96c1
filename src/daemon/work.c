#include "daemon/daemon.h"

#include "base/base.h"
#include "daemon/internal.h"
#include "session/session.h"

#include <stdlib.h>

/* Takes script. NULL if it is NULL. */
static struct work *new_work(struct script *script, const struct phrasebook *book,
			     const struct bench *bench, int call)
{
	if (!script)
		return NULL;
	struct work *work = memory_new(1, sizeof(*work));
	int calls = script->count;

	work->script = script;
	work->book = book;
	work->options = bench_phrase_options(bench);
	session_init(&work->session, calls, call <= calls ? call : calls + 1);
	return work;
}

struct work *work_load(const char *path, const struct phrasebook *book, const struct bench *bench,
		       struct faults *faults)
{
	return new_work(script_read(path, bench, book, faults), book, bench, 1);
}

struct work *work_reopen(const struct journal_place *place, const struct phrasebook *book,
			 const struct bench *bench, struct faults *faults)
{
	struct script *script =
		script_read_texts(place->plan_file, place->plan_text, place->pattern,
				  place->pattern_text, bench, book, faults);

	return new_work(script, book, bench, place->call > 0 ? place->call : 1);
}

void work_free(struct work *work)
{
	if (!work)
		return;
	session_free(&work->session);
	script_free(work->script);
	free(work);
}

struct script_left work_strings_left(const struct work *work)
{
	return script_left(work->script, work->session.call);
}

enum journal_status work_journal(const struct work *work, struct journal *journal)
{
	const struct script *script = work->script;
	struct journal_call *calls = memory_new((size_t)script->count, sizeof(*calls));
	const struct journal_job job = {
		.name = script->job,
		.stringer = script->stringer,
		.pattern = script->pattern,
		.sport = script->sport,
		.method = script->method,
		.plan_file = script->plan_file,
		.plan_text = script->plan_text,
		.pattern_text = script->pattern_text,
		.language = script->language,
		.program = script->program,
		.created_us = clock_wall_us(),
	};

	for (int i = 0; i < script->count; i++)
		calls[i] = (struct journal_call){
			.phase = script->lines[i].phase,
			.kind = script->lines[i].kind,
			.string = script->lines[i].string,
			.number = script->lines[i].number,
			.side = script->lines[i].side,
			.text = script_words(script, i + 1),
		};
	enum journal_status status = journal_begin(journal, &job, calls, script->count);
	free(calls);
	return status;
}

int64_t work_left_us(const struct work *work, int64_t now_us)
{
	return pace_left_us(&work->session, work->script, now_us);
}

char *work_notice(const struct work *work, enum notice notice, int64_t now_us)
{
	const struct script *script = work->script;
	struct script_left left = work_strings_left(work);
	const struct notice_facts facts = {
		.job = script->job,
		.place = script_line(script, work->session.call)->place,
		.mains = script->whole.mains,
		.crosses = script->whole.crosses,
		.mains_left = left.mains,
		.crosses_left = left.crosses,
		.seconds_left = (double)work_left_us(work, now_us) / (double)SECOND_US,
		.seconds_worked =
			(double)session_worked_us(&work->session, now_us) / (double)SECOND_US,
	};

	return phrase_notice(work->book, notice, &facts, &work->options);
}
