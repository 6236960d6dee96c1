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
#ifndef PEDAL_GESTURE_H
#define PEDAL_GESTURE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

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

#endif
