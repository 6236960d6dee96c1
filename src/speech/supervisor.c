#include "speech/internal.h"

/* A rest ends without a time. */
static void wait_until(struct supervisor *supervisor, int64_t time_us)
{
	supervisor->deadline_us = supervisor->resting ? SPEECH_NEVER : time_us;
}

static unsigned start(struct supervisor *supervisor, int64_t now_us)
{
	supervisor->state = SUPERVISOR_STARTING;
	supervisor->deadline_us = now_us + SUPERVISOR_START_US;
	supervisor->graced = false;
	return SUPERVISOR_SPAWN;
}

/* Bad news are told once, and worse news then. */
static unsigned tell(struct supervisor *supervisor, enum speech_kind news)
{
	if (supervisor->told >= news)
		return 0;
	supervisor->told = news;
	return 1U << news;
}

static unsigned tell_lost(struct supervisor *supervisor)
{
	return tell(supervisor, supervisor->was_ready ? SPEECH_LOST : SPEECH_NO_SOUND);
}

/* The first try after a good run comes at once, the second after a moment, and each of the next
 * waits twice as long. */
static int64_t retry_wait_us(int failures)
{
	int64_t wait_us = failures > 0 ? SUPERVISOR_RETRY_US : 0;

	for (int i = 1; i < failures && wait_us < SUPERVISOR_RETRY_MAX_US; i++)
		wait_us *= 2;
	return wait_us;
}

/* The speaker has ended. */
static unsigned gone(struct supervisor *supervisor, int64_t now_us)
{
	int64_t wait_us = retry_wait_us(supervisor->failures++);
	unsigned orders = tell_lost(supervisor);

	if (wait_us == 0)
		return orders | start(supervisor, now_us);
	supervisor->state = SUPERVISOR_GONE;
	wait_until(supervisor, now_us + wait_us);
	return orders;
}

static unsigned finish_off(struct supervisor *supervisor)
{
	supervisor->state = SUPERVISOR_DYING;
	supervisor->deadline_us = SPEECH_NEVER;
	return SUPERVISOR_KILL | tell_lost(supervisor);
}

static unsigned live(struct supervisor *supervisor, int64_t now_us)
{
	unsigned orders = SUPERVISOR_REPLAY;

	if (!supervisor->was_ready)
		orders |= SUPERVISOR_TELL_READY;
	else if (supervisor->told)
		orders |= SUPERVISOR_TELL_BACK;
	supervisor->state = SUPERVISOR_LIVE;
	supervisor->ready_us = now_us;
	supervisor->was_ready = true;
	supervisor->told = 0;
	wait_until(supervisor, now_us + SUPERVISOR_STALL_US);
	return orders;
}

static unsigned refused(struct supervisor *supervisor)
{
	/* What worked once was not mistyped; a device was unplugged, say. */
	if (supervisor->was_ready)
		return tell(supervisor, SPEECH_NO_SOUND);
	supervisor->state = SUPERVISOR_REFUSED;
	supervisor->deadline_us = SPEECH_NEVER;
	return SUPERVISOR_TELL_REFUSED;
}

static unsigned try_soon(struct supervisor *supervisor, int64_t wait_us, int64_t now_us)
{
	supervisor->failures = 1;
	if (supervisor->deadline_us > now_us + wait_us)
		supervisor->deadline_us = now_us + wait_us;
	return 0;
}

/* STARTING and MUTE: no sound has come from this speaker yet. */
static unsigned while_starting(struct supervisor *supervisor, enum supervisor_event event,
			       int64_t now_us)
{
	switch (event) {
	case SUPERVISOR_READY:
		return live(supervisor, now_us);
	case SUPERVISOR_NO_DEVICE:
		supervisor->state = SUPERVISOR_MUTE;
		supervisor->deadline_us = now_us + SUPERVISOR_MUTE_US;
		return tell(supervisor, SPEECH_NO_SOUND);
	case SUPERVISOR_REFUSAL:
		return refused(supervisor);
	case SUPERVISOR_SPAWN_FAILED:
	case SUPERVISOR_EXIT:
		return gone(supervisor, now_us);
	case SUPERVISOR_FAULT:
		return finish_off(supervisor);
	case SUPERVISOR_TIME:
		return now_us >= supervisor->deadline_us ? finish_off(supervisor) : 0;
	case SUPERVISOR_DEVICES:
		/* What it found may have changed; the next try comes soon after it has ended. */
		supervisor->failures = 0;
		return supervisor->state == SUPERVISOR_MUTE ? finish_off(supervisor) : 0;
	default:
		return 0;
	}
}

/* A caller that comes late was kept from running, by a busy machine or a stop signal. Perhaps the
 * speaker was too, so it is given a moment to report. */
static unsigned time_came(struct supervisor *supervisor, int64_t now_us)
{
	if (now_us < supervisor->deadline_us)
		return 0;
	if (now_us < supervisor->deadline_us + SUPERVISOR_LATE_US || supervisor->graced)
		return finish_off(supervisor);
	supervisor->graced = true;
	supervisor->deadline_us = now_us + SUPERVISOR_GRACE_US;
	return 0;
}

static unsigned while_live(struct supervisor *supervisor, enum supervisor_event event,
			   int64_t now_us)
{
	if (now_us - supervisor->ready_us >= SUPERVISOR_HEALTHY_US)
		supervisor->failures = 0;
	switch (event) {
	case SUPERVISOR_BEAT:
		supervisor->graced = false;
		wait_until(supervisor, now_us + SUPERVISOR_STALL_US);
		return 0;
	case SUPERVISOR_REST:
		supervisor->deadline_us = SPEECH_NEVER;
		return 0;
	case SUPERVISOR_WAKE:
		wait_until(supervisor, now_us + SUPERVISOR_WAKE_US);
		return 0;
	case SUPERVISOR_EXIT:
		return gone(supervisor, now_us);
	case SUPERVISOR_FAULT:
		return finish_off(supervisor);
	case SUPERVISOR_TIME:
		return time_came(supervisor, now_us);
	case SUPERVISOR_NO_DEVICE: /* its stream broke; an exit follows */
		return tell(supervisor, SPEECH_NO_SOUND);
	default: /* READY too: it comes again when a closed stream is open again */
		return 0;
	}
}

static unsigned while_gone(struct supervisor *supervisor, enum supervisor_event event,
			   int64_t now_us)
{
	switch (event) {
	case SUPERVISOR_TIME:
		return now_us >= supervisor->deadline_us ? start(supervisor, now_us) : 0;
	case SUPERVISOR_WAKE:
		return try_soon(supervisor, 0, now_us);
	case SUPERVISOR_DEVICES:
		return try_soon(supervisor, SUPERVISOR_SETTLE_US, now_us);
	case SUPERVISOR_REST: /* a try that is already due is still made */
		if (supervisor->deadline_us > now_us)
			supervisor->deadline_us = SPEECH_NEVER;
		return 0;
	default:
		return 0;
	}
}

unsigned supervisor_step(struct supervisor *supervisor, enum supervisor_event event, int64_t now_us)
{
	if (event == SUPERVISOR_WAKE && !supervisor->resting)
		return 0; /* otherwise each press would give a stalled stream more time */
	if (event == SUPERVISOR_REST || event == SUPERVISOR_WAKE)
		supervisor->resting = event == SUPERVISOR_REST;
	switch (supervisor->state) {
	case SUPERVISOR_OFF:
		return event == SUPERVISOR_OPEN ? start(supervisor, now_us) : 0;
	case SUPERVISOR_STARTING:
	case SUPERVISOR_MUTE:
		return while_starting(supervisor, event, now_us);
	case SUPERVISOR_LIVE:
		return while_live(supervisor, event, now_us);
	case SUPERVISOR_DYING:
		return event == SUPERVISOR_EXIT ? gone(supervisor, now_us) : 0;
	case SUPERVISOR_GONE:
		return while_gone(supervisor, event, now_us);
	case SUPERVISOR_REFUSED:
		break;
	}
	return 0;
}
