/* Shared by the files of this room only. */
#ifndef SPEECH_INTERNAL_H
#define SPEECH_INTERNAL_H

#include "speech/speech.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The last lines of a stream that may have no end: what a dying speaker printed, kept short.
 *
 * Memory is fixed. Control characters become '?', a long line is cut.
 */

enum { TAIL_LINES = 4, TAIL_LINE_MAX = 160 };

/* A zeroed struct is empty. */
struct tail {
	char lines[TAIL_LINES][TAIL_LINE_MAX];
	size_t current; /* the line being filled */
	size_t length;  /* of that line */
};

void tail_add(struct tail *tail, const char *bytes, size_t length);

/* The last line with something in it, or "". */
const char *tail_last(const struct tail *tail);

/* One run of the speaker program: its process, its end of the wire, what it prints.
 *
 * The process is held by a pidfd, so that a recycled process number can never be hit. It runs in a
 * process group of its own: Ctrl-C in a terminal is for the daemon, which ends the speaker in its
 * own time. Its standard error comes through a pipe that is read at a limited rate into a few kept
 * lines: a library that screams fills the pipe and waits, not the log or our memory.
 */

struct child {
	int wire;    /* our end, or -1 */
	int process; /* pidfd, or -1: no child */
	int errors;  /* read end of its standard error, or -1 */
	struct tail tail;
	int64_t allowance_us; /* when the current second of reading `errors` began */
	size_t allowance_bytes;
};

/* Starts arguments[0], looked for on PATH if it has no slash, with "--fd", N added at the end. The
 * list is ended by NULL and has room for three more. False with errno. A program that is not there
 * is told like any speaker's fault: WIRE_NO_DEVICE, and an exit. */
bool child_start(struct child *child, char *arguments[]);

/* Reads what it has printed. False: it prints more than is reasonable, read on not before
 * allowance_us + 1 s. */
bool child_drain(struct child *child, int64_t now_us);

/* Closes the wire: the speaker's order to end. */
void child_hang_up(struct child *child);

void child_kill(const struct child *child);

/* True once it has ended and is reaped; how is then "exit 3" or "signal 9 (Killed)". */
enum { CHILD_HOW_MAX = 64 };
bool child_reap(struct child *child, char how[static CHILD_HOW_MAX]);

/* Waits for it to end, kills it when that takes longer than patience_us, reaps it. */
void child_finish(struct child *child, int64_t patience_us);

/* Closes what is left. The process must have been reaped. */
void child_close(struct child *child);

/* The command line that starts the speaker. */

enum { COMMAND_MAX = 20 /* with room for what child_start adds */ };

struct command {
	char *arguments[COMMAND_MAX]; /* ended by NULL */
	int count;
};

/* began_us: 0, or when the sound of the first speaker began. */
void command_build(struct command *command, const struct speech_options *options, int64_t began_us);
void command_free(struct command *command);

/* pullcall-speaker beside this program, so that a build tree and an installed tree each find their
 * own; else the bare name, for PATH. The caller frees it. */
char *command_find_program(void);

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

/* Keeps a speaker running: does what the supervisor orders with a real process, and passes on what
 * the speaker says. Calls its owner back from inside keeper_open, keeper_send, keeper_rest,
 * keeper_wake and keeper_dispatch, never otherwise.
 */

struct keeper_owner {
	/* READY, BACK, LOST, NO_SOUND, REFUSED or TROUBLE. */
	void (*tell)(void *owner, enum speech_kind kind, int64_t now_us, const char *text);
	/* WIRE_STARTED or WIRE_FINISHED. */
	void (*report)(void *owner, const struct wire_message *message, int64_t now_us);
	/* A fresh speaker knows nothing: send it what it should do. */
	void (*replay)(void *owner, int64_t now_us);
	void *owner;
};

struct keeper {
	struct speech_options options; /* with these texts: */
	char *program, *sound, *voice;
	struct keeper_owner owner;
	struct supervisor supervisor;
	struct child child;
	int epoll;
	int devices;               /* inotify, or -1 */
	int64_t began_us;          /* when the first speaker's sound began; 0: not yet */
	int64_t hung_up_us;        /* it closed the wire: its end is due then; 0: no */
	int64_t read_errors_us;    /* it prints too much: read on then; 0: no */
	int troubles;              /* told of this speaker */
	char cause[WIRE_TEXT_MAX]; /* the text of the next thing to tell */
};

/* options->program and options->sound must be there. All texts are copied. */
void keeper_open(struct keeper *keeper, const struct speech_options *options,
		 struct keeper_owner owner, int64_t now_us);

/* As speech_close. */
void keeper_close(struct keeper *keeper);

void keeper_dispatch(struct keeper *keeper, int64_t now_us);
int64_t keeper_deadline_us(const struct keeper *keeper); /* SPEECH_NEVER: none */

/* An order to the speaker; nothing happens while there is none whose sound flows. */
void keeper_send(struct keeper *keeper, enum wire_kind kind, uint64_t generation, const char *text,
		 int64_t now_us);

/* Whether beats are to be expected. */
void keeper_rest(struct keeper *keeper, int64_t now_us);
void keeper_wake(struct keeper *keeper, int64_t now_us);
bool keeper_rests(const struct keeper *keeper);

bool keeper_sounds(const struct keeper *keeper);

/* Notices that the machine's sound devices may have changed, without looking at a clock.
 *
 * Kernel devices come and go under /dev/snd; a sound server makes its socket in the user's runtime
 * folder. A change says only that trying again is worth while.
 */

/* An inotify to be polled for reading, or -1. `devices` is the folder of the kernel's devices
 * ("/dev"), `runtime` the user's runtime folder or NULL; both are opened by watch_open and looked
 * at again by every watch_changed, since the folders in them may be new. */
int watch_open(const char *devices, const char *runtime);

/* Empties it. True: something about sound was among what happened. */
bool watch_changed(int fd, const char *devices, const char *runtime);

#endif
