/* The parts of this room, from the process up:
 *
 *   child        one run of the speaker program
 *   supervisor   decides when to start, kill and replace the speaker; pure
 *   speech       (speech.h) joins these two: what is said, what waits, what was prepared
 */
#ifndef SPEECH_INTERNAL_H
#define SPEECH_INTERNAL_H

#include "speech/speech.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* --- One run of the speaker program ---
 *
 * It is held by a pidfd, so that a recycled process number is never hit, and is in a process group
 * of its own: Ctrl-C in a terminal is for the daemon, which ends the speaker in its own time. What
 * it prints on standard error goes through a pipe that is read a little at each beat; a library
 * that floods it waits, and fills neither the log nor our memory.
 */

enum { LINE_BYTES_MAX = 160, CHILD_ERRORS_A_BEAT = 4096, CHILD_ERRORS_MAX = 65536 /* a pipe */ };

/* The last line of a stream that is not empty, or "". Long lines are cut, control characters become
 * '?'. A zeroed struct is empty. */
struct last_line {
	char text[LINE_BYTES_MAX];
	size_t length;
	bool ended; /* the next byte begins another line */
};

void last_line_add(struct last_line *last, char byte);

struct child {
	int wire;    /* our end, or -1 */
	int process; /* pidfd, or -1: no child */
	int errors;  /* read end of its standard error, or -1 */
	struct last_line last_line;
};

#define NO_CHILD ((struct child){.wire = -1, .process = -1, .errors = -1})

/* Starts options->program, looked for on PATH if it has no slash. began_us: 0, or when the sound of
 * the first speaker began. False with errno. A program that cannot be executed reports
 * WIRE_NO_DEVICE and exits, as a speaker does. */
bool child_start(struct child *child, const struct speech_options *options, int64_t began_us);

void child_read_errors(struct child *child, size_t most);

/* Closes the wire, which is the order to end. */
void child_hang_up(struct child *child);

/* True once it has ended and is reaped; how is then "exit 3" or "signal 9 (Killed)". */
enum { CHILD_HOW_MAX = 64 };
bool child_reap(struct child *child, char how[static CHILD_HOW_MAX]);

/* Closes what is still open. The process must have been reaped. */
void child_close(struct child *child);

/* Hangs up, waits for its end, kills it if that takes longer than patience_us, and closes all. */
void child_end(struct child *child, int64_t patience_us);

/* --- The supervisor: a pure state machine ---
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

#endif
