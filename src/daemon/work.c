/* The job under way, and what is told of it. */
#include "daemon/internal.h"

#include <stdlib.h>

struct work *work_new(struct script *script, const struct phrasebook *book,
		      const struct bench *bench, int place)
{
	if (!script)
		return NULL;
	struct work *work = memory_new(1, sizeof(*work));

	work->script = script;
	work->book = book;
	work->options = bench->phrases;
	session_init(&work->session, script, place);
	return work;
}

/* The script of a job that has none that this version can read: from its plan and its pattern, if
 * that gives as many calls. It is kept. */
static struct script *work_out_again(struct journal *journal, const struct journal_job *job,
				     const struct phrasebook *book, const struct bench *bench,
				     char **why)
{
	struct faults faults = {0};
	struct script *script = script_read_text(job->plan_file, job->plan_text, job->pattern_text,
						 NULL, bench, book, &faults);

	if (!script || script->count != job->calls)
		*why = memory_format("job %s was begun by another version of pullcall, and %s: "
				     "close it with \"pullcall abandon %lld REASON\", or begin it "
				     "again with --new",
				     job->name,
				     script ? "this one makes other calls of its plan"
					    : faults_first_error(&faults),
				     (long long)job->number);
	else if (journal_keep_script(journal, job->number, script) != JOURNAL_OK)
		*why = memory_copy(journal_message(journal));
	faults_free(&faults);
	if (!*why)
		return script;
	script_free(script);
	return NULL;
}

/* Whether a later call was ever reached than the one where the job stands. Calls of a way back have
 * higher numbers than all before it: at its first call, whether it was gone on from. */
static bool went_on(struct journal *journal, const struct journal_job *job)
{
	static const char sql[] = "SELECT 1 FROM event WHERE job = :job AND call > :call";
	bool later = false;

	journal_ask(journal, sql,
		    FIELDS(field_number("job", job->number), field_number("call", job->call)),
		    TARGETS(INTO(later)));
	return later;
}

enum exit_code work_reopen(struct journal *journal, const struct journal_job *job,
			   const struct phrasebook *book, const struct bench *bench,
			   struct work **out, char **why)
{
	struct script *script = NULL;
	enum journal_status status = journal_script(journal, job->number, &script);

	*why = NULL;
	if (status == JOURNAL_NONE)
		script = work_out_again(journal, job, book, bench, why);
	else if (status != JOURNAL_OK)
		*why = memory_copy(journal_message(journal));
	int place = script ? script_place(script, job->call) : 0;
	if (script && place == 0) {
		*why = memory_format("the journal does not know where job %s stands: its script "
				     "has no call %d",
				     job->name, job->call);
		script_free(script);
		script = NULL;
	}
	*out = work_new(script, book, bench, place);
	if (*out && went_on(journal, job))
		(*out)->session.way_back = 0;
	if (*out)
		return EXIT_DONE;
	return status == JOURNAL_NONE ? EXIT_NO : EXIT_IO;
}

void work_free(struct work *work)
{
	if (!work)
		return;
	session_free(&work->session);
	free(work->last_tension);
	script_free(work->script);
	free(work->words);
	free(work);
}

double work_pace(const struct work *work)
{
	return work->is_first ? 0 : pace_ratio(&work->session);
}

const char *work_words(const struct work *work)
{
	bool taught = script_is_taught(work->script) && work->words;

	return taught ? work->words : script_words(work->script, work->session.call);
}

const char *work_next_words(const struct work *work, int place)
{
	const char *name = script_line(work->script, place)->name;

	return name ? name : script_words(work->script, place);
}

char *work_notice(const struct work *work, const struct session_effect *said, int64_t now_us)
{
	const struct script *script = work->script;
	struct script_left left = script_left(script, work->session.call);
	const struct notice_facts facts = {
		.job = script->job,
		.racket = script->racket,
		.place = script_line(script, said->call ? said->call : work->session.call)->place,
		.mains = script->whole.mains,
		.crosses = script->whole.crosses,
		.pattern = script->pattern,
		.tensions = {script->tension[0], script->tension[1]},
		.strings = {script->string[0], script->string[1]},
		.mains_left = left.mains,
		.crosses_left = left.crosses,
		.reason = said->text,
		.string = said->call ? script_line(script, said->call)->place : NULL,
		.notes = script->notes,
		.last_tension = work->last_tension,
		.reel_left_mm = work->reel_left_mm,
		.last_days = work->last_days,
		.last_month = work->last_month,
		.seconds_left = (double)pace_left_us(&work->session, now_us) / (double)SECOND_US,
		.seconds_worked =
			(double)session_worked_us(&work->session, now_us) / (double)SECOND_US,
	};

	return phrase_notice(work->book, said->notice, &facts, &work->options);
}
