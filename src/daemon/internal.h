/* Shared by the files of this room. Each calls only files further down this list:
 *
 *   daemon.c    opens, joins and closes everything: presses, the voice, signals, settings
 *   answer.c    answers the requests that come through the control socket
 *   rack.c      what is next on the rack
 *   jobs.c      begins a job, or goes on with one that was left open
 *   effects.c   carries out what the session wants
 *   control.c   the control socket, both ends
 *   work.c      the job under way, and what is told of it
 */
#ifndef DAEMON_INTERNAL_H
#define DAEMON_INTERNAL_H

#include "daemon/daemon.h"
#include "speech/speech.h"

enum voice_state {
	VOICE_STARTING,
	VOICE_GOOD,
	VOICE_LOST, /* being replaced */
	VOICE_NONE, /* no sound is possible now */
};

/* What is next on the rack, while there is no job. */
enum offer_state {
	OFFER_NONE,   /* nothing was said */
	OFFER_SAID,   /* a press takes it */
	OFFER_TAKEN,  /* when that press can no longer be taken back */
	OFFER_FAULTY, /* it cannot be begun: a press says the one behind it */
};

struct offer {
	enum offer_state state;
	enum offer_state before; /* the last gesture */
	int64_t after;           /* id of the entry before it; 0: it is the first */
	int64_t entry;           /* its own */
};

struct daemon {
	struct daemon_options options;
	sd_event *loop;
	sd_event_source *timer;
	struct bench *bench;
	struct phrasebook *book;
	struct phrasebook *job_book; /* of a job in another language, as long as it is spoken */
	struct journal *journal;     /* NULL: an idle daemon leaves it to others */
	struct control *control;
	struct work *work; /* NULL: no job */
	struct offer offer;

	struct presses *presses;
	sd_event_source *presses_io;
	struct speech *speech;
	sd_event_source *voice_io;

	/* The last call that was said: what a report of the speaker is about. */
	uint64_t said_generation;
	int said_call;
	int64_t said_press_us;    /* the press that it answers; 0: none */
	uint64_t last_generation; /* of whatever was said last */
	bool talking;             /* it has not ended */
	uint64_t heard_out; /* generation that is not cut off: what follows waits for it; 0: none */
	/* Generation of each notice while it waits for other speech to end, else 0. */
	uint64_t owed[NOTICES];

	int64_t recorded_us; /* steady time of the last record */
	int64_t slept_us;    /* how long the computer has slept since it was started */

	char *said; /* see daemon_look */
	bool said_beside;
	struct text *spoken; /* while a request is answered: what is said; else NULL */
	char *ended;
	char *unsaved; /* in place of `ended` while the journal cannot be written; else NULL */
	char *voice;
	enum voice_state voice_state;
	char *pedal;
	bool pedal_found; /* at any time */
	bool keys_open;
	bool pedal_missing; /* unplugged, and neither it nor another one came since */
	char *journal_fault;
	bool journal_aside;     /* a damaged one was set aside, and no job has said so yet */
	bool journal_failed;    /* as far as the session knows */
	int64_t journal_due_us; /* when what could not be written is tried again */
	bool leaving;           /* the loop ends when the last words are said */
	bool rack_asked;        /* what waits next is to be said */
};

/* ---- effects.c ---- */

/* Something that happened: a line in the log, and JSON for watchers of the control socket. */

enum note_kind {
	NOTE_JOB,    /* a job was begun or reopened: name, text (its title) */
	NOTE_CALL,   /* a call is being said: text */
	NOTE_SAID,   /* something else is being said: name (of the notice), text */
	NOTE_RECORD, /* name: what went into the journal */
	NOTE_LOG,    /* text: for the log */
	NOTES,
};

struct note {
	enum note_kind kind;
	const char *name;
	const char *text;
	int call; /* from 1; 0: no job */
	int calls;
	const char *phase; /* of that call, or NULL */
	const char *state; /* of the session, or NULL */
	int64_t number;    /* JOB: its number in the journal */
	int64_t wall_us;
	int64_t response_us; /* RECORD of an announcement that answers a press */
};

void note_json(const struct note *note, struct text *out);

/* One step of the session, at the time of the event or, if that is 0, now; works out its boot_us
 * and rack_waits, and carries out the effects. False: the answer is no, or there is no job. */
bool daemon_step(struct daemon *daemon, struct session_event event);

void daemon_note(struct daemon *daemon, struct note note);
void daemon_log(struct daemon *daemon, char *text); /* takes text */

/* Writes again what could not be written, once that is due: daemon_retry_us, INT64_MAX: never. */
void daemon_retry_journal(struct daemon *daemon);
int64_t daemon_retry_us(const struct daemon *daemon);

/* Opens the voice, in place of the one that is open. */
void daemon_open_voice(struct daemon *daemon);

/* Notices and the voice are in the language of this phrasebook from now on, which it takes; NULL:
 * in the bench's. There is no job, or nothing of it was said yet. */
void daemon_speak(struct daemon *daemon, struct phrasebook *job_book);

/* That of the language that is spoken. */
const struct phrasebook *daemon_book(const struct daemon *daemon);

/* Of presses, or of the voice: what follows every event reads it. */
int daemon_on_ready(sd_event_source *io, int fd, uint32_t events, void *data);

/* Undoes work: the way back follows the current call. False with *why, which the caller frees, if
 * there is none; it says what to do instead. There is a job. */
bool daemon_go_back(struct daemon *daemon, const struct script_mishap *mishap,
		    struct faults *faults);

/* A choice that leaves the job where it is: the job's words, this run's volume, the rack. */
void daemon_choose(struct daemon *daemon, enum choice choice);

/* Says something that is not the call; `name` is what watchers know it by. */
void daemon_say(struct daemon *daemon, const char *name, const char *words,
		enum speech_urgency urgency);

/* How the last run ended, as far as that is on the disk; NULL: none did. */
const char *daemon_ended(const struct daemon *daemon);

/* Tries once more to write the end of the last run, if that waits. True: it is on the disk. */
bool daemon_save(struct daemon *daemon);

/* ---- rack.c ---- */

/* A gesture while there is no job, in the session's words. False: this run has no rack. */
bool daemon_rack_step(struct daemon *daemon, enum session_event_kind kind);

/* No press can be taken back any more. */
void daemon_rack_settled(struct daemon *daemon);

/* Says what is next, when that was asked for in the midst of a job; else offers it. */
void daemon_rack_tell(struct daemon *daemon);

/* Says how many jobs wait. False: none, or this run has no rack. The journal is open. */
bool daemon_rack_wait(struct daemon *daemon);

/* ---- jobs.c; the rest is in daemon.h ---- */

/* Begins a new job; takes work. Not EXIT_DONE: *told, to be freed, says why. Journal is open. */
enum exit_code daemon_begin(struct daemon *daemon, struct work *work, char **told);

/* Where the journal is; the caller frees it. NULL if HOME is not set. */
char *daemon_journal_path(const struct daemon *daemon);

/* Opens the journal if it is closed; a new one if it is damaged. Not OK: *why, to be freed. */
enum journal_status daemon_open_journal(struct daemon *daemon, char **why);

/* ---- control.c: the socket; see daemon.h for what goes over it ---- */

enum { CONTROL_LINE_MAX = 4096, CONTROL_CLIENTS_MAX = 16 };

/* Answers a line into *reply, both without their ends. True: from now on the client watches. */
typedef bool control_handler(void *owner, const char *line, size_t length, struct text *reply);

struct control;

/* NULL with *why, which the caller frees, if the socket cannot be had. A socket whose owner is dead
 * is replaced; with a living one, *why says so. */
struct control *control_open(sd_event *loop, control_handler *handle, void *owner, char **why);
void control_close(struct control *control); /* NULL is fine */

/* A line for everybody who watches, without its end. */
void control_tell(struct control *control, const char *line);

/* ---- answer.c ---- */

struct request {
	const struct control_word *word;
	int count;   /* back; 0: none was given */
	bool anew;   /* load: even if a job of that name is open */
	bool reopen; /* load: text names an open job, not a file */
	char *text;  /* what the word takes; owned */
};

/* Reads a request strictly. False with an error in *reply. */
bool request_read(const char *line, size_t length, struct request *request, struct text *reply);

/* A control_handler. */
bool daemon_answer(struct daemon *daemon, const char *line, size_t length, struct text *reply);

#endif
