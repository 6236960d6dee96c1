#include "speech/internal.h"

#include "base/base.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <unistd.h>

enum {
	MESSAGES_A_TURN = 16, /* read in one dispatch */
	TROUBLES_MAX = 10,    /* told of one speaker */
	HANG_UP_US = 100000,  /* from the end of its messages to the end of its process */
	END_US = 500000,
};

enum source { SOURCE_WIRE, SOURCE_PROCESS, SOURCE_ERRORS, SOURCE_DEVICES, SOURCES };

static void watch(const struct keeper *keeper, int fd, enum source source)
{
	struct epoll_event wanted = {.events = EPOLLIN, .data.u32 = source};

	epoll_ctl(keeper->epoll, EPOLL_CTL_ADD, fd, &wanted);
}

/* What the next thing told to the owner gives as its reason. */
__attribute__((format(printf, 2, 3))) static void set_cause(struct keeper *keeper,
							    const char *format, ...)
{
	va_list values;

	va_start(values, format);
	vsnprintf(keeper->cause, sizeof keeper->cause, format, values);
	va_end(values);
}

static void step(struct keeper *keeper, enum supervisor_event event, int64_t now_us,
		 uint64_t beats);

static void spawn(struct keeper *keeper, int64_t now_us)
{
	keeper->hung_up_us = 0;
	keeper->read_errors_us = 0;
	keeper->troubles = 0;
	if (!child_start(&keeper->child, &keeper->options, keeper->began_us)) {
		set_cause(keeper, "cannot start %s: %s", keeper->options.program, strerror(errno));
		step(keeper, SUPERVISOR_SPAWN_FAILED, now_us, 0);
		return;
	}
	watch(keeper, keeper->child.wire, SOURCE_WIRE);
	watch(keeper, keeper->child.process, SOURCE_PROCESS);
	watch(keeper, keeper->child.errors, SOURCE_ERRORS);
}

static void step(struct keeper *keeper, enum supervisor_event event, int64_t now_us, uint64_t beats)
{
	static const struct {
		unsigned order;
		enum speech_kind kind;
	} tellings[] = {
		{SUPERVISOR_TELL_READY, SPEECH_READY},
		{SUPERVISOR_TELL_BACK, SPEECH_BACK},
		{SUPERVISOR_TELL_LOST, SPEECH_LOST},
		{SUPERVISOR_TELL_NO_SOUND, SPEECH_NO_SOUND},
		{SUPERVISOR_TELL_REFUSED, SPEECH_REFUSED},
	};
	unsigned orders = supervisor_step(&keeper->supervisor, event, now_us, beats);

	for (size_t i = 0; i < sizeof tellings / sizeof *tellings; i++)
		if (orders & tellings[i].order)
			keeper->owner.tell(keeper->owner.owner, tellings[i].kind, now_us,
					   keeper->cause);
	if (orders & SUPERVISOR_KILL)
		child_kill(&keeper->child);
	if (orders & SUPERVISOR_REPLAY)
		keeper->owner.replay(keeper->owner.owner, now_us);
	if (orders & SUPERVISOR_SPAWN)
		spawn(keeper, now_us);
}

static void fault(struct keeper *keeper, const char *cause, int64_t now_us)
{
	set_cause(keeper, "%s", cause);
	step(keeper, SUPERVISOR_FAULT, now_us, 0);
}

void keeper_send(struct keeper *keeper, enum wire_kind kind, uint64_t generation, const char *text,
		 int64_t now_us)
{
	struct wire_message message = {.kind = (uint16_t)kind, .generation = generation};

	if (keeper->supervisor.state != SUPERVISOR_LIVE || keeper->child.wire < 0)
		return;
	wire_set_text(&message, text);
	if (wire_send(keeper->child.wire, &message) == WIRE_LATER)
		fault(keeper, "it does not read its orders", now_us);
}

static void on_ready(struct keeper *keeper, const struct wire_message *message, int64_t now_us)
{
	if (keeper->began_us == 0)
		keeper->began_us = message->at_us;
	set_cause(keeper, "%s, %u Hz", message->text, message->rate_hz);
	step(keeper, SUPERVISOR_READY, now_us, 0);
}

static void on_message(struct keeper *keeper, const struct wire_message *message, int64_t now_us)
{
	switch (message->kind) {
	case WIRE_READY:
		on_ready(keeper, message, now_us);
		return;
	case WIRE_NO_DEVICE:
		set_cause(keeper, "%s", message->text);
		step(keeper, SUPERVISOR_NO_DEVICE, now_us, 0);
		return;
	case WIRE_REFUSED:
		set_cause(keeper, "%s", message->text);
		step(keeper, SUPERVISOR_REFUSAL, now_us, 0);
		return;
	case WIRE_BEAT:
		step(keeper, SUPERVISOR_BEAT, now_us, message->beats);
		return;
	case WIRE_ASLEEP:
		step(keeper, SUPERVISOR_ASLEEP, now_us, 0);
		return;
	case WIRE_STARTED:
	case WIRE_FINISHED:
		keeper->owner.report(keeper->owner.owner, message, now_us);
		return;
	case WIRE_TROUBLE:
		if (keeper->troubles++ < TROUBLES_MAX)
			keeper->owner.tell(keeper->owner.owner, SPEECH_TROUBLE, now_us,
					   message->text);
		return;
	default: /* an order, from the wrong side */
		fault(keeper, "its messages make no sense", now_us);
	}
}

static void read_wire(struct keeper *keeper, int64_t now_us)
{
	struct wire_message message;

	for (int i = 0; i < MESSAGES_A_TURN && keeper->child.wire >= 0; i++)
		switch (wire_receive(keeper->child.wire, &message)) {
		case WIRE_DONE:
			on_message(keeper, &message, now_us);
			break;
		case WIRE_LATER:
			return;
		case WIRE_CLOSED:
			/* How the process ended says more, and is known in a moment. */
			child_hang_up(&keeper->child);
			keeper->hung_up_us = now_us + HANG_UP_US;
			return;
		case WIRE_BAD:
			fault(keeper, "its messages make no sense", now_us);
			return;
		}
}

static void read_errors(struct keeper *keeper, int64_t now_us)
{
	bool paused = keeper->read_errors_us != 0;

	if (keeper->child.errors < 0)
		return;
	if (child_drain(&keeper->child, now_us)) {
		keeper->read_errors_us = 0;
		if (paused && keeper->child.errors >= 0)
			watch(keeper, keeper->child.errors, SOURCE_ERRORS);
		return;
	}
	keeper->read_errors_us = keeper->child.second_began_us + SECOND_US;
	if (!paused)
		epoll_ctl(keeper->epoll, EPOLL_CTL_DEL, keeper->child.errors, NULL);
}

static void reap(struct keeper *keeper, int64_t now_us)
{
	enum supervisor_state state = keeper->supervisor.state;
	char how[CHILD_HOW_MAX];

	if (keeper->child.process < 0 || !child_reap(&keeper->child, how))
		return;
	read_wire(keeper, now_us); /* its last words */
	read_errors(keeper, now_us);
	/* Of one that was killed, or that said why it ended, the cause is known. */
	bool unexplained = (state == SUPERVISOR_STARTING || state == SUPERVISOR_LIVE) &&
			   !keeper->supervisor.told_no_sound;
	if (unexplained && keeper->supervisor.state == state) {
		const char *line = last_line_text(&keeper->child.last_line);
		set_cause(keeper, "%s ended: %s%s%s", keeper->options.program, how,
			  line[0] ? ": " : "", line);
	}
	child_close(&keeper->child);
	keeper->hung_up_us = 0;
	keeper->read_errors_us = 0;
	step(keeper, SUPERVISOR_EXIT, now_us, 0);
}

static void on_time(struct keeper *keeper, int64_t now_us)
{
	if (keeper->read_errors_us && now_us >= keeper->read_errors_us)
		read_errors(keeper, now_us);
	if (keeper->hung_up_us && now_us >= keeper->hung_up_us) {
		keeper->hung_up_us = 0;
		fault(keeper, "it hung up", now_us);
	}
	if (now_us < keeper->supervisor.deadline_us)
		return;
	if (keeper->supervisor.state != SUPERVISOR_GONE) {
		const char *line = last_line_text(&keeper->child.last_line);
		set_cause(keeper, "no sound flowed in time%s%s", line[0] ? ": " : "", line);
	}
	step(keeper, SUPERVISOR_TIME, now_us, 0);
}

void keeper_dispatch(struct keeper *keeper, int64_t now_us)
{
	struct epoll_event ready[SOURCES];
	int count = epoll_wait(keeper->epoll, ready, SOURCES, 0);
	bool exited = false;

	for (int i = 0; i < count; i++)
		switch ((enum source)ready[i].data.u32) {
		case SOURCE_WIRE:
			read_wire(keeper, now_us);
			break;
		case SOURCE_ERRORS:
			read_errors(keeper, now_us);
			break;
		case SOURCE_PROCESS:
			exited = true;
			break;
		case SOURCE_DEVICES:
			if (devices_changed(keeper->devices))
				step(keeper, SUPERVISOR_DEVICES, now_us, 0);
			break;
		case SOURCES:
			break;
		}
	if (exited)
		reap(keeper, now_us);
	on_time(keeper, now_us);
}

static int64_t sooner(int64_t a_us, int64_t b_us)
{
	return b_us != 0 && b_us < a_us ? b_us : a_us;
}

int64_t keeper_deadline_us(const struct keeper *keeper)
{
	return sooner(sooner(keeper->supervisor.deadline_us, keeper->hung_up_us),
		      keeper->read_errors_us);
}

void keeper_open(struct keeper *keeper, const struct speech_options *options,
		 struct keeper_owner owner, int64_t now_us)
{
	*keeper = (struct keeper){
		.options = *options,
		.owner = owner,
		.child = NO_CHILD,
		.epoll = epoll_create1(EPOLL_CLOEXEC),
		.devices = devices_watch(),
	};
	keeper->options.program = keeper->program = memory_copy(options->program);
	keeper->options.sound = keeper->sound = memory_copy(options->sound);
	keeper->options.voice = keeper->voice = memory_copy(options->voice);
	if (keeper->devices >= 0)
		watch(keeper, keeper->devices, SOURCE_DEVICES);
	step(keeper, SUPERVISOR_OPEN, now_us, 0);
}

void keeper_close(struct keeper *keeper)
{
	child_hang_up(&keeper->child);
	child_finish(&keeper->child, END_US);
	child_close(&keeper->child);
	if (keeper->devices >= 0)
		close(keeper->devices);
	close(keeper->epoll);
	free(keeper->program);
	free(keeper->sound);
	free(keeper->voice);
}

void keeper_set_loud(struct keeper *keeper, bool loud, int64_t now_us)
{
	keeper->options.loud = loud;
	keeper_send(keeper, loud ? WIRE_LOUD : WIRE_QUIET, 0, "", now_us);
}

void keeper_set_volume(struct keeper *keeper, int percent, int64_t now_us)
{
	keeper->options.volume_percent = percent;
	keeper_send(keeper, WIRE_VOLUME, (uint64_t)percent, "", now_us);
}

void keeper_rest(struct keeper *keeper, int64_t now_us)
{
	step(keeper, SUPERVISOR_REST, now_us, 0);
}

void keeper_wake(struct keeper *keeper, int64_t now_us)
{
	step(keeper, SUPERVISOR_WAKE, now_us, 0);
}

bool keeper_rests(const struct keeper *keeper)
{
	return keeper->supervisor.resting;
}
