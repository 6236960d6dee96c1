/* Taking a job on: a new one, or one that was left open. */
#include "daemon/internal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define RUNNING "job %s is running: finish it, or leave it for later with \"pullcall tell stop\""

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
		    job->name, (long long)job->number, job->place, job->places);
	if (plan || pattern)
		text_add(&told, " as it was begun");
	if (plan)
		text_format(&told, "; its plan has changed since (%s)", plan);
	if (pattern)
		text_format(&told, "; its pattern has changed since (%s)", pattern);
	text_add(&told, "; --new begins it again");
	free(plan);
	free(pattern);
	return text_take(&told);
}

static const char *file_name(const char *path)
{
	const char *slash = strrchr(path, '/');

	return slash ? slash + 1 : path;
}

/* What makes the open job another racket than the plan's, though both have one name: NULL if
 * nothing does. A plan that was edited in its file is still the same racket's. */
static char *other_racket(const struct journal_job *job, const struct script *script)
{
	const struct {
		const char *what, *before, *now;
	} facts[] = {
		{"pattern", job->pattern, script->pattern},
		{"method", job->method, script->method},
		{"stringer", job->stringer, script->stringer},
	};

	for (size_t i = 0; i < sizeof(facts) / sizeof(facts[0]); i++)
		if (strcmp(facts[i].before, facts[i].now) != 0)
			return memory_format("its %s is %s", facts[i].what, facts[i].before);
	if (strcmp(file_name(job->plan_file), file_name(script->plan_file)) != 0 &&
	    strcmp(job->plan_text, script->plan_text) != 0)
		return memory_format("its plan is %s", file_name(job->plan_file));
	return NULL;
}

static void free_jobs(struct journal_job *jobs, int count)
{
	for (int i = 0; i < count; i++)
		journal_job_free(&jobs[i]);
	free(jobs);
}

/* Finds the open job of the plan's racket. False if there is none. */
static bool find_same_racket(struct journal *journal, const struct script *script,
			     struct journal_job *job)
{
	struct journal_job *jobs = NULL;
	int count = 0;
	bool found = false;

	journal_open_jobs(journal, script->job, &jobs, &count);
	for (int i = 0; i < count && !found; i++) {
		char *other = other_racket(&jobs[i], script);
		found = !other;
		free(other);
		if (!found)
			continue;
		*job = jobs[i];
		jobs[i] = (struct journal_job){0};
	}
	free_jobs(jobs, count);
	return found;
}

/* A new job is begun beside one that is open: it is not forgotten. */
static char *tell_other(struct daemon *daemon, const struct script *script)
{
	struct journal_job *jobs = NULL;
	int count = 0, same_name = 0;
	struct text told = {0};

	journal_open_jobs(daemon->journal, NULL, &jobs, &count);
	while (same_name < count && strcmp(jobs[same_name].name, script->job) != 0)
		same_name++;
	if (count > 0) {
		const struct journal_job *job = &jobs[same_name < count ? same_name : 0];
		char *other = same_name < count ? other_racket(job, script) : NULL;
		text_format(&told, "job %s (%lld) is still open", job->name,
			    (long long)job->number);
		if (other)
			text_format(&told, " for another racket (%s)", other);
		text_format(&told, ": \"pullcall %s --resume %lld\" goes on with it later",
			    daemon->options.once ? "run" : "load", (long long)job->number);
		free(other);
	}
	if (count > 1)
		text_format(&told, "; %d open jobs: \"pullcall jobs\" lists them", count);
	free_jobs(jobs, count);
	return count > 0 ? text_take(&told) : NULL;
}

static void add_journal_fault(struct daemon *daemon, const char *path, char *why,
			      struct faults *faults)
{
	fault_add(faults, FAULT_ERROR, path, (struct position){0}, "journal", "%s",
		  why ? why : journal_message(daemon->journal));
	free(why);
}

/* Takes work. */
static enum exit_code begin_job(struct daemon *daemon, const char *path, struct work *work,
				char **told, struct faults *faults)
{
	*told = tell_other(daemon, work->script);
	if (journal_begin(daemon->journal, work->script, clock_wall_us()) == JOURNAL_OK) {
		start_session(daemon, work, SESSION_START);
		return EXIT_DONE;
	}
	add_journal_fault(daemon, path, NULL, faults);
	work_free(work);
	return EXIT_IO;
}

static enum exit_code reopen_job(struct daemon *daemon, const struct journal_job *job, char **why)
{
	struct work *work = NULL;
	enum exit_code code =
		work_reopen(daemon->journal, job, daemon->book, daemon->bench, &work, why);

	if (code != EXIT_DONE)
		return code;
	if (journal_resume(daemon->journal, job->number) != JOURNAL_OK) {
		*why = memory_copy(journal_message(daemon->journal));
		work_free(work);
		return EXIT_IO;
	}
	/* Without it only the pace starts anew. */
	journal_work(daemon->journal, job->number, work->script, work->session.spent_us,
		     &work->session.set_aside_us);
	start_session(daemon, work, SESSION_REOPEN);
	return EXIT_DONE;
}

/* Takes work, of the plan as it is now. */
static enum exit_code go_on(struct daemon *daemon, const char *path, const struct journal_job *job,
			    struct work *work, char **told, struct faults *faults)
{
	char *why = NULL;
	enum exit_code code = reopen_job(daemon, job, &why);

	if (code == EXIT_DONE)
		*told = tell_going_on(job, work->script);
	else
		fault_add(faults, FAULT_ERROR, path, (struct position){0}, "journal", "%s", why);
	free(why);
	work_free(work);
	return code;
}

enum exit_code daemon_load(struct daemon *daemon, const char *path, bool anew, char **told,
			   struct faults *faults)
{
	struct journal_job open = {0};
	char *why = NULL;

	*told = NULL;
	if (daemon->work) {
		fault_add(faults, FAULT_ERROR, path, (struct position){0}, "busy", RUNNING,
			  daemon->work->script->job);
		return EXIT_NO;
	}
	struct work *work = work_load(path, daemon->book, daemon->bench, faults);
	if (!work)
		return EXIT_NO;
	if (daemon_open_journal(daemon, &why) != JOURNAL_OK) {
		add_journal_fault(daemon, path, why, faults);
		work_free(work);
		return EXIT_IO;
	}
	bool left_open = !anew && find_same_racket(daemon->journal, work->script, &open);
	enum exit_code code = left_open ? go_on(daemon, path, &open, work, told, faults)
					: begin_job(daemon, path, work, told, faults);
	journal_job_free(&open);
	return code;
}

/* ---- open jobs by number or name ---- */

void open_jobs_list(const struct journal_job *jobs, int count, struct text *out)
{
	for (int i = 0; i < count; i++) {
		const struct journal_job *job = &jobs[i];
		time_t seconds = (time_t)(job->last_wall_us / SECOND_US);
		struct tm local;
		char when[32] = "";
		if (localtime_r(&seconds, &local))
			strftime(when, sizeof(when), "%Y-%m-%d %H:%M", &local);
		text_format(out, "\n%5lld  %-20s  %-10s  %-15s  call %d of %d, %s",
			    (long long)job->number, job->name, job->stringer, job->pattern,
			    job->place, job->places, when);
	}
}

/* The open jobs of that name, where there are several; NULL if there are not. */
static char *list_of_equals(struct journal *journal, const char *name)
{
	struct journal_job *jobs = NULL;
	int count = 0;
	struct text list = {0};

	journal_open_jobs(journal, name, &jobs, &count);
	if (count > 1) {
		text_format(&list, "%d open jobs have the name %s: say the number of one", count,
			    name);
		open_jobs_list(jobs, count, &list);
	}
	free_jobs(jobs, count);
	return count > 1 ? text_take(&list) : NULL;
}

/* No job is called so: perhaps an open one nearly is. */
static char *tell_unknown(struct journal *journal, const char *which)
{
	struct journal_job *jobs = NULL;
	int count = 0;

	journal_open_jobs(journal, NULL, &jobs, &count);
	const char **names = memory_new((size_t)count + 1, sizeof(*names));
	for (int i = 0; i < count; i++)
		names[i] = jobs[i].name;
	const char *meant = fault_did_you_mean(which, names);
	char *told = meant ? memory_format("no job \"%s\"; did you mean \"%s\"?", which, meant)
			   : memory_format("no job \"%s\"; \"pullcall jobs\" lists them", which);
	free(names);
	free_jobs(jobs, count);
	return told;
}

enum exit_code open_job_find(struct journal *journal, const char *which, struct journal_job *job,
			     char **why)
{
	enum journal_status status = journal_find(journal, which, job);

	*why = NULL;
	if (status == JOURNAL_NONE) {
		*why = tell_unknown(journal, which);
		return EXIT_NO;
	}
	if (status != JOURNAL_OK) {
		*why = memory_copy(journal_message(journal));
		return EXIT_IO;
	}
	if (!job->open)
		*why = memory_format("job %s (%lld) is not open", job->name,
				     (long long)job->number);
	else if (strcmp(which, job->name) == 0)
		*why = list_of_equals(journal, which);
	if (!*why)
		return EXIT_DONE;
	journal_job_free(job);
	return EXIT_NO;
}

/* The open job that was worked on last. */
static enum exit_code find_last(struct journal *journal, struct journal_job *job, char **why)
{
	enum journal_status status = journal_open_job(journal, NULL, job);

	if (status == JOURNAL_OK)
		return EXIT_DONE;
	*why = memory_copy(status == JOURNAL_NONE ? "no job was left open"
						  : journal_message(journal));
	return status == JOURNAL_NONE ? EXIT_NO : EXIT_IO;
}

/* Nobody said which job: the others are not forgotten. */
static void add_others(struct journal *journal, struct text *told)
{
	struct journal_job *jobs = NULL;
	int count = 0;

	journal_open_jobs(journal, NULL, &jobs, &count);
	if (count > 1) {
		text_add(told, "; also open:");
		open_jobs_list(jobs + 1, count - 1, told);
		text_add(told, "\nTo take another one: \"pullcall tell stop\", then "
			       "\"pullcall load --resume NUMBER\"");
	}
	free_jobs(jobs, count);
}

enum exit_code daemon_reopen(struct daemon *daemon, const char *which, char **told)
{
	struct journal_job job = {0};
	struct text line = {0};

	*told = NULL;
	if (daemon->work) {
		*told = memory_format(RUNNING, daemon->work->script->job);
		return EXIT_NO;
	}
	if (daemon_open_journal(daemon, told) != JOURNAL_OK)
		return EXIT_IO;
	enum exit_code code = which ? open_job_find(daemon->journal, which, &job, told)
				    : find_last(daemon->journal, &job, told);
	if (code != EXIT_DONE)
		return code;
	text_format(&line, "going on with job %s (%lld), left open at call %d of %d", job.name,
		    (long long)job.number, job.place, job.places);
	if (!which)
		add_others(daemon->journal, &line);
	code = reopen_job(daemon, &job, told);
	if (code == EXIT_DONE)
		*told = text_take(&line);
	text_free(&line);
	journal_job_free(&job);
	return code;
}
