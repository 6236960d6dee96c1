#include "pedal/internal.h"

#include "base/base.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* udev gives a new node to the person at the bench within moments: a refusal is final after this.
 */
static const int64_t denied_grace_us = SECOND_US;

/* How often to try for a device that somebody else has grabbed. */
static const int64_t grab_retry_us = 5 * SECOND_US;

static bool is_trouble(enum gesture_kind kind)
{
	return kind == GESTURE_STUCK || kind == GESTURE_CHATTER || kind == GESTURE_FREED;
}

static void report_trouble(struct pedal_device *unit, const struct gesture *gesture)
{
	const char *key = pedal_key_name(unit->codes[gesture->key]);
	bool *said = &unit->said[gesture->key];

	if (gesture->kind == GESTURE_FREED) {
		if (*said)
			outlet_say(unit->outlet, PEDAL_FREED, unit->name, gesture->time_us,
				   "%s: contact %s works again", unit->name, key);
		*said = false;
		return;
	}
	if (*said || !repeat_allowed(&unit->trouble[gesture->key], gesture->time_us))
		return;
	*said = true;
	if (gesture->kind == GESTURE_STUCK)
		outlet_say(unit->outlet, PEDAL_STUCK, unit->name, gesture->time_us,
			   "%s: contact %s stays down; is something on the pedal?", unit->name,
			   key);
	else
		outlet_say(unit->outlet, PEDAL_CHATTER, unit->name, gesture->time_us,
			   "%s: contact %s makes and breaks by itself; it is ignored until it has "
			   "been quiet for a second",
			   unit->name, key);
}

static void on_gesture(void *owner, const struct gesture *gesture)
{
	struct pedal_device *unit = owner;

	if (is_trouble(gesture->kind))
		report_trouble(unit, gesture);
	else
		outlet_gesture(unit->outlet, unit, unit->name, gesture);
}

static void set_keys(struct pedal_device *unit, const struct input_device *device)
{
	struct pedal_key defaults[GESTURE_KEYS_MAX];
	const struct pedal_key *keys = defaults;
	size_t count;

	if (unit->entry && unit->entry->key_count > 0) {
		keys = unit->entry->keys;
		count = unit->entry->key_count;
	} else {
		count = default_keys(device, defaults, &unit->any_key);
		if (unit->any_key)
			count = 0;
	}
	for (size_t i = 0; i < count && i < GESTURE_KEYS_MAX; i++) {
		gestures_add_key(unit->gestures, keys[i].role);
		unit->codes[unit->code_count++] = keys[i].code;
	}
}

struct pedal_device *pedal_device_new(const struct outlet *outlet,
				      const struct input_device *device,
				      const struct pedal_entry *entry,
				      const struct gesture_times *times)
{
	struct pedal_device *unit = memory_new(1, sizeof *unit);

	unit->outlet = outlet;
	unit->name = memory_copy(device->name);
	unit->port = memory_copy(device->port);
	unit->serial = memory_copy(device->serial);
	unit->vendor = device->vendor;
	unit->product = device->product;
	unit->entry = entry;
	unit->grab_us = INT64_MAX;
	unit->gestures = gestures_new(entry ? &entry->times : times, on_gesture, unit);
	set_keys(unit, device);
	return unit;
}

static void close_nodes(struct pedal_device *unit)
{
	for (int i = 0; i < unit->node_count; i++)
		node_close(unit->nodes[i]);
	unit->node_count = 0;
	unit->grab_us = INT64_MAX;
	unit->busy = false;
}

void pedal_device_free(struct pedal_device *unit)
{
	close_nodes(unit);
	gestures_free(unit->gestures);
	free(unit->name);
	free(unit->port);
	free(unit->serial);
	free(unit);
}

bool pedal_device_could_be(const struct pedal_device *unit, const struct input_device *device)
{
	return unit->vendor == device->vendor && unit->product == device->product &&
	       same_text(unit->serial, device->serial);
}

bool pedal_device_is(const struct pedal_device *unit, const struct input_device *device)
{
	return pedal_device_could_be(unit, device) && same_text(unit->port, device->port);
}

/* The recogniser's number of a key, or -1 for a key that means nothing. */
static int key_number(struct pedal_device *unit, unsigned code, enum gesture_edge edge)
{
	for (int i = 0; i < unit->code_count; i++)
		if (unit->codes[i] == code)
			return i;
	if (!unit->any_key || edge != GESTURE_EDGE_DOWN || unit->code_count == GESTURE_KEYS_MAX)
		return -1;
	unit->codes[unit->code_count++] = code;
	return gestures_add_key(unit->gestures, GESTURE_ROLE_STEP);
}

static void on_edge(void *owner, unsigned code, enum gesture_edge edge, int64_t time_us)
{
	struct pedal_device *unit = owner;
	int key = key_number(unit, code, edge);

	if (key >= 0)
		gestures_edge(unit->gestures, key, edge, time_us);
}

static bool any_key_down(const struct pedal_device *unit)
{
	for (int i = 0; i < unit->node_count; i++)
		if (node_has_key_down(unit->nodes[i]))
			return true;
	return false;
}

static void report_busy(struct pedal_device *unit, int error, int64_t now_us)
{
	if (unit->busy)
		return;
	unit->busy = true;
	if (error == EBUSY)
		outlet_say(
			unit->outlet, PEDAL_BUSY, unit->name, now_us,
			"%s: another program has taken this pedal for itself; close that program",
			unit->name);
	else
		outlet_say(unit->outlet, PEDAL_NOTE, unit->name, now_us,
			   "%s: cannot be kept from typing into other windows: %s", unit->name,
			   strerror(error));
}

/* Takes all nodes for ourselves, as soon as no key is down. */
static void try_grab(struct pedal_device *unit, int64_t now_us)
{
	unit->grab_us = INT64_MAX;
	if (!unit->want_grab || any_key_down(unit))
		return;
	for (int i = 0; i < unit->node_count; i++) {
		int error = node_grab(unit->nodes[i]);

		if (error == EAGAIN)
			return;
		if (error) {
			report_busy(unit, error, now_us);
			unit->grab_us = error == EBUSY ? now_us + grab_retry_us : INT64_MAX;
			return;
		}
	}
	if (unit->busy)
		outlet_say(unit->outlet, PEDAL_FOUND, unit->name, now_us,
			   "%s: the other program let go of this pedal", unit->name);
	unit->busy = false;
}

static bool is_grabbed(const struct pedal_device *unit)
{
	for (int i = 0; i < unit->node_count; i++)
		if (!unit->nodes[i]->grabbed)
			return false;
	return true;
}

static void decide_grab(struct pedal_device *unit, const struct input_device *device,
			int64_t now_us)
{
	enum pedal_grab wish = unit->entry ? unit->entry->grab : PEDAL_GRAB_SAFE;
	enum pedal_look look = look_at(device);
	bool typed_on = look == PEDAL_LOOKS_KEYBOARD || look == PEDAL_LOOKS_POINTER;

	unit->want_grab = wish == PEDAL_GRAB_YES || (wish == PEDAL_GRAB_SAFE && !typed_on);
	if (wish == PEDAL_GRAB_SAFE && typed_on && !unit->seen_before)
		outlet_say(unit->outlet, PEDAL_NOTE, unit->name, now_us,
			   "%s: looks like a %s, so its keys also reach other windows; if it is "
			   "only the pedal, write \"grab: yes\" in its entry of the bench file",
			   unit->name, look == PEDAL_LOOKS_KEYBOARD ? "keyboard" : "mouse");
}

static bool is_open(const struct pedal_device *unit, const struct event_node *node)
{
	for (int i = 0; i < unit->node_count; i++)
		if (same_text(unit->nodes[i]->path, node->path))
			return true;
	return false;
}

static void note_clock(struct pedal_device *unit, const struct node *node, int64_t now_us)
{
	if (!node->kernel_time && repeat_allowed(&unit->clock, now_us))
		outlet_say(unit->outlet, PEDAL_NOTE, unit->name, now_us,
			   "%s: does not stamp its events with the steady clock; they count from "
			   "when they arrive",
			   unit->name);
}

/* Opens what is not open yet; the errno of the last failure, or 0. */
static int open_nodes(struct pedal_device *unit, const struct input_device *device, int64_t now_us)
{
	int error = 0;

	for (size_t i = 0; i < device->node_count && unit->node_count < UNIT_NODES_MAX; i++) {
		if (is_open(unit, &device->nodes[i]))
			continue;
		struct node *node = node_open(device->nodes[i].path, &error);
		if (!node)
			continue;
		unit->nodes[unit->node_count++] = node;
		node_found_down(node, on_edge, unit, now_us);
	}
	return error;
}

static void note_denied(struct pedal_device *unit, int error, int64_t now_us)
{
	if (error != EACCES && error != EPERM)
		return;
	if (unit->state != UNIT_DENIED)
		unit->denied_us = now_us;
	unit->state = UNIT_DENIED;
}

/* When a refusal is due to be reported; INT64_MAX: not. */
static int64_t denied_due_us(const struct pedal_device *unit)
{
	return unit->state == UNIT_DENIED && !unit->denied_said ? unit->denied_us + denied_grace_us
								: INT64_MAX;
}

static void report_denied(struct pedal_device *unit, int64_t now_us)
{
	unit->denied_said = true;
	outlet_say(unit->outlet, PEDAL_DENIED, unit->name, now_us,
		   "%s (%04x:%04x): no permission to read it; 71-pullcall-pedal.rules says how to "
		   "let the person at this computer in",
		   unit->name, (unsigned)unit->vendor, (unsigned)unit->product);
}

static void report_present(struct pedal_device *unit, int64_t now_us)
{
	unit->state = UNIT_PRESENT;
	unit->denied_said = false;
	note_clock(unit, unit->nodes[0], now_us);
	if (unit->seen_before)
		outlet_say(unit->outlet, PEDAL_BACK_AGAIN, unit->name, now_us,
			   "%s: plugged in again", unit->name);
	else
		outlet_say(unit->outlet, PEDAL_FOUND, unit->name, now_us, "%s: ready", unit->name);
	unit->seen_before = true;
}

void pedal_device_attach(struct pedal_device *unit, const struct input_device *device,
			 int64_t now_us)
{
	int before = unit->node_count;
	int error = open_nodes(unit, device, now_us);

	memory_replace(&unit->port, device->port);
	if (unit->node_count == 0) {
		note_denied(unit, error, now_us);
		return;
	}
	if (unit->state != UNIT_PRESENT) {
		decide_grab(unit, device, now_us);
		report_present(unit, now_us);
	}
	if (unit->node_count > before)
		try_grab(unit, now_us);
}

void pedal_device_lose(struct pedal_device *unit, int64_t now_us)
{
	bool was_present = unit->state == UNIT_PRESENT;

	if (was_present)
		gestures_release(unit->gestures, now_us);
	close_nodes(unit);
	unit->state = UNIT_GONE;
	unit->denied_said = false;
	if (was_present)
		outlet_say(unit->outlet, PEDAL_GONE, unit->name, now_us, "%s: unplugged",
			   unit->name);
}

bool pedal_device_read(struct pedal_device *unit, struct node *node, bool hung_up, int64_t now_us)
{
	bool dropped = false;
	enum node_state state = node_read(node, on_edge, unit, now_us, &dropped);

	if (dropped && repeat_allowed(&unit->dropped, now_us))
		outlet_say(
			unit->outlet, PEDAL_NOTE, unit->name, now_us,
			"%s: sent more than could be read in time; its keys were looked at again",
			unit->name);
	if (state == NODE_GONE || (hung_up && state == NODE_DRAINED)) {
		pedal_device_lose(unit, now_us);
		return true;
	}
	if (!is_grabbed(unit) && !unit->busy)
		try_grab(unit, now_us);
	return state == NODE_DRAINED;
}

void pedal_device_tick(struct pedal_device *unit, int64_t now_us)
{
	gestures_tick(unit->gestures, now_us);
	if (unit->grab_us <= now_us)
		try_grab(unit, now_us);
	if (denied_due_us(unit) <= now_us)
		report_denied(unit, now_us);
}

int64_t pedal_device_deadline_us(const struct pedal_device *unit)
{
	int64_t deadline_us = gestures_deadline_us(unit->gestures);

	if (unit->grab_us < deadline_us)
		deadline_us = unit->grab_us;
	if (denied_due_us(unit) < deadline_us)
		deadline_us = denied_due_us(unit);
	return deadline_us;
}
