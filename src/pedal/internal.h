/* Shared by the files of this room. */
#ifndef PEDAL_INTERNAL_H
#define PEDAL_INTERNAL_H

#include "base/base.h"
#include "pedal/pedal.h"

#include <libevdev/libevdev.h>
#include <linux/input.h>

/* Where the kernel's input devices are, unless a test says otherwise. */
#define INPUT_DIR "/dev/input"
#define SYSFS_DIR "/sys"

/* ---- keys.c: from what a terminal sends, and times, to gestures (pure) ----
 *
 *	space Enter n Right	next		p	pause		w	where
 *	a r Up			again		c	choices		?	why
 *	b Backspace Left	back		q Ctrl-C Ctrl-D	stop
 *
 * Capitals count too (caps lock may be on). Everything else is ignored, as is pasted text between
 * the brackets that a terminal puts round it when asked. Escape sequences may come in pieces.
 *
 * A terminal sends a held key as the same byte again and again. The first byte acts at once, as any
 * press does. When more follow faster than a hand can press, the key is held: what it moved is
 * taken back and the job pauses (UNDO_PAUSE). The first repeat comes only after the keyboard's
 * delay and looks like a second press, so up to two gestures are taken back. A single quick second
 * press is given once it is certain that it is one. A key held in a terminal whose repeat is slower
 * than that looks like presses.
 *
 * In a pipe or a file nothing repeats by itself: every byte counts as it comes, and a line end
 * counts as Enter only on an empty line, so that `echo n` is one press.
 */

struct keys;

struct keys *keys_new(bool is_terminal, gesture_sink *emit, void *owner);
void keys_free(struct keys *keys);

void keys_bytes(struct keys *keys, const char *bytes, size_t count, int64_t time_us);

/* As the functions of struct gestures with these names. */
void keys_tick(struct keys *keys, int64_t now_us);
int64_t keys_deadline_us(const struct keys *keys);
void keys_forget(struct keys *keys);
bool keys_settled(const struct keys *keys);

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
	char *name; /* the shortest of its nodes' names */
	char *port; /* "usb-0000:00:14.0-2"; NULL: unknown */
	char *serial;
	int bus;
	int vendor;
	int product;
	/* What its nodes together say they have: bits by the numbers of input-event-codes.h. */
	uint64_t types;
	uint64_t keys[KEY_CNT / 64];
	uint64_t relatives;
	uint64_t absolutes;
	struct event_node *nodes;
	size_t node_count;
};

struct inventory {
	struct input_device *devices; /* in the order of their first event number */
	size_t count;
};

struct inventory inventory_take(const char *input_dir, const char *sysfs_dir);
void inventory_free(struct inventory *inventory);

/* Equal texts; NULL is equal to NULL only. */
bool same_text(const char *a, const char *b);

bool device_has_key(const struct input_device *device, unsigned code);

/* The keys it says it has, in the order of their codes, at most max; returns how many there are. */
size_t device_keys(const struct input_device *device, unsigned *codes, size_t max);

/* ---- classify.c: what a device is, by its keys and its name ---- */

enum pedal_class classify(const struct input_device *device);

/* The roles without a bench file: one key does everything, two to ROLES_BY_ORDER are next, again,
 * back, pause. With more, nobody knows which ones have a pedal on them: each key that is pressed
 * does everything. Returns the number of keys in `keys`. */
enum { ROLES_BY_ORDER = 4 };
size_t default_keys(const struct input_device *device, struct pedal_key keys[GESTURE_KEYS_MAX]);

bool entry_matches(const struct pedal_entry *entry, const struct input_device *device);

/* ---- node.c: one open event node ---- */

struct node {
	char *path;
	struct libevdev *evdev;
	int fd;
	bool kernel_time; /* events are stamped with CLOCK_MONOTONIC, else with their arrival */
	bool grabbed;
};

/* 0, or the errno with which it cannot be opened. */
int node_open(struct node *node, const char *path);
void node_close(struct node *node);

typedef void node_sink(void *owner, unsigned code, enum gesture_edge edge, int64_t time_us);

enum node_state {
	NODE_DRAINED,
	NODE_MORE, /* it sends faster than it is read */
	NODE_GONE,
};

/* Gives the key events that are waiting. If the kernel had to drop some, *dropped is set, and what
 * changed meanwhile is given from the state of the keys. */
enum node_state node_read(struct node *node, node_sink *give, void *owner, int64_t now_us,
			  bool *dropped);

/* Gives each key that is down as GESTURE_EDGE_FOUND_DOWN. */
void node_found_down(const struct node *node, node_sink *give, void *owner, int64_t now_us);

bool node_has_key_down(const struct node *node);

/* 0, EAGAIN when a key is down just now, EBUSY when another program has it, or another errno. */
int node_grab(struct node *node);

/* ---- sink.c: where the events of a source go ---- */

struct pedal_device;

struct event_sink {
	pedal_sink *emit;
	void *owner;
	struct source *source;
	/* Called before a pedal's gesture: its other pedals forget what they could take back. */
	void (*before_gesture)(struct source *source, const struct pedal_device *device);
};

/* Fills in the source, and an empty text if there is none. */
void sink_give(const struct event_sink *sink, struct pedal_event event);

/* Gives an event with a text that begins with the name. */
void sink_say(const struct event_sink *sink, enum pedal_event_kind kind, const char *name,
	      int64_t time_us, const char *format, ...) __attribute__((format(printf, 5, 6)));

/* False for half a minute after it was true. *next_us begins as 0. */
bool may_say_again(int64_t *next_us, int64_t now_us);

/* ---- device.c: one pedal, which stays the same through being unplugged ---- */

enum pedal_device_state {
	DEVICE_NEW,     /* not opened yet */
	DEVICE_DENIED,  /* there, but none of its nodes may be opened */
	DEVICE_PRESENT, /* read */
	DEVICE_GONE,
};

enum { DEVICE_NODES_MAX = 16 };

struct pedal_device {
	const struct event_sink *sink;
	enum pedal_device_state state;
	char *name;
	char *port; /* where it was last */
	char *serial;
	int vendor;
	int product;

	const struct pedal_entry *entry; /* NULL: chosen by its class */
	struct gestures *gestures;
	unsigned codes[GESTURE_KEYS_MAX]; /* by the recogniser's key number */
	int code_count;
	bool any_key;                /* a key not in codes is added when it is pressed */
	bool said[GESTURE_KEYS_MAX]; /* trouble with the contact was reported */

	struct node nodes[DEVICE_NODES_MAX];
	int node_count;
	bool want_grab;
	bool busy;         /* another program has it, and that was reported */
	bool announced;    /* FOUND or BACK was reported, and no GONE or BUSY since */
	bool seen_before;  /* the next time it is BACK */
	int64_t grab_us;   /* when to try again; INT64_MAX: not */
	int64_t denied_us; /* DENIED: when to report it; INT64_MAX: it was */

	/* see may_say_again */
	int64_t say_trouble_us[GESTURE_KEYS_MAX];
	int64_t say_dropped_us;
	int64_t say_clock_us;
};

struct pedal_device *pedal_device_new(const struct event_sink *sink,
				      const struct input_device *input,
				      const struct pedal_entry *entry,
				      const struct gesture_times *times);
void pedal_device_free(struct pedal_device *device);

/* The very device at the very port; or one with the same ids and serial number anywhere. */
bool pedal_device_is(const struct pedal_device *device, const struct input_device *input);
bool pedal_device_could_be(const struct pedal_device *device, const struct input_device *input);

/* Opens those nodes that are not open yet, and reports what comes of it. */
void pedal_device_attach(struct pedal_device *device, const struct input_device *input,
			 int64_t now_us);

/* Closes everything, and reports it gone if it was announced. */
void pedal_device_lose(struct pedal_device *device, int64_t now_us);

/* Reads one node. False if there may be more to read. If the node is gone, so is the device. */
bool pedal_device_read(struct pedal_device *device, struct node *node, bool hung_up,
		       int64_t now_us);

void pedal_device_tick(struct pedal_device *device, int64_t now_us);
int64_t pedal_device_deadline_us(const struct pedal_device *device);

#endif
