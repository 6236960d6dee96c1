/* What a device looks like from its keys and its name, and what its keys would do as a pedal. */
#ifndef PEDAL_LOOK_H
#define PEDAL_LOOK_H

#include "pedal/inventory.h"
#include "pedal/pedal.h"

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

#endif
