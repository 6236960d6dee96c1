/* One pedal: its event nodes are opened, grabbed and read, and what their keys send becomes
 * gestures. It stays the same through being unplugged. */
#include "pedal/internal.h"

#include <errno.h>
#include <fcntl.h>
#include <libevdev/libevdev.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/ioctl.h>
#include <unistd.h>

/* udev lets the person at the bench in moments after a node appears: report a refusal only then. */
static const int64_t denied_grace_us = SECOND_US;

/* How often to try again for a device that another program has grabbed, or whose key is down. */
static const int64_t grab_retry_us = 5 * SECOND_US;

/* How often trouble with a contact is reported at most. */
static const int64_t trouble_rest_us = 30 * SECOND_US;

/* What one turn reads of a node at most, so that one that sends without end does not hold up
 * everything else. */
enum { EVENTS_AT_ONCE = 512 };

/* Gives an event with a text, which begins with the name of the pedal. */
__attribute__((format(printf, 4, 5))) static void say(const struct pedal *pedal,
						      enum pedal_event_kind kind, int64_t time_us,
						      const char *format, ...)
{
	char text[512];
	int begin = snprintf(text, sizeof text, "%.200s: ", pedal->info.name);
	va_list values;

	va_start(values, format);
	vsnprintf(text + begin, sizeof text - (size_t)begin, format, values);
	va_end(values);
	pedal->emit(pedal->owner,
		    &(struct pedal_event){
			    .kind = kind, .pedal = &pedal->info, .text = text, .time_us = time_us});
}

/* ---- keys and gestures ---- */

static void report_trouble(struct pedal *pedal, const struct pedal_event *event)
{
	static const char *const texts[] = {
		[PEDAL_STUCK] = "stays down; is something on the pedal?",
		[PEDAL_CHATTER] = ("makes and breaks by itself; it is ignored until it has been "
				   "quiet for a second"),
		[PEDAL_FREED] = "works again",
	};
	bool *said = &pedal->said[event->key], before = *said;
	int64_t *again_us = &pedal->say_again_us[event->key];

	*said = event->kind != PEDAL_FREED && (before || event->time_us >= *again_us);
	if (*said && !before)
		*again_us = event->time_us + trouble_rest_us;
	if (*said != before)
		say(pedal, event->kind, event->time_us, "contact %s %s",
		    pedal_key_name((unsigned)event->key), texts[event->kind]);
}

static void on_gesture(void *owner, const struct pedal_event *event)
{
	struct pedal *pedal = owner;
	struct pedal_event own = *event;

	own.pedal = &pedal->info;
	if (event->kind > GESTURE_HELD)
		report_trouble(pedal, event);
	else
		pedal->emit(pedal->owner, &own);
}

static void set_keys(struct pedal *pedal, const struct pedal_info *info)
{
	const struct pedal_key *keys = info->keys;
	size_t count = info->key_count;

	pedal->any_key = count > ROLES_BY_ORDER;
	if (pedal->entry && pedal->entry->key_count > 0) {
		keys = pedal->entry->keys;
		count = pedal->entry->key_count;
		pedal->any_key = false;
	}
	for (size_t i = 0; !pedal->any_key && i < count; i++)
		gestures_add_key(pedal->gestures, keys[i].code, keys[i].role);
}

static void on_edge(struct pedal *pedal, unsigned code, enum gesture_edge edge, int64_t time_us)
{
	if (pedal->any_key && edge == GESTURE_EDGE_DOWN && code < KEY_CNT)
		gestures_add_key(pedal->gestures, code, GESTURE_ROLE_STEP);
	gestures_edge(pedal->gestures, code, edge, time_us);
}

/* ---- one event node ---- */

/* 0, or the errno with which it cannot be opened. */
static int node_open(struct pedal *pedal, struct node *node, const char *path)
{
	int fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);

	if (fd < 0)
		return errno;
	struct libevdev *evdev;
	int result = libevdev_new_from_fd(fd, &evdev);
	if (result < 0) {
		close(fd);
		return -result;
	}
	*node = (struct node){
		.pedal = pedal,
		.path = memory_copy(path),
		.evdev = evdev,
		.fd = fd,
		.kernel_time = libevdev_set_clock_id(evdev, CLOCK_MONOTONIC) == 0,
	};
	return 0;
}

static int64_t time_of(const struct node *node, const struct input_event *event, int64_t now_us)
{
	int64_t time_us = (int64_t)event->input_event_sec * SECOND_US + event->input_event_usec;

	return node->kernel_time && time_us < now_us ? time_us : now_us;
}

/* Reads the events that wait. 0 if there may be more, -EAGAIN if not, another negative errno if the
 * node is gone. If the kernel had to drop some, what changed meanwhile is taken from the state of
 * the keys. */
static int read_events(struct pedal *pedal, const struct node *node, int64_t now_us)
{
	struct input_event event;
	unsigned flag = LIBEVDEV_READ_FLAG_NORMAL;

	/* The whole difference after a drop: libevdev forgets what is not read of it. */
	for (int i = 0; i < EVENTS_AT_ONCE || flag == LIBEVDEV_READ_FLAG_SYNC; i++) {
		int result = libevdev_next_event(node->evdev, flag, &event);
		bool synced = result == -EAGAIN && flag == LIBEVDEV_READ_FLAG_SYNC;

		if (result < 0 && !synced)
			return result;
		flag = result == LIBEVDEV_READ_STATUS_SYNC ? LIBEVDEV_READ_FLAG_SYNC
							   : LIBEVDEV_READ_FLAG_NORMAL;
		if (result >= 0 && event.type == EV_KEY && event.value >= 0 &&
		    event.value <= GESTURE_EDGE_REPEAT)
			on_edge(pedal, event.code, (enum gesture_edge)event.value,
				time_of(node, &event, now_us));
	}
	return 0;
}

/* As the kernel knows it, which may be newer than what was read. */
static bool has_key_down(const struct node *node)
{
	static const unsigned char none[KEY_CNT / 8];
	unsigned char bits[sizeof none];

	return ioctl(node->fd, EVIOCGKEY(sizeof bits), bits) >= 0 &&
	       memcmp(bits, none, sizeof bits) != 0;
}

/* ---- grabbing ---- */

/* Says once, since it was plugged in, that the pedal can be used. */
static void announce(struct pedal *pedal, int64_t now_us)
{
	if (pedal->announced)
		return;
	pedal->announced = true;
	say(pedal, pedal->seen_before ? PEDAL_BACK : PEDAL_FOUND, now_us, "%s",
	    pedal->seen_before ? "here again" : "ready");
	pedal->seen_before = true;
}

/* Until the other program lets go, no press reaches us: the pedal is not back yet. */
static void report_busy(struct pedal *pedal, int64_t now_us)
{
	pedal->grab_us = now_us + grab_retry_us;
	if (pedal->busy)
		return;
	pedal->busy = true;
	pedal->announced = false;
	gestures_release(pedal->gestures, now_us);
	say(pedal, PEDAL_BUSY, now_us,
	    "another program has taken this pedal for itself; close that program");
}

/* Grabs all nodes; 0 or an errno. EAGAIN: not while a key is down, or whoever saw its press would
 * miss its release. */
static int grab_all(struct pedal *pedal)
{
	for (int i = 0; i < pedal->node_count; i++)
		if (has_key_down(&pedal->nodes[i]))
			return EAGAIN;
	for (int i = 0; i < pedal->node_count; i++) {
		int result = libevdev_grab(pedal->nodes[i].evdev, LIBEVDEV_GRAB);

		if (result < 0)
			return -result;
		if (has_key_down(&pedal->nodes[i])) { /* pressed meanwhile */
			libevdev_grab(pedal->nodes[i].evdev, LIBEVDEV_UNGRAB);
			return EAGAIN;
		}
	}
	return 0;
}

/* Grabs it if that is allowed, and reports what comes of it. */
static void try_grab(struct pedal *pedal, int64_t now_us)
{
	enum pedal_grab wish = pedal->entry ? pedal->entry->grab : PEDAL_GRAB_SAFE;
	enum pedal_class class = pedal->info.class;
	bool typed_on = class == PEDAL_CLASS_KEYBOARD || class == PEDAL_CLASS_POINTER;
	bool spared = wish == PEDAL_GRAB_SAFE && typed_on;
	int error = wish == PEDAL_GRAB_NO || spared ? 0 : grab_all(pedal);

	if (error == EBUSY) {
		report_busy(pedal, now_us);
		return;
	}
	pedal->grab_us = error == EAGAIN ? now_us + grab_retry_us : INT64_MAX;
	pedal->busy = false;
	if (error && error != EAGAIN)
		say(pedal, PEDAL_NOTE, now_us, "cannot be kept from typing into other windows: %s",
		    strerror(error));
	if (spared && !pedal->seen_before)
		say(pedal, PEDAL_NOTE, now_us,
		    "looks like a %s, so its keys also reach other windows; if it is only the "
		    "pedal, write \"grab: yes\" in its entry of the bench file",
		    class == PEDAL_CLASS_KEYBOARD ? "keyboard" : "mouse");
	announce(pedal, now_us);
}

/* ---- coming and going ---- */

static bool is_open(const struct pedal *pedal, const char *path)
{
	for (int i = 0; i < pedal->node_count; i++)
		if (same_text(pedal->nodes[i].path, path))
			return true;
	return false;
}

/* Opens what is not open yet; the errno of the last failure, or 0. */
static int open_nodes(struct pedal *pedal, const struct input_device *input, int epoll,
		      int64_t now_us)
{
	int error = 0;

	for (size_t i = 0; i < input->node_count && pedal->node_count < NODES_MAX; i++) {
		if (is_open(pedal, input->nodes[i].path))
			continue;
		struct node *node = &pedal->nodes[pedal->node_count];
		int failure = node_open(pedal, node, input->nodes[i].path);
		if (failure) {
			error = failure;
			continue;
		}
		pedal->node_count++;
		epoll_ctl(epoll, EPOLL_CTL_ADD, node->fd,
			  &(struct epoll_event){.events = EPOLLIN, .data.ptr = node});
		for (unsigned code = 0; code < KEY_CNT; code++)
			if (libevdev_get_event_value(node->evdev, EV_KEY, code) == 1)
				on_edge(pedal, code, GESTURE_EDGE_FOUND_DOWN, now_us);
	}
	return error;
}

void pedal_attach(struct pedal *pedal, struct input_device *input, int epoll, int64_t now_us)
{
	struct pedal_info before = pedal->info;
	int count_before = pedal->node_count;

	pedal->info = input->info;
	input->info = before;
	int error = open_nodes(pedal, input, epoll, now_us);
	if (pedal->node_count == 0) {
		if (!pedal->denied && (error == EACCES || error == EPERM)) {
			pedal->denied = true;
			pedal->denied_us = now_us + denied_grace_us;
		}
		return;
	}
	pedal->denied = false;
	pedal->denied_us = INT64_MAX;
	if (pedal->node_count > count_before)
		try_grab(pedal, now_us);
}

static void report_denied(struct pedal *pedal, int64_t now_us)
{
	pedal->denied_us = INT64_MAX;
	say(pedal, PEDAL_DENIED, now_us,
	    "no permission to read this device (%04x:%04x); 71-pullcall-pedal.rules says how to "
	    "let the person at this computer in",
	    (unsigned)pedal->info.vendor, (unsigned)pedal->info.product);
}

static void close_nodes(struct pedal *pedal)
{
	while (pedal->node_count > 0) {
		struct node *node = &pedal->nodes[--pedal->node_count];

		libevdev_grab(node->evdev, LIBEVDEV_UNGRAB);
		libevdev_free(node->evdev);
		close(node->fd);
		free(node->path);
	}
}

void pedal_lose(struct pedal *pedal, int64_t now_us)
{
	gestures_release(pedal->gestures, now_us);
	close_nodes(pedal);
	pedal->grab_us = pedal->denied_us = INT64_MAX;
	pedal->busy = pedal->denied = false;
	if (pedal->announced)
		say(pedal, PEDAL_GONE, now_us, "unplugged");
	pedal->announced = false;
}

enum node_state node_read(const struct node *node, bool hung_up, int64_t now_us)
{
	struct pedal *pedal = node->pedal;

	if (node >= pedal->nodes + pedal->node_count)
		return NODE_DRAINED; /* closed by an earlier event of the same round */
	int result = read_events(pedal, node, now_us);
	if (result == -EAGAIN ? hung_up : result < 0) {
		pedal_lose(pedal, now_us);
		return NODE_GONE;
	}
	if (pedal->grab_us != INT64_MAX && !pedal->busy) /* perhaps the last key came up */
		try_grab(pedal, now_us);
	return result < 0 ? NODE_DRAINED : NODE_MORE;
}

void pedal_tick(struct pedal *pedal, int64_t now_us)
{
	gestures_tick(pedal->gestures, now_us);
	if (pedal->grab_us <= now_us)
		try_grab(pedal, now_us);
	if (pedal->denied_us <= now_us)
		report_denied(pedal, now_us);
}

int64_t pedal_deadline_us(const struct pedal *pedal)
{
	return sooner(gestures_deadline_us(pedal->gestures),
		      sooner(pedal->grab_us, pedal->denied_us));
}

struct pedal *pedal_new(const struct pedal_entry *entry, const struct gesture_times *times,
			const struct pedal_info *info, pedal_sink *emit, void *owner)
{
	struct pedal *pedal = memory_new(1, sizeof *pedal);

	*pedal = (struct pedal){
		.emit = emit,
		.owner = owner,
		.entry = entry,
		.gestures = gestures_new(entry ? &entry->times : times, on_gesture, pedal),
		.grab_us = INT64_MAX,
		.denied_us = INT64_MAX,
	};
	set_keys(pedal, info);
	return pedal;
}

void pedal_free(struct pedal *pedal)
{
	close_nodes(pedal);
	free(pedal->gestures);
	info_free(&pedal->info);
	free(pedal);
}
