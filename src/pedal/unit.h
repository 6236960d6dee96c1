/* One pedal as a person knows it: it stays the same through being unplugged, and holds the
 * recogniser of its gestures, the event nodes that are open now and whether they are grabbed. */
#ifndef PEDAL_UNIT_H
#define PEDAL_UNIT_H

#include "pedal/inventory.h"
#include "pedal/node.h"
#include "pedal/outlet.h"

enum unit_state {
	UNIT_NEW,     /* not opened yet */
	UNIT_DENIED,  /* there, but none of its nodes may be opened */
	UNIT_PRESENT, /* read */
	UNIT_GONE,
};

enum { UNIT_NODES_MAX = 16 };

struct unit {
	const struct outlet *outlet;
	enum unit_state state;
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

struct unit *unit_new(const struct outlet *outlet, const struct input_device *device,
		      const struct pedal_entry *entry, const struct gesture_times *times);
void unit_free(struct unit *unit);

/* The very device at the very port; or one with the same ids and serial number anywhere. */
bool unit_is(const struct unit *unit, const struct input_device *device);
bool unit_could_be(const struct unit *unit, const struct input_device *device);

/* Opens those nodes of the device that are not open, reports what comes of it. */
void unit_attach(struct unit *unit, const struct input_device *device, int64_t now_us);

/* Closes everything and reports it gone, if it was there. */
void unit_lose(struct unit *unit, int64_t now_us);

/* Reads one node. False when there may be more to read at once. A node that is gone takes the unit
 * with it: its nodes are closed then. */
bool unit_read(struct unit *unit, struct node *node, bool hung_up, int64_t now_us);

void unit_tick(struct unit *unit, int64_t now_us);
int64_t unit_deadline_us(const struct unit *unit);

#endif
