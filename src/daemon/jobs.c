/* Taking a job on: a new one, or one that was left open. */
#include "daemon/internal.h"

#include <limits.h>
#include <stdlib.h>
#include <string.h>

/* A damaged journal is kept under another name, and a new one is begun. */
static enum journal_status replace_damaged(struct daemon *daemon, const char *path, char **why)
{
	fprintf(stderr, "pullcall: %s\n", *why);
	free(*why);
	*why = NULL;
	char *aside = NULL;
	enum journal_status status = journal_set_aside(path, &aside, why);
	if (status != JOURNAL_OK)
		return status;
	fprintf(stderr, "pullcall: it was set aside as %s, and a new journal was begun\n", aside);
	daemon->journal_aside = true;
	free(aside);
	return journal_open(path, JOURNAL_WRITE, &daemon->journal, why);
}

char *daemon_journal_path(const struct daemon *daemon)
{
	return daemon->options.journal ? memory_copy(daemon->options.journal)
				       : journal_default_path();
}

enum journal_status daemon_open_journal(struct daemon *daemon, char **why)
{
	*why = NULL;
	if (daemon->journal)
		return JOURNAL_OK;
	char *path = daemon_journal_path(daemon);
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

/* False if no job is running; else *told says which. */
static bool is_busy(const struct daemon *daemon, char **told)
{
	const struct work *work = daemon->work;

	*told = NULL;
	if (!work)
		return false;
	const struct session *session = &work->session;
	*told = memory_format(
		"job %s (%lld) of %s is running, at call %d of %d: finish it, or leave "
		"it for later with \"pullcall tell stop\"",
		work->script->job, (long long)journal_number(daemon->journal),
		work->script->stringer,
		session->call < session->calls ? session->call : session->calls, session->calls);
	return true;
}

/* Whether its stringer has finished no job of its pattern yet; false if the journal cannot tell. */
static bool is_first_job(struct journal *journal, const struct script *script)
{
	static const char sql[] = "SELECT 1 FROM job JOIN job_state ON job = id "
				  "WHERE stringer = :stringer AND pattern = :pattern "
				  "AND state = 'finished'";
	bool finished;
	enum journal_status status = journal_ask(journal, sql,
						 FIELDS(field_text("stringer", script->stringer),
							field_text("pattern", script->pattern)),
						 TARGETS(INTO(finished)));

	return status == JOURNAL_OK && !finished;
}

/* Of a job that is taught, what the journal knows of the trainee. */
static void teach(struct daemon *daemon)
{
	struct work *work = daemon->work;
	struct trainee trainee;

	if (!script_is_taught(work->script))
		return;
	if (teach_history(daemon->journal, work->script->stringer, &trainee, NULL, NULL) !=
	    JOURNAL_OK)
		daemon_log(daemon, memory_format("the trainee is told everything: %s",
						 journal_message(daemon->journal)));
	session_teach(&work->session, &trainee, journal_number(daemon->journal), clock_wall_us(),
		      clock_boot_us());
}

/* A job goes on in the language that it began with, notices and voice too. */
static void take_language(struct daemon *daemon, struct work *work)
{
	struct faults faults = {0};
	const char *language = work->script->language;
	bool same = strcmp(language, daemon->bench->language) == 0;

	daemon_speak(daemon, same ? NULL : phrasebook_find(language, &faults));
	work->book = daemon_book(daemon);
	faults_free(&faults);
}

/* What a person should know of that; the caller frees it. */
static char *tell_language(const struct daemon *daemon)
{
	const char *language = daemon->work->script->language;

	if (strcmp(language, daemon->bench->language) == 0)
		return memory_copy("");
	return daemon->job_book
		       ? memory_format("; it goes on in the language it began with, \"%s\"",
				       language)
		       : memory_format(
				 "; its calls stay in the language it began with, \"%s\", but "
				 "that phrasebook cannot be read: the rest is in \"%s\"",
				 language, daemon->bench->language);
}

/* `changed`: see SESSION_REOPEN. */
static void start_session(struct daemon *daemon, struct work *work, enum session_event_kind kind,
			  const char *changed)
{
	take_language(daemon, work);
	daemon->work = work;
	free(daemon->ended);
	free(daemon->unsaved);
	daemon->ended = daemon->unsaved = NULL;
	work->is_first = is_first_job(daemon->journal, work->script);
	teach(daemon);
	speech_wake(daemon->speech, clock_steady_us());
	daemon_note(daemon, (struct note){.kind = NOTE_JOB,
					  .name = work->script->job,
					  .number = journal_number(daemon->journal),
					  .text = work->script->title});
	daemon_step(daemon, (struct session_event){kind, .text = changed});
	if (daemon->journal_aside)
		daemon_step(daemon, (struct session_event){.kind = SESSION_REPORT,
							   .notice = NOTICE_JOURNAL_ASIDE});
	daemon->journal_aside = false;
}

void open_jobs_free(struct journal_job *jobs, int count)
{
	for (int i = 0; i < count; i++)
		journal_job_free(&jobs[i]);
	free(jobs);
}

/* By the calendar. timegm knows days of 24 hours only. */
static int days_between(struct tm from, struct tm to)
{
	enum { DAY_S = 24 * 60 * 60 };

	from.tm_hour = from.tm_min = from.tm_sec = 0;
	to.tm_hour = to.tm_min = to.tm_sec = 0;
	return (int)((timegm(&to) - timegm(&from)) / DAY_S);
}

/* What its racket had last time. */
static void look_up_racket(struct journal *journal, struct work *work)
{
	int64_t then_us = 0;
	time_t now = (time_t)(clock_wall_us() / SECOND_US);
	struct tm today, day;

	if (journal_last_time(journal, work->script->racket, &work->last_tension, &then_us) !=
		    JOURNAL_OK ||
	    !work->last_tension)
		return;
	time_t then = (time_t)(then_us / SECOND_US);
	work->last_days = -1;
	if (!localtime_r(&now, &today) || !localtime_r(&then, &day))
		return;
	work->last_days = days_between(day, today);
	work->last_month = day.tm_mon + 1;
}

enum exit_code daemon_begin(struct daemon *daemon, struct work *work, char **told)
{
	enum journal_status status = journal_begin(daemon->journal, work->script, clock_wall_us());

	if (status == JOURNAL_OK) {
		look_up_racket(daemon->journal, work);
		start_session(daemon, work, SESSION_START, NULL);
		return EXIT_DONE;
	}
	memory_replace(told, journal_message(daemon->journal));
	work_free(work);
	return status == JOURNAL_SHORT ? EXIT_NO : EXIT_IO;
}

char *open_job_name(const struct journal_job *job)
{
	const char *whose = job->racket ? job->racket : job->customer;

	return memory_format("%s (%lld%s%s)", job->name, (long long)job->number,
			     job->racket ? ", racket "
			     : whose     ? ", for "
					 : "",
			     whose ? whose : "");
}

/* ---- by a plan ---- */

/* In what an open job differs from a plan and its pattern, as they are now. */
struct changes {
	struct text told; /* what the job says of each key, and what the plan says */
	struct text keys; /* the outermost ones, to be said: "tension and racket" */
	int count;
	size_t few; /* how long `told` is with the first few of them */
};

enum { CHANGES_FEW = 3 };

/* NULL: the key is not there. */
static const char *value_of(const struct yaml_node *node, const char *list)
{
	if (!node)
		return "nothing";
	return node->kind == YAML_SCALAR ? node->text : list;
}

static void add_change(struct changes *changes, const char *within, const char *key,
		       const struct yaml_node *before, const struct yaml_node *now)
{
	struct text *keys = &changes->keys;
	const char *outermost = *within ? within : key;
	const char *last = strrchr(text_string(keys), ' ');

	text_format(&changes->told, "; %s%s%s: %s (this plan says %s)", within, *within ? "." : "",
		    key, value_of(before, "as it was"), value_of(now, "something else"));
	if (strcmp(last ? last + 1 : text_string(keys), outermost) != 0)
		text_format(keys, "%s%s", keys->length ? " and " : "", outermost);
	if (++changes->count <= CHANGES_FEW)
		changes->few = changes->told.length;
}

static bool is_same(const struct yaml_node *a, const struct yaml_node *b)
{
	if (a->kind != b->kind || strcmp(a->key ? a->key : "", b->key ? b->key : "") != 0 ||
	    (a->text && strcmp(a->text, b->text) != 0))
		return false;
	for (a = a->first, b = b->first; a && b; a = a->next, b = b->next)
		if (!is_same(a, b))
			return false;
	return !a && !b;
}

/* Two maps; `within` is the key of both, or "". */
static void compare(struct changes *changes, const char *within, const struct yaml_node *before,
		    const struct yaml_node *now)
{
	for (const struct yaml_node *old = before->first; old; old = old->next) {
		const struct yaml_node *new = yaml_get(now, old->key);
		if (new && old->kind == YAML_MAP &&new->kind == YAML_MAP && !*within)
			compare(changes, old->key, old, new);
		else if (!new || !is_same(old, new))
			add_change(changes, within, old->key, old, new);
	}
	for (const struct yaml_node *new = now->first; new; new = new->next)
		if (!yaml_get(before, new->key))
			add_change(changes, within, new->key, NULL, new);
}

static void compare_texts(struct changes *changes, const char *before, const char *now)
{
	struct faults faults = {0};
	struct yaml_document *old = yaml_read_text("", before, &faults);
	struct yaml_document *new = yaml_read_text("", now, &faults);

	if (old && new)
		compare(changes, "", old->root, new->root);
	yaml_free(old);
	yaml_free(new);
	faults_free(&faults);
}

static void changes_free(struct changes *changes)
{
	text_free(&changes->told);
	text_free(&changes->keys);
}

/* Goes on with an open job. `changes`: those of the plan that it was asked for by; NULL: it was
 * named. *told says what was done, or why not. */
static enum exit_code reopen_job(struct daemon *daemon, const struct journal_job *job,
				 struct changes *changes, char **told)
{
	struct work *work = NULL;
	enum exit_code code =
		work_reopen(daemon->journal, job, daemon->book, daemon->bench, &work, told);

	if (code != EXIT_DONE)
		return code;
	if (journal_resume(daemon->journal, job->number) != JOURNAL_OK) {
		*told = memory_copy(journal_message(daemon->journal));
		work_free(work);
		return EXIT_IO;
	}
	/* Without it only the pace starts anew. */
	journal_work(daemon->journal, job->number, work->script, work->session.spent_us,
		     &work->session.set_aside_us);
	bool changed = changes && changes->count;
	start_session(daemon, work, SESSION_REOPEN, changed ? text_string(&changes->keys) : NULL);
	char *name = open_job_name(job), *language = tell_language(daemon);
	if (changes)
		*told = memory_format(
			"job %s was left open at call %d of %d: going on with it%s%s%s;"
			" --new begins it again",
			name, job->place, job->places, changed ? " as it was begun" : "",
			text_string(&changes->told), language);
	else
		*told = memory_format("going on with job %s, left open at call %d of %d%s", name,
				      job->place, job->places, language);
	free(language);
	free(name);
	return EXIT_DONE;
}

/* Whether both are known and differ. */
static bool differs(const char *before, const char *now)
{
	return before && *now && strcmp(before, now) != 0;
}

/* Whether an open job is of the plan's racket: two rackets may have one name, and a plan may be
 * edited, renamed or moved while its job is open. */
static bool is_same_racket(const struct journal_job *job, const struct script *script)
{
	return strcmp(job->name, script->job) == 0 &&
	       strcmp(job->plan_file, script->plan_file) == 0 &&
	       strcmp(job->pattern, script->pattern) == 0 &&
	       strcmp(job->method, script->method) == 0 &&
	       strcmp(job->stringer, script->stringer) == 0 &&
	       !differs(job->racket, script->racket) && !differs(job->customer, script->customer);
}

/* Whether an open job may be meant by a plan all the same. */
static bool may_be_meant(const struct journal_job *job, const struct script *script)
{
	return strcmp(job->name, script->job) == 0 ||
	       strcmp(job->plan_file, script->plan_file) == 0 ||
	       (job->racket && strcmp(job->racket, script->racket) == 0);
}

/* A new job is begun beside open ones: of those that may be meant, the one most like it is told. */
static char *tell_other(const struct daemon *daemon, const struct journal_job *jobs, int count,
			const struct script *script)
{
	bool once = daemon->options.once;
	const struct journal_job *job = NULL;
	struct changes least = {.count = INT_MAX};
	struct text told = {0};

	for (int i = 0; i < count; i++) {
		struct changes changes = {0};
		if (!may_be_meant(&jobs[i], script))
			continue;
		compare_texts(&changes, jobs[i].plan_text, script->plan_text);
		if (changes.count >= least.count) {
			changes_free(&changes);
			continue;
		}
		changes_free(&least);
		least = changes;
		job = &jobs[i];
	}
	if (count == 0)
		return NULL;
	char *journal = journal_option(daemon->options.journal);
	if (!job) {
		text_format(&told, "%d other job%s open: \"pullcall jobs%s\" lists %s", count,
			    count > 1 ? "s are" : " is", journal, count > 1 ? "them" : "it");
		free(journal);
		return text_take(&told);
	}
	char *name = open_job_name(job);
	if (least.count > CHANGES_FEW) {
		text_cut(&least.told, least.few);
		text_format(&least.told, "; %d more differences", least.count - CHANGES_FEW);
	}
	if (least.count == 0)
		text_format(&least.told, ", of %s", job->plan_file);
	text_format(&told,
		    "job %s is still open%s: \"pullcall %s --resume %lld%s\" goes on with it; if "
		    "it is this racket, stop (%s) first",
		    name, text_string(&least.told), once ? "run" : "load", (long long)job->number,
		    once ? journal : "", once ? "q" : "\"pullcall tell stop\"");
	if (count > 1)
		text_format(&told, "; %d open jobs: \"pullcall jobs%s\" lists them", count,
			    journal);
	free(journal);
	free(name);
	changes_free(&least);
	return text_take(&told);
}

/* Takes work, of the plan as it is now. */
static enum exit_code take_on(struct daemon *daemon, struct work *work, bool anew, char **told)
{
	const struct journal_job *same = NULL;
	struct journal_job *jobs = NULL;
	struct changes changes = {0}; /* since it was begun */
	enum exit_code code;
	int count = 0;

	journal_open_jobs(daemon->journal, NULL, &jobs, &count);
	for (int i = 0; i < count && !anew && !same; i++)
		if (is_same_racket(&jobs[i], work->script))
			same = &jobs[i];
	if (same) {
		compare_texts(&changes, same->plan_text, work->script->plan_text);
		compare_texts(&changes, same->pattern_text, work->script->pattern_text);
		code = reopen_job(daemon, same, &changes, told);
		work_free(work);
	} else {
		*told = tell_other(daemon, jobs, count, work->script);
		code = daemon_begin(daemon, work, told);
	}
	changes_free(&changes);
	open_jobs_free(jobs, count);
	return code;
}

/* The script of a plan, or of a drill of it; NULL with faults or *told. */
static struct script *read_script(const struct daemon *daemon, const char *path, char **told,
				  struct faults *faults)
{
	const struct daemon_options *options = &daemon->options;
	struct script *script =
		script_read(path, options->teach, daemon->bench, daemon->book, faults);

	if (!script || !options->skills)
		return script;
	struct script *drill = script_drill(script, options->skills, options->seed);
	script_free(script);
	if (drill->count > 0)
		return drill;
	*told = memory_copy("this job has no call of that skill");
	script_free(drill);
	return NULL;
}

enum exit_code daemon_load(struct daemon *daemon, const char *path, bool anew, char **told,
			   struct faults *faults)
{
	if (is_busy(daemon, told))
		return EXIT_NO;
	struct script *script = read_script(daemon, path, told, faults);
	if (!script)
		return EXIT_NO;
	if (daemon_open_journal(daemon, told) == JOURNAL_OK)
		return take_on(daemon, work_new(script, daemon->book, daemon->bench, 1), anew,
			       told);
	script_free(script);
	return EXIT_IO;
}

/* ---- by number or name ---- */

void open_jobs_list(const struct journal_job *jobs, int count, struct text *out)
{
	enum { INDENT = 7, COLUMNS = 80 };

	for (int i = 0; i < count; i++) {
		const struct journal_job *job = &jobs[i];
		time_t seconds = (time_t)(job->last_wall_us / SECOND_US);
		struct tm local;
		char when[32] = "";
		struct text line = {0};
		if (localtime_r(&seconds, &local))
			strftime(when, sizeof(when), "%Y-%m-%d %H:%M", &local);
		text_add(&line, job->name);
		if (job->racket)
			text_format(&line, ", racket %s", job->racket);
		if (job->customer)
			text_format(&line, ", for %s", job->customer);
		text_format(&line, ": %s, %s", job->stringer, job->pattern);
		if (job->tensions)
			text_format(&line, ", %s", job->tensions);
		text_format(&line, ", call %d of %d, %s", job->place, job->places, when);
		text_format(out, "\n%5lld  ", (long long)job->number);
		text_add_wrapped(out, text_string(&line), INDENT, COLUMNS);
		text_cut(out, out->length - 1);
		text_free(&line);
	}
}

/* Why a name is none of one open job's: there are several, or there is no such job and perhaps an
 * open one is nearly called so. NULL if it is. */
static char *tell_names(struct journal *journal, const char *name, bool known)
{
	struct journal_job *jobs = NULL;
	struct text told = {0};
	int count = 0;

	journal_open_jobs(journal, known ? name : NULL, &jobs, &count);
	const char **names = memory_new((size_t)count + 1, sizeof(*names));
	for (int i = 0; i < count; i++)
		names[i] = jobs[i].name;
	const char *meant = known ? NULL : fault_did_you_mean(name, names);
	if (known && count > 1) {
		text_format(&told, "%d open jobs have the %s %s: say the number of one", count,
			    strcmp(jobs[0].name, name) == 0 ? "name" : "racket", name);
		open_jobs_list(jobs, count, &told);
	} else if (meant) {
		text_format(&told, "no job \"%s\"; did you mean \"%s\"?", name, meant);
	} else if (!known) {
		char *option = journal_option(journal_path(journal));
		text_format(&told, "no job \"%s\"; \"pullcall jobs%s\" lists them", name, option);
		free(option);
	}
	free(names);
	open_jobs_free(jobs, count);
	return told.length ? text_take(&told) : NULL;
}

enum exit_code open_job_find(struct journal *journal, const char *which, struct journal_job *job,
			     char **why)
{
	bool number = which && journal_is_number(which);
	char *option = journal_option(journal_path(journal));
	enum journal_status status = journal_find(journal, which, job);
	bool by_name =
		status == JOURNAL_OK && which &&
		!(number && strtoll(which, NULL, 10) == job->number) &&
		(strcmp(which, job->name) == 0 || (job->racket && strcmp(which, job->racket) == 0));

	*why = NULL;
	if (status == JOURNAL_NONE && number)
		*why = memory_format("no job has the number %s; \"pullcall jobs%s\" lists them",
				     which, option);
	else if (status == JOURNAL_NONE)
		*why = which ? tell_names(journal, which, false)
			     : memory_copy("no job was left open");
	else if (status != JOURNAL_OK)
		*why = memory_copy(journal_message(journal));
	else if (!job->open)
		*why = memory_format("job %s (%lld) is %s: \"pullcall review %lld%s\" shows it",
				     job->name, (long long)job->number,
				     journal_kind_names[job->last], (long long)job->number, option);
	else if (by_name)
		*why = tell_names(journal, which, true);
	free(option);
	if (!*why)
		return EXIT_DONE;
	if (status == JOURNAL_OK)
		journal_job_free(job);
	return status == JOURNAL_OK || status == JOURNAL_NONE ? EXIT_NO : EXIT_IO;
}

enum exit_code daemon_reopen(struct daemon *daemon, const char *which, char **told)
{
	struct journal_job job = {0};

	if (is_busy(daemon, told))
		return EXIT_NO;
	if (daemon_open_journal(daemon, told) != JOURNAL_OK)
		return EXIT_IO;
	enum exit_code code = open_job_find(daemon->journal, which, &job, told);
	if (code != EXIT_DONE)
		return code;
	code = reopen_job(daemon, &job, NULL, told);
	journal_job_free(&job);
	return code;
}

void daemon_take_up(struct daemon *daemon)
{
	struct text told = {0};
	struct journal_job *jobs = NULL;
	char *line = NULL;
	int count = 0, taken = 0;

	journal_open_jobs(daemon->journal, NULL, &jobs, &count);
	if (count == 0)
		text_add(&told, "waiting for a job");
	else if (jobs[0].put_away)
		text_add(&told, "waiting for a job; left open:");
	else if (daemon_reopen(daemon, NULL, &line) == EXIT_DONE)
		text_format(&told, "%s%s", line, count > ++taken ? "; also open:" : "");
	else
		text_format(&told, "waiting for a job (%s); left open:", line);
	if (count > taken) {
		open_jobs_list(jobs + taken, count - taken, &told);
		text_format(&told, "\nTo go on with one: %s\"pullcall load --resume NUMBER\"",
			    taken ? "\"pullcall tell stop\", then " : "");
	}
	fprintf(stderr, "pullcalld: %s\n", text_string(&told));
	text_free(&told);
	free(line);
	open_jobs_free(jobs, count);
}
