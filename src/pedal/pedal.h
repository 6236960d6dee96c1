/* Pedals, and the keys of a terminal in their place: finding them, reading them, losing them.
 *
 * One `struct pedals` holds all sources of a run. It has one file descriptor for the caller's event
 * loop; pedals_dispatch() reads what is there and gives events through a callback: gestures,
 * recognised (gesture.h says what each asks for), and what happens to the pedals themselves.
 *
 *	struct pedals *pedals = pedals_open(&config, on_event, owner, &why);
 *	for (;;) {
 *		wait for POLLIN on pedals_fd(pedals), or until pedals_deadline_us(pedals);
 *		pedals_dispatch(pedals);
 *	}
 *	pedals_close(pedals);
 *
 * Reading never blocks. A pedal is known by its ids, never by its event number: unplugged and
 * plugged in again it is the same pedal, in another port too if no equal one is missing. All event
 * nodes of one USB device are read together. A device is grabbed, so that it cannot type into
 * another window, but only while none of its keys is down, and never when it looks like the
 * person's keyboard or mouse unless the bench file asks for it with `grab: yes`.
 */
#ifndef PEDAL_PEDAL_H
#define PEDAL_PEDAL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* From the edges of a pedal's contacts to gestures. Pure: no clock and no device inside.
 *
 * In go timed edges (this key went down, went up); out come gestures, through a callback, and the
 * time at which the recogniser wants to be called even if no edge comes. Times are microseconds of
 * one steady clock (for real pedals the kernel's event time); a time before the last one counts as
 * the last one.
 *
 * WHAT A GESTURE MEANS. Each is final when it is given: the receiver needs no timing of its own,
 * only a memory of the place before each of the last two gestures that moved it.
 *
 *   GESTURE_NEXT        the step: next call; while paused: resume; at the end: finish.
 *   GESTURE_AGAIN       say the current call again.
 *   GESTURE_BACK        one call back.
 *   GESTURE_PAUSE       pause; while paused: resume.
 *   GESTURE_WHERE       say the place.            (keys of a terminal only)
 *   GESTURE_STOP        end the run.              (keys of a terminal only)
 *   GESTURE_UNDO_AGAIN  the last NEXT was the first half of a double tap: go back to the place
 *                       before it and say that call again.
 *   GESTURE_UNDO_BACK   the same, but say the call before that one.
 *   GESTURE_UNDO_PAUSE  the last gesture was the start of a hold: go back to the place before it
 *                       and pause. `steps` is how many gestures are taken back: 1, or 2 for a key
 *                       held in a terminal, where the first repeat cannot be told from a press.
 *
 * An UNDO always takes back the gestures directly before it; nothing of another kind comes in
 * between, and gesture_forget() sees to it that nothing from outside does. What it takes back is
 * whatever that NEXT did: a step, a resume, the finish. So a double tap while paused resumes and
 * says the call again; a hold while paused stays paused; a job is really finished only when its
 * last NEXT can no longer be taken back (gesture_settled).
 *
 * ONE PEDAL (role step), default times:
 *   tap                  NEXT                               at the leading edge, no waiting
 *   double tap           NEXT  UNDO_AGAIN                   2nd press < 300 ms after 1st release
 *   triple tap           NEXT  UNDO_AGAIN  NEXT
 *   double, double       NEXT  UNDO_AGAIN  NEXT  UNDO_BACK  2nd double < 1 s after the 1st;
 *                                                           a third double: NEXT UNDO_BACK again
 *   hold                 NEXT  UNDO_PAUSE                   at 500 ms; the release means nothing
 *   hold, then tap       NEXT  UNDO_PAUSE  NEXT             that NEXT resumes: it never is the
 *                                                           second half of a double tap
 *   tap, then hold       NEXT  UNDO_AGAIN  PAUSE            PAUSE pauses: UNDO_AGAIN just spoke
 * OTHER ROLES: one gesture at the leading edge of each press, nothing else.
 *
 * CONTACTS. Key repeat is ignored. A press after quiet acts at once; edges within the debounce time
 * of an edge are bounce, so that a release counts when the contact has been up that long. A contact
 * down too long is reported STUCK, too many edges or presses in a second CHATTER; both are reported
 * once, and FREED when it works again. While it chatters it is not listened to.
 *
 * Sources of the times: libinput's button debouncing ignores bounce for 25 ms; Android's
 * ViewConfiguration has 500 ms for a long press and 300 ms for a double tap, measured like here
 * from the release to the next press. The others are our choice.
 */

enum gesture_role {
	GESTURE_ROLE_STEP, /* one pedal for everything */
	GESTURE_ROLE_NEXT,
	GESTURE_ROLE_AGAIN,
	GESTURE_ROLE_BACK,
	GESTURE_ROLE_PAUSE,
};

enum gesture_kind {
	GESTURE_NEXT,
	GESTURE_AGAIN,
	GESTURE_BACK,
	GESTURE_PAUSE,
	GESTURE_WHERE,
	GESTURE_STOP,
	GESTURE_UNDO_AGAIN,
	GESTURE_UNDO_BACK,
	GESTURE_UNDO_PAUSE,
	/* The state of a contact, not an intention; these never come between an UNDO and its NEXT.
	 */
	GESTURE_STUCK,
	GESTURE_FREED,
	GESTURE_CHATTER,
};

struct gesture {
	enum gesture_kind kind;
	int steps;       /* gestures that an UNDO takes back; else 0 */
	int key;         /* which key it came from */
	int64_t time_us; /* the edge that made it, or the moment a time ran out */
};

struct gesture_times {
	int64_t debounce_us;   /*    25 ms: edges this soon after an edge are bounce */
	int64_t double_tap_us; /*   300 ms: from a release to the second press */
	int64_t hold_us;       /*   500 ms: from a press to a hold */
	int64_t chain_us;      /* 1,000 ms: from a double tap to the next one, to go further back */
	int64_t stuck_us;      /*    10 s:  down this long is a stuck contact */
};

extern const struct gesture_times gesture_default_times;

/* NULL, or what is wrong with the times (static text): each positive and at most a minute,
 * debounce < double tap, hold < stuck. */
const char *gesture_times_fault(const struct gesture_times *times);

enum gesture_edge {
	GESTURE_EDGE_UP = 0, /* these three are the values of a Linux EV_KEY event */
	GESTURE_EDGE_DOWN = 1,
	GESTURE_EDGE_REPEAT = 2,
	GESTURE_EDGE_FOUND_DOWN = 3, /* was already down when the device was opened: no press */
};

/* The recogniser of one pedal with its keys. Opaque; the caller frees it. `emit` must not call
 * back into the recogniser. */
struct gestures;
typedef void gesture_sink(void *owner, const struct gesture *gesture);

struct gestures *gestures_new(const struct gesture_times *times, gesture_sink *emit, void *owner);
void gestures_free(struct gestures *gestures);

enum { GESTURE_KEYS_MAX = 32 };

/* Adds a key and returns its number (0, 1, ...), or -1 when there are GESTURE_KEYS_MAX. */
int gestures_add_key(struct gestures *gestures, enum gesture_role role);

/* An edge of a key. First everything that ran out before time_us is given. */
void gestures_edge(struct gestures *gestures, int number, enum gesture_edge edge, int64_t time_us);

/* Nothing happened until now_us: gives what ran out. Call it at gestures_deadline_us at the latest,
 * and only after all edges before now_us are in, or a short press looks like a hold. */
void gestures_tick(struct gestures *gestures, int64_t now_us);

/* INT64_MAX when nothing is awaited. */
int64_t gestures_deadline_us(const struct gestures *gestures);

/* The pedal is gone: all keys are up, nothing half done is left, nothing is taken back. Gives FREED
 * for contacts that were in trouble. */
void gestures_release(struct gestures *gestures, int64_t now_us);

/* Something else moved the place (another pedal, a command): what was given before stays given.
 * Later edges give no UNDO for it. */
void gestures_forget(struct gestures *gestures);

/* True when no UNDO can follow any more without another NEXT before it. */
bool gestures_settled(const struct gestures *gestures);

const char *gesture_name(enum gesture_kind kind);      /* "next", "undo-again", ... */
const char *gesture_role_name(enum gesture_role role); /* as in a bench file: "step", ... */

/* The names of the roles in order, ended by NULL: for readers of bench files. */
extern const char *const gesture_role_names[];

enum pedal_grab {
	PEDAL_GRAB_SAFE, /* grab it unless it looks like a keyboard or a pointer */
	PEDAL_GRAB_YES,
	PEDAL_GRAB_NO,
};

struct pedal_key {
	unsigned code; /* as in linux/input-event-codes.h */
	enum gesture_role role;
};

/* One pedal as a bench file describes it. Fields that are NULL or PEDAL_ANY match everything; the
 * caller keeps the memory alive while the pedals are open. */
enum { PEDAL_ANY = -1 };
struct pedal_entry {
	int vendor; /* USB ids, 0 to 0xffff */
	int product;
	const char *name;   /* the whole name the device gives itself */
	const char *serial; /* for the models that have one */
	const char
		*port; /* where it is plugged in ("usb-0000:00:14.0-2"): tells equal pedals apart */
	const struct pedal_key *keys;
	size_t key_count; /* at most GESTURE_KEYS_MAX; 0: chosen as without a bench file */
	struct gesture_times times;
	enum pedal_grab grab;
};

/* Where the key source reads. */
enum pedal_keys {
	PEDAL_KEYS_NONE,
	PEDAL_KEYS_TERMINAL, /* put into a mode without echo or lines; pedals_close restores it */
	PEDAL_KEYS_PLAIN,    /* a pipe or a file: bytes as they come, no key repeat */
	PEDAL_KEYS_AUTO,     /* terminal or plain, whichever the descriptor is */
};

struct pedal_config {
	const struct pedal_entry *entries;
	size_t entry_count; /* 0: every device that looks like a pedal, keys chosen by their number
			     */
	bool devices;       /* look for pedals at all */
	struct gesture_times times; /* for pedals that no entry names */
	enum pedal_keys keys;
	int keys_fd;           /* stays the caller's */
	const char *input_dir; /* NULL: /dev/input */
	const char *sysfs_dir; /* NULL: /sys */
};

enum pedal_event_kind {
	PEDAL_GESTURE,
	PEDAL_FOUND,      /* a pedal is there and read (`name`); after BUSY: it is ours now */
	PEDAL_GONE,       /* unplugged; its keys count as released */
	PEDAL_BACK_AGAIN, /* plugged in again */
	PEDAL_BUSY,       /* somebody else has grabbed it: it gives nothing until they let go */
	PEDAL_DENIED,     /* we may not open it: `text` says what to do */
	PEDAL_STUCK,      /* a contact is down and stays down */
	PEDAL_CHATTER,    /* a contact makes and breaks without end: not listened to */
	PEDAL_FREED,      /* stuck or chattering no longer */
	PEDAL_NOTE,       /* anything else worth a line in the log */
	PEDAL_KEYS_ENDED, /* the key source came to its end (end of file, terminal hung up) */
};

struct pedal_event {
	enum pedal_event_kind kind;
	struct gesture gesture; /* PEDAL_GESTURE; its key is -1 for terminal keys */
	const char *name;       /* of the pedal, or "keys" */
	const char *text;       /* one line for people, without a full stop; "" for a gesture */
	int64_t time_us;        /* CLOCK_MONOTONIC: of the kernel's event where there is one */
};

/* Must not call any function of this header but pedals_forget. Strings live until it returns. */
typedef void pedal_sink(void *owner, const struct pedal_event *event);

struct pedals;

/* NULL when the key source cannot be used; *why then says why, and the caller frees it. No pedal
 * plugged in is not an error. Pedals already there are reported by the first dispatch, which is
 * due at once (pedals_deadline_us). */
struct pedals *pedals_open(const struct pedal_config *config, pedal_sink *emit, void *owner,
			   char **why);
void pedals_close(struct pedals *pedals); /* NULL is fine; lets go of everything */

int pedals_fd(const struct pedals *pedals);
int64_t pedals_deadline_us(const struct pedals *pedals); /* INT64_MAX: none */
void pedals_dispatch(struct pedals *pedals);

/* Something else moved the place (a command): no UNDO will follow for gestures given before. */
void pedals_forget(struct pedals *pedals);

/* True when no UNDO can follow any more without another gesture before it: a job whose last call
 * was answered is over for good. Until then pedals_deadline_us is no later than that moment. */
bool pedals_settled(const struct pedals *pedals);

size_t pedals_present(const struct pedals *pedals); /* pedals plugged in and readable now */

/* Puts the terminal back as it was found. Async-signal-safe, and fit for atexit(); does nothing
 * when there is nothing to restore. */
void pedals_restore_terminal(void);

/* For a program that was stopped and goes on: reads keys from its terminal again as before. Does
 * nothing when no terminal is read, or in the background. */
void pedals_retake_terminal(void);

/* ---- the pedals plugged in ---- */

enum pedal_look {
	PEDAL_LOOKS_PEDAL, /* taken without a bench file */
	PEDAL_LOOKS_KEYBOARD,
	PEDAL_LOOKS_POINTER, /* mouse, touchpad, tablet, touch screen */
	PEDAL_LOOKS_GAMEPAD,
	PEDAL_LOOKS_OTHER, /* power button, lid, headset, remote control ... */
};

struct pedal_info {
	char *name;
	int vendor;
	int product;
	char *serial; /* NULL: none */
	char *port;   /* NULL: unknown */
	char **nodes; /* /dev/input/event5 ...; ended by NULL */
	enum pedal_look look;
	struct pedal_key keys[GESTURE_KEYS_MAX]; /* roles as they would be without a bench file */
	size_t key_count;                        /* in keys */
	size_t keys_total;                       /* that the device says it has */
	char *trouble; /* what is in the way and what to do about it; NULL: nothing */
};

/* All input devices with keys, pedals first; the caller frees the list. The directories may be
 * NULL, as in the configuration. */
struct pedal_info *pedal_list(const char *input_dir, const char *sysfs_dir, size_t *count);
void pedal_list_free(struct pedal_info *list, size_t count);

/* Waits until a key is pressed on any input device that may be opened (devices plugged in meanwhile
 * too), for at most timeout_ms (-1: for ever). Grabs nothing and refuses nothing; keys that are
 * down at the start count only when pressed again. */
enum pedal_learn_result {
	PEDAL_LEARNED, /* *info is the device, *code the key; free with pedal_list_free(info, 1) */
	PEDAL_LEARN_TIMEOUT,
	PEDAL_LEARN_NOTHING, /* *why says why no device could be read */
};
enum pedal_learn_result pedal_learn(const char *input_dir, const char *sysfs_dir, int timeout_ms,
				    struct pedal_info **info, unsigned *code, char **why);

/* ---- names of keys ---- */

/* The code for "F14", "KEY_F14", "f14", "BTN_LEFT", "BTN_0", or a number such as "184" or "0x100";
 * -1 if there is no such key. */
int pedal_key_code(const char *name);

/* "F14", "BTN_LEFT" for a code, "0x2ff" for one without a name. Static storage. */
const char *pedal_key_name(unsigned code);

const char *pedal_event_name(enum pedal_event_kind kind); /* "found", "gone", ... */

#endif
