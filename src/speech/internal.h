/* Shared by the files of this room. Each calls only files further down this list:
 *
 *   speech.c       what is said and what waits, the orders, and what became of them
 *   supervisor.c   when to start, kill and replace the speaker (pure)
 *   run.c          one run of the speaker
 *   wire.c         messages between daemon and speaker (speech.h)
 *   devices.c      changes of the machine's sound devices
 */
#ifndef SPEECH_INTERNAL_H
#define SPEECH_INTERNAL_H

#include "speech/speech.h"

/* ---- The supervisor: a pure state machine ----
 *
 * Events go in, orders come out as a set of bits. When deadline_us comes before the next event, the
 * caller passes SUPERVISOR_TIME. There is no clock, process or socket in here, so hours of a bad
 * day are tested in microseconds.
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
 * REST and WAKE set a flag beside the states: a resting speaker sends no beats, so none are missed,
 * and one that has ended is not restarted by the clock.
 */

enum supervisor_state {
	SUPERVISOR_OFF,      /* not opened */
	SUPERVISOR_STARTING, /* a speaker has been started and has not reported yet */
	SUPERVISOR_MUTE,     /* it waits for a device to take its sound */
	SUPERVISOR_LIVE,     /* sound flows, or rests by order */
	SUPERVISOR_DYING,    /* killed, not yet reaped */
	SUPERVISOR_GONE,     /* no speaker; the deadline is the next try */
	SUPERVISOR_REFUSED,  /* what was asked for cannot work: no more tries */
};

enum supervisor_event {
	SUPERVISOR_OPEN,
	SUPERVISOR_SPAWN_FAILED,
	SUPERVISOR_READY,
	SUPERVISOR_NO_DEVICE,
	SUPERVISOR_REFUSAL,
	SUPERVISOR_BEAT,
	SUPERVISOR_FAULT, /* its messages make no sense, or it does not read ours */
	SUPERVISOR_EXIT,  /* reaped */
	SUPERVISOR_REST,
	SUPERVISOR_WAKE,
	SUPERVISOR_DEVICES, /* the machine's sound devices have changed */
	SUPERVISOR_TIME,    /* the deadline, or any other moment, has come */
};

/* Orders, to be carried out in this order. To tell something is the bit of its speech_kind. */
enum {
	SUPERVISOR_TELL_READY = 1 << SPEECH_READY,       /* sound flows for the first time */
	SUPERVISOR_TELL_BACK = 1 << SPEECH_BACK,         /* sound flows again */
	SUPERVISOR_TELL_LOST = 1 << SPEECH_LOST,         /* once for each outage */
	SUPERVISOR_TELL_NO_SOUND = 1 << SPEECH_NO_SOUND, /* once for each outage */
	SUPERVISOR_TELL_REFUSED = 1 << SPEECH_REFUSED,
	SUPERVISOR_KILL = 1 << 8,
	SUPERVISOR_REPLAY = 1 << 9, /* a fresh speaker: send it what it should say */
	SUPERVISOR_SPAWN = 1 << 10,
};

enum {
	SUPERVISOR_START_US = 6000000,      /* to report; a sound server may start first */
	SUPERVISOR_MUTE_US = 40000000,      /* longer than the speaker waits itself */
	SUPERVISOR_STALL_US = 500000,       /* without a beat */
	SUPERVISOR_LATE_US = 100000,        /* a deadline noticed so late is the machine's fault */
	SUPERVISOR_GRACE_US = 250000,       /* more time for the speaker then, once */
	SUPERVISOR_WAKE_US = 3000000,       /* to beat after a rest; the stream may be closed */
	SUPERVISOR_HEALTHY_US = 1000000,    /* sound for so long was a good run */
	SUPERVISOR_RETRY_US = 250000,       /* the second wait for a restart, doubled each time */
	SUPERVISOR_RETRY_MAX_US = 16000000, /* the longest wait */
	SUPERVISOR_SETTLE_US = 100000,      /* for permissions after a change of devices */
};

/* A zeroed struct is off. Read what you like; only supervisor_step writes. */
struct supervisor {
	enum supervisor_state state;
	int64_t deadline_us; /* SPEECH_NEVER: none */
	int64_t ready_us;    /* when this speaker's sound began to flow */
	int failures;        /* ends in a row without much sound before */
	bool graced;         /* it was given more time */
	bool resting;
	bool was_ready;        /* some speaker's sound has flowed */
	enum speech_kind told; /* SPEECH_LOST, SPEECH_NO_SOUND; 0: neither, since sound flowed */
};

/* Returns the orders. */
unsigned supervisor_step(struct supervisor *supervisor, enum supervisor_event event,
			 int64_t now_us);

/* ---- One run of the speaker: run.c ---- */

struct run {
	int wire;            /* our end, or -1 */
	int process;         /* pidfd, so that a recycled process number is never hit; -1: none */
	int errors;          /* read end of its standard error, or -1 */
	char last_line[160]; /* that it printed there; "": none so far */
};

/* Starts options->program in a new process, which reports over the wire if it cannot be run.
 * began_us: when the first speaker's sound began; 0: not yet. False with errno and nothing open. */
bool run_start(struct run *run, const struct speech_options *options, int64_t began_us);

/* Reads a little of what its libraries print: one that floods the pipe waits, and fills neither the
 * log nor our memory. False if nothing is there. */
bool run_read_errors(struct run *run);

void run_kill(const struct run *run);

/* True once it has ended: it is reaped, and *how, which the caller frees, is "exit 3" or "signal 9
 * (Killed)". What it left to read is there until run_close. */
bool run_reap(struct run *run, char **how);

void run_close_wire(struct run *run);
void run_close(struct run *run);

/* Closes the wire, which is the order to end, waits up to half a second for that, then kills. */
void run_end(struct run *run);

/* ---- Changes of the machine's sound devices: devices.c ---- */

/* An inotify descriptor to poll, or -1. A change means only that another try is worthwhile. */
int devices_watch(void);

/* Reads it empty. True if anything in it was about sound. */
bool devices_changed(int fd);

#endif
