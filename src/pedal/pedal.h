/* Presses of pedals and keys, and what they ask for.
 *
 *   1. Gestures: what presses ask for, and when.
 *   2. Presses: all pedals and the keys of a terminal, as an event loop sees them.
 *   3. What is plugged in, learning which key a pedal sends, names of keys.
 *
 * All times are microseconds of CLOCK_MONOTONIC, the clock of the kernel's input events.
 */
#ifndef PEDAL_PEDAL_H
#define PEDAL_PEDAL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* ---- 1. Gestures ----
 *
 * Each gesture is final when it is given: the receiver needs no timing of its own; it only
 * remembers where the job was before each of the last two gestures that moved it.
 *
 *   NEXT        the step: next call; while paused: resume; at the end: finish
 *   AGAIN       say the current call again
 *   BACK        one call back
 *   PAUSE       pause; while paused: resume
 *   WHERE       say where the job is       (terminal keys only)
 *   WHY         say why the call is done   (terminal keys only)
 *   CHOICES     what else a job may need   (a held `again`, or a terminal key)
 *   STOP        end the run                (terminal keys only)
 *   UNDO_AGAIN  the last NEXT was the first half of a double tap: go back to where it came from
 *               and say that call again
 *   UNDO_BACK   the same, but say the call before that one
 *   UNDO_PAUSE  the last gesture was the start of a hold: go back to where it came from and pause
 *   HELD        the key of a hold is still down: again and again until it is let go
 *
 * An UNDO takes back the gestures directly before it, whatever they did: a step, a resume, the
 * finish. No gesture of another kind comes in between. So a double tap while paused resumes and
 * says the call again; a hold while paused stays paused; and a job whose last call was answered is
 * over only once that NEXT can no longer be taken back (presses_settled).
 *
 * One pedal for everything (role STEP), with the default times:
 *   tap             NEXT                               at once, at the leading edge
 *   double tap      NEXT  UNDO_AGAIN                   2nd press < 300 ms after the 1st release
 *   triple tap      NEXT  UNDO_AGAIN  NEXT
 *   double, double  NEXT  UNDO_AGAIN  NEXT  UNDO_BACK  2nd double < 1 s after the 1st; a third
 *                                                      one gives NEXT UNDO_BACK again
 *   hold            NEXT  UNDO_PAUSE                   at 500 ms; the release means nothing
 *   long hold       NEXT  UNDO_PAUSE  HELD  HELD ...   every 1.5 s more
 *   hold, then tap  NEXT  UNDO_PAUSE  NEXT             that NEXT resumes; no double tap
 *   tap, then hold  NEXT  UNDO_AGAIN  PAUSE
 * With every other role a press gives one gesture at its leading edge, and nothing else; but AGAIN
 * held until 500 ms gives CHOICES too, with 1 for its steps.
 *
 * Contacts: key repeat is ignored. A press after quiet acts at once; edges within the debounce time
 * of an edge are bounce. A contact that stays down is reported STUCK, one with too many edges or
 * presses in a second CHATTER and then ignored; each once, and FREED when it works again.
 *
 * Sources of the times: libinput ignores bounce for 25 ms; Android's ViewConfiguration has 500 ms
 * for a long press and 300 ms from a release to the next press for a double tap. The others are
 * our choice.
 */

enum gesture_role {
	GESTURE_ROLE_STEP, /* one pedal for everything */
	GESTURE_ROLE_NEXT,
	GESTURE_ROLE_AGAIN,
	GESTURE_ROLE_BACK,
	GESTURE_ROLE_PAUSE,
};

struct gesture_times {
	int64_t debounce_us;   /*    25 ms: edges this soon after an edge are bounce */
	int64_t double_tap_us; /*   300 ms: from a release to the second press */
	int64_t hold_us;       /*   500 ms: from a press to a hold */
	int64_t chain_us;      /* 1,000 ms: from a double tap to the next one, to go further back */
	int64_t stuck_us;      /*    10 s:  a contact down this long is stuck */
};

extern const struct gesture_times gesture_default_times;

/* NULL, or what is wrong with the times (static text): each positive and at most a minute,
 * debounce < double tap and hold, hold < stuck. */
const char *gesture_times_fault(const struct gesture_times *times);

enum { GESTURE_KEYS_MAX = 32 }; /* of one pedal */

/* The names of the roles in a bench file, in order, ended by NULL. */
extern const char *const gesture_role_names[];

/* ---- 2. Presses ---- */

enum pedal_event_kind {
	/* Gestures: up to GESTURE_HELD. */
	GESTURE_NEXT,
	GESTURE_AGAIN,
	GESTURE_BACK,
	GESTURE_PAUSE,
	GESTURE_WHERE,
	GESTURE_WHY,
	GESTURE_CHOICES,
	GESTURE_STOP,
	GESTURE_UNDO_AGAIN,
	GESTURE_UNDO_BACK,
	GESTURE_UNDO_PAUSE,
	GESTURE_HELD,
	/* The state of a contact; never between an UNDO and its NEXT. */
	PEDAL_STUCK,   /* it stays down */
	PEDAL_CHATTER, /* it makes and breaks without end, and is ignored */
	PEDAL_FREED,   /* no longer stuck or chattering */

	PEDAL_FOUND,      /* a pedal can be used: it is readable, and no other program holds it */
	PEDAL_GONE,       /* a pedal that could be used was unplugged; its keys count as released */
	PEDAL_BACK,       /* it can be used again */
	PEDAL_BUSY,       /* another program has grabbed it: no press comes until it lets go */
	PEDAL_DENIED,     /* we may not open it: `text` says what to do */
	PEDAL_NOTE,       /* anything else worth a line in the log */
	PEDAL_KEYS_ENDED, /* end of file, or the terminal hung up */
};

/* What it points to lives until the callback returns. */
struct pedal_event {
	enum pedal_event_kind kind;
	int steps; /* gestures an UNDO takes back: 1, or 2 for a held terminal key; CHOICES: 1 if an
		      AGAIN was the start of this hold; else 0 */
	int key;   /* as in linux/input-event-codes.h; -1 for a terminal key */
	const struct pedal_info *pedal; /* NULL: a terminal key, or no pedal in particular */
	const char *text; /* one line for people, without a full stop; NULL for a gesture */
	int64_t time_us;  /* of the edge that made it, or the moment a time ran out */
};

/* Must not call back into the presses. */
typedef void pedal_sink(void *owner, const struct pedal_event *event);

enum pedal_grab {
	PEDAL_GRAB_SAFE, /* grab it unless it looks like a keyboard or a mouse */
	PEDAL_GRAB_YES,
	PEDAL_GRAB_NO,
};

struct pedal_key {
	unsigned code; /* as in linux/input-event-codes.h */
	enum gesture_role role;
};

/* One pedal as a bench file describes it. Fields that are NULL or PEDAL_ANY match everything. */
enum { PEDAL_ANY = -1 };
struct pedal_entry {
	int vendor; /* USB ids, 0 to 0xffff */
	int product;
	const char *name;   /* the whole name the device gives itself */
	const char *serial; /* for the models that have one */
	const char *port;   /* "usb-0000:00:14.0-2": tells equal pedals apart */
	const struct pedal_key *keys;
	size_t key_count; /* at most GESTURE_KEYS_MAX; 0: chosen as without a bench file */
	struct gesture_times times;
	enum pedal_grab grab;
};

struct pedal_config {
	const struct pedal_entry *entries; /* the caller keeps them until the presses are closed */
	size_t entry_count;         /* 0: every device that looks like a pedal, roles by the number
				     * of its keys */
	struct gesture_times times; /* for pedals without an entry */
	const char *root;           /* the folder that dev/input and sys are in; NULL: / */
};

/* Where nothing presses any more, NULL stands for it. */
struct presses;

/* All pedals plugged in, now (these are told before it returns) and later; there may be none. NULL
 * as config: no pedals. NULL with *why, which the caller frees, if the system is out of
 * descriptors.
 *
 * A pedal is known by its ids, never by its event number: unplugged and plugged in again it is the
 * same pedal, in another port too if no equal one is missing. All event nodes of one USB device are
 * read together. A device is grabbed, so that it cannot type into another window, but only while
 * none of its keys is down, and never if it looks like the person's keyboard or mouse unless the
 * bench file says `grab: yes`. */
struct presses *presses_open(const struct pedal_config *config, pedal_sink *emit, void *owner,
			     char **why);

/* Keys too, once, from fd, which stays the caller's: of a terminal, in a mode without echo or lines
 * until the presses are closed or memory runs out; or bytes from a pipe or a file, as they come.
 * False with *why, which the caller frees, if they cannot be read; the terminal stays as it was. */
bool presses_read_keys(struct presses *presses, int fd, char **why);

/* Call presses_dispatch, which never blocks, when the descriptor is readable, and at the deadline
 * (INT64_MAX: none). */
int presses_fd(const struct presses *presses);
int64_t presses_deadline_us(const struct presses *presses);
void presses_dispatch(struct presses *presses);

/* Something else moved the job: no UNDO follows for gestures given before. A gesture of one pedal,
 * or of the keys, does so to the others. */
void presses_forget(struct presses *presses);

/* True when no UNDO can follow without another NEXT before it. */
bool presses_settled(const struct presses *presses);

void presses_close(struct presses *presses);

/* Puts the terminal back into the mode it was found in, if it is in ours. Async-signal-safe, and
 * fit for atexit. */
void terminal_restore(void);

/* Where a program that was killed has left the terminal in our mode: the usual mode, and true. */
bool terminal_mend(int fd);

/* For a program that was stopped and continues in the foreground: enters our mode again. */
void terminal_retake(void);

/* ---- 3. What is plugged in ---- */

enum pedal_class {
	PEDAL_CLASS_PEDAL, /* taken without a bench file */
	PEDAL_CLASS_KEYBOARD,
	PEDAL_CLASS_POINTER, /* mouse, touchpad, tablet, touch screen */
	PEDAL_CLASS_GAMEPAD,
	PEDAL_CLASS_OTHER, /* power button, lid, headset, remote control ... */
};

struct pedal_info {
	char *name;
	int vendor;
	int product;
	char *serial; /* NULL: none */
	char *port;   /* NULL: unknown */
	enum pedal_class class;
	struct pedal_key keys[GESTURE_KEYS_MAX]; /* roles as they would be without a bench file */
	size_t key_count;
	char *trouble; /* why it cannot be read and what to do about it; NULL: it can */
};

/* All input devices with keys, pedals first; freed by pedal_list_free. root: as in struct
 * pedal_config. */
struct pedal_info *pedal_list(const char *root, size_t *count);
void pedal_list_free(struct pedal_info *list, size_t count);

/* Waits until a key goes down on any input device that may be opened, also one plugged in
 * meanwhile, and gives `learned` its gesture. Grabs nothing. False with *why, which the caller
 * frees, if none can be read. */
bool pedal_learn(const char *root, pedal_sink *learned, void *owner, char **why);

/* The code for "F14", "KEY_F14", "f14", "BTN_LEFT", "BTN_0", or a number such as "184" or "0x100";
 * -1 if there is no such key. */
int pedal_key_code(const char *name);

/* "F14", "BTN_LEFT" for a code, "0x2ff" for one without a name. Valid until the next call. */
const char *pedal_key_name(unsigned code);

#endif
