/* The daemon: joins pedal, session, voice, journal and control socket in one event loop.
 *
 * One thread. Nothing in it waits for the voice or for a client. It waits for the disk: a record is
 * synced before a press is answered. A press does this, in this order: the session's step, the new
 * call on its way to the speaker, the commit to the journal, the news to those who watch, the
 * answer to a request.
 *
 *   1. Running it    options, opening, the job to take on, the loop
 *   2. Watching it   what there is to see at any moment
 *   3. Requests      what other programs may ask through the control socket
 *   4. The job       struct work
 */
#ifndef DAEMON_DAEMON_H
#define DAEMON_DAEMON_H

#include "base/base.h"
#include "bench/bench.h"
#include "journal/journal.h"
#include "phrase/phrase.h"
#include "script/script.h"
#include "session/session.h"

#include <systemd/sd-event.h>

struct work;

/* ---- 1. Running it ---- */

enum daemon_pedals {
	DAEMON_PEDALS_AUTO,
	DAEMON_PEDALS_KEYS,
	DAEMON_PEDALS_EVDEV,
	DAEMON_PEDALS_NONE
};

enum daemon_shop { DAEMON_SHOP_AS_BENCH, DAEMON_SHOP_QUIET, DAEMON_SHOP_LOUD };

struct daemon_options {
	const char *bench_file;    /* NULL: the usual one */
	int pedals;                /* enum daemon_pedals */
	bool keys;                 /* with AUTO: takes keys from standard input too */
	const char *sound;         /* NULL: the bench's */
	int shop;                  /* enum daemon_shop */
	const char *journal;       /* NULL: the usual one */
	const char *teach;         /* NULL, or what the plans that are loaded say of `teach` */
	const char *const *skills; /* NULL, or a drill: of these, which end with NULL */
	uint64_t seed;             /* of the order in which they are asked */
	bool once;                 /* ends with the job; */
	bool rack; /* with `once`: works through the rack, and ends when that is empty */
	FILE *log; /* gets a line for each event, for records only with `once`; NULL: none */
};

struct daemon;

/* Opens everything. NULL, a message on standard error and the exit code if it cannot work. */
struct daemon *daemon_open(const struct daemon_options *options, int *code);
void daemon_close(struct daemon *daemon); /* NULL is fine */

/* Takes a job on from its plan's path. The same racket's job that was left open goes on where it
 * was left, with its plan as it was then, unless `anew`. EXIT_DONE; or EXIT_NO (a running job, a
 * plan at fault) or EXIT_IO (the journal cannot be written). *told, which the caller frees, is NULL
 * or what a person should know: which open job goes on or waits, or why not if faults does not. */
enum exit_code daemon_load(struct daemon *daemon, const char *path, bool anew, char **told,
			   struct faults *faults);

/* Goes on with the job that was left open: the one worked on last, or the one named. EXIT_DONE; or
 * EXIT_NO (a running job, no such open job, several of that name) or EXIT_IO. *told says what was
 * done, or why not; the caller frees it. */
enum exit_code daemon_reopen(struct daemon *daemon, const char *which, char **told);

/* When pullcalld starts: goes on with the job worked on last if it was cut off (a crash, a computer
 * going down), not if it was put away. Prints what is done, the open jobs, and how to go on. */
void daemon_take_up(struct daemon *daemon);

/* The open job that `which` names: a number, a UUID, or a name that only one open job has; NULL:
 * the one worked on last. EXIT_NO or EXIT_IO with *why, which the caller frees. */
enum exit_code open_job_find(struct journal *journal, const char *which, struct journal_job *job,
			     char **why);

/* "ridge-court-0042 (7, racket R-118)"; the caller frees it. */
char *open_job_name(const struct journal_job *job);

/* Adds a line or two about each: number, name, what tells its racket from others, place, time. */
void open_jobs_list(const struct journal_job *jobs, int count, struct text *out);

/* Frees what journal_open_jobs found. */
void open_jobs_free(struct journal_job *jobs, int count);

/* Runs until the job is over (once) or a signal ends it. Returns the exit code: EXIT_IO if the end
 * of the last job's run is not in the journal, as daemon_look's `ended` then says. */
int daemon_run(struct daemon *daemon);

sd_event *daemon_loop(struct daemon *daemon);

/* The options that `pullcall run` and `pullcalld` have in common, for a table of a command line. */

extern const char *const daemon_pedal_names[];
extern const char *const daemon_shop_names[]; /* from DAEMON_SHOP_QUIET on */
bool daemon_read_sound(const char *value, void *out);

/* clang-format off */
#define DAEMON_OPTION_ROWS(options)                                                                \
	{"pedal", 0, "PEDAL", "auto (every pedal, in `pullcall run` the keys too), keys, evdev or none", \
	 .number = &(options)->pedals, .names = daemon_pedal_names},                               \
	{"sound", 0, "SOUND", "auto, device, device:NAME, wav:FILE or none",                       \
	 .read = daemon_read_sound, .out = &(options)->sound,                                      \
	 .expected = "auto, device, device:NAME, wav:FILE or none"},                               \
	{"shop", 0, "SHOP", "quiet, or loud: makes the words easier to hear in noise",             \
	 .number = &(options)->shop, .names = daemon_shop_names, .min = DAEMON_SHOP_QUIET},        \
	{"bench", 0, "FILE", "the bench file, instead of the usual one",                           \
	 .text = &(options)->bench_file},                                                          \
	{"journal", 0, "FILE", "the journal, instead of $PULLCALL_JOURNAL or the usual one",       \
	 .text = &(options)->journal}
/* clang-format on */

/* ---- 2. Watching it ---- */

/* What there is to see now. Text belongs to the daemon and lives until the next event. */
struct daemon_look {
	const struct work *work; /* NULL: no job */
	const struct phrasebook *book;
	bool offered;      /* no job: a press takes the one that was said */
	const char *said;  /* the notice being said, "" if it is the call */
	bool said_beside;  /* it came after the call, which stands */
	const char *voice; /* where the voice goes, or what is wrong with it */
	bool voice_good;
	const char *pedal;   /* what presses come from */
	bool can_press;      /* a pedal or a key */
	const char *journal; /* "" or what is wrong with it */
	const char *told;    /* when the run was begun, until the first press; NULL: nothing */
	const char *ended;   /* how the last job's run ended, and what to type next; NULL: none */
};

struct daemon_look daemon_look(const struct daemon *daemon);

/* ---- 3. Requests ----
 *
 * pullcall-control(7) says what goes over the socket. Of the peers only the same user and root are
 * served. A client that does not read is dropped when its socket is full: it can hold up nobody.
 */

struct request;

struct control_word {
	const char *name;
	const char *about; /* what it does, for `pullcall tell`; NULL: that does not say it */
	const char *key;   /* what comes with it; NULL: nothing */
	/* The same as an operand of `pullcall tell`, REASON: in brackets if it may be left out. */
	const char *operand;
	const char *wants; /* the same in a sentence */
	/* How the daemon does it, called with the word's value; NULL: it only answers. */
	void (*act)(struct daemon *daemon, const struct request *request, struct text *reply);
	int value;
	const char *refusal; /* why it cannot be done now */
	bool idle;           /* it needs no job */
	bool watches;        /* the client watches from then on */
};

/* All of them, then an empty one. */
extern const struct control_word control_words[];

/* Where the socket is; the caller frees it. NULL if $XDG_RUNTIME_DIR is not set. */
char *control_path(void);

/* A client's end: sends a request, a line with its end, and returns a connection that blocks until
 * the answer comes; or -1 with errno. Waits at most a second for a daemon that takes nothing. */
int control_request(const char *line);

/* ---- 4. The job ---- */

/* The job under way: its script and its session, and what notices are worded with. */
struct work {
	struct script *script;
	const struct phrasebook *book; /* not owned */
	struct phrase_options options;
	struct session session;
	bool is_first;      /* its stringer has finished no job of this pattern yet */
	char *words;        /* of the call, as they were said last; NULL: not yet */
	char *last_tension; /* of a new job: what its racket had last time; NULL: not known */
	int last_days;      /* since then */
	int last_month;     /* from 1 */
	int reel_left_mm;   /* on the reel of a call that it is too short for */
};

/* At a place of a script, which it takes; NULL if that is NULL. */
struct work *work_new(struct script *script, const struct phrasebook *book,
		      const struct bench *bench, int place);
void work_free(struct work *work); /* NULL is fine */

/* An open job of the journal, at the call where it was left, with the script it began with. EXIT_NO
 * (its plan is at fault) or EXIT_IO with *why, which the caller frees. */
enum exit_code work_reopen(struct journal *journal, const struct journal_job *job,
			   const struct phrasebook *book, const struct bench *bench,
			   struct work **out, char **why);

/* Work per weight (session/session.h); 0: nothing to compare with, in the first calls and in a
 * stringer's first job of a pattern. */
double work_pace(const struct work *work);

/* What to show of the call, and of a later one: of a job that is taught not more than was said. */
const char *work_words(const struct work *work);
const char *work_next_words(const struct work *work, int place);

/* What to say for a SESSION_SAY_NOTICE; the caller frees it. */
char *work_notice(const struct work *work, const struct session_effect *said, int64_t now_us);

#endif
