#include "daemon/internal.h"

#include "base/base.h"
#include "journal/journal.h"

#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <systemd/sd-daemon.h>
#include <unistd.h>

/* ---- the service manager's watchdog ---- */

/* No sign of life while the voice is lost: the service manager then restarts the daemon. A bench
 * without a sound device is no reason for that. */
static int on_watchdog(sd_event_source *source, uint64_t usec, void *data)
{
	const struct daemon *daemon = data;
	uint64_t period_us = 0;

	(void)usec;
	if (daemon->voice_state != VOICE_LOST)
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

/* ---- signals ---- */

/* What was pressed before the signal is taken first. */
static int on_end(sd_event_source *source, const struct signalfd_siginfo *info, void *data)
{
	struct daemon *daemon = data;

	(void)source;
	(void)info;
	sources_dispatch_until(daemon->sources, INT64_MAX);
	daemon_step_now(daemon, SESSION_STOP, "ended by a signal");
	sd_notify(0, "STOPPING=1");
	speech_hush(daemon->speech, clock_steady_us());
	return sd_event_exit(daemon->loop, 0);
}

/* Reads the bench and the phrasebook of its language, and takes them in place of the old ones if
 * they are without fault: no job may use those. Sources that are open are closed then. */
static bool read_settings(struct daemon *daemon, struct faults *faults)
{
	const struct daemon_options *options = &daemon->options;
	struct bench *bench = bench_find(options->bench_file, faults);
	struct phrasebook *book = bench ? phrasebook_find(bench->language, faults) : NULL;

	if (!book) {
		bench_free(bench);
		return false;
	}
	if (options->shop)
		bench->loud = options->shop == DAEMON_SHOP_LOUD;
	daemon_close_sources(daemon);
	bench_free(daemon->bench);
	phrasebook_free(daemon->book);
	daemon->bench = bench;
	daemon->book = book;
	return true;
}

/* False if their sources cannot be opened. */
static bool reread_settings(struct daemon *daemon)
{
	struct faults faults = {0};
	char *why = NULL;
	bool good = true;

	if (read_settings(daemon, &faults)) {
		good = daemon_open_sources(daemon, &why);
		daemon_log(daemon, "the bench file was read again%s%s", why ? ": " : "",
			   why ? why : "");
	} else {
		daemon_log(daemon, "the bench file is at fault, its old settings stay: %s",
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
		daemon_log(daemon, "a job is running: the bench file is not read");
	else if (!reread_settings(daemon))
		return sd_event_exit(daemon->loop, EXIT_UNAVAILABLE);
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

/* Prints *why, if there is a reason, and frees it. */
static void print_why(char *why)
{
	if (why)
		fprintf(stderr, "pullcall: %s\n", why);
	free(why);
}

static bool open_settings(struct daemon *daemon)
{
	struct faults faults = {0};
	bool good = read_settings(daemon, &faults);

	faults_report(&faults);
	return good;
}

static bool open_control(struct daemon *daemon)
{
	char *why = NULL;
	char *path = control_path();

	daemon->control = control_open(daemon->loop, daemon_answer, daemon, &why);
	print_why(why);
	/* A run works without XDG_RUNTIME_DIR, but a daemon that nobody can reach is of no use. */
	bool good = daemon->control || (!path && daemon->options.once);
	free(path);
	return good;
}

static bool open_journal(struct daemon *daemon)
{
	char *why = NULL;
	bool good = daemon_open_journal(daemon, &why) == JOURNAL_OK;

	print_why(why);
	return good;
}

static bool open_sources(struct daemon *daemon)
{
	char *why = NULL;
	bool good = daemon_open_sources(daemon, &why);

	print_why(why);
	return good;
}

static int on_timer(sd_event_source *source, uint64_t usec, void *data)
{
	(void)source;
	(void)usec;
	(void)data;
	return 0; /* on_any_event does what is due */
}

static int on_any_event(sd_event_source *source, void *data)
{
	(void)source;
	daemon_after(data);
	return 0;
}

/* Returns EXIT_DONE or why not. */
static enum exit_code open_all(struct daemon *daemon)
{
	if (sd_event_new(&daemon->loop) < 0)
		return EXIT_SYSTEM;
	catch_signals(daemon);
	sd_event_add_time(daemon->loop, &daemon->timer, CLOCK_MONOTONIC, 0, 1000, on_timer, daemon);
	sd_event_source_set_enabled(daemon->timer, SD_EVENT_OFF);
	sd_event_add_post(daemon->loop, NULL, on_any_event, daemon);
	start_watchdog(daemon);
	if (!open_settings(daemon) || !open_control(daemon))
		return EXIT_NO;
	if (!open_journal(daemon))
		return EXIT_IO;
	return open_sources(daemon) ? EXIT_DONE : EXIT_UNAVAILABLE;
}

struct daemon *daemon_open(const struct daemon_options *options, int *code)
{
	struct daemon *daemon = memory_new(1, sizeof(*daemon));

	daemon->options = *options;
	*code = (int)open_all(daemon);
	if (*code == EXIT_DONE)
		return daemon;
	daemon_close(daemon);
	return NULL;
}

void daemon_close(struct daemon *daemon)
{
	if (!daemon)
		return;
	daemon_close_sources(daemon);
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

int daemon_run(struct daemon *daemon)
{
	int code;

	if (!daemon->work && !daemon->options.once)
		daemon_rack_wait(daemon);
	daemon_after(daemon);
	code = sd_event_loop(daemon->loop);
	return code < 0 ? EXIT_SYSTEM : code;
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
		.voice_good = daemon->voice_state == VOICE_GOOD,
		.pedal = daemon->pedal ? daemon->pedal : "",
		.journal = daemon->journal_fault ? daemon->journal_fault : "",
	};
}
