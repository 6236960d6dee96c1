#include "daemon/internal.h"

#include "base/base.h"
#include "journal/journal.h"

#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <systemd/sd-daemon.h>
#include <unistd.h>

/* The last words of a run are waited for this long. */
static const uint64_t last_words_us = 8 * 1000 * 1000;

/* ---- the timer: one for all deadlines ---- */

static int64_t earliest_us(const struct daemon *daemon)
{
	int64_t pedal_us = pedals_deadline_us(daemon->pedals);
	int64_t speech_us = speech_deadline_us(daemon->speech);

	return pedal_us < speech_us ? pedal_us : speech_us;
}

static void set_timer(struct daemon *daemon)
{
	int64_t due_us = earliest_us(daemon);

	if (due_us == INT64_MAX) {
		sd_event_source_set_enabled(daemon->timer, SD_EVENT_OFF);
		return;
	}
	sd_event_source_set_time(daemon->timer, due_us > 0 ? (uint64_t)due_us : 0);
	sd_event_source_set_enabled(daemon->timer, SD_EVENT_ONESHOT);
}

static int on_timer(sd_event_source *source, uint64_t usec, void *data)
{
	struct daemon *daemon = data;
	int64_t now_us = clock_steady_us();

	(void)source;
	(void)usec;
	if (pedals_deadline_us(daemon->pedals) <= now_us)
		pedals_dispatch(daemon->pedals);
	if (speech_deadline_us(daemon->speech) <= now_us)
		speech_dispatch(daemon->speech, now_us);
	daemon_after(daemon);
	return 0;
}

/* ---- the service manager's watchdog ---- */

/* A sign of life, unless a voice that is needed has not come back: then the service manager may see
 * to it. A bench without a sound device is no reason to kill the daemon, nor is a pause. */
static int on_watchdog(sd_event_source *source, uint64_t usec, void *data)
{
	const struct daemon *daemon = data;
	uint64_t period_us = 0;

	(void)usec;
	if (!daemon->voice_lost)
		sd_notify(0, "WATCHDOG=1");
	sd_watchdog_enabled(0, &period_us);
	return sd_event_source_set_time_relative(source, period_us / 3);
}

static void start_watchdog(struct daemon *daemon)
{
	uint64_t period_us = 0;

	if (sd_watchdog_enabled(0, &period_us) <= 0)
		return;
	sd_event_add_time_relative(daemon->loop, &daemon->watchdog, CLOCK_MONOTONIC, period_us / 3,
				   0, on_watchdog, daemon);
	sd_event_source_set_enabled(daemon->watchdog, SD_EVENT_ON);
}

/* ---- the end of a job, and of the run ---- */

static int on_last_words_late(sd_event_source *source, uint64_t usec, void *data)
{
	(void)usec;
	(void)data;
	return sd_event_exit(sd_event_source_get_event(source), 0);
}

static void leave(struct daemon *daemon)
{
	if (daemon->leaving)
		return;
	daemon->leaving = true;
	sd_event_add_time_relative(daemon->loop, NULL, CLOCK_MONOTONIC, last_words_us, 0,
				   on_last_words_late, NULL);
}

static void end_work(struct daemon *daemon)
{
	work_free(daemon->work);
	daemon->work = NULL;
	memset(daemon->owed, 0, sizeof daemon->owed);
	if (daemon->options.once)
		leave(daemon);
	else
		speech_rest(daemon->speech, clock_steady_us());
}

void daemon_after(struct daemon *daemon)
{
	daemon_take_speech(daemon);
	if (daemon->work && daemon->work->session.state == SESSION_ENDING &&
	    pedals_settled(daemon->pedals))
		daemon_step(daemon, &(struct session_event){.kind = SESSION_SETTLED,
							    .time_us = clock_steady_us()});
	if (daemon->work && daemon->work->session.state == SESSION_OVER)
		end_work(daemon);
	daemon_take_speech(daemon);
	if (daemon->leaving && !daemon->talking)
		sd_event_exit(daemon->loop, DAEMON_EXIT_DONE);
	set_timer(daemon);
}

/* ---- signals ---- */

/* What the pedal has already given is taken first: a press is not lost because the program ends. */
static int on_end(sd_event_source *source, const struct signalfd_siginfo *info, void *data)
{
	struct daemon *daemon = data;

	(void)source;
	(void)info;
	pedals_dispatch(daemon->pedals);
	daemon_step(daemon, &(struct session_event){
				    .kind = SESSION_STOP,
				    .time_us = clock_steady_us(),
				    .text = "ended by a signal",
			    });
	sd_notify(0, "STOPPING=1");
	speech_hush(daemon->speech, clock_steady_us());
	return sd_event_exit(daemon->loop, 0);
}

/* A bench and the phrasebook of its language. */
struct settings {
	struct bench *bench;
	struct phrasebook *book;
};

/* Both, or neither. */
static bool find_settings(const char *bench_file, struct settings *settings, struct faults *faults)
{
	settings->bench = bench_find(bench_file, faults);
	settings->book =
		settings->bench ? phrasebook_find(settings->bench->language, faults) : NULL;
	if (settings->book)
		return true;
	bench_free(settings->bench);
	return false;
}

/* In place of the old ones, which no device and no job may use any more. */
static void take_settings(struct daemon *daemon, const struct settings *settings)
{
	bench_free(daemon->bench);
	phrasebook_free(daemon->book);
	daemon->bench = settings->bench;
	daemon->book = settings->book;
}

/* New settings are read only between jobs, and only if they are without fault. False if their
 * devices cannot be had. */
static bool reread_settings(struct daemon *daemon)
{
	struct settings settings;
	struct faults faults = {0};
	char *why = NULL;
	bool good = true;

	if (find_settings(daemon->options.bench_file, &settings, &faults)) {
		daemon_close_devices(daemon);
		take_settings(daemon, &settings);
		good = daemon_open_devices(daemon, &why);
		daemon_log(daemon, "the bench file was read anew%s%s", why ? ": " : "",
			   why ? why : "");
	} else {
		daemon_log(daemon, "the bench is at fault, the old one stays in force: %s",
			   faults.count ? faults.items[0].text : "");
	}
	free(why);
	faults_free(&faults);
	return good;
}

static int on_hangup(sd_event_source *source, const struct signalfd_siginfo *info, void *data)
{
	struct daemon *daemon = data;

	if (daemon->options.once)
		return on_end(source, info, data); /* the terminal is gone */
	if (daemon->work)
		daemon_log(daemon, "a job is running: nothing is read anew");
	else if (!reread_settings(daemon))
		return sd_event_exit(daemon->loop, DAEMON_EXIT_DEVICE);
	daemon_after(daemon);
	return 0;
}

static void catch_signals(struct daemon *daemon)
{
	static const int ends[] = {SIGTERM, SIGINT};
	sigset_t mask;

	sigemptyset(&mask);
	sigaddset(&mask, SIGTERM);
	sigaddset(&mask, SIGINT);
	sigaddset(&mask, SIGHUP);
	sigprocmask(SIG_BLOCK, &mask, NULL);
	signal(SIGPIPE, SIG_IGN);
	for (size_t i = 0; i < sizeof(ends) / sizeof(ends[0]); i++)
		sd_event_add_signal(daemon->loop, NULL, ends[i], on_end, daemon);
	sd_event_add_signal(daemon->loop, NULL, SIGHUP, on_hangup, daemon);
}

/* ---- opening ---- */

static bool open_settings(struct daemon *daemon, int *code)
{
	struct faults faults = {0};
	struct settings settings;
	bool good = find_settings(daemon->options.bench_file, &settings, &faults);

	if (good)
		take_settings(daemon, &settings);
	faults_print(&faults, stderr);
	faults_free(&faults);
	*code = DAEMON_EXIT_NO;
	return good;
}

/* A damaged journal is kept as it is under another name, and work goes on in a new one. */
static enum journal_status replace_damaged(struct daemon *daemon, const char *path, char **error)
{
	fprintf(stderr, "pullcall: %s\n", *error);
	free(*error);
	*error = NULL;
	enum journal_status status = journal_set_aside(path, &daemon->journal_aside, error);
	if (status != JOURNAL_OK)
		return status;
	fprintf(stderr, "pullcall: it was set aside as %s, and a new journal was begun\n",
		daemon->journal_aside);
	return journal_open(path, JOURNAL_WRITE, &daemon->journal, error);
}

static bool open_journal(struct daemon *daemon, int *code)
{
	char *usual = daemon->options.journal ? NULL : journal_default_path();
	const char *path = daemon->options.journal ? daemon->options.journal : usual;
	char *error = NULL;

	*code = DAEMON_EXIT_JOURNAL;
	if (!path) {
		fputs("pullcall: HOME is not set: name a journal with --journal FILE\n", stderr);
		return false;
	}
	enum journal_status status = journal_open(path, JOURNAL_WRITE, &daemon->journal, &error);
	if (status == JOURNAL_CORRUPT)
		status = replace_damaged(daemon, path, &error);
	if (status != JOURNAL_OK)
		fprintf(stderr, "pullcall: %s\n", error);
	free(error);
	free(usual);
	return status == JOURNAL_OK;
}

static bool open_control(struct daemon *daemon, int *code)
{
	char *why = NULL;

	daemon->control = control_open(daemon->loop, daemon_command, daemon, &why);
	*code = DAEMON_EXIT_NO;
	if (why)
		fprintf(stderr, "pullcall: %s\n", why);
	free(why);
	/* Without XDG_RUNTIME_DIR a run works, but a daemon that nobody can reach is of no use. */
	char *path = control_path();
	bool good = daemon->control || (!path && daemon->options.once);
	free(path);
	return good;
}

static bool open_all(struct daemon *daemon, int *code)
{
	char *why = NULL;

	*code = DAEMON_EXIT_SYSTEM;
	if (sd_event_new(&daemon->loop) < 0)
		return false;
	catch_signals(daemon);
	sd_event_add_time(daemon->loop, &daemon->timer, CLOCK_MONOTONIC, 0, 1000, on_timer, daemon);
	sd_event_source_set_enabled(daemon->timer, SD_EVENT_OFF);
	start_watchdog(daemon);
	if (!open_settings(daemon, code) || !open_control(daemon, code) ||
	    !open_journal(daemon, code))
		return false;
	*code = DAEMON_EXIT_DEVICE;
	bool good = daemon_open_devices(daemon, &why);
	if (!good)
		fprintf(stderr, "pullcall: %s\n", why);
	free(why);
	return good;
}

struct daemon *daemon_open(const struct daemon_options *options, int *code)
{
	struct daemon *daemon = memory_new(1, sizeof(*daemon));

	daemon->options = *options;
	if (open_all(daemon, code))
		return daemon;
	daemon_close(daemon);
	return NULL;
}

void daemon_close(struct daemon *daemon)
{
	if (!daemon)
		return;
	daemon_close_devices(daemon);
	work_free(daemon->work);
	control_close(daemon->control);
	journal_close(daemon->journal);
	phrasebook_free(daemon->book);
	bench_free(daemon->bench);
	sd_event_source_disable_unref(daemon->timer);
	sd_event_source_disable_unref(daemon->watchdog);
	sd_event_unref(daemon->loop);
	free(daemon->said);
	free(daemon->voice);
	free(daemon->pedal);
	free(daemon->journal_fault);
	free(daemon->journal_aside);
	free(daemon);
}

/* ---- taking a job on ---- */

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
	if (work_journal(work, daemon->journal) != JOURNAL_OK) {
		fault_add(faults, FAULT_ERROR, path, (struct position){0}, "journal", "%s",
			  journal_message(daemon->journal));
		work_free(work);
		return DAEMON_EXIT_JOURNAL;
	}
	start_session(daemon, work, SESSION_START);
	daemon_after(daemon);
	return DAEMON_EXIT_DONE;
}

/* The place to go on at: there is one, and it is open. NO or JOURNAL with *why otherwise. */
static enum daemon_exit find_place(struct daemon *daemon, const char *which,
				   struct journal_place *place, char **why)
{
	enum journal_status status = which ? journal_find(daemon->journal, which, place)
					   : journal_open_job(daemon->journal, place);

	if (status == JOURNAL_OK && place->open)
		return DAEMON_EXIT_DONE;
	if (status == JOURNAL_OK) {
		*why = memory_format("job %s is not open", place->name);
		journal_place_free(place);
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

static enum daemon_exit reopen_place(struct daemon *daemon, const struct journal_place *place,
				     char **why)
{
	struct faults faults = {0};
	struct work *work = work_reopen(place, daemon->book, daemon->bench, &faults);

	if (!work)
		*why = memory_format("job %s cannot be gone on with: %s", place->name,
				     faults.count ? faults.items[0].text : "its plan is at fault");
	faults_free(&faults);
	if (!work)
		return DAEMON_EXIT_NO;
	if (journal_resume(daemon->journal, place->job) != JOURNAL_OK) {
		*why = memory_copy(journal_message(daemon->journal));
		work_free(work);
		return DAEMON_EXIT_JOURNAL;
	}
	/* Without it only the pace starts anew. */
	journal_work(daemon->journal, place->job, work->session.spent_us, work->session.calls);
	start_session(daemon, work, SESSION_REOPEN);
	daemon_after(daemon);
	return DAEMON_EXIT_DONE;
}

enum daemon_exit daemon_reopen(struct daemon *daemon, const char *which, char **why)
{
	struct journal_place place = {0};

	*why = NULL;
	enum daemon_exit code = find_place(daemon, which, &place, why);
	if (code != DAEMON_EXIT_DONE)
		return code;
	code = reopen_place(daemon, &place, why);
	journal_place_free(&place);
	return code;
}

bool daemon_has_open_job(struct daemon *daemon, const char *plan_text, char **name)
{
	struct journal_place place = {0};

	*name = NULL;
	if (journal_open_job(daemon->journal, &place) != JOURNAL_OK)
		return false;
	if (!plan_text || strcmp(plan_text, place.plan_text) == 0)
		*name = memory_copy(place.name);
	journal_place_free(&place);
	return *name != NULL;
}

int daemon_run(struct daemon *daemon)
{
	int code;

	daemon_after(daemon);
	code = sd_event_loop(daemon->loop);
	return code < 0 ? DAEMON_EXIT_SYSTEM : code;
}

sd_event *daemon_loop(struct daemon *daemon)
{
	return daemon->loop;
}

struct daemon_look daemon_look(const struct daemon *daemon)
{
	return (struct daemon_look){
		.work = daemon->work,
		.said = daemon->said ? daemon->said : "",
		.voice = daemon->voice ? daemon->voice : "",
		.voice_good = daemon->voice_good,
		.pedal = daemon->pedal ? daemon->pedal : "",
		.journal = daemon->journal_fault ? daemon->journal_fault : "",
	};
}
