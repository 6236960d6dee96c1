/* When to start, kill and replace the speaker: a pure state machine.
 *
 * Timed events go in, orders for the caller come out as a set of bits, and `deadline_us` says when
 * SUPERVISOR_TIME is wanted, if nothing else comes before. There is no clock, process or socket in
 * here, so that hours of a bad day can be tested in microseconds.
 *
 *                  READY                      no progress for stall_us, fault
 *      STARTING ------------> LIVE ------------------------------------+
 *       ^   |  ^ NO_DEVICE     ^ |                                     |
 *       |   |  +---------.     | | EXIT                                v
 *   SPAWN   |            v     | |          EXIT                     DYING
 *       |   +--EXIT--. MUTE ---+ |  +----------------------------------+
 *       |            v  | READY  v  v
 *       +----------- GONE <------+--+     waits longer each time, but not when
 *                                         the machine's sound devices change
 *
 * REST and WAKE are a flag beside the states: a resting speaker sends no beats, so none are missed,
 * and one that is gone is not started again by the clock.
 */
#ifndef SPEECH_SUPERVISOR_H
#define SPEECH_SUPERVISOR_H

#include <stdbool.h>
#include <stdint.h>

enum supervisor_state {
	SUPERVISOR_OFF,      /* not opened, or closed */
	SUPERVISOR_STARTING, /* a speaker is there, and has not reported yet */
	SUPERVISOR_MUTE,     /* it waits for a device to take its sound */
	SUPERVISOR_LIVE,     /* sound flows, or rests by order */
	SUPERVISOR_DYING,    /* killed; not yet reaped */
	SUPERVISOR_GONE,     /* no speaker; the deadline is the next try */
	SUPERVISOR_REFUSED,  /* what was asked for cannot work: no more tries */
};

enum supervisor_event {
	SUPERVISOR_OPEN,
	SUPERVISOR_CLOSE,
	SUPERVISOR_SPAWN_FAILED,
	SUPERVISOR_READY,
	SUPERVISOR_NO_DEVICE,
	SUPERVISOR_REFUSAL,
	SUPERVISOR_BEAT,
	SUPERVISOR_ASLEEP,
	SUPERVISOR_FAULT, /* its messages make no sense, or it does not read ours */
	SUPERVISOR_EXIT,  /* reaped */
	SUPERVISOR_REST,
	SUPERVISOR_WAKE,
	SUPERVISOR_DEVICES, /* the machine's sound devices have changed */
	SUPERVISOR_TIME,    /* the deadline, or any other moment, has come */
};

/* Orders, in the order in which they are to be carried out. */
enum {
	SUPERVISOR_TELL_READY = 1 << 0,    /* the first time that sound flows */
	SUPERVISOR_TELL_BACK = 1 << 1,     /* sound flows again */
	SUPERVISOR_TELL_LOST = 1 << 2,     /* once for each outage */
	SUPERVISOR_TELL_NO_SOUND = 1 << 3, /* once for each outage */
	SUPERVISOR_TELL_REFUSED = 1 << 4,
	SUPERVISOR_KILL = 1 << 5,
	SUPERVISOR_REPLAY = 1 << 6, /* a fresh speaker: tell it what to say */
	SUPERVISOR_SPAWN = 1 << 7,
};

enum {
	SUPERVISOR_START_US = 6000000, /* a sound server may have to be started first */
	SUPERVISOR_MUTE_US = 40000000, /* longer than the speaker's own patience */
	SUPERVISOR_STALL_US = 500000,
	SUPERVISOR_LATE_US = 100000,    /* looking so late is the machine's fault, */
	SUPERVISOR_GRACE_US = 250000,   /* and gives the speaker so much more, once */
	SUPERVISOR_WAKE_US = 3000000,   /* a closed stream has to be opened */
	SUPERVISOR_HEALTHY_US = 200000, /* one whose sound flowed this long had a good start */
	SUPERVISOR_AGAIN_US = 100000,   /* a wait where sound has just flowed, */
	SUPERVISOR_BRIEF_US = 1000000,  /* unless it flowed less than this */
	SUPERVISOR_BRIEF_MAX = 20,      /* that often in a row: then doubled each time */
	SUPERVISOR_RETRY_US = 250000,   /* doubled each time, up to: */
	SUPERVISOR_RETRY_MAX_US = 16000000,
	SUPERVISOR_SETTLE_US = 100000, /* after a change of devices, for permissions to be set */
};

#define SUPERVISOR_NEVER INT64_MAX

/* A zeroed struct is off. Read what you like; only supervisor_step writes. */
struct supervisor {
	enum supervisor_state state;
	int64_t deadline_us; /* SUPERVISOR_NEVER: none. Of no meaning while off */
	int64_t ready_us;    /* when this speaker's sound began to flow */
	uint64_t beats;      /* of this speaker */
	int failures;        /* starts in a row that came to nothing */
	int brief;           /* lives in a row whose sound flowed for a moment only */
	bool flowed;         /* the sound of this speaker */
	bool graced;         /* it was given a moment more */
	bool resting;
	bool asleep;
	bool was_ready; /* sound has flowed once */
	bool told_lost;
	bool told_no_sound;
};

/* beats is for SUPERVISOR_BEAT alone. Returns the orders. */
unsigned supervisor_step(struct supervisor *supervisor, enum supervisor_event event, int64_t now_us,
			 uint64_t beats);

const char *supervisor_state_name(enum supervisor_state state);
const char *supervisor_event_name(enum supervisor_event event);

#endif
