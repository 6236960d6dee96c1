/* The daemon: joins the pedal, the session, the voice, the journal and the control socket in one
 * event loop.
 *
 * One thread; nothing in it waits for the voice or a client. The disk is waited for, once the voice
 * has its order: a record is synced before a press is answered. What a press does happens in this
 * order: the session's step, the new call on its way to the speaker, the commit to the journal, the
 * news to those who look on, the answer to a command.
 */
#ifndef DAEMON_DAEMON_H
#define DAEMON_DAEMON_H

#include "base/fault.h"
#include "daemon/note.h"
#include "daemon/work.h"
#include "settings/bench.h"

#include <stdbool.h>
#include <systemd/sd-event.h>

enum daemon_pedals {
	DAEMON_PEDALS_AUTO,
	DAEMON_PEDALS_KEYS,
	DAEMON_PEDALS_EVDEV,
	DAEMON_PEDALS_NONE
};

/* Exit codes beside 0 (done), 1 (the input is at fault, or the answer is no) and 2 (wrong usage):
 * from sysexits.h, and in the manual. */
enum daemon_exit {
	DAEMON_EXIT_DONE = 0,
	DAEMON_EXIT_NO = 1,
	DAEMON_EXIT_DEVICE = 69, /* EX_UNAVAILABLE: a voice, a device or keys that were asked for */
	DAEMON_EXIT_SYSTEM = 71, /* EX_OSERR */
	DAEMON_EXIT_JOURNAL = 74, /* EX_IOERR */
};

/* Who looks on, from within the program. Every function may be NULL. */
struct daemon_viewer {
	void *owner;
	void (*note)(void *owner, const struct note *note);
	void (*changed)(void *owner); /* something that daemon_look shows has changed */
};

struct daemon_options {
	const char *bench_file; /* NULL: the usual one */
	enum daemon_pedals pedals;
	bool keys;           /* with AUTO: take keys from standard input too */
	const char *sound;   /* NULL: the bench's */
	const char *journal; /* NULL: the usual one */
	bool once;           /* end with the job */
	struct daemon_viewer viewer;
};

/* What there is to see. Text belongs to the daemon and lives until its loop turns. */
struct daemon_look {
	const struct work *work; /* NULL: no job */
	const char *said;        /* the notice being said, "" if it is the call */
	const char *voice;       /* where the voice goes, or what is wrong with it */
	bool voice_good;
	const char *pedal;   /* what presses come from */
	const char *journal; /* "" or what is wrong with it */
};

struct daemon;

/* Opens everything. NULL with a message on standard error and *code set when the daemon cannot
 * work. */
struct daemon *daemon_open(const struct daemon_options *options, int *code);
void daemon_close(struct daemon *daemon); /* NULL is fine */

/* Takes a new job on, from its plan's path. DONE; or NO (a running job, a plan at fault) or JOURNAL
 * (it cannot be written), and faults says why. */
enum daemon_exit daemon_load(struct daemon *daemon, const char *path, struct faults *faults);

/* Goes on with the job that was left open: the newest, or the one named. DONE; or NO (there is none
 * that can be gone on with) or JOURNAL, and *why says why; the caller frees it. */
enum daemon_exit daemon_reopen(struct daemon *daemon, const char *which, char **why);

/* True if there is a job left open; *name is its name, the caller frees it. */
bool daemon_has_open_job(struct daemon *daemon, const char *plan_text, char **name);

/* Runs until the job is over (once) or a signal ends it. Returns the exit code. */
int daemon_run(struct daemon *daemon);

sd_event *daemon_loop(struct daemon *daemon);
struct daemon_look daemon_look(const struct daemon *daemon);

#endif
