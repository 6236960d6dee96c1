/* One run of the speaker program: its process, its end of the wire, what it prints.
 *
 * The process is held by a pidfd, so that a recycled process number can never be hit. It runs in a
 * process group of its own: Ctrl-C in a terminal is for the daemon, which ends the speaker in its
 * own time. Its standard error comes through a pipe that is read at a limited rate into a few kept
 * lines: a library that screams fills the pipe and waits, not the log or our memory.
 */
#ifndef SPEECH_CHILD_H
#define SPEECH_CHILD_H

#include "speech/tail.h"

#include <stdbool.h>
#include <stdint.h>

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

#endif
