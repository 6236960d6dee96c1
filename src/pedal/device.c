#include "pedal/internal.h"

#include "base/base.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* udev lets the person at the bench in moments after a node appears: report a refusal only then. */
static const int64_t denied_grace_us = SECOND_US;

/* How often to try again for a device that another program has grabbed, or whose key is down. */
static const int64_t grab_retry_us = 5 * SECOND_US;

static bool is_trouble(enum gesture_kind kind)
{
	return kind == GESTURE_STUCK || kind == GESTURE_CHATTER || kind == GESTURE_FREED;
}

static void report_trouble(struct pedal_device *device, const struct gesture *gesture)
{
	const char *key = pedal_key_name(device->codes[gesture->key]);
	bool *said = &device->said[gesture->key];

	if (gesture->kind == GESTURE_FREED) {
		if (*said)
			sink_say(device->sink, PEDAL_FREED, device->name, gesture->time_us,
				 "contact %s works again", key);
		*said = false;
		return;
	}
	if (*said || !may_say_again(&device->say_trouble_us[gesture->key], gesture->time_us))
		return;
	*said = true;
	if (gesture->kind == GESTURE_STUCK)
		sink_say(device->sink, PEDAL_STUCK, device->name, gesture->time_us,
			 "contact %s stays down; is something on the pedal?", key);
	else
		sink_say(device->sink, PEDAL_CHATTER, device->name, gesture->time_us,
			 "contact %s makes and breaks by itself; it is ignored until it has been "
			 "quiet for a second",
			 key);
}

static void on_gesture(void *owner, const struct gesture *gesture)
{
	struct pedal_device *device = owner;

	if (is_trouble(gesture->kind)) {
		report_trouble(device, gesture);
		return;
	}
	device->sink->before_gesture(device->sink->source, device);
	sink_give(device->sink, (struct pedal_event){.kind = PEDAL_GESTURE,
						     .gesture = *gesture,
						     .code = device->codes[gesture->key],
						     .name = device->name,
						     .port = device->port,
						     .time_us = gesture->time_us});
}

static void set_keys(struct pedal_device *device, const struct input_device *input)
{
	struct pedal_key defaults[GESTURE_KEYS_MAX];
	const struct pedal_key *keys = defaults;
	size_t count;

	if (device->entry && device->entry->key_count > 0) {
		keys = device->entry->keys;
		count = device->entry->key_count;
	} else {
		count = default_keys(input, defaults);
		device->any_key = count > ROLES_BY_ORDER;
		if (device->any_key)
			count = 0;
	}
	for (size_t i = 0; i < count && i < GESTURE_KEYS_MAX; i++) {
		gestures_add_key(device->gestures, keys[i].role);
		device->codes[device->code_count++] = keys[i].code;
	}
}

struct pedal_device *pedal_device_new(const struct event_sink *sink,
				      const struct input_device *input,
				      const struct pedal_entry *entry,
				      const struct gesture_times *times)
{
	struct pedal_device *device = memory_new(1, sizeof *device);

	device->sink = sink;
	device->name = memory_copy(input->name);
	device->port = memory_copy(input->port);
	device->serial = memory_copy(input->serial);
	device->vendor = input->vendor;
	device->product = input->product;
	device->entry = entry;
	device->grab_us = INT64_MAX;
	device->gestures = gestures_new(entry ? &entry->times : times, on_gesture, device);
	set_keys(device, input);
	return device;
}

static void close_nodes(struct pedal_device *device)
{
	for (int i = 0; i < device->node_count; i++)
		node_close(&device->nodes[i]);
	device->node_count = 0;
	device->grab_us = INT64_MAX;
	device->busy = false;
}

void pedal_device_free(struct pedal_device *device)
{
	close_nodes(device);
	gestures_free(device->gestures);
	free(device->name);
	free(device->port);
	free(device->serial);
	free(device);
}

bool pedal_device_could_be(const struct pedal_device *device, const struct input_device *input)
{
	return device->vendor == input->vendor && device->product == input->product &&
	       same_text(device->serial, input->serial);
}

bool pedal_device_is(const struct pedal_device *device, const struct input_device *input)
{
	return pedal_device_could_be(device, input) && same_text(device->port, input->port);
}

/* The recogniser's number of a key, or -1 for a key that means nothing. */
static int key_number(struct pedal_device *device, unsigned code, enum gesture_edge edge)
{
	for (int i = 0; i < device->code_count; i++)
		if (device->codes[i] == code)
			return i;
	if (!device->any_key || edge != GESTURE_EDGE_DOWN || device->code_count == GESTURE_KEYS_MAX)
		return -1;
	device->codes[device->code_count++] = code;
	return gestures_add_key(device->gestures, GESTURE_ROLE_STEP);
}

static void on_edge(void *owner, unsigned code, enum gesture_edge edge, int64_t time_us)
{
	struct pedal_device *device = owner;
	int key = key_number(device, code, edge);

	if (key >= 0)
		gestures_edge(device->gestures, key, edge, time_us);
}

/* ---- grabbing ---- */

/* Says once, since it was plugged in, that the pedal can be used. */
static void announce(struct pedal_device *device, int64_t now_us)
{
	if (device->announced)
		return;
	device->announced = true;
	sink_say(device->sink, device->seen_before ? PEDAL_BACK : PEDAL_FOUND, device->name, now_us,
		 device->seen_before ? "here again" : "ready");
	device->seen_before = true;
}

/* Until the other program lets go, no press reaches us: the pedal is not back yet. */
static void report_busy(struct pedal_device *device, int64_t now_us)
{
	device->grab_us = now_us + grab_retry_us;
	if (device->busy)
		return;
	device->busy = true;
	device->announced = false;
	gestures_release(device->gestures, now_us);
	sink_say(device->sink, PEDAL_BUSY, device->name, now_us,
		 "another program has taken this pedal for itself; close that program");
}

/* Grabs all nodes. EAGAIN: not while a key is down, or whoever saw its press would miss its
 * release. */
static int grab_all(struct pedal_device *device)
{
	for (int i = 0; i < device->node_count; i++)
		if (node_has_key_down(&device->nodes[i]))
			return EAGAIN;
	for (int i = 0; i < device->node_count; i++) {
		int error = node_grab(&device->nodes[i]);

		if (error)
			return error;
	}
	return 0;
}

static void try_grab(struct pedal_device *device, int64_t now_us)
{
	int error = device->want_grab ? grab_all(device) : 0;

	if (error == EBUSY) {
		report_busy(device, now_us);
		return;
	}
	device->grab_us = error == EAGAIN ? now_us + grab_retry_us : INT64_MAX;
	device->busy = false;
	if (error && error != EAGAIN) {
		device->want_grab = false;
		sink_say(device->sink, PEDAL_NOTE, device->name, now_us,
			 "cannot be kept from typing into other windows: %s", strerror(error));
	}
	announce(device, now_us);
}

static void decide_grab(struct pedal_device *device, const struct input_device *input,
			int64_t now_us)
{
	enum pedal_grab wish = device->entry ? device->entry->grab : PEDAL_GRAB_SAFE;
	enum pedal_class class = classify(input);
	bool typed_on = class == PEDAL_CLASS_KEYBOARD || class == PEDAL_CLASS_POINTER;

	device->want_grab = wish == PEDAL_GRAB_YES || (wish == PEDAL_GRAB_SAFE && !typed_on);
	if (wish == PEDAL_GRAB_SAFE && typed_on && !device->seen_before)
		sink_say(device->sink, PEDAL_NOTE, device->name, now_us,
			 "looks like a %s, so its keys also reach other windows; if it is only the "
			 "pedal, write \"grab: yes\" in its entry of the bench file",
			 class == PEDAL_CLASS_KEYBOARD ? "keyboard" : "mouse");
}

/* ---- coming and going ---- */

static bool is_open(const struct pedal_device *device, const struct event_node *node)
{
	for (int i = 0; i < device->node_count; i++)
		if (same_text(device->nodes[i].path, node->path))
			return true;
	return false;
}

/* Opens what is not open yet; the errno of the last failure, or 0. */
static int open_nodes(struct pedal_device *device, const struct input_device *input, int64_t now_us)
{
	int error = 0;

	for (size_t i = 0; i < input->node_count && device->node_count < DEVICE_NODES_MAX; i++) {
		if (is_open(device, &input->nodes[i]))
			continue;
		struct node *node = &device->nodes[device->node_count];
		int failure = node_open(node, input->nodes[i].path);
		if (failure) {
			error = failure;
			continue;
		}
		device->node_count++;
		node_found_down(node, on_edge, device, now_us);
		if (!node->kernel_time && may_say_again(&device->say_clock_us, now_us))
			sink_say(device->sink, PEDAL_NOTE, device->name, now_us,
				 "does not stamp its events with the steady clock; they count from "
				 "when they arrive");
	}
	return error;
}

static void note_denied(struct pedal_device *device, int error, int64_t now_us)
{
	if (error != EACCES && error != EPERM)
		return;
	if (device->state != DEVICE_DENIED)
		device->denied_us = now_us + denied_grace_us;
	device->state = DEVICE_DENIED;
}

static void report_denied(struct pedal_device *device, int64_t now_us)
{
	device->denied_us = INT64_MAX;
	sink_say(device->sink, PEDAL_DENIED, device->name, now_us,
		 "no permission to read this device (%04x:%04x); 71-pullcall-pedal.rules says how "
		 "to let the person at this computer in",
		 (unsigned)device->vendor, (unsigned)device->product);
}

void pedal_device_attach(struct pedal_device *device, const struct input_device *input,
			 int64_t now_us)
{
	int before = device->node_count;
	int error = open_nodes(device, input, now_us);

	memory_replace(&device->port, input->port);
	if (device->node_count == 0) {
		note_denied(device, error, now_us);
		return;
	}
	if (device->state != DEVICE_PRESENT)
		decide_grab(device, input, now_us);
	device->state = DEVICE_PRESENT;
	if (device->node_count > before)
		try_grab(device, now_us);
}

void pedal_device_lose(struct pedal_device *device, int64_t now_us)
{
	if (device->state == DEVICE_PRESENT)
		gestures_release(device->gestures, now_us);
	close_nodes(device);
	device->state = DEVICE_GONE;
	if (device->announced)
		sink_say(device->sink, PEDAL_GONE, device->name, now_us, "unplugged");
	device->announced = false;
}

bool pedal_device_read(struct pedal_device *device, struct node *node, bool hung_up, int64_t now_us)
{
	bool dropped = false;
	enum node_state state = node_read(node, on_edge, device, now_us, &dropped);

	if (dropped && may_say_again(&device->say_dropped_us, now_us))
		sink_say(device->sink, PEDAL_NOTE, device->name, now_us,
			 "sent more than could be read in time; its keys were looked at again");
	if (state == NODE_GONE || (hung_up && state == NODE_DRAINED)) {
		pedal_device_lose(device, now_us);
		return true;
	}
	if (device->grab_us != INT64_MAX && !device->busy) /* perhaps the last key came up */
		try_grab(device, now_us);
	return state == NODE_DRAINED;
}

void pedal_device_tick(struct pedal_device *device, int64_t now_us)
{
	gestures_tick(device->gestures, now_us);
	if (device->grab_us <= now_us)
		try_grab(device, now_us);
	if (device->state == DEVICE_DENIED && device->denied_us <= now_us)
		report_denied(device, now_us);
}

int64_t pedal_device_deadline_us(const struct pedal_device *device)
{
	int64_t deadline_us = gestures_deadline_us(device->gestures);

	if (device->grab_us < deadline_us)
		deadline_us = device->grab_us;
	if (device->state == DEVICE_DENIED && device->denied_us < deadline_us)
		deadline_us = device->denied_us;
	return deadline_us;
}
