#include "daemon/daemon.h"

#include "base/base.h"
#include "daemon/internal.h"
#include "session/session.h"

#include <stdlib.h>

/* Takes script. NULL if it is NULL. */
static struct work *new_work(struct script *script, const struct phrasebook *book,
			     const struct bench *bench, int place)
{
	if (!script)
		return NULL;
	struct work *work = memory_new(1, sizeof(*work));

	work->script = script;
	work->book = book;
	work->options = bench_phrase_options(bench);
	session_init(&work->session, script, place);
	return work;
}

struct work *work_load(const char *path, const char *teach, const struct phrasebook *book,
		       const struct bench *bench, struct faults *faults)
{
	return new_work(script_read(path, teach, bench, book, faults), book, bench, 1);
}

struct work *work_load_text(const char *file, const char *text, const struct phrasebook *book,
			    const struct bench *bench, struct faults *faults)
{
	return new_work(script_read_text(file, text, NULL, bench, book, faults), book, bench, 1);
}

struct work *work_new(struct script *script, const struct phrasebook *book,
		      const struct bench *bench)
{
	return new_work(script, book, bench, 1);
}

/* A job of a version-1 journal has no script, but all its calls: they become one, which is kept. */
static struct script *recover(struct journal *journal, const struct journal_job *job, char **why)
{
	struct faults faults = {0};
	struct script *calls = NULL, *script = NULL;
	enum journal_status status = journal_old_calls(journal, job, &calls);

	if (status == JOURNAL_OK)
		script = script_of_old_calls(calls, &faults);
	if (script)
		status = journal_keep_script(journal, job->number, script);
	if (status != JOURNAL_OK)
		*why = memory_copy(journal_message(journal));
	else if (!script)
		*why = memory_format("job %s cannot be continued: %s", job->name,
				     faults.count ? faults.items[0].text : "its plan is at fault");
	script_free(calls);
	faults_free(&faults);
	if (!*why)
		return script;
	script_free(script);
	return NULL;
}

enum exit_code work_reopen(struct journal *journal, const struct journal_job *job,
			   const struct phrasebook *book, const struct bench *bench,
			   struct work **out, char **why)
{
	struct script *script = NULL;
	enum journal_status status = journal_script(journal, job->number, &script);

	*why = NULL;
	if (status == JOURNAL_NONE)
		script = recover(journal, job, why);
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
	*out = new_work(script, book, bench, place);
	if (*out)
		return EXIT_DONE;
	return status == JOURNAL_NONE ? EXIT_NO : EXIT_IO;
}

static void add_record(void *owner, const struct teach_record *record)
{
	teach_add(owner, record);
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

enum journal_status work_teach(struct work *work, struct journal *journal)
{
	struct trainee trainee;

	if (!script_is_taught(work->script))
		return JOURNAL_OK;
	teach_begin(&trainee);
	enum journal_status status =
		teach_history(journal, work->script->stringer, add_record, &trainee);
	session_teach(&work->session, &trainee, journal_number(journal), clock_wall_us(),
		      clock_boot_us());
	return status;
}

struct script_left work_strings_left(const struct work *work)
{
	return script_left(work->script, work->session.call);
}

int64_t work_left_us(const struct work *work, int64_t now_us)
{
	return pace_left_us(&work->session, work->script, now_us);
}

char *work_notice(const struct work *work, const struct session_effect *said, int64_t now_us)
{
	const struct script *script = work->script;
	struct script_left left = work_strings_left(work);
	const struct notice_facts facts = {
		.job = script->job,
		.place = script_line(script, said->call ? said->call : work->session.call)->place,
		.mains = script->whole.mains,
		.crosses = script->whole.crosses,
		.mains_left = left.mains,
		.crosses_left = left.crosses,
		.reason = said->text,
		.string = said->call ? script_line(script, said->call)->place : NULL,
		.notes = script->notes,
		.last_tension = work->last_tension,
		.last_month = work->last_month,
		.seconds_left = (double)work_left_us(work, now_us) / (double)SECOND_US,
		.seconds_worked =
			(double)session_worked_us(&work->session, now_us) / (double)SECOND_US,
	};

	return phrase_notice(work->book, said->notice, &facts, &work->options);
}
