/* Taking a job on: a new one, or one that was left open. */
#include "daemon/internal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A damaged journal is kept under another name, and a new one is begun. */
static enum journal_status replace_damaged(struct daemon *daemon, const char *path, char **why)
{
	fprintf(stderr, "pullcall: %s\n", *why);
	free(*why);
	*why = NULL;
	enum journal_status status = journal_set_aside(path, &daemon->journal_aside, why);
	if (status != JOURNAL_OK)
		return status;
	fprintf(stderr, "pullcall: it was set aside as %s, and a new journal was begun\n",
		daemon->journal_aside);
	return journal_open(path, JOURNAL_WRITE, &daemon->journal, why);
}

enum journal_status daemon_open_journal(struct daemon *daemon, char **why)
{
	*why = NULL;
	if (daemon->journal)
		return JOURNAL_OK;
	char *path = daemon->options.journal ? memory_copy(daemon->options.journal)
					     : journal_default_path();
	if (!path) {
		*why = memory_copy("HOME is not set: name a journal with --journal FILE");
		return JOURNAL_NONE;
	}
	enum journal_status status = journal_open(path, JOURNAL_WRITE, &daemon->journal, why);
	if (status == JOURNAL_CORRUPT)
		status = replace_damaged(daemon, path, why);
	free(path);
	return status;
}

static void start_session(struct daemon *daemon, struct work *work, enum session_event_kind kind)
{
	daemon->work = work;
	speech_wake(daemon->speech, clock_steady_us());
	daemon_note(daemon, (struct note){.kind = NOTE_JOB,
					  .name = work->script->job,
					  .text = work->script->title,
					  .response_us = -1});
	daemon_step(daemon, &(struct session_event){.kind = kind, .time_us = clock_steady_us()});
	if (!daemon->journal_aside)
		return;
	daemon_step(daemon, &(struct session_event){.kind = SESSION_JOURNAL_ASIDE,
						    .time_us = clock_steady_us()});
	free(daemon->journal_aside);
	daemon->journal_aside = NULL;
}

enum daemon_exit daemon_load(struct daemon *daemon, const char *path, struct faults *faults)
{
	if (daemon->work) {
		fault_add(faults, FAULT_ERROR, path, (struct position){0}, "busy",
			  "job %s is running: finish, stop or abandon it first",
			  daemon->work->script->job);
		return DAEMON_EXIT_NO;
	}
	struct work *work = work_load(path, daemon->book, daemon->bench, faults);
	if (!work)
		return DAEMON_EXIT_NO;
	char *why = NULL;
	bool good = daemon_open_journal(daemon, &why) == JOURNAL_OK;
	if (good && journal_begin(daemon->journal, work->script, clock_wall_us()) != JOURNAL_OK) {
		good = false;
		why = memory_copy(journal_message(daemon->journal));
	}
	if (!good) {
		fault_add(faults, FAULT_ERROR, path, (struct position){0}, "journal", "%s", why);
		free(why);
		work_free(work);
		return DAEMON_EXIT_JOURNAL;
	}
	start_session(daemon, work, SESSION_START);
	return DAEMON_EXIT_DONE;
}

/* An open job: the one named, or the newest. NO or JOURNAL with *why if there is none. */
static enum daemon_exit find_open_job(struct daemon *daemon, const char *which,
				      struct journal_job *job, char **why)
{
	enum journal_status status = which ? journal_find(daemon->journal, which, job)
					   : journal_open_job(daemon->journal, job);

	if (status == JOURNAL_OK && job->open)
		return DAEMON_EXIT_DONE;
	if (status == JOURNAL_OK) {
		*why = memory_format("job %s is not open", job->name);
		journal_job_free(job);
		return DAEMON_EXIT_NO;
	}
	if (status == JOURNAL_NONE) {
		*why = which ? memory_format("there is no job %s in the journal", which)
			     : memory_copy("no job was left open");
		return DAEMON_EXIT_NO;
	}
	*why = memory_copy(journal_message(daemon->journal));
	return DAEMON_EXIT_JOURNAL;
}

static enum daemon_exit reopen_job(struct daemon *daemon, const struct journal_job *job, char **why)
{
	struct work *work = NULL;
	enum daemon_exit code =
		work_reopen(daemon->journal, job, daemon->book, daemon->bench, &work, why);

	if (code != DAEMON_EXIT_DONE)
		return code;
	if (journal_resume(daemon->journal, job->number) != JOURNAL_OK) {
		*why = memory_copy(journal_message(daemon->journal));
		work_free(work);
		return DAEMON_EXIT_JOURNAL;
	}
	/* Without it only the pace starts anew. */
	journal_work(daemon->journal, job->number, work->session.spent_us, work->session.calls);
	start_session(daemon, work, SESSION_REOPEN);
	return DAEMON_EXIT_DONE;
}

enum daemon_exit daemon_reopen(struct daemon *daemon, const char *which, char **why)
{
	struct journal_job job = {0};

	*why = NULL;
	if (daemon_open_journal(daemon, why) != JOURNAL_OK)
		return DAEMON_EXIT_JOURNAL;
	enum daemon_exit code = find_open_job(daemon, which, &job, why);
	if (code != DAEMON_EXIT_DONE)
		return code;
	code = reopen_job(daemon, &job, why);
	journal_job_free(&job);
	return code;
}

bool daemon_has_open_job(struct daemon *daemon, const char *plan_text, char **name)
{
	struct journal_job job = {0};

	*name = NULL;
	if (journal_open_job(daemon->journal, &job) != JOURNAL_OK)
		return false;
	if (!plan_text || strcmp(plan_text, job.plan_text) == 0)
		*name = memory_copy(job.name);
	journal_job_free(&job);
	return *name != NULL;
}
