/* Shared by the files of this room. Each calls only files further on in this row: learn, presses,
 * pedal, inventory, terminal, gesture. */
#ifndef PEDAL_INTERNAL_H
#define PEDAL_INTERNAL_H

#include "base/base.h"
#include "pedal/pedal.h"

#include <linux/input.h>

/* ---- gesture.c: the recogniser of one pedal with its keys (pure) ---- */

enum gesture_edge {
	GESTURE_EDGE_UP = 0, /* these three are the values of a Linux EV_KEY event */
	GESTURE_EDGE_DOWN = 1,
	GESTURE_EDGE_REPEAT = 2,
	GESTURE_EDGE_FOUND_DOWN = 3, /* was already down when the device was opened: no press */
};

struct gestures;

/* Freed with free(). `emit` must not call back into it. A time earlier than one that was given
 * before counts as that. */
struct gestures *gestures_new(const struct gesture_times *times, pedal_sink *emit, void *owner);

/* Adds a key, unless it is known or there are GESTURE_KEYS_MAX already. */
void gestures_add_key(struct gestures *gestures, unsigned code, enum gesture_role role);

/* An edge of a key; other keys mean nothing. Whatever ran out before time_us is given first. */
void gestures_edge(struct gestures *gestures, unsigned code, enum gesture_edge edge,
		   int64_t time_us);

/* Gives what ran out until now_us. Call it at gestures_deadline_us at the latest, and only after
 * all edges before now_us, or a short press looks like a hold. */
void gestures_tick(struct gestures *gestures, int64_t now_us);
int64_t gestures_deadline_us(const struct gestures *gestures); /* INT64_MAX: none */

/* The pedal is unplugged: all keys are up, half a gesture is dropped, nothing is taken back. Gives
 * FREED for contacts that were in trouble. */
void gestures_release(struct gestures *gestures, int64_t now_us);

/* As presses_forget and presses_settled. */
void gestures_forget(struct gestures *gestures);
bool gestures_settled(const struct gestures *gestures);

/* ---- terminal.c: from what a terminal sends, and times, to gestures (pure) ----
 *
 *	space Enter n Right	next		p	pause		w	where
 *	a r Up			again		c	choices		?	why
 *	b Backspace Left	back		q Ctrl-C Ctrl-D	stop
 *
 * Capitals count too (caps lock may be on). Everything else is ignored. Escape sequences may come
 * in pieces.
 *
 * A terminal sends a held key as the same byte again and again. The first byte acts at once, as any
 * press does. When more follow faster than a hand can press, the key is held: what it moved is
 * taken back and the job pauses (UNDO_PAUSE). The first repeat comes only after the keyboard's
 * delay and looks like a second press, so up to two gestures are taken back. A single quick second
 * press is given once it is certain that it is one. A key held in a terminal whose repeat is slower
 * than that looks like presses.
 *
 * In a pipe or a file nothing repeats by itself: every byte counts as it comes, but for line ends:
 * `echo n` is one press.
 */

struct keys;

struct keys *keys_new(bool is_terminal, pedal_sink *emit, void *owner);
void keys_bytes(struct keys *keys, const char *bytes, size_t count, int64_t time_us);

/* As the functions of struct gestures with these names. */
void keys_tick(struct keys *keys, int64_t now_us);
int64_t keys_deadline_us(const struct keys *keys);
void keys_forget(struct keys *keys);
bool keys_settled(const struct keys *keys);

/* Of what fd is; a terminal is in our mode until keys_close. NULL if the program runs in the
 * background of its terminal. */
struct keys *keys_open(int fd, pedal_sink *emit, void *owner);

/* Reads once, without blocking: what is left makes the descriptor ready again. False at the end. */
bool keys_read(struct keys *keys, int fd, int64_t now_us);
void keys_close(struct keys *keys);

/* ---- inventory.c: the input devices that are plugged in, as sysfs describes them ----
 *
 * No device is opened: a missing permission can be told from a missing pedal, and nobody's keyboard
 * is touched. A device is what a person can hold: all event nodes at one port with the same ids and
 * serial number. In names, which come from the device, everything but printable ASCII becomes '?'.
 */

struct event_node {
	char *path; /* /dev/input/event5 */
	char *name;
};

struct input_device {
	struct pedal_info info; /* the name: the shortest of its nodes' names */
	int bus;
	/* What its nodes together say they have: bits by the numbers of input-event-codes.h. */
	uint64_t types;
	uint64_t keys[KEY_CNT / 64];
	uint64_t relatives;
	uint64_t absolutes;
	struct event_node *nodes;
	size_t node_count;
};

/* In the order of their first event number. root: as in struct pedal_config. */
struct input_device *inventory_take(const char *root, size_t *count);
void inventory_free(struct input_device *devices, size_t count);
void info_free(struct pedal_info *info);

/* From the bits and the nodes' names: what the device is, and the roles of its keys without a bench
 * file. One key does everything, two to ROLES_BY_ORDER are next, again, back, pause. With more,
 * nobody knows which ones have a pedal on them: each key that is pressed does everything. */
enum { ROLES_BY_ORDER = 4 };
void describe(struct input_device *device);

/* Whether the entry of a bench file is about that device. */
bool entry_matches(const struct pedal_entry *entry, const struct input_device *device);

/* Equal texts; NULL is equal to NULL only. */
bool same_text(const char *a, const char *b);

/* ---- pedal.c: one pedal, which stays the same through being unplugged ---- */

enum { NODES_MAX = 16 };

struct libevdev;

/* An event node that is read. */
struct node {
	struct pedal *pedal;
	char *path;
	struct libevdev *evdev;
	int fd;
	bool kernel_time; /* events are stamped with CLOCK_MONOTONIC, else with their arrival */
};

struct pedal {
	pedal_sink *emit;
	void *owner;
	struct pedal_info info;          /* as it was last */
	const struct pedal_entry *entry; /* NULL: chosen by its class */
	struct gestures *gestures;
	bool any_key;                  /* a key is added when it is pressed */
	bool said[KEY_CNT];            /* trouble with the contact was reported */
	int64_t say_again_us[KEY_CNT]; /* not before this time */

	struct node nodes[NODES_MAX]; /* those that are read; none: it is not there, or denied */
	int node_count;
	bool denied;       /* it is there, but none of its nodes may be opened */
	bool busy;         /* another program has it, and that was reported */
	bool announced;    /* FOUND or BACK was reported, and no GONE or BUSY since */
	bool seen_before;  /* the next time it is BACK */
	int64_t grab_us;   /* when to try again; INT64_MAX: not */
	int64_t denied_us; /* when to report DENIED; INT64_MAX: not */
};

/* `entry`, which has to outlive the pedal, or NULL: it was chosen by its class, has its keys from
 * `info`, and these times. */
struct pedal *pedal_new(const struct pedal_entry *entry, const struct gesture_times *times,
			const struct pedal_info *info, pedal_sink *emit, void *owner);
void pedal_free(struct pedal *pedal);

/* Whether it is plugged in, as far as is known. */
static inline bool pedal_is_there(const struct pedal *pedal)
{
	return pedal->node_count > 0 || pedal->denied;
}

/* Opens those nodes that are not open yet, has the epoll watch them with the node as its data, and
 * reports what comes of it. Swaps the descriptions, so that the pedal has the new one. */
void pedal_attach(struct pedal *pedal, struct input_device *input, int epoll, int64_t now_us);

/* Closes everything, and reports it gone if it was announced. */
void pedal_lose(struct pedal *pedal, int64_t now_us);

/* Reads what a node has. If the node is gone, its pedal is lost. */
enum node_state { NODE_MORE, NODE_DRAINED, NODE_GONE };
enum node_state node_read(const struct node *node, bool hung_up, int64_t now_us);

static inline int64_t sooner(int64_t a_us, int64_t b_us)
{
	return a_us < b_us ? a_us : b_us;
}

/* Does what is due; call it at the deadline (INT64_MAX: none). */
void pedal_tick(struct pedal *pedal, int64_t now_us);
int64_t pedal_deadline_us(const struct pedal *pedal);

#endif
