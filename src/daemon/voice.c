/* The voice as a source of events: what the speaker reports, in the session's words. */
#include "daemon/internal.h"

#include <stdlib.h>
#include <systemd/sd-daemon.h>

struct voice {
	struct source source;
	struct daemon *daemon;
};

static void tell_ready(struct daemon *daemon)
{
	if (daemon->ready)
		return;
	daemon->ready = true;
	sd_notify(0, "READY=1");
}

static void on_started(struct daemon *daemon, const struct speech_event *event)
{
	if (event->generation != daemon->said_generation)
		return;
	int64_t press_us = speech_is_silent(daemon->speech) ? 0 : daemon->said_press_us;

	daemon_step(daemon, &(struct session_event){
				    .kind = SESSION_ANNOUNCED,
				    .time_us = event->at_us,
				    .call = daemon->said_call,
				    .response_us = press_us ? event->at_us - press_us : -1,
			    });
	daemon->said_press_us = 0; /* said again after a fault, it answers no press */
}

/* A report on the state of the speaker; 0: nothing changes, nothing for the session. */
static const struct {
	enum voice_state state;
	enum session_event_kind event;
} reports[] = {
	[SPEECH_READY] = {VOICE_GOOD, 0},
	[SPEECH_LOST] = {VOICE_LOST, SESSION_VOICE_LOST},
	[SPEECH_BACK] = {VOICE_GOOD, SESSION_VOICE_BACK},
	[SPEECH_NO_SOUND] = {VOICE_NONE, SESSION_VOICE_LOST},
	[SPEECH_REFUSED] = {VOICE_NONE, 0},
	[SPEECH_TROUBLE] = {0, 0},
};

static void on_report(struct daemon *daemon, const struct speech_event *event)
{
	enum voice_state state = reports[event->kind].state;
	enum session_event_kind kind = reports[event->kind].event;

	if (state) {
		daemon->voice_state = state;
		memory_replace(&daemon->voice, event->text);
	}
	daemon_log(daemon, "voice: %s", event->text);
	if (kind)
		daemon_step(daemon, &(struct session_event){.kind = kind,
							    .time_us = event->at_us,
							    .text = event->text});
	if (state && state != VOICE_LOST)
		tell_ready(daemon);
}

static void on_speech_event(struct daemon *daemon, const struct speech_event *event)
{
	if (event->kind == SPEECH_STARTED) {
		daemon_heard(daemon, event->generation);
		on_started(daemon, event);
	} else if (event->kind != SPEECH_FINISHED) {
		on_report(daemon, event);
	} else if (event->generation == daemon->last_generation) {
		daemon->talking = false;
	}
}

static void dispatch(struct source *source)
{
	struct daemon *daemon = ((struct voice *)source)->daemon;
	struct speech_event event;

	speech_dispatch(daemon->speech, clock_steady_us());
	while (speech_next(daemon->speech, &event))
		on_speech_event(daemon, &event);
}

static int64_t deadline_us(const struct source *source)
{
	return speech_deadline_us(((const struct voice *)source)->daemon->speech);
}

static void close_voice(struct source *source)
{
	struct daemon *daemon = ((struct voice *)source)->daemon;

	speech_close(daemon->speech);
	daemon->speech = NULL;
	free(source);
}

struct source *daemon_voice_open(struct daemon *daemon)
{
	const struct bench *bench = daemon->bench;
	const struct speech_options options = {
		.sound = daemon->options.sound ? daemon->options.sound : bench->sound,
		.voice = bench->voice ? bench->voice : phrasebook_voice(daemon->book),
		.recorded = bench->recorded,
		.rate_wpm = bench->rate_wpm,
		.volume_percent = bench->volume_percent,
		.tone = bench->tone,
		.loud = bench->loud,
	};
	struct voice *voice = memory_new(1, sizeof *voice);

	memory_replace(&daemon->voice, "the voice is being started");
	daemon->voice_state = VOICE_STARTING;
	daemon->speech = speech_open(&options, clock_steady_us());
	speech_rest(daemon->speech, clock_steady_us()); /* until there is a job */
	*voice = (struct voice){
		.source = {.fd = speech_fd(daemon->speech),
			   .deadline_us = deadline_us,
			   .dispatch = dispatch,
			   .close = close_voice},
		.daemon = daemon,
	};
	return &voice->source;
}
