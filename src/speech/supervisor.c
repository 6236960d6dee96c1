/* When to start, kill and replace the speaker: a step for every state and event. */
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

/* Tells bad news once, and again only if it gets worse. */
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

/* After a good run the first try comes at once, the second soon; then the wait doubles. */
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

static void try_by(struct supervisor *supervisor, int64_t time_us)
{
	supervisor->failures = 1;
	if (supervisor->deadline_us > time_us)
		supervisor->deadline_us = time_us;
}

/* A caller that comes late was kept from running, by a busy machine or a stop signal. Perhaps the
 * speaker was too, so it is given a moment to report. */
static unsigned stalled(struct supervisor *supervisor, int64_t now_us)
{
	if (now_us < supervisor->deadline_us + SUPERVISOR_LATE_US || supervisor->graced)
		return finish_off(supervisor);
	supervisor->graced = true;
	supervisor->deadline_us = now_us + SUPERVISOR_GRACE_US;
	return 0;
}

unsigned supervisor_step(struct supervisor *supervisor, enum supervisor_event event, int64_t now_us)
{
	enum supervisor_state state = supervisor->state;
	bool starting = state == SUPERVISOR_STARTING || state == SUPERVISOR_MUTE;
	bool is_live = state == SUPERVISOR_LIVE, is_gone = state == SUPERVISOR_GONE;

	if (event == SUPERVISOR_WAKE && !supervisor->resting)
		return 0; /* otherwise each press would give a stalled stream more time */
	if (event == SUPERVISOR_REST || event == SUPERVISOR_WAKE)
		supervisor->resting = event == SUPERVISOR_REST;
	if (is_live && now_us - supervisor->ready_us >= SUPERVISOR_HEALTHY_US)
		supervisor->failures = 0;
	switch (event) {
	case SUPERVISOR_OPEN:
		return state == SUPERVISOR_OFF ? start(supervisor, now_us) : 0;
	case SUPERVISOR_SPAWN_FAILED:
	case SUPERVISOR_EXIT:
		return starting || is_live || state == SUPERVISOR_DYING ? gone(supervisor, now_us)
									: 0;
	case SUPERVISOR_READY: /* it comes again when a closed stream is open again */
		return starting ? live(supervisor, now_us) : 0;
	case SUPERVISOR_NO_DEVICE:
		if (starting) {
			supervisor->state = SUPERVISOR_MUTE;
			supervisor->deadline_us = now_us + SUPERVISOR_MUTE_US;
		}
		return starting || is_live ? tell(supervisor, SPEECH_NO_SOUND) : 0;
	case SUPERVISOR_REFUSAL:
		return starting ? refused(supervisor) : 0;
	case SUPERVISOR_BEAT:
		supervisor->graced = false;
		if (is_live)
			wait_until(supervisor, now_us + SUPERVISOR_STALL_US);
		return 0;
	case SUPERVISOR_FAULT:
		return starting || is_live ? finish_off(supervisor) : 0;
	case SUPERVISOR_REST: /* a try that is already due is still made */
		if (is_live || (is_gone && supervisor->deadline_us > now_us))
			supervisor->deadline_us = SPEECH_NEVER;
		return 0;
	case SUPERVISOR_WAKE:
		if (is_live)
			wait_until(supervisor, now_us + SUPERVISOR_WAKE_US);
		if (is_gone)
			try_by(supervisor, now_us);
		return 0;
	case SUPERVISOR_DEVICES:
		if (is_gone)
			try_by(supervisor, now_us + SUPERVISOR_SETTLE_US);
		if (starting) /* what it found may have changed: tries again soon after its end */
			supervisor->failures = 0;
		return state == SUPERVISOR_MUTE ? finish_off(supervisor) : 0;
	case SUPERVISOR_TIME:
		if (now_us < supervisor->deadline_us)
			return 0;
		if (is_gone)
			return start(supervisor, now_us);
		return is_live    ? stalled(supervisor, now_us)
		       : starting ? finish_off(supervisor)
				  : 0;
	}
	return 0;
}
