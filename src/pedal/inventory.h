/* The input devices that are plugged in, as sysfs describes them: no device is opened, so that a
 * missing permission can be told from a missing pedal, and nobody's keyboard is touched.
 *
 * A device is what a person can hold: all event nodes at one port with the same ids and serial
 * number. Names that devices give themselves come from outside: what is not printable ASCII is '?'.
 */
#ifndef PEDAL_INVENTORY_H
#define PEDAL_INVENTORY_H

#include <linux/input.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

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

#endif
