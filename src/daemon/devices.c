/* The pedal's and the speaker's end of the loop: what they report, in the session's words. */
#include "daemon/internal.h"

#include "base/base.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <systemd/sd-daemon.h>
#include <unistd.h>

static void step(struct daemon *daemon, enum session_event_kind kind, int64_t time_us,
		 const char *text)
{
	daemon_step(daemon,
		    &(struct session_event){.kind = kind, .time_us = time_us, .text = text});
}

/* ---- pedal ---- */

static const enum session_event_kind gestures[] = {
	[GESTURE_NEXT] = SESSION_NEXT,
	[GESTURE_AGAIN] = SESSION_AGAIN,
	[GESTURE_BACK] = SESSION_BACK,
	[GESTURE_PAUSE] = SESSION_PAUSE_TOGGLE,
	[GESTURE_WHERE] = SESSION_WHERE,
	[GESTURE_STOP] = SESSION_STOP,
	[GESTURE_UNDO_AGAIN] = SESSION_UNDO_AGAIN,
	[GESTURE_UNDO_BACK] = SESSION_UNDO_BACK,
	[GESTURE_UNDO_PAUSE] = SESSION_UNDO_PAUSE,
};

static void on_gesture(struct daemon *daemon, const struct gesture *gesture)
{
	if (!daemon->work) {
		if (gesture->kind == GESTURE_STOP)
			sd_event_exit(daemon->loop, 0);
		return;
	}
	daemon_step(daemon, &(struct session_event){
				    .kind = gestures[gesture->kind],
				    .time_us = gesture->time_us,
				    .count = gesture->steps,
			    });
}

static void pedal_is_back(struct daemon *daemon, const struct pedal_event *event)
{
	daemon->pedal_missing = false;
	memory_replace(&daemon->pedal, event->name);
	step(daemon, SESSION_PEDAL_BACK, event->time_us, event->text);
}

static void on_pedal_event(void *owner, const struct pedal_event *event)
{
	struct daemon *daemon = owner;

	if (event->kind != PEDAL_GESTURE && *event->text)
		daemon_log(daemon, "pedal: %s", event->text);
	switch (event->kind) {
	case PEDAL_GESTURE:
		on_gesture(daemon, &event->gesture);
		break;
	case PEDAL_FOUND:
		if (daemon->pedal_missing) /* another one serves as well */
			pedal_is_back(daemon, event);
		else
			memory_replace(&daemon->pedal, event->name);
		break;
	case PEDAL_GONE:
		daemon->pedal_missing = true;
		memory_replace(&daemon->pedal, event->text);
		step(daemon, SESSION_PEDAL_GONE, event->time_us, event->text);
		break;
	case PEDAL_BACK_AGAIN:
		pedal_is_back(daemon, event);
		break;
	case PEDAL_STUCK:
		step(daemon, SESSION_PEDAL_STUCK, event->time_us, event->text);
		break;
	case PEDAL_CHATTER:
		step(daemon, SESSION_PEDAL_CHATTER, event->time_us, event->text);
		break;
	case PEDAL_FREED:
		step(daemon, SESSION_PEDAL_FREED, event->time_us, event->text);
		break;
	case PEDAL_BUSY:
	case PEDAL_DENIED:
		memory_replace(&daemon->pedal, event->text);
		break;
	case PEDAL_KEYS_ENDED:
		/* Nothing else can press: going on would wait for ever. */
		if (daemon->options.pedals == DAEMON_PEDALS_KEYS)
			step(daemon, SESSION_STOP, event->time_us, "end of the keys");
		break;
	case PEDAL_NOTE:
		break;
	}
}

static struct pedal_config pedal_config(const struct daemon *daemon)
{
	enum daemon_pedals pedals = daemon->options.pedals;
	bool keys = pedals == DAEMON_PEDALS_KEYS ||
		    (pedals == DAEMON_PEDALS_AUTO && daemon->options.keys);

	return (struct pedal_config){
		.entries = daemon->bench->pedals,
		.entry_count = (size_t)daemon->bench->pedal_count,
		.devices = pedals == DAEMON_PEDALS_AUTO || pedals == DAEMON_PEDALS_EVDEV,
		.times = daemon->bench->times,
		.keys = keys ? PEDAL_KEYS_AUTO : PEDAL_KEYS_NONE,
		.keys_fd = STDIN_FILENO,
	};
}

static int on_pedal_ready(sd_event_source *source, int fd, uint32_t events, void *data)
{
	struct daemon *daemon = data;

	(void)source;
	(void)fd;
	(void)events;
	pedals_dispatch(daemon->pedals);
	daemon_after(daemon);
	return 0;
}

/* ---- speaker ---- */

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
	int64_t press_us = daemon->said_press_us;

	daemon_step(daemon, &(struct session_event){
				    .kind = SESSION_ANNOUNCED,
				    .time_us = event->at_us,
				    .call = daemon->said_call,
				    .response_us = press_us ? event->at_us - press_us : -1,
			    });
	daemon->said_press_us = 0; /* said again after a fault, it answers no press */
}

static void set_voice(struct daemon *daemon, bool good, const char *text)
{
	daemon->voice_good = good;
	daemon->voice_lost = false;
	memory_replace(&daemon->voice, text);
	daemon_log(daemon, "voice: %s", text);
}

static void on_speech_event(struct daemon *daemon, const struct speech_event *event)
{
	switch (event->kind) {
	case SPEECH_READY:
		set_voice(daemon, true, event->text);
		tell_ready(daemon);
		break;
	case SPEECH_STARTED:
		daemon_heard(daemon, event->generation);
		on_started(daemon, event);
		break;
	case SPEECH_FINISHED:
		if (event->generation == daemon->last_generation)
			daemon->talking = false;
		break;
	case SPEECH_LOST:
		set_voice(daemon, false, event->text);
		daemon->voice_lost = true;
		step(daemon, SESSION_VOICE_LOST, event->at_us, event->text);
		break;
	case SPEECH_BACK:
		set_voice(daemon, true, event->text);
		step(daemon, SESSION_VOICE_BACK, event->at_us, event->text);
		break;
	case SPEECH_NO_SOUND:
		set_voice(daemon, false, event->text);
		step(daemon, SESSION_VOICE_LOST, event->at_us, event->text);
		daemon->talking = false;
		tell_ready(daemon);
		break;
	case SPEECH_REFUSED:
		set_voice(daemon, false, event->text);
		daemon->talking = false;
		tell_ready(daemon);
		break;
	case SPEECH_TROUBLE:
		daemon_log(daemon, "voice: %s", event->text);
		break;
	}
}

void daemon_take_speech(struct daemon *daemon)
{
	struct speech_event event;

	while (speech_next(daemon->speech, &event))
		on_speech_event(daemon, &event);
}

static int on_speech_ready(sd_event_source *source, int fd, uint32_t events, void *data)
{
	struct daemon *daemon = data;

	(void)source;
	(void)fd;
	(void)events;
	speech_dispatch(daemon->speech, clock_steady_us());
	daemon_after(daemon);
	return 0;
}

/* ---- both ---- */

/* Keys that cannot be had are no fault if nobody asked for them: a run in the background of its
 * terminal still has its pedal. */
static bool open_pedals(struct daemon *daemon, char **why)
{
	struct pedal_config config = pedal_config(daemon);

	daemon->pedals = pedals_open(&config, on_pedal_event, daemon, why);
	if (!daemon->pedals && daemon->options.pedals == DAEMON_PEDALS_AUTO &&
	    daemon->options.keys) {
		daemon_log(daemon, "pedal: %s", *why);
		free(*why);
		*why = NULL;
		config.keys = PEDAL_KEYS_NONE;
		daemon->pedals = pedals_open(&config, on_pedal_event, daemon, why);
	}
	memory_replace(&daemon->pedal, config.keys == PEDAL_KEYS_NONE ? "no pedal yet" : "keys");
	return daemon->pedals != NULL;
}

bool daemon_open_devices(struct daemon *daemon, char **why)
{
	const struct bench *bench = daemon->bench;
	const struct speech_options speech = {
		.sound = daemon->options.sound ? daemon->options.sound : bench->sound,
		.voice = bench->voice ? bench->voice : phrasebook_voice(daemon->book),
		.rate_wpm = bench->rate_wpm,
		.volume_percent = bench->volume_percent,
		.tone = bench->tone,
	};

	if (!open_pedals(daemon, why))
		return false;
	memory_replace(&daemon->voice, "the voice is being started");
	daemon->speech = speech_open(&speech, clock_steady_us());
	sd_event_add_io(daemon->loop, &daemon->speech_source, speech_fd(daemon->speech), EPOLLIN,
			on_speech_ready, daemon);
	sd_event_add_io(daemon->loop, &daemon->pedal_source, pedals_fd(daemon->pedals), EPOLLIN,
			on_pedal_ready, daemon);
	speech_rest(daemon->speech, clock_steady_us()); /* until there is a job */
	return true;
}

void daemon_close_devices(struct daemon *daemon)
{
	daemon->speech_source = sd_event_source_disable_unref(daemon->speech_source);
	daemon->pedal_source = sd_event_source_disable_unref(daemon->pedal_source);
	pedals_close(daemon->pedals);
	speech_close(daemon->speech);
	daemon->pedals = NULL;
	daemon->speech = NULL;
}
