/* Shared by the files of this room only. */
#ifndef PEDAL_INTERNAL_H
#define PEDAL_INTERNAL_H

#include "pedal/pedal.h"

#include <libevdev/libevdev.h>
#include <linux/input.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* One contact of a pedal: from raw edges to presses and releases that can be trusted. Pure; used by
 * gesture.c, which says what presses mean. The table of cases is at the top of contact.c. */

enum contact_state {
	CONTACT_UP,         /* up and quiet: the next edge is a press, at once */
	CONTACT_DOWN,       /* down and quiet */
	CONTACT_SETTLING,   /* counts as down; an edge is less than the debounce time old */
	CONTACT_CHATTERING, /* not listened to until it has been quiet for a while */
};

/* What a step of the contact brought about: none, one or several. */
enum contact_news {
	CONTACT_PRESSED = 1,
	CONTACT_RELEASED = 2,
	CONTACT_BECAME_STUCK = 4,
	CONTACT_BECAME_FREE = 8,
	CONTACT_BECAME_CHATTERING = 16,
};

/* More than this within a second is chatter, not a foot. */
enum { CONTACT_EDGES_MAX = 40, CONTACT_PRESSES_MAX = 10 };

struct contact {
	enum contact_state state;
	bool closed; /* as the last raw edge left it */
	bool stuck;  /* has been reported */
	int64_t down_since_us;
	int64_t edge_us;                     /* the last raw edge */
	int64_t timeout_us;                  /* INT64_MAX: none */
	int64_t edges_us[CONTACT_EDGES_MAX]; /* the last ones, in a ring */
	int64_t presses_us[CONTACT_PRESSES_MAX];
	int edge_next;
	int press_next;
};

void contact_init(struct contact *contact);

/* Both return a set of enum contact_news. contact_timeout is for a contact whose timeout_us has
 * come. */
unsigned contact_edge(struct contact *contact, const struct gesture_times *times,
		      enum gesture_edge edge, int64_t time_us);
unsigned contact_timeout(struct contact *contact, const struct gesture_times *times);

/* Tells when input devices come, go or change their permissions.
 *
 * inotify on the folder of the event nodes, not the udev monitor: it works where no udev runs, and
 * the attribute change it reports is the very thing waited for, the moment when a node that
 * appeared unreadable has been given to the person at the bench. The folder itself comes with the
 * first device and goes with the last.
 */

struct hotplug {
	int fd;     /* readable when something may have changed; -1: cannot watch */
	int folder; /* watch of the folder; -1 while there is none */
	int parent; /* watch of the folder above, while there is no folder; else -1 */
	const char *input_dir;
};

/* False when nothing can be watched (errno says why); *hotplug is then usable and silent. */
bool hotplug_open(struct hotplug *hotplug, const char *input_dir);
void hotplug_close(struct hotplug *hotplug);

/* Reads what is waiting; true when it is time to look at the folder. */
bool hotplug_read(struct hotplug *hotplug);

/* The input devices that are plugged in, as sysfs describes them: no device is opened, so that a
 * missing permission can be told from a missing pedal, and nobody's keyboard is touched.
 *
 * A device is what a person can hold: all event nodes at one port with the same ids and serial
 * number. Names that devices give themselves come from outside: what is not printable ASCII is '?'.
 */

struct event_node {
	char *path; /* /dev/input/event5 */
	char *name;
	uint64_t types;
	uint64_t keys[KEY_CNT / 64];
	uint64_t relatives;
	uint64_t absolutes;
};

struct input_device {
	char *name; /* the shortest of its nodes' names */
	char *port; /* "usb-0000:00:14.0-2"; NULL: unknown */
	char *serial;
	int bus;
	int vendor;
	int product;
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

bool node_has_key(const struct event_node *node, unsigned code);
bool device_has_key(const struct input_device *device, unsigned code);

/* A device as the list shows it (pedal.h). */

/* Owns what it points to: pedal_list_free. */
struct pedal_info info_of(const struct input_device *device);

/* One byte at a time, from what a terminal sends to keys that mean something. Never reads ahead,
 * keeps a fixed state, and comes back from any garbage at the next escape or the next plain key. */

enum key_parser_state {
	KEY_PARSER_GROUND,
	KEY_PARSER_ESCAPE,  /* after ESC */
	KEY_PARSER_CONTROL, /* after ESC [ : parameters, then one final byte */
	KEY_PARSER_SINGLE,  /* after ESC O : one final byte, perhaps with digits before it */
	KEY_PARSER_CONSOLE, /* after ESC [ [ : the Linux console's function keys, one more byte */
};

struct key_parser {
	enum key_parser_state state;
	int parameter; /* the first one of a control sequence */
	bool parameter_done;
	bool pasting;
};

/* True when the byte completes a key that means something; *kind is what. */
bool key_parser_feed(struct key_parser *parser, unsigned char byte, enum gesture_kind *kind);

/* From the bytes of a terminal, or of a pipe, to gestures. Pure: bytes and times in, gestures out.
 *
 *	space Enter n Right	next		p	pause
 *	a r Up			again		w ?	where
 *	b Backspace Left	back		q Ctrl-C Ctrl-D	stop
 *
 * Capitals count as well (a caps-lock key may be on), everything else is ignored, and so is text
 * pasted between the brackets that a terminal puts round it when asked. Sequences may come in
 * pieces.
 *
 * A terminal sends a held key as the same byte again and again. The first byte of such a run acts
 * at once, as any press does; when more follow faster than REPEAT_GAP_US, the run is a held key:
 * what it moved is taken back and the job pauses (GESTURE_UNDO_PAUSE). The first repeat comes only
 * after the keyboard's delay and looks like a second press, so up to two gestures are taken back. A
 * quick second press with nothing after it is given when that is certain, REPEAT_GAP_US late. A key
 * held in a terminal set to repeat slower than that cannot be told from presses.
 *
 * In a pipe or a file nothing repeats by itself: bytes are taken as they come, and a line end
 * counts as Enter only when its line held nothing else, so that `echo n` is one press.
 */

struct keys;

struct keys *keys_new(bool typed, gesture_sink *emit, void *owner);
void keys_free(struct keys *keys);

void keys_bytes(struct keys *keys, const char *bytes, size_t count, int64_t time_us);
void keys_tick(struct keys *keys, int64_t now_us);
int64_t keys_deadline_us(const struct keys *keys);

/* As the functions of gesture.h with these names. */
void keys_forget(struct keys *keys);
bool keys_settled(const struct keys *keys);

/* What a device looks like from its keys and its name, and what its keys would do as a pedal. */

enum pedal_look look_at(const struct input_device *device);

/* What it would look like without the hint in its name: decides whether it may be grabbed unasked.
 */
enum pedal_look look_at_keys(const struct input_device *device);

/* The keys it says it has, in the order of their codes, at most max; returns how many there are. */
size_t device_keys(const struct input_device *device, unsigned *codes, size_t max);

/* The roles without a bench file: one key does everything, two to four are next, again, back,
 * pause. With more, which ones have a pedal on them cannot be known: *any is set, each key that is
 * pressed does everything. Returns the number of keys in `keys`. */
size_t default_keys(const struct input_device *device, struct pedal_key keys[GESTURE_KEYS_MAX],
		    bool *any);

bool entry_matches(const struct pedal_entry *entry, const struct input_device *device);

/* One event node, open: key edges in, with the best time there is for each. */

struct node {
	char *path;
	struct libevdev *evdev;
	int fd;
	bool kernel_time; /* events are stamped with CLOCK_MONOTONIC */
	bool grabbed;
};

/* NULL when it cannot be opened; *error is the errno. */
struct node *node_open(const char *path, int *error);
void node_close(struct node *node);

typedef void node_sink(void *owner, unsigned code, enum gesture_edge edge, int64_t time_us);

enum node_state {
	NODE_DRAINED,
	NODE_MORE, /* a bound was reached; there may be more to read */
	NODE_GONE,
};

/* Gives all key events that are waiting. *dropped is set when the kernel had to drop some; what
 * changed meanwhile is then given from the state of the keys. */
enum node_state node_read(struct node *node, node_sink *give, void *owner, int64_t now_us,
			  bool *dropped);

/* Gives the keys that are down, as far as was read, as found down. */
void node_found_down(const struct node *node, node_sink *give, void *owner, int64_t now_us);

bool node_has_key_down(const struct node *node);

/* 0, EAGAIN when a key is down just now, EBUSY when somebody else has it, or another errno. */
int node_grab(struct node *node);
void node_let_go(struct node *node);

/* Where the sources inside this room put their events: the caller's callback, and a word to the
 * other sources that the place has moved. */

struct outlet {
	pedal_sink *emit;
	void *owner;
	/* Called before each gesture: every source but this one forgets what it could take back. */
	void (*moving)(struct pedals *pedals, const void *source);
	struct pedals *pedals;
};

void outlet_gesture(const struct outlet *outlet, const void *source, const char *name,
		    const struct gesture *gesture);
void outlet_say(const struct outlet *outlet, enum pedal_event_kind kind, const char *name,
		int64_t time_us, const char *format, ...) __attribute__((format(printf, 5, 6)));

/* A message that may come again and again is let through once in REPEAT_US. */
#define REPEAT_US (30 * (int64_t)1000000)
struct repeat_limit {
	bool used;
	int64_t last_us;
};
bool repeat_allowed(struct repeat_limit *limit, int64_t now_us);

/* The terminal's mode while its keys are read: no echo, no lines, no flow control; Ctrl-C is a key,
 * Ctrl-\ still ends a program that hangs. At most one terminal at a time; pedals_restore_terminal
 * (pedal.h) is the emergency exit. */

/* False when fd is no terminal or not ours to read; *why is static text. */
bool terminal_enter(int fd, const char **why);
void terminal_leave(void);

/* One pedal as a person knows it: it stays the same through being unplugged, and holds the
 * recogniser of its gestures, the event nodes that are open now and whether they are grabbed. */

enum pedal_device_state {
	UNIT_NEW,     /* not opened yet */
	UNIT_DENIED,  /* there, but none of its nodes may be opened */
	UNIT_PRESENT, /* read */
	UNIT_GONE,
};

enum { UNIT_NODES_MAX = 16 };

struct pedal_device {
	const struct outlet *outlet;
	enum pedal_device_state state;
	char *name;
	char *port; /* where it was last */
	char *serial;
	int vendor;
	int product;

	const struct pedal_entry *entry; /* NULL: chosen by its looks */
	struct gestures *gestures;
	unsigned codes[GESTURE_KEYS_MAX]; /* by the recogniser's key number */
	int code_count;
	bool any_key;                /* a key not in codes is added when it is pressed */
	bool said[GESTURE_KEYS_MAX]; /* trouble with the contact was reported */
	struct repeat_limit trouble[GESTURE_KEYS_MAX];

	struct node *nodes[UNIT_NODES_MAX];
	int node_count;
	bool want_grab;
	bool busy;         /* somebody else has it, and that was reported */
	int64_t grab_us;   /* when to try again; INT64_MAX: not */
	int64_t denied_us; /* since when it has been there and closed to us */
	bool denied_said;
	bool seen_before; /* has been present: the next time it is back again */
	struct repeat_limit dropped;
	struct repeat_limit clock;
};

struct pedal_device *pedal_device_new(const struct outlet *outlet,
				      const struct input_device *device,
				      const struct pedal_entry *entry,
				      const struct gesture_times *times);
void pedal_device_free(struct pedal_device *unit);

/* The very device at the very port; or one with the same ids and serial number anywhere. */
bool pedal_device_is(const struct pedal_device *unit, const struct input_device *device);
bool pedal_device_could_be(const struct pedal_device *unit, const struct input_device *device);

/* Opens those nodes of the device that are not open, reports what comes of it. */
void pedal_device_attach(struct pedal_device *unit, const struct input_device *device,
			 int64_t now_us);

/* Closes everything and reports it gone, if it was there. */
void pedal_device_lose(struct pedal_device *unit, int64_t now_us);

/* Reads one node. False when there may be more to read at once. A node that is gone takes the unit
 * with it: its nodes are closed then. */
bool pedal_device_read(struct pedal_device *unit, struct node *node, bool hung_up, int64_t now_us);

void pedal_device_tick(struct pedal_device *unit, int64_t now_us);
int64_t pedal_device_deadline_us(const struct pedal_device *unit);

#endif
