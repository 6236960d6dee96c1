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
					  .number = journal_number(daemon->journal),
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

/* The first line that differs, as it was; NULL if the texts are the same. The caller frees it. */
static char *first_change(const char *before, const char *now)
{
	for (int line = 1;; line++) {
		size_t length = strcspn(before, "\n"), length_now = strcspn(now, "\n");
		if (length != length_now || strncmp(before, now, length) != 0)
			return memory_format("line %d was \"%.*s\"", line, (int)length, before);
		if (!before[length] && !now[length])
			return NULL;
		before += length + (before[length] == '\n');
		now += length + (now[length] == '\n');
	}
}

/* What to tell when a job goes on that was asked for by its plan, `script` as it is now. */
static char *tell_going_on(const struct journal_job *job, const struct script *script)
{
	char *plan = first_change(job->plan_text, script->plan_text);
	char *pattern = first_change(job->pattern_text, script->pattern_text);
	struct text told = {0};

	text_format(&told, "job %s (%lld) was left open at call %d of %d: going on with it",
		    job->name, (long long)job->number, job->call, job->calls);
	if (plan)
		text_format(&told, ", with its plan as it was: it has changed since (%s)", plan);
	if (pattern)
		text_format(&told, ", with its pattern as it was: it has changed since (%s)",
			    pattern);
	text_add(&told, "; --new begins it again");
	free(plan);
	free(pattern);
	return text_take(&told);
}

/* A new job is begun beside one that is open: it is not forgotten. */
static char *tell_other(struct daemon *daemon)
{
	struct journal_job job = {0};
	char *told = NULL;

	if (journal_open_job(daemon->journal, NULL, &job) == JOURNAL_OK)
		told = memory_format(
			"job %s (%lld) is still open: \"pullcall run --resume %lld\" goes on "
			"with it later",
			job.name, (long long)job.number, (long long)job.number);
	journal_job_free(&job);
	return told;
}

static void add_journal_fault(struct daemon *daemon, const char *path, char *why,
			      struct faults *faults)
{
	fault_add(faults, FAULT_ERROR, path, (struct position){0}, "journal", "%s",
		  why ? why : journal_message(daemon->journal));
	free(why);
}

/* Takes work. */
static enum daemon_exit begin_job(struct daemon *daemon, const char *path, struct work *work,
				  char **told, struct faults *faults)
{
	*told = tell_other(daemon);
	if (journal_begin(daemon->journal, work->script, clock_wall_us()) == JOURNAL_OK) {
		start_session(daemon, work, SESSION_START);
		return DAEMON_EXIT_DONE;
	}
	add_journal_fault(daemon, path, NULL, faults);
	work_free(work);
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

/* Takes work, of the plan as it is now. */
static enum daemon_exit go_on(struct daemon *daemon, const char *path,
			      const struct journal_job *job, struct work *work, char **told,
			      struct faults *faults)
{
	char *why = NULL;
	enum daemon_exit code = reopen_job(daemon, job, &why);

	if (code == DAEMON_EXIT_DONE)
		*told = tell_going_on(job, work->script);
	else
		fault_add(faults, FAULT_ERROR, path, (struct position){0}, "journal", "%s", why);
	free(why);
	work_free(work);
	return code;
}

enum daemon_exit daemon_load(struct daemon *daemon, const char *path, bool anew, char **told,
			     struct faults *faults)
{
	struct journal_job open = {0};
	char *why = NULL;

	*told = NULL;
	if (daemon->work) {
		fault_add(faults, FAULT_ERROR, path, (struct position){0}, "busy",
			  "job %s is running: finish, stop or abandon it first",
			  daemon->work->script->job);
		return DAEMON_EXIT_NO;
	}
	struct work *work = work_load(path, daemon->book, daemon->bench, faults);
	if (!work)
		return DAEMON_EXIT_NO;
	if (daemon_open_journal(daemon, &why) != JOURNAL_OK) {
		add_journal_fault(daemon, path, why, faults);
		work_free(work);
		return DAEMON_EXIT_JOURNAL;
	}
	bool left_open =
		!anew && journal_open_job(daemon->journal, work->script->job, &open) == JOURNAL_OK;
	enum daemon_exit code = left_open ? go_on(daemon, path, &open, work, told, faults)
					  : begin_job(daemon, path, work, told, faults);
	journal_job_free(&open);
	return code;
}

/* An open job: the one named, or the newest. NO or JOURNAL with *why if there is none. */
static enum daemon_exit find_open_job(struct daemon *daemon, const char *which,
				      struct journal_job *job, char **why)
{
	enum journal_status status = which ? journal_find(daemon->journal, which, job)
					   : journal_open_job(daemon->journal, NULL, job);

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

enum daemon_exit daemon_reopen(struct daemon *daemon, const char *which, char **told)
{
	struct journal_job job = {0};

	*told = NULL;
	if (daemon_open_journal(daemon, told) != JOURNAL_OK)
		return DAEMON_EXIT_JOURNAL;
	enum daemon_exit code = find_open_job(daemon, which, &job, told);
	if (code != DAEMON_EXIT_DONE)
		return code;
	code = reopen_job(daemon, &job, told);
	if (code == DAEMON_EXIT_DONE)
		*told = memory_format("going on with job %s (%lld), left open at call %d of %d",
				      job.name, (long long)job.number, job.call, job.calls);
	journal_job_free(&job);
	return code;
}
