/* What is said and what waits, the orders to the speaker, and what became of them. */
#include "speech/internal.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <unistd.h>

enum {
	EVENTS_MAX = 64,
	REPLAYS_MAX = 1,      /* of words that each speaker died before it began */
	MESSAGES_A_TURN = 16, /* read in one dispatch */
	TROUBLES_MAX = 10,    /* told of one speaker */
};

struct utterance {
	uint64_t generation;
	char *text;
	bool finished;
	int replays;
};

struct speech {
	struct speech_options options; /* its texts are these: */
	char *program, *sound, *voice, *recorded;

	struct supervisor supervisor; /* off: the sound is "none" */
	int epoll;
	int devices;      /* inotify, or -1 */
	int64_t began_us; /* when the first speaker's sound began; 0: not yet */
	char *cause;      /* the text of the next event that gives a reason */
	struct run run;
	int troubles; /* reported of this run */

	uint64_t last_generation;
	/* [0] is being said or was said last; those after it wait. */
	struct utterance queue[1 + SPEECH_QUEUE_MAX];
	size_t queue_count;
	char *prepared[SPEECH_PREPARED_MAX];
	size_t prepared_count;
	bool rest_due; /* when what is being said has ended */

	struct speech_event events[EVENTS_MAX];
	size_t event_count;
};

/* Tells the supervisor of an event and carries out its orders. */
static void step(struct speech *speech, enum supervisor_event event, int64_t now_us);

/* ---- Events for the owner ---- */

static void tell(struct speech *speech, enum speech_kind kind, uint64_t generation, int64_t at_us,
		 const char *text)
{
	if (speech->event_count == EVENTS_MAX)
		return; /* the owner does not read them */
	struct speech_event *event = &speech->events[speech->event_count++];

	*event = (struct speech_event){.kind = kind, .generation = generation, .at_us = at_us};
	snprintf(event->text, sizeof event->text, "%s", text);
}

bool speech_next(struct speech *speech, struct speech_event *event)
{
	if (speech->event_count == 0)
		return false;
	*event = speech->events[0];
	memmove(speech->events, speech->events + 1, --speech->event_count * sizeof *speech->events);
	return true;
}

/* ---- Orders to the speaker ---- */

/* Takes cause, the reason that is given with the next event for the owner. */
static void set_cause(struct speech *speech, char *cause)
{
	free(speech->cause);
	speech->cause = cause;
}

static void fault(struct speech *speech, const char *cause, int64_t now_us)
{
	set_cause(speech, memory_copy(cause));
	step(speech, SUPERVISOR_FAULT, now_us);
}

/* Only to a speaker whose sound flows: `replay` sends a fresh one all that it needs. */
static void send(struct speech *speech, enum wire_kind kind, uint64_t generation, const char *text,
		 int64_t now_us)
{
	struct wire_message message = {.kind = (uint16_t)kind, .generation = generation};

	if (speech->supervisor.state != SUPERVISOR_LIVE || speech->run.wire < 0)
		return;
	wire_set_text(&message, text);
	if (wire_send(speech->run.wire, &message) == WIRE_LATER)
		fault(speech, "it does not read its orders", now_us);
}

/* ---- What is said, and what waits ---- */

static void send_prepared(struct speech *speech, int64_t now_us)
{
	for (size_t i = 0; i < speech->prepared_count; i++)
		send(speech, WIRE_PREPARE, i, speech->prepared[i], now_us);
}

static void forget_prepared(struct speech *speech)
{
	while (speech->prepared_count > 0)
		free(speech->prepared[--speech->prepared_count]);
}

static void finish(struct speech *speech, struct utterance *utterance, int64_t now_us)
{
	if (!utterance->finished)
		tell(speech, SPEECH_FINISHED, utterance->generation, now_us, "");
	utterance->finished = true;
}

static void drop(struct speech *speech, size_t at, int64_t now_us)
{
	struct utterance *utterance = &speech->queue[at];

	finish(speech, utterance, now_us);
	free(utterance->text);
	memmove(utterance, utterance + 1, (--speech->queue_count - at) * sizeof *utterance);
}

/* Those that wait first. */
static void drop_all(struct speech *speech, int64_t now_us)
{
	while (speech->queue_count > 0)
		drop(speech, speech->queue_count > 1, now_us);
}

static void begin(struct speech *speech, int64_t now_us)
{
	struct utterance *first = speech->queue;

	if (speech_is_silent(speech)) {
		tell(speech, SPEECH_STARTED, first->generation, now_us, "");
		finish(speech, first, now_us);
		return;
	}
	send(speech, WIRE_SAY, first->generation, first->text, now_us);
	send_prepared(speech, now_us);
}

static void go_on(struct speech *speech, int64_t now_us)
{
	finish(speech, speech->queue, now_us);
	if (speech->queue_count == 1)
		return;
	drop(speech, 0, now_us);
	begin(speech, now_us);
}

static void rest_if_due(struct speech *speech, int64_t now_us)
{
	bool talks = speech->queue_count > 0 && !speech->queue[0].finished;

	if (!speech->rest_due || talks)
		return;
	speech->rest_due = false;
	step(speech, SUPERVISOR_REST, now_us);
	send(speech, WIRE_REST, 0, "", now_us);
}

/* WIRE_STARTED or WIRE_FINISHED. */
static void on_progress(struct speech *speech, const struct wire_message *message, int64_t now_us)
{
	struct utterance *current = speech->queue;

	if (speech->queue_count == 0 || message->generation != current->generation)
		return; /* late */
	if (message->kind == WIRE_STARTED) {
		current->replays = 0;
		tell(speech, SPEECH_STARTED, current->generation, message->at_us, "");
		return;
	}
	go_on(speech, now_us);
	rest_if_due(speech, now_us);
}

/* A fresh speaker knows nothing. The current call is said again even if it had been said to the
 * end, because its end may have been lost on the way to the ear. Not in a pause, and not for ever:
 * the words themselves may be what kills the speaker. */
static void replay(struct speech *speech, int64_t now_us)
{
	struct utterance *current = speech->queue;
	bool resting = speech->supervisor.resting;

	if (speech->queue_count > 0 && !(resting && current->finished)) {
		if (current->replays++ <= REPLAYS_MAX)
			send(speech, WIRE_SAY, current->generation, current->text, now_us);
		else
			go_on(speech, now_us);
	}
	send_prepared(speech, now_us);
	if (resting)
		send(speech, WIRE_REST, 0, "", now_us);
	rest_if_due(speech, now_us);
}

/* ---- The speaker: carrying out the supervisor's orders ---- */

static void watch(const struct speech *speech, int fd)
{
	epoll_ctl(speech->epoll, EPOLL_CTL_ADD, fd, &(struct epoll_event){.events = EPOLLIN});
}

static void spawn(struct speech *speech, int64_t now_us)
{
	speech->troubles = 0;
	if (run_start(&speech->run, &speech->options, speech->began_us)) {
		watch(speech, speech->run.wire);
		watch(speech, speech->run.process);
		return;
	}
	set_cause(speech, memory_format("cannot start %s: %s", speech->program, strerror(errno)));
	step(speech, SUPERVISOR_SPAWN_FAILED, now_us);
}

static void step(struct speech *speech, enum supervisor_event event, int64_t now_us)
{
	unsigned orders = supervisor_step(&speech->supervisor, event, now_us);

	for (enum speech_kind kind = 0; kind <= SPEECH_TROUBLE; kind++)
		if (orders & 1U << kind)
			tell(speech, kind, 0, now_us, speech->cause);
	if (orders & SUPERVISOR_KILL)
		run_kill(&speech->run);
	if (orders & SUPERVISOR_REPLAY)
		replay(speech, now_us);
	if (orders & SUPERVISOR_SPAWN)
		spawn(speech, now_us);
}

static void on_message(struct speech *speech, const struct wire_message *message, int64_t now_us)
{
	switch (message->kind) {
	case WIRE_READY:
		if (speech->began_us == 0)
			speech->began_us = message->at_us;
		set_cause(speech, memory_copy(message->text));
		step(speech, SUPERVISOR_READY, now_us);
		return;
	case WIRE_NO_DEVICE:
	case WIRE_REFUSED:
		set_cause(speech, memory_copy(message->text));
		step(speech,
		     message->kind == WIRE_REFUSED ? SUPERVISOR_REFUSAL : SUPERVISOR_NO_DEVICE,
		     now_us);
		return;
	case WIRE_BEAT:
		run_read_errors(&speech->run);
		step(speech, SUPERVISOR_BEAT, now_us);
		return;
	case WIRE_STARTED:
	case WIRE_FINISHED:
		on_progress(speech, message, now_us);
		return;
	case WIRE_TROUBLE:
		if (speech->troubles++ < TROUBLES_MAX)
			tell(speech, SPEECH_TROUBLE, 0, now_us, message->text);
		return;
	default: /* an order, from the wrong side */
		fault(speech, "its messages make no sense", now_us);
	}
}

static void read_wire(struct speech *speech, int64_t now_us)
{
	struct wire_message message;

	for (int i = 0; i < MESSAGES_A_TURN && speech->run.wire >= 0; i++)
		switch (wire_receive(speech->run.wire, &message)) {
		case WIRE_DONE:
			on_message(speech, &message, now_us);
			break;
		case WIRE_LATER:
			return;
		case WIRE_CLOSED:
			/* How the process ended says more, and is known in a moment. If it
			 * lives on, it is missed for its beats. */
			run_close_wire(&speech->run);
			return;
		case WIRE_BAD:
			fault(speech, "its messages make no sense", now_us);
			return;
		}
}

static void reap(struct speech *speech, int64_t now_us)
{
	enum supervisor_state state = speech->supervisor.state;
	const char *last_line = speech->run.last_line;
	char *how;

	if (!run_reap(&speech->run, &how))
		return;
	read_wire(speech, now_us); /* its last words */
	/* The cause is known if it was killed, or said why it ends. */
	bool unexplained = (state == SUPERVISOR_STARTING || state == SUPERVISOR_LIVE) &&
			   speech->supervisor.told != SPEECH_NO_SOUND;
	if (unexplained && speech->supervisor.state == state)
		set_cause(speech, memory_format("%s ended: %s%s%s", speech->program, how,
						*last_line ? ": " : "", last_line));
	free(how);
	run_close(&speech->run);
	step(speech, SUPERVISOR_EXIT, now_us);
}

static void on_time(struct speech *speech, int64_t now_us)
{
	const char *last_line = speech->run.last_line;

	if (now_us < speech->supervisor.deadline_us)
		return;
	if (speech->supervisor.state != SUPERVISOR_GONE) {
		run_read_errors(&speech->run);
		set_cause(speech, memory_format("no sound flowed in time%s%s",
						*last_line ? ": " : "", last_line));
	}
	step(speech, SUPERVISOR_TIME, now_us);
}

void speech_dispatch(struct speech *speech, int64_t now_us)
{
	read_wire(speech, now_us);
	if (devices_changed(speech->devices))
		step(speech, SUPERVISOR_DEVICES, now_us);
	reap(speech, now_us);
	on_time(speech, now_us);
}

/* ---- The public functions ---- */

struct speech *speech_open(const struct speech_options *options, int64_t now_us)
{
	struct speech *speech = memory_new(1, sizeof *speech);

	*speech = (struct speech){
		.options = *options,
		.supervisor = {.deadline_us = SPEECH_NEVER},
		.run = {.wire = -1, .process = -1, .errors = -1},
		.epoll = epoll_create1(EPOLL_CLOEXEC),
		.devices = -1,
	};
	speech->options.program = speech->program =
		memory_copy(options->program ? options->program : "pullcall-speaker");
	speech->options.sound = speech->sound =
		memory_copy(options->sound ? options->sound : "auto");
	speech->options.voice = speech->voice = memory_copy(options->voice);
	speech->options.recorded = speech->recorded = memory_copy(options->recorded);
	if (strcmp(speech->sound, "none") == 0) {
		tell(speech, SPEECH_READY, 0, now_us, "sound off");
		return speech;
	}
	speech->devices = devices_watch();
	if (speech->devices >= 0)
		watch(speech, speech->devices);
	step(speech, SUPERVISOR_OPEN, now_us);
	return speech;
}

bool speech_is_silent(const struct speech *speech)
{
	return speech->supervisor.state == SUPERVISOR_OFF;
}

void speech_close(struct speech *speech)
{
	if (!speech)
		return;
	run_end(&speech->run);
	if (speech->devices >= 0)
		close(speech->devices);
	close(speech->epoll);
	free(speech->cause);
	free(speech->program);
	free(speech->sound);
	free(speech->voice);
	free(speech->recorded);
	for (size_t i = 0; i < speech->queue_count; i++)
		free(speech->queue[i].text);
	forget_prepared(speech);
	free(speech);
}

int speech_fd(const struct speech *speech)
{
	return speech->epoll;
}

int64_t speech_deadline_us(const struct speech *speech)
{
	return speech->event_count > 0 ? 0 : speech->supervisor.deadline_us;
}

uint64_t speech_say(struct speech *speech, const char *text, enum speech_urgency urgency,
		    int64_t now_us)
{
	struct utterance utterance = {.generation = ++speech->last_generation,
				      .text = memory_copy(text)};

	speech->rest_due = false;
	step(speech, SUPERVISOR_WAKE, now_us);
	if (urgency == SPEECH_NOW)
		forget_prepared(speech);
	if (urgency == SPEECH_NOW || (speech->queue_count > 0 && speech->queue[0].finished))
		drop_all(speech, now_us);
	while (urgency == SPEECH_NEXT && speech->queue_count > 1)
		drop(speech, 1, now_us);
	if (speech->queue_count == 1 + SPEECH_QUEUE_MAX)
		drop(speech, 1, now_us);
	speech->queue[speech->queue_count++] = utterance;
	if (speech->queue_count == 1)
		begin(speech, now_us);
	return utterance.generation;
}

void speech_prepare(struct speech *speech, const char *const texts[], size_t count)
{
	forget_prepared(speech);
	while (speech->prepared_count < count && speech->prepared_count < SPEECH_PREPARED_MAX) {
		speech->prepared[speech->prepared_count] =
			memory_copy(texts[speech->prepared_count]);
		speech->prepared_count++;
	}
	send_prepared(speech, clock_steady_us());
}

void speech_set_loud(struct speech *speech, bool loud, int64_t now_us)
{
	speech->options.loud = loud;
	send(speech, WIRE_SHOP, loud, "", now_us);
	send_prepared(speech, now_us);
}

void speech_set_volume(struct speech *speech, int percent, int64_t now_us)
{
	speech->options.volume_percent = percent;
	send(speech, WIRE_VOLUME, (uint64_t)percent, "", now_us);
	send_prepared(speech, now_us);
}

void speech_hush(struct speech *speech, int64_t now_us)
{
	drop_all(speech, now_us);
	send(speech, WIRE_HUSH, 0, "", now_us);
	rest_if_due(speech, now_us);
}

void speech_rest(struct speech *speech, int64_t now_us)
{
	speech->rest_due = true;
	rest_if_due(speech, now_us);
}

void speech_wake(struct speech *speech, int64_t now_us)
{
	speech->rest_due = false;
	step(speech, SUPERVISOR_WAKE, now_us);
	send(speech, WIRE_WAKE, 0, "", now_us);
}
