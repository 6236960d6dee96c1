/* The sources of events of a daemon: opening them, and what pedals and keys report, in the
 * session's words. */
#include "daemon/internal.h"

#include "base/base.h"

#include <stdlib.h>
#include <unistd.h>

static void step(struct daemon *daemon, enum session_event_kind kind,
		 const struct pedal_event *event)
{
	daemon_step(daemon, &(struct session_event){
				    .kind = kind, .time_us = event->time_us, .text = event->text});
}

static const enum session_event_kind gestures[] = {
	[GESTURE_NEXT] = SESSION_NEXT,
	[GESTURE_AGAIN] = SESSION_AGAIN,
	[GESTURE_BACK] = SESSION_BACK,
	[GESTURE_PAUSE] = SESSION_PAUSE_TOGGLE,
	[GESTURE_WHERE] = SESSION_WHERE,
	[GESTURE_WHY] = SESSION_WHY,
	[GESTURE_CHOICES] = SESSION_CHOICES,
	[GESTURE_STOP] = SESSION_STOP,
	[GESTURE_UNDO_AGAIN] = SESSION_UNDO_AGAIN,
	[GESTURE_UNDO_BACK] = SESSION_UNDO_BACK,
	[GESTURE_UNDO_PAUSE] = SESSION_UNDO_PAUSE,
	[GESTURE_HELD] = SESSION_HELD,
};

static void on_gesture(struct daemon *daemon, const struct gesture *gesture)
{
	if (!daemon->work) {
		if (gesture->kind == GESTURE_STOP)
			sd_event_exit(daemon->loop, 0);
		else if (!daemon->options.once)
			daemon_rack_step(daemon, gestures[gesture->kind]);
		return;
	}
	daemon_step(daemon, &(struct session_event){
				    .kind = gestures[gesture->kind],
				    .time_us = gesture->time_us,
				    .count = gesture->steps,
			    });
}

/* /dev/null is no sign that somebody meant to press keys: commands may come instead. */
static bool nothing_else_presses(const struct daemon *daemon)
{
	return daemon->options.pedals == DAEMON_PEDALS_KEYS ||
	       (daemon->keys_used && !daemon->pedal_found);
}

/* What the session is told of; 0: nothing. */
static const enum session_event_kind reports[] = {
	[PEDAL_GONE] = SESSION_PEDAL_GONE,       [PEDAL_BACK] = SESSION_PEDAL_BACK,
	[PEDAL_STUCK] = SESSION_PEDAL_STUCK,     [PEDAL_FREED] = SESSION_PEDAL_FREED,
	[PEDAL_CHATTER] = SESSION_PEDAL_CHATTER, [PEDAL_KEYS_ENDED] = 0,
};

static void on_pedal_event(void *owner, const struct pedal_event *event)
{
	struct daemon *daemon = owner;
	enum session_event_kind report = reports[event->kind];

	if (event->kind != PEDAL_GESTURE && *event->text)
		daemon_log(daemon, "pedal: %s", event->text);
	switch (event->kind) {
	case PEDAL_GESTURE:
		daemon->keys_used |= event->gesture.key < 0;
		sources_forget(daemon->sources, event->source);
		on_gesture(daemon, &event->gesture);
		break;
	case PEDAL_FOUND:
		daemon->pedal_found = true;
		if (daemon->pedal_missing) /* another one serves as well */
			report = SESSION_PEDAL_BACK;
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
		if (nothing_else_presses(daemon))
			report = SESSION_STOP;
		break;
	default:
		break;
	}
	if (report)
		step(daemon, report, event);
}

/* ---- opening ---- */

static int on_ready(sd_event_source *io, int fd, uint32_t events, void *data)
{
	struct source *source = data;

	(void)fd;
	(void)events;
	source->dispatch(source);
	if (source->fd < 0) /* nothing will come any more */
		sd_event_source_set_enabled(io, SD_EVENT_OFF);
	return 0;
}

/* False if the source could not be opened. */
static bool add(struct daemon *daemon, struct source *source)
{
	if (!source)
		return false;
	source->next = daemon->sources;
	daemon->sources = source;
	if (source->fd >= 0)
		sd_event_add_io(daemon->loop, &daemon->io[daemon->io_count++], source->fd, EPOLLIN,
				on_ready, source);
	return true;
}

static bool open_pedals(struct daemon *daemon, char **why)
{
	const struct pedal_config config = {
		.entries = daemon->bench->pedals,
		.entry_count = (size_t)daemon->bench->pedal_count,
		.times = daemon->bench->times,
	};

	return add(daemon, pedals_open(&config, on_pedal_event, daemon, why));
}

/* Keys that cannot be read are an error only if nothing else can be pressed: a run in the
 * background of its terminal still has its pedal. */
static bool open_keys(struct daemon *daemon, char **why)
{
	if (add(daemon, terminal_open(STDIN_FILENO, on_pedal_event, daemon, why))) {
		memory_replace(&daemon->pedal, "keys");
		return true;
	}
	if (daemon->options.pedals == DAEMON_PEDALS_KEYS)
		return false;
	daemon_log(daemon, "pedal: %s", *why);
	free(*why);
	*why = NULL;
	return true;
}

bool daemon_open_sources(struct daemon *daemon, char **why)
{
	enum daemon_pedals pedals = daemon->options.pedals;
	bool any = pedals == DAEMON_PEDALS_AUTO;

	memory_replace(&daemon->pedal, "no pedal yet");
	if ((any || pedals == DAEMON_PEDALS_EVDEV) && !open_pedals(daemon, why))
		return false;
	if (((any && daemon->options.keys) || pedals == DAEMON_PEDALS_KEYS) &&
	    !open_keys(daemon, why))
		return false;
	return add(daemon, daemon_voice_open(daemon));
}

/* The voice was opened last: it is the first source and has the last descriptor. */
void daemon_close_presses(struct daemon *daemon)
{
	for (int i = 0; i + 1 < daemon->io_count; i++)
		daemon->io[i] = sd_event_source_disable_unref(daemon->io[i]);
	sources_close(daemon->sources->next);
	daemon->sources->next = NULL;
}

void daemon_close_sources(struct daemon *daemon)
{
	while (daemon->io_count > 0)
		sd_event_source_disable_unref(daemon->io[--daemon->io_count]);
	sources_close(daemon->sources);
	daemon->sources = NULL;
}
