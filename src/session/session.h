/* What happens next: the state of a running job as a pure function of events.
 *
 *     session_step(session, event, effects)
 *
 * It reads no clock, no file and no device. An event carries its times; effects say what to do, in
 * that order: speak first, then write, so that a press is answered at once. The caller carries out
 * all effects of an event before the next one.
 *
 *                       next at the last call
 *             CALLING ---------------------------> ENDING ---- settled ---> OVER
 *              |   ^  <---------------------------
 *    pause,    |   |  next,     undo-*, back                stop and abandon lead to OVER
 *    pedal gone|   |  resume,                               from everywhere
 *              v   |  pedal back
 *             PAUSED <---- start, reopen
 *              |   ^
 *    a hold,   |   |  left, taken, no press for 20 s
 *    choices   v   |
 *            CHOOSING
 *
 * After the last call is answered the job is ENDING, until that press can no longer be taken back.
 *
 * A job that is taught (session_teach) says of each call as much as the trainee needs. Instead of a
 * call it may put a question: the next press, or a time, brings the answer, and the press after
 * that says "I had it", a double tap "I had not". After some calls it comes to a STATION, which a
 * press leaves or, where a trainer looks at the work, that trainer's word.
 */
#ifndef SESSION_SESSION_H
#define SESSION_SESSION_H

#include "journal/journal.h"
#include "phrase/phrase.h"
#include "script/script.h"
#include "teach/teach.h"

/* ---- States and events ---- */

enum session_state {
	SESSION_CALLING,  /* the stringer works on a call */
	SESSION_PAUSED,   /* time is not counted as work */
	SESSION_CHOOSING, /* paused, and the choices are being said */
	SESSION_STATION,  /* a trainer or the trainee looks at the work */
	SESSION_ENDING,   /* past the last call */
	SESSION_OVER,     /* finished, stopped or abandoned: nothing happens any more */
	SESSION_STATES,
};

enum session_event_kind {
	SESSION_START,  /* a new job: greets; the first press says call 1 */
	SESSION_REOPEN, /* a job left open, at the session's call: paused there, and says so;
			   text: keys of its plan that have changed since, or NULL */
	SESSION_PAUSE,
	SESSION_RESUME,
	SESSION_PASSED, /* a trainer: the work at the station is right */
	SESSION_FOUND, /* a trainer: it is not; text: fault and string, call: that it is of, or 0 */
	SESSION_ABANDON, /* text: why */
	/* Those that a pedal gives, too, in the order of its gestures (pedal/pedal.h). */
	SESSION_NEXT,
	SESSION_AGAIN,
	SESSION_BACK, /* count calls back */
	SESSION_PAUSE_TOGGLE,
	SESSION_WHERE,
	SESSION_WHY,     /* the reason for the current call */
	SESSION_CHOICES, /* opens them; count 1: the AGAIN before it was the start of this hold */
	SESSION_STOP,
	/* Take back the last NEXT (pedal/pedal.h), then: */
	SESSION_UNDO_AGAIN, /* say the call it was made at again */
	SESSION_UNDO_BACK,  /* say the one before that */
	SESSION_UNDO_PAUSE, /* pause, or of a job that is paused, the choices; in the choices, take
			       the one that was said; count gestures are taken back */
	SESSION_HELD,       /* a pedal is still held down, some time after that */
	SESSION_SETTLED,    /* no press can be taken back any more */
	SESSION_TIMEOUT,    /* session_deadline_us has come */
	/* Reports */
	SESSION_WENT_BACK,  /* script: has a way back after the current call, as the journal has */
	SESSION_CALLED_OFF, /* script: has no longer that way back, nor has the journal */
	SESSION_REFUSED,   /* either cannot be done; notice: what to do instead; text: its reason */
	SESSION_ANNOUNCED, /* call began to be heard; response_us after its press */
	SESSION_PEDAL_GONE,
	SESSION_PEDAL_BACK,
	SESSION_PEDAL_STUCK,
	SESSION_REPORT, /* anything else; notice: to be said when there is time; record: to be
			   written with the text; 0: neither is a report's */
	SESSION_EVENTS,
};

struct session_event {
	enum session_event_kind kind;
	int64_t time_us; /* steady; of the press itself where there was one */
	int64_t boot_us; /* the same moment on the clock that runs on while the computer sleeps */
	int count;       /* BACK, UNDO_PAUSE; 0 counts as 1 */
	int call;        /* ANNOUNCED, FOUND */
	bool rack_waits; /* while CHOOSING: a job waits on the rack */
	const struct script *script; /* WENT_BACK, CALLED_OFF */
	enum journal_kind record;    /* REPORT */
	enum notice notice;          /* REPORT, REFUSED */
	int64_t response_us;         /* ANNOUNCED: -1 if no press was answered */
	const char *text;            /* ABANDON and reports: lives until the step returns */
};

/* ---- Effects ---- */

/* What can be chosen, in the order in which it is said. A misweave is the most urgent, so `redo` is
 * first: to its way back, two or three pedals take one hold and four presses; one pedal takes a
 * hold that lasts until the right string is said, and a press. */
enum choice {
	CHOICE_REDO,
	CHOICE_SLIPPED,
	CHOICE_BROKE,
	CHOICE_WHY,
	CHOICE_FULLER,
	CHOICE_SHORTER,
	CHOICE_LOUDER,
	CHOICE_SOFTER,
	CHOICE_RACK,
	CHOICE_LATER,
	CHOICES,
};

/* What is said of a call. */
enum session_words {
	SAY_PLANNED, /* full or short, as the script says */
	SAY_AGAIN,   /* it was said before */
	SAY_NAME,    /* teaching: this and the next, in the order of its levels */
	SAY_QUESTION,
	SAY_SHORT, /* also the answer to a question */
	SAY_FULL,
	SAY_REASON, /* in full, and why */
};

enum session_effect_kind {
	SESSION_SAY_CALL,   /* call, words */
	SESSION_SAY_WHY,    /* call */
	SESSION_SAY_NOTICE, /* notice, of a call or 0; `after`: when what is being said has ended */
	SESSION_WRITE,      /* record, call, working, response_us, text */
	SESSION_CHOSEN,     /* choice: other words or another volume from now on; or says what is
			       next on the rack */
	SESSION_GO_BACK,    /* choice; call: where the string of a redo was worked on last */
	SESSION_CALL_OFF,   /* the last way back, at its first call */
};

struct session_effect {
	enum session_effect_kind kind;
	int call; /* WRITE: the call current after the event; calls + 1 is past the last */
	enum session_words words;
	bool after;
	bool working;
	enum choice choice;
	enum notice notice;
	enum journal_kind record;
	int64_t response_us;
	const char *text; /* the event's */
};

enum { SESSION_EFFECTS_MAX = 8 };

struct session_effects {
	int count;
	struct session_effect items[SESSION_EFFECTS_MAX];
};

/* ---- The session: read what you like; only the functions below write ---- */

enum { SESSION_MEMORY = 2 }; /* steps that can be taken back */

/* The choice that was said last; of a redo, once it was taken, the string. */
struct choosing {
	enum choice choice;
	bool walking; /* choosing the string */
	bool held;    /* by a long hold: the next press takes it */
	int string;   /* counted as they are said */
};

/* A question, from when it is put until the call is left. */
enum asking {
	ASKING_NONE,
	ASKING_OPEN,
	ASKING_ANSWERED, /* the trainee asked for the answer, and knows whether it was had */
	ASKING_LATE,     /* the answer came by itself */
};

struct session_snapshot {
	enum session_state state;
	int call;
	int station;
	enum asking asking;
	bool fresh;
	int way_back;
	struct choosing choosing;
};

/* What a press did that matters to the next gesture. */
enum session_deed {
	DID_NOTHING,
	DID_PAUSE,        /* a hold */
	DID_LEAVE,        /* the choices: a double tap */
	DID_TAKE,         /* a choice, by AGAIN */
	DID_TAKE_AT_ONCE, /* a string of a redo, by NEXT: a double tap may follow */
};

struct session {
	enum session_state state;
	const struct session_event *event; /* this and `effects`: while session_step runs */
	struct session_effects *effects;
	const struct script *script;
	int call;  /* the place of the current line: 1 to calls + 1 */
	int calls; /* lines of the script */
	struct choosing choosing;
	enum session_deed did; /* what this press did, and what the one before it */
	enum session_deed just;
	int way_back; /* its first call, as long as no call of it was answered; else 0 */
	struct session_snapshot before[SESSION_MEMORY]; /* the last steps, newest first */
	int remembered;                                 /* how many of them there are */
	bool pedal_gone;                                /* paused because it is */
	bool fresh;                                     /* paused before the first call */
	int64_t paused_since_us; /* boot time: a pause goes on while the computer sleeps */
	int64_t last_us;         /* steady time of the last event */
	int64_t *spent_us;       /* work, by call from 1; owned */
	int64_t set_aside_us;    /* work on calls that a way back replaced */
	/* Teaching. */
	struct trainee trainee;
	int64_t racket;         /* number of the job in the journal */
	int64_t wall_offset_us; /* wall time less boot time */
	int station;            /* the one that stands before the call: enum station + 1; 0: none */
	enum session_words words; /* of the call, when it was said last */
	enum asking asking;
	int64_t deadline_us; /* steady: when the choices close, or the answer comes by itself */
	/* A drill. */
	int *due; /* the calls still to be asked, in order, from the current one on; owned */
	int due_count;
	bool missed; /* the call that is asked was answered wrong */
};

/* ---- Running it ---- */

/* A session over a script, which outlives it, to be begun with SESSION_START, or at a call with
 * SESSION_REOPEN. session_free releases what it holds. */
void session_init(struct session *session, const struct script *script, int call);
void session_free(struct session *session);

/* Of a job that is taught, before it is begun: the trainee as the journal knows him or her, the
 * journal's number of the job, and the clocks now. */
void session_teach(struct session *session, const struct trainee *trainee, int64_t racket,
		   int64_t wall_us, int64_t boot_us);

/* The words of a SESSION_SAY_CALL; the caller frees them. */
char *session_words(const struct session *session, int call, enum session_words words);

/* How the current call was said, for the journal and the screen: the name of a level
 * (teach/teach.h); NULL: it is not taught, or what was said last is an answer or a repeat. */
const char *session_words_name(const struct session *session);

/* What would be said of a call if it came next: of one that is asked, the question. */
enum session_words session_manner(const struct session *session, int call);

/* False if the event asks for what cannot be done, or for what is so already: back at the first
 * call, resume while calling. There may be effects all the same. */
bool session_step(struct session *session, const struct session_event *event,
		  struct session_effects *effects);

/* When SESSION_TIMEOUT is due; INT64_MAX: never. */
int64_t session_deadline_us(const struct session *session);

/* Work on the current call up to now, and on the job as a whole. */
int64_t session_spent_us(const struct session *session, int64_t now_us);
int64_t session_worked_us(const struct session *session, int64_t now_us);

const char *session_state_name(enum session_state state);
const char *choice_name(enum choice choice);

/* ---- How long the rest of a job will take ----
 *
 * Every line of the script has a weight: seconds that a practised hand takes for such a call. This
 * job's pace is work done divided by the weights of the calls done, of those about a string; what
 * is left is the weights left at that pace. The usual pace counts until PACE_MIN_CALLS such calls
 * are done (one slow knot among the first would double what is left), and a little after that.
 */

enum { PACE_MIN_CALLS = 10 };

int64_t pace_left_us(const struct session *session, int64_t now_us);

/* Work per weight: 1 is the usual pace, 2 takes twice as long; 0: not known yet. */
double pace_ratio(const struct session *session);

#endif
