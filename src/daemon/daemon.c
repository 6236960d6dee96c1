/* Opens, joins and closes everything: presses, the voice, the loop, signals, settings. */
#include "daemon/internal.h"

#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <systemd/sd-daemon.h>
#include <unistd.h>

const char *const daemon_pedal_names[] = {
	[DAEMON_PEDALS_AUTO] = "auto",
	[DAEMON_PEDALS_KEYS] = "keys",
	[DAEMON_PEDALS_EVDEV] = "evdev",
	[DAEMON_PEDALS_NONE] = "none",
	NULL,
};

const char *const daemon_shop_names[] = {"quiet", "loud", NULL};

bool daemon_read_sound(const char *value, void *out)
{
	*(const char **)out = value;
	return bench_is_sound(value);
}

/* ---- pedals and keys ---- */

/* A run that nobody can press ends, and keeps its place. */
static void end_unpressed(struct daemon *daemon)
{
	if (!daemon->work)
		sd_event_exit(daemon->loop, EXIT_DONE);
	daemon_step(daemon, (struct session_event){SESSION_STOP, .text = "nothing can press"});
}

_Static_assert(SESSION_HELD - SESSION_NEXT == (int)GESTURE_HELD, "in step");

static const struct session_event reports[] = {
	[PEDAL_GONE] = {SESSION_PEDAL_GONE},
	[PEDAL_BACK] = {SESSION_PEDAL_BACK},
	[PEDAL_STUCK] = {SESSION_PEDAL_STUCK},
	[PEDAL_CHATTER] = {SESSION_REPORT, .notice = NOTICE_PEDAL_CHATTER, .record = JOURNAL_FAULT},
	[PEDAL_FREED] = {SESSION_REPORT, .notice = NOTICE_PEDAL_BACK, .record = JOURNAL_MENDED},
	[PEDAL_KEYS_ENDED] = {0}, /* the last kind */
};

static void press_without_work(struct daemon *daemon, const struct pedal_event *event)
{
	if (event->kind == GESTURE_STOP)
		sd_event_exit(daemon->loop, 0);
	else if (event->kind <= GESTURE_HELD)
		daemon_rack_step(daemon, SESSION_NEXT + event->kind);
}

static void on_pedal_event(void *owner, const struct pedal_event *event)
{
	struct daemon *daemon = owner;
	struct session_event report = reports[event->kind];

	if (event->kind <= GESTURE_HELD)
		report.kind = SESSION_NEXT + event->kind;
	report.time_us = event->time_us;
	report.count = event->steps;
	report.text = event->text;
	if (event->text)
		daemon_log(daemon, memory_format("pedal: %s", event->text));
	switch (event->kind) {
	case PEDAL_FOUND:
		daemon->pedal_found = true;
		if (daemon->pedal_missing) /* another one serves as well */
			report.kind = SESSION_PEDAL_BACK;
		__attribute__((fallthrough));
	case PEDAL_BACK:
		memory_replace(&daemon->pedal, event->pedal->name);
		daemon->pedal_missing = false;
		break;
	case PEDAL_GONE:
	case PEDAL_BUSY:
	case PEDAL_DENIED:
		daemon->pedal_missing |= event->kind == PEDAL_GONE;
		memory_replace(&daemon->pedal, event->text);
		break;
	case PEDAL_KEYS_ENDED:
		if (!daemon->pedal_found)
			end_unpressed(daemon);
		break;
	default:
		break;
	}
	if (!daemon->work)
		press_without_work(daemon, event);
	else if (report.kind)
		daemon_step(daemon, report);
}

/* ---- the voice ---- */

static void on_started(struct daemon *daemon, const struct speech_event *event)
{
	if (event->generation != daemon->said_generation)
		return;
	int64_t press_us = speech_is_silent(daemon->speech) ? 0 : daemon->said_press_us;

	daemon_step(daemon, (struct session_event){
				    .kind = SESSION_ANNOUNCED,
				    .time_us = event->at_us,
				    .call = daemon->said_call,
				    .response_us = press_us ? event->at_us - press_us : -1,
			    });
	daemon->said_press_us = 0; /* said again after a fault, it answers no press */
}

/* A report on the state of the speaker; 0: nothing changes, nothing for the journal. */
static const struct {
	enum voice_state state;
	enum journal_kind record;
} changes[] = {
	[SPEECH_READY] = {VOICE_GOOD, 0},
	[SPEECH_LOST] = {VOICE_LOST, JOURNAL_FAULT},
	[SPEECH_BACK] = {VOICE_GOOD, JOURNAL_MENDED},
	[SPEECH_NO_SOUND] = {VOICE_NONE, JOURNAL_FAULT},
	[SPEECH_REFUSED] = {VOICE_NONE, 0},
	[SPEECH_TROUBLE] = {0, 0},
};

static void on_report(struct daemon *daemon, const struct speech_event *event)
{
	enum voice_state state = changes[event->kind].state;

	if (state) {
		daemon->voice_state = state;
		memory_replace(&daemon->voice, event->text);
		/* No sign of life while the voice is lost: the service manager then restarts the
		 * daemon. A bench without a sound device is no reason for that. */
		sd_event_set_watchdog(daemon->loop, state != VOICE_LOST);
	}
	daemon_log(daemon, memory_format("voice: %s", event->text));
	daemon_step(daemon,
		    (struct session_event){SESSION_REPORT, .record = changes[event->kind].record,
					   .text = event->text});
	if (state && state != VOICE_LOST)
		sd_notify(0, "READY=1"); /* once is enough, more does no harm */
}

static void on_speech_event(struct daemon *daemon, const struct speech_event *event)
{
	if (event->kind == SPEECH_STARTED) {
		for (int notice = 0; notice < NOTICES; notice++)
			if (daemon->owed[notice] == event->generation)
				daemon->owed[notice] = 0;
		on_started(daemon, event);
	} else if (event->kind != SPEECH_FINISHED) {
		on_report(daemon, event);
	} else {
		if (event->generation == daemon->last_generation)
			daemon->talking = false;
		if (event->generation == daemon->heard_out)
			daemon->heard_out = 0;
	}
}

static void dispatch_voice(struct daemon *daemon)
{
	struct speech_event event;

	speech_dispatch(daemon->speech, clock_steady_us());
	while (speech_next(daemon->speech, &event))
		on_speech_event(daemon, &event);
}

/* ---- opening and closing presses and the voice ---- */

/* Keys that cannot be read are an error only if nothing else can be pressed: a run in the
 * background of its terminal still has its pedal. */
static bool open_keys(struct daemon *daemon, char **why)
{
	if (presses_read_keys(daemon->presses, STDIN_FILENO, why)) {
		memory_replace(&daemon->pedal, "keys");
		daemon->keys_open = true;
		return true;
	}
	if (daemon->options.pedals == DAEMON_PEDALS_KEYS)
		return false;
	daemon_log(daemon, memory_format("pedal: %s", *why));
	free(*why);
	*why = NULL;
	return true;
}

/* Nothing that is pressed or typed from now on is for us. */
static void close_presses(struct daemon *daemon)
{
	daemon->presses_io = sd_event_source_disable_unref(daemon->presses_io);
	presses_close(daemon->presses);
	daemon->presses = NULL;
}

static void close_sources(struct daemon *daemon)
{
	close_presses(daemon);
	daemon->voice_io = sd_event_source_disable_unref(daemon->voice_io);
	speech_close(daemon->speech);
	daemon->speech = NULL;
}

/* Standard input may end before the first key: the plan was read from it, or it is /dev/null. */
static bool has_keys(const struct daemon_options *options)
{
	struct stat input;

	return options->keys && fstat(STDIN_FILENO, &input) == 0 &&
	       (!S_ISCHR(input.st_mode) || isatty(STDIN_FILENO));
}

/* Pedals, keys and the voice. False with *why if a source that was asked for cannot be opened. */
static bool open_sources(struct daemon *daemon, char **why)
{
	const struct pedal_config config = {
		.entries = daemon->bench->pedals,
		.entry_count = (size_t)daemon->bench->pedal_count,
		.times = daemon->bench->times,
	};
	enum daemon_pedals pedals = daemon->options.pedals;
	bool any = pedals == DAEMON_PEDALS_AUTO;

	memory_replace(&daemon->pedal, "no pedal yet");
	daemon_open_voice(daemon);
	daemon->presses = presses_open(any || pedals == DAEMON_PEDALS_EVDEV ? &config : NULL,
				       on_pedal_event, daemon, why);
	if (!daemon->presses)
		return false;
	sd_event_add_io(daemon->loop, &daemon->presses_io, presses_fd(daemon->presses), EPOLLIN,
			daemon_on_ready, NULL);
	if ((pedals == DAEMON_PEDALS_KEYS || (any && has_keys(&daemon->options))) &&
	    !open_keys(daemon, why))
		return false;
	dispatch_voice(daemon); /* that the sound is off is known before the first words */
	return true;
}

/* ---- settings and signals ---- */

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
		bench->phrases.clear = options->shop == DAEMON_SHOP_LOUD;
	close_sources(daemon);
	bench_free(daemon->bench);
	phrasebook_free(daemon->book);
	phrasebook_free(daemon->job_book);
	daemon->job_book = NULL;
	daemon->bench = bench;
	daemon->book = book;
	return true;
}

/* False if their sources cannot be opened. */
static bool reread_settings(struct daemon *daemon)
{
	struct faults faults = {0};
	char *why = NULL;
	bool read = read_settings(daemon, &faults);
	bool good = !read || open_sources(daemon, &why);

	if (read)
		daemon_log(daemon, memory_format("the bench file was read again%s%s",
						 why ? ": " : "", why ? why : ""));
	else
		daemon_log(daemon,
			   memory_format("the bench file is at fault, its old settings stay: %s",
					 faults.count ? faults.items[0].text : ""));
	free(why);
	faults_free(&faults);
	return good;
}

static int on_hangup(sd_event_source *source, const struct signalfd_siginfo *info, void *data)
{
	struct daemon *daemon = data;

	(void)source;
	(void)info;
	if (daemon->options.once)
		return sd_event_exit(daemon->loop, EXIT_DONE); /* the terminal is gone */
	if (daemon->work)
		daemon_log(daemon, memory_copy("a job is running: the bench file is not read"));
	else if (!reread_settings(daemon))
		return sd_event_exit(daemon->loop, EXIT_UNAVAILABLE);
	return 0;
}

/* ---- after every event ---- */

/* How long the end of a run waits for its last words. */
static const uint64_t last_words_us = 8 * 1000 * 1000;

/* One timer for all deadlines. */
static void set_timer(struct daemon *daemon)
{
	const int64_t due_us[] = {
		presses_deadline_us(daemon->presses),
		speech_deadline_us(daemon->speech),
		daemon->work ? session_deadline_us(&daemon->work->session) : INT64_MAX,
		daemon_retry_us(daemon),
	};
	int64_t first_us = INT64_MAX;

	for (size_t i = 0; i < sizeof(due_us) / sizeof(due_us[0]); i++)
		first_us = due_us[i] < first_us ? due_us[i] : first_us;
	sd_event_source_set_time(daemon->timer, first_us > 0 ? (uint64_t)first_us : 0);
	sd_event_source_set_enabled(daemon->timer, SD_EVENT_ONESHOT);
}

static void leave(struct daemon *daemon)
{
	if (daemon->leaving)
		return;
	daemon->leaving = true;
	close_presses(daemon);
	sd_event_add_time_relative(daemon->loop, NULL, CLOCK_MONOTONIC, last_words_us, 0, NULL,
				   (void *)EXIT_DONE);
}

static void end_work(struct daemon *daemon)
{
	work_free(daemon->work);
	daemon->work = NULL;
	memset(daemon->owed, 0, sizeof daemon->owed);
	daemon->heard_out = 0;
	if (!daemon_rack_wait(daemon) && daemon->options.once)
		leave(daemon);
	speech_rest(daemon->speech, clock_steady_us());
}

static void after_event(struct daemon *daemon)
{
	presses_dispatch(daemon->presses);
	dispatch_voice(daemon);
	daemon_retry_journal(daemon);
	if (daemon->work && session_deadline_us(&daemon->work->session) <= clock_steady_us())
		daemon_step(daemon, (struct session_event){SESSION_TIMEOUT});
	if (daemon->work && daemon->work->session.state == SESSION_ENDING &&
	    presses_settled(daemon->presses))
		daemon_step(daemon, (struct session_event){SESSION_SETTLED});
	if (daemon->work && daemon->work->session.state == SESSION_OVER)
		end_work(daemon);
	if (!daemon->work && presses_settled(daemon->presses))
		daemon_rack_settled(daemon);
	if (daemon->rack_asked)
		daemon_rack_tell(daemon);
	if (!daemon->work && !daemon->options.once && daemon_retry_us(daemon) == INT64_MAX) {
		journal_close(daemon->journal); /* others may write to it meanwhile */
		daemon->journal = NULL;
	}
	bool quiet = !daemon->talking || daemon->voice_state == VOICE_NONE;
	if (daemon->leaving && quiet)
		sd_event_exit(daemon->loop, EXIT_DONE);
	else if (!daemon->work && quiet)
		daemon_speak(daemon, NULL);
	set_timer(daemon);
}

/* A request is answered as things are then; the next one finds a job over that it has ended. */
static bool on_request(void *owner, const char *line, size_t length, struct text *reply)
{
	bool watches = daemon_answer(owner, line, length, reply);

	after_event(owner);
	return watches;
}

/* ---- opening ---- */

static int on_timer(sd_event_source *source, uint64_t usec, void *data)
{
	(void)source;
	(void)usec;
	(void)data;
	return 0; /* after_event does what is due */
}

static int on_any_event(sd_event_source *source, void *data)
{
	(void)source;
	after_event(data);
	return 0;
}

static void print_why(char *why)
{
	if (why)
		fprintf(stderr, "pullcall: %s\n", why);
	free(why);
}

/* First what is read and what others may hold, then what makes a sound. *why may be a warning. */
static enum exit_code open_all(struct daemon *daemon, char **why)
{
	struct faults faults = {0};
	bool read = read_settings(daemon, &faults);

	faults_report(&faults);
	if (!read)
		return EXIT_NO;
	daemon->control = control_open(daemon->loop, on_request, daemon, why);
	/* A run works without XDG_RUNTIME_DIR, but a daemon that nobody can reach is of no use. */
	if (!daemon->control && (getenv("XDG_RUNTIME_DIR") || !daemon->options.once))
		return EXIT_NO;
	print_why(*why);
	if (daemon_open_journal(daemon, why) != JOURNAL_OK)
		return EXIT_IO;
	return open_sources(daemon, why) ? EXIT_DONE : EXIT_UNAVAILABLE;
}

static bool open_loop(struct daemon *daemon)
{
	static const int ends[] = {SIGTERM, SIGINT};

	if (sd_event_new(&daemon->loop) < 0)
		return false;
	signal(SIGPIPE, SIG_IGN);
	for (size_t i = 0; i < sizeof(ends) / sizeof(ends[0]); i++)
		sd_event_add_signal(daemon->loop, NULL, ends[i] | SD_EVENT_SIGNAL_PROCMASK, NULL,
				    (void *)EXIT_DONE);
	sd_event_add_signal(daemon->loop, NULL, SIGHUP | SD_EVENT_SIGNAL_PROCMASK, on_hangup,
			    daemon);
	sd_event_add_time(daemon->loop, &daemon->timer, CLOCK_MONOTONIC, 0, 1000, on_timer, daemon);
	sd_event_add_post(daemon->loop, NULL, on_any_event, daemon);
	sd_event_set_watchdog(daemon->loop, true);
	return true;
}

struct daemon *daemon_open(const struct daemon_options *options, int *code)
{
	struct daemon *daemon = memory_new(1, sizeof(*daemon));
	char *why = NULL;

	daemon->options = *options;
	*code = open_loop(daemon) ? (int)open_all(daemon, &why) : EXIT_SYSTEM;
	if (*code == EXIT_DONE)
		return daemon;
	print_why(why);
	daemon_close(daemon);
	return NULL;
}

void daemon_close(struct daemon *daemon)
{
	if (!daemon)
		return;
	close_sources(daemon);
	work_free(daemon->work);
	control_close(daemon->control);
	journal_close(daemon->journal);
	phrasebook_free(daemon->book);
	phrasebook_free(daemon->job_book);
	bench_free(daemon->bench);
	sd_event_source_disable_unref(daemon->timer);
	sd_event_unref(daemon->loop);
	free(daemon->said);
	free(daemon->ended);
	free(daemon->unsaved);
	free(daemon->voice);
	free(daemon->pedal);
	free(daemon->journal_fault);
	free(daemon);
}

int daemon_run(struct daemon *daemon)
{
	if (!daemon->work)
		daemon_rack_wait(daemon);
	if (daemon->options.once && daemon->options.pedals == DAEMON_PEDALS_AUTO &&
	    !daemon->pedal_found && !has_keys(&daemon->options))
		end_unpressed(daemon);
	after_event(daemon);
	sd_event_source_set_time(daemon->timer, 0); /* the screen shows what was said */
	int code = sd_event_loop(daemon->loop);
	/* A signal ended it: what was pressed before that is taken first. */
	presses_dispatch(daemon->presses);
	dispatch_voice(daemon);
	daemon_step(daemon, (struct session_event){SESSION_STOP, .text = "ended by a signal"});
	sd_notify(0, "STOPPING=1");
	speech_hush(daemon->speech, clock_steady_us());
	bool saved = daemon_save(daemon);
	return code < 0 ? EXIT_SYSTEM : saved ? code : EXIT_IO;
}

sd_event *daemon_loop(struct daemon *daemon)
{
	return daemon->loop;
}

struct daemon_look daemon_look(const struct daemon *daemon)
{
	return (struct daemon_look){
		.work = daemon->work,
		.book = daemon_book(daemon),
		.offered = daemon->offer.state == OFFER_SAID,
		.said = daemon->said ? daemon->said : "",
		.said_beside = daemon->said_beside,
		.voice = daemon->voice ? daemon->voice : "",
		.voice_good = daemon->voice_state == VOICE_GOOD,
		.pedal = daemon->pedal ? daemon->pedal : "",
		.can_press = daemon->pedal_found || daemon->keys_open,
		.journal = daemon->journal_fault ? daemon->journal_fault : "",
		.ended = daemon_ended(daemon),
	};
}
