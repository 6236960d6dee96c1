/* The pedals of a run: which are plugged in, what each of them sends, what is due.
 *
 * Whenever something in the folder of event nodes changes, the whole folder is scanned a moment
 * later and compared with what is known, so that a missed or reordered change does no harm.
 */
#include "pedal/internal.h"

#include <errno.h>
#include <fcntl.h>
#include <libevdev/libevdev.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/inotify.h>
#include <sys/ioctl.h>
#include <unistd.h>

/* The nodes of one device appear one after the other: wait for all of them before a scan. */
static const int64_t settle_us = 100 * MS_US;

/* udev lets the person at the bench in moments after a node appears: report a refusal only then. */
static const int64_t denied_grace_us = SECOND_US;

/* How often to try again for a device that another program has grabbed, or whose key is down. */
static const int64_t grab_retry_us = 5 * SECOND_US;

static const int64_t say_again_us = 30 * SECOND_US;

enum {
	NODES_MAX = 16,
	/* What one dispatch reads at most, so that a device that sends without end does not hold up
	 * everything else. */
	ROUNDS_MAX = 16,
	READY_MAX = 32,
	EVENTS_AT_ONCE = 512,
};

struct node {
	char *path;
	struct libevdev *evdev;
	int fd;
	bool kernel_time; /* events are stamped with CLOCK_MONOTONIC, else with their arrival */
};

struct pedals {
	struct source source; /* its fd is an epoll over the nodes and the hotplug */
	struct pedal_config config;
	int hotplug;     /* inotify, or -1 */
	int64_t scan_us; /* when to scan the folder; INT64_MAX: no need to */
	struct pedal **all;
	size_t count;
};

/* One pedal, which stays the same through being unplugged. */
struct pedal {
	struct pedals *pedals;
	struct pedal_info info;          /* as it was last */
	const struct pedal_entry *entry; /* NULL: chosen by its class */
	struct gestures *gestures;
	bool any_key;       /* a key is added when it is pressed */
	bool said[KEY_CNT]; /* trouble with the contact was reported */

	struct node nodes[NODES_MAX]; /* those that are read; none: it is not there, or denied */
	int node_count;
	bool denied; /* it is there, but none of its nodes may be opened */
	bool want_grab;
	bool busy;         /* another program has it, and that was reported */
	bool announced;    /* FOUND or BACK was reported, and no GONE or BUSY since */
	bool seen_before;  /* the next time it is BACK */
	int64_t grab_us;   /* when to try again; INT64_MAX: not */
	int64_t denied_us; /* when to report DENIED; INT64_MAX: not */

	/* see may_say_again */
	int64_t say_trouble_us[KEY_CNT];
	int64_t say_note_us;
};

#define say(pedal, kind, ...)                                                                      \
	source_say(&(pedal)->pedals->source, kind, &(pedal)->info, __VA_ARGS__)

/* False for half a minute after it was true. *next_us begins as 0. */
static bool may_say_again(int64_t *next_us, int64_t now_us)
{
	if (now_us < *next_us)
		return false;
	*next_us = now_us + say_again_us;
	return true;
}

/* ---- keys and gestures ---- */

/* The other pedals must not take back what they gave before a gesture of this one. */
static void forget_others(struct pedals *pedals, const struct pedal *but)
{
	for (size_t i = 0; i < pedals->count; i++)
		if (pedals->all[i] != but)
			gestures_forget(pedals->all[i]->gestures);
}

static void report_trouble(struct pedal *pedal, const struct gesture *gesture)
{
	static const struct {
		enum pedal_event_kind kind;
		const char *text;
	} troubles[] = {
		[GESTURE_STUCK] = {PEDAL_STUCK, "stays down; is something on the pedal?"},
		[GESTURE_CHATTER] = {PEDAL_CHATTER,
				     "makes and breaks by itself; it is ignored until "
				     "it has been quiet for a second"},
		[GESTURE_FREED] = {PEDAL_FREED, "works again"},
	};
	bool *said = &pedal->said[gesture->key], before = *said;

	*said = gesture->kind != GESTURE_FREED &&
		(before || may_say_again(&pedal->say_trouble_us[gesture->key], gesture->time_us));
	if (*said != before)
		say(pedal, troubles[gesture->kind].kind, gesture->time_us, "contact %s %s",
		    pedal_key_name((unsigned)gesture->key), troubles[gesture->kind].text);
}

static void on_gesture(void *owner, const struct gesture *gesture)
{
	struct pedal *pedal = owner;

	if (gesture->kind >= GESTURE_STUCK) {
		report_trouble(pedal, gesture);
		return;
	}
	forget_others(pedal->pedals, pedal);
	source_give(&pedal->pedals->source, (struct pedal_event){.kind = PEDAL_GESTURE,
								 .gesture = *gesture,
								 .pedal = &pedal->info,
								 .time_us = gesture->time_us});
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

/* Without it libevdev writes about a device's oddities on standard error. */
__attribute__((format(printf, 7, 0))) static void log_nothing(const struct libevdev *evdev,
							      enum libevdev_log_priority priority,
							      void *data, const char *file,
							      int line, const char *function,
							      const char *format, va_list values)
{
	(void)evdev, (void)priority, (void)data, (void)file, (void)line, (void)function;
	(void)format, (void)values;
}

/* 0, or the errno with which it cannot be opened. */
static int node_open(struct node *node, const char *path)
{
	int fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);

	if (fd < 0)
		return errno;
	struct libevdev *evdev = libevdev_new();
	if (!evdev)
		memory_fail();
	libevdev_set_device_log_function(evdev, log_nothing, LIBEVDEV_LOG_ERROR, NULL);
	int result = libevdev_set_fd(evdev, fd);
	if (result < 0) {
		libevdev_free(evdev);
		close(fd);
		return -result;
	}
	*node = (struct node){
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

/* Takes the events that wait. 0 if there may be more, -EAGAIN if not, another negative errno if the
 * node is gone. If the kernel had to drop some, *dropped is set, and what changed meanwhile is
 * taken from the state of the keys. */
static int read_events(struct pedal *pedal, const struct node *node, int64_t now_us, bool *dropped)
{
	struct input_event event;
	unsigned flag = LIBEVDEV_READ_FLAG_NORMAL;

	/* The whole difference after a drop: libevdev forgets what is not read of it. */
	for (int i = 0; i < EVENTS_AT_ONCE || flag == LIBEVDEV_READ_FLAG_SYNC; i++) {
		int result = libevdev_next_event(node->evdev, flag, &event);
		bool synced = result == -EAGAIN && flag == LIBEVDEV_READ_FLAG_SYNC;

		if (result < 0 && result != -EINTR && !synced)
			return result;
		flag = result == LIBEVDEV_READ_STATUS_SYNC ? LIBEVDEV_READ_FLAG_SYNC
							   : LIBEVDEV_READ_FLAG_NORMAL;
		*dropped |= result == LIBEVDEV_READ_STATUS_SYNC;
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
	unsigned char bits[KEY_CNT / 8] = {0};

	if (ioctl(node->fd, EVIOCGKEY(sizeof bits), bits) < 0)
		return false;
	for (size_t i = 0; i < sizeof bits; i++)
		if (bits[i])
			return true;
	return false;
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

static void try_grab(struct pedal *pedal, int64_t now_us)
{
	int error = pedal->want_grab ? grab_all(pedal) : 0;

	if (error == EBUSY) {
		report_busy(pedal, now_us);
		return;
	}
	pedal->grab_us = error == EAGAIN ? now_us + grab_retry_us : INT64_MAX;
	pedal->busy = false;
	if (error && error != EAGAIN) {
		pedal->want_grab = false;
		say(pedal, PEDAL_NOTE, now_us, "cannot be kept from typing into other windows: %s",
		    strerror(error));
	}
	announce(pedal, now_us);
}

static void decide_grab(struct pedal *pedal, int64_t now_us)
{
	enum pedal_grab wish = pedal->entry ? pedal->entry->grab : PEDAL_GRAB_SAFE;
	enum pedal_class class = pedal->info.class;
	bool typed_on = class == PEDAL_CLASS_KEYBOARD || class == PEDAL_CLASS_POINTER;

	pedal->want_grab = wish == PEDAL_GRAB_YES || (wish == PEDAL_GRAB_SAFE && !typed_on);
	if (wish == PEDAL_GRAB_SAFE && typed_on && !pedal->seen_before)
		say(pedal, PEDAL_NOTE, now_us,
		    "looks like a %s, so its keys also reach other windows; if it is only the "
		    "pedal, write \"grab: yes\" in its entry of the bench file",
		    class == PEDAL_CLASS_KEYBOARD ? "keyboard" : "mouse");
}

/* ---- one pedal, coming and going ---- */

static void watch(struct pedals *pedals, int fd)
{
	struct epoll_event event = {.events = EPOLLIN, .data.fd = fd};

	epoll_ctl(pedals->source.fd, EPOLL_CTL_ADD, fd, &event);
}

static bool is_open(const struct pedal *pedal, const char *path)
{
	for (int i = 0; i < pedal->node_count; i++)
		if (same_text(pedal->nodes[i].path, path))
			return true;
	return false;
}

/* Opens what is not open yet; the errno of the last failure, or 0. */
static int open_nodes(struct pedal *pedal, const struct input_device *input, int64_t now_us)
{
	int error = 0;

	for (size_t i = 0; i < input->node_count && pedal->node_count < NODES_MAX; i++) {
		if (is_open(pedal, input->nodes[i].path))
			continue;
		struct node *node = &pedal->nodes[pedal->node_count];
		int failure = node_open(node, input->nodes[i].path);
		if (failure) {
			error = failure;
			continue;
		}
		pedal->node_count++;
		watch(pedal->pedals, node->fd);
		for (unsigned code = 0; code < KEY_CNT; code++)
			if (libevdev_get_event_value(node->evdev, EV_KEY, code) == 1)
				on_edge(pedal, code, GESTURE_EDGE_FOUND_DOWN, now_us);
		if (!node->kernel_time && may_say_again(&pedal->say_note_us, now_us))
			say(pedal, PEDAL_NOTE, now_us,
			    "does not stamp its events with the steady clock; they count from when "
			    "they arrive");
	}
	return error;
}

/* Opens those nodes that are not open yet, and reports what comes of it. Swaps the descriptions, so
 * that the pedal has the new one. */
static void attach(struct pedal *pedal, struct input_device *input, int64_t now_us)
{
	struct pedal_info before = pedal->info;
	int count_before = pedal->node_count;

	pedal->info = input->info;
	input->info = before;
	int error = open_nodes(pedal, input, now_us);
	if (pedal->node_count == 0) {
		if (!pedal->denied && (error == EACCES || error == EPERM)) {
			pedal->denied = true;
			pedal->denied_us = now_us + denied_grace_us;
		}
		return;
	}
	pedal->denied = false;
	pedal->denied_us = INT64_MAX;
	if (count_before == 0)
		decide_grab(pedal, now_us);
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

/* Closes everything, and reports it gone if it was announced. */
static void lose(struct pedal *pedal, int64_t now_us)
{
	gestures_release(pedal->gestures, now_us);
	close_nodes(pedal);
	pedal->grab_us = pedal->denied_us = INT64_MAX;
	pedal->busy = pedal->denied = false;
	if (pedal->announced)
		say(pedal, PEDAL_GONE, now_us, "unplugged");
	pedal->announced = false;
}

/* Reads one node. False if there may be more to read. If the node is gone, so is the pedal. */
static bool read_node(struct pedal *pedal, const struct node *node, bool hung_up, int64_t now_us)
{
	bool dropped = false;
	int result = read_events(pedal, node, now_us, &dropped);

	if (dropped && may_say_again(&pedal->say_note_us, now_us))
		say(pedal, PEDAL_NOTE, now_us,
		    "sent more than could be read in time; its keys were looked at again");
	if (result == -EAGAIN ? hung_up : result < 0) {
		lose(pedal, now_us);
		return true;
	}
	if (pedal->grab_us != INT64_MAX && !pedal->busy) /* perhaps the last key came up */
		try_grab(pedal, now_us);
	return result < 0;
}

static void tick(struct pedal *pedal, int64_t now_us)
{
	gestures_tick(pedal->gestures, now_us);
	if (pedal->grab_us <= now_us)
		try_grab(pedal, now_us);
	if (pedal->denied_us <= now_us)
		report_denied(pedal, now_us);
}

/* ---- plugging in and out ----
 *
 * inotify on the folder of the event nodes, not the udev monitor: it works without udev, and a node
 * that appears unreadable is reported again when its permissions change. The folder itself comes
 * with the first device and goes with the last.
 */

/* A folder that is watched already stays watched as it is. */
static bool watch_folder(const struct pedals *pedals, const char *folder, uint32_t changes)
{
	char *path = memory_format("%s%s", pedals->config.root, folder);
	bool watched = inotify_add_watch(pedals->hotplug, path, changes) >= 0;

	free(path);
	return watched;
}

/* The folder, and the one above it, where it comes back. */
static bool watch_folders(const struct pedals *pedals)
{
	bool above = watch_folder(pedals, "/dev", IN_CREATE | IN_MOVED_TO);

	return watch_folder(pedals, "/dev/input",
			    IN_CREATE | IN_DELETE | IN_ATTRIB | IN_MOVED_TO | IN_MOVED_FROM |
				    IN_ONLYDIR) ||
	       above;
}

static void watch_for_changes(struct pedals *pedals)
{
	pedals->hotplug = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
	if (pedals->hotplug >= 0 && watch_folders(pedals))
		watch(pedals, pedals->hotplug);
	else
		source_say(&pedals->source, PEDAL_NOTE, NULL, clock_steady_us(),
			   "those plugged in later will not be noticed: %s", strerror(errno));
}

static void scan_soon(struct pedals *pedals, int64_t now_us)
{
	if (pedals->scan_us == INT64_MAX)
		pedals->scan_us = now_us + settle_us;
}

static void read_changes(struct pedals *pedals, int64_t now_us)
{
	char events[4096];

	while (read(pedals->hotplug, events, sizeof events) > 0)
		scan_soon(pedals, now_us);
	watch_folders(pedals);
}

static const struct pedal_entry *entry_for(const struct pedals *pedals,
					   const struct input_device *input)
{
	for (size_t i = 0; i < pedals->config.entry_count; i++)
		if (entry_matches(&pedals->config.entries[i], input))
			return &pedals->config.entries[i];
	return NULL;
}

static bool is_wanted(const struct pedals *pedals, const struct input_device *input)
{
	if (pedals->config.entry_count > 0)
		return entry_for(pedals, input) != NULL;
	return input->info.class == PEDAL_CLASS_PEDAL;
}

static bool is_plugged_in(const struct pedal *pedal)
{
	return pedal->node_count > 0 || pedal->denied;
}

/* The same ids and serial number, at any port. */
static bool could_be(const struct pedal *pedal, const struct input_device *input)
{
	return pedal->info.vendor == input->info.vendor &&
	       pedal->info.product == input->info.product &&
	       same_text(pedal->info.serial, input->info.serial);
}

static bool is_at_its_port(const struct pedal *pedal, const struct input_device *input)
{
	return could_be(pedal, input) && same_text(pedal->info.port, input->info.port);
}

static void lose_missing(struct pedals *pedals, const struct input_device *inputs, size_t count,
			 int64_t now_us)
{
	for (size_t i = 0; i < pedals->count; i++) {
		struct pedal *pedal = pedals->all[i];
		bool there = false;

		for (size_t k = 0; k < count && !there; k++)
			there = is_at_its_port(pedal, &inputs[k]) &&
				(pedal->entry || is_wanted(pedals, &inputs[k]));
		if (is_plugged_in(pedal) && !there)
			lose(pedal, now_us);
	}
}

static struct pedal *add_pedal(struct pedals *pedals, const struct input_device *input,
			       const struct pedal_entry *entry)
{
	struct pedal *pedal = memory_new(1, sizeof *pedal);

	*pedal = (struct pedal){
		.pedals = pedals,
		.entry = entry,
		.gestures = gestures_new(entry ? &entry->times : &pedals->config.times, on_gesture,
					 pedal),
		.grab_us = INT64_MAX,
		.denied_us = INT64_MAX,
	};
	set_keys(pedal, &input->info);
	pedals->all = memory_resize(pedals->all, pedals->count + 1, sizeof pedal);
	pedals->all[pedals->count++] = pedal;
	return pedal;
}

/* The pedal that an input device is: one that is there, else a missing one, if possible of the same
 * entry, else a new one; NULL if it is not wanted. */
static struct pedal *pedal_for(struct pedals *pedals, const struct input_device *input)
{
	const struct pedal_entry *entry = entry_for(pedals, input);
	struct pedal *best = NULL;

	if (pedals->config.entry_count == 0 && !is_wanted(pedals, input))
		return NULL;
	for (size_t i = 0; i < pedals->count; i++) {
		struct pedal *pedal = pedals->all[i];

		if (is_plugged_in(pedal) && is_at_its_port(pedal, input))
			return pedal;
		if (!is_plugged_in(pedal) && could_be(pedal, input) &&
		    (!best || (best->entry != entry && pedal->entry == entry)))
			best = pedal;
	}
	return best || !is_wanted(pedals, input) ? best : add_pedal(pedals, input, entry);
}

static void scan(struct pedals *pedals, int64_t now_us)
{
	size_t count;
	struct input_device *inputs = inventory_take(pedals->config.root, &count);

	pedals->scan_us = INT64_MAX;
	lose_missing(pedals, inputs, count, now_us);
	for (size_t i = 0; i < count; i++) {
		struct pedal *pedal = pedal_for(pedals, &inputs[i]);

		if (pedal)
			attach(pedal, &inputs[i], now_us);
	}
	inventory_free(inputs, count);
}

/* ---- the source ---- */

static bool read_pedal(struct pedals *pedals, const struct epoll_event *event, int64_t now_us)
{
	for (size_t i = 0; i < pedals->count; i++) {
		struct pedal *pedal = pedals->all[i];

		for (int n = 0; n < pedal->node_count; n++) {
			if (pedal->nodes[n].fd != event->data.fd)
				continue;
			bool drained = read_node(pedal, &pedal->nodes[n],
						 event->events & (EPOLLHUP | EPOLLERR), now_us);
			if (pedal->node_count == 0)
				scan_soon(pedals, now_us);
			return drained;
		}
	}
	return true; /* closed by an earlier event of the same round */
}

/* Reads what is ready. True if there was nothing more to read. */
static bool read_ready(struct pedals *pedals, int64_t now_us)
{
	struct epoll_event ready[READY_MAX];
	int count = epoll_wait(pedals->source.fd, ready, READY_MAX, 0);
	bool drained = count < READY_MAX;

	for (int i = 0; i < count; i++) {
		if (ready[i].data.fd == pedals->hotplug)
			read_changes(pedals, now_us);
		else
			drained &= read_pedal(pedals, &ready[i], now_us);
	}
	return drained;
}

static void dispatch(struct source *source)
{
	struct pedals *pedals = (struct pedals *)source;
	/* Events up to now are read before time passes up to now: a press that waited in the queue
	 * with its release is short, however late it is read. */
	int64_t now_us = clock_steady_us();
	bool drained = false;

	for (int round = 0; round < ROUNDS_MAX && !drained; round++)
		drained = read_ready(pedals, clock_steady_us());
	if (pedals->scan_us <= now_us)
		scan(pedals, now_us);
	for (size_t i = 0; drained && i < pedals->count; i++)
		tick(pedals->all[i], now_us);
}

static int64_t sooner(int64_t a_us, int64_t b_us)
{
	return a_us < b_us ? a_us : b_us;
}

static int64_t deadline_us(const struct source *source)
{
	const struct pedals *pedals = (const struct pedals *)source;
	int64_t earliest_us = pedals->scan_us;

	for (size_t i = 0; i < pedals->count; i++) {
		const struct pedal *pedal = pedals->all[i];

		earliest_us = sooner(earliest_us, gestures_deadline_us(pedal->gestures));
		earliest_us = sooner(earliest_us, sooner(pedal->grab_us, pedal->denied_us));
	}
	return earliest_us;
}

static void forget(struct source *source)
{
	forget_others((struct pedals *)source, NULL);
}

static bool settled(const struct source *source)
{
	const struct pedals *pedals = (const struct pedals *)source;

	for (size_t i = 0; i < pedals->count; i++)
		if (!gestures_settled(pedals->all[i]->gestures))
			return false;
	return true;
}

static void close_pedals(struct source *source)
{
	struct pedals *pedals = (struct pedals *)source;

	for (size_t i = 0; i < pedals->count; i++) {
		close_nodes(pedals->all[i]);
		free(pedals->all[i]->gestures);
		info_free(&pedals->all[i]->info);
		free(pedals->all[i]);
	}
	free(pedals->all);
	if (pedals->hotplug >= 0)
		close(pedals->hotplug);
	close(source->fd);
	free(pedals);
}

struct source *pedals_open(const struct pedal_config *config, pedal_sink *emit, void *owner,
			   char **why)
{
	int epoll_fd = epoll_create1(EPOLL_CLOEXEC);

	if (epoll_fd < 0) {
		*why = memory_format("pedals cannot be read: %s", strerror(errno));
		return NULL;
	}
	struct pedals *pedals = memory_new(1, sizeof *pedals);
	*pedals = (struct pedals){
		.source = {.name = "pedals",
			   .emit = emit,
			   .owner = owner,
			   .fd = epoll_fd,
			   .deadline_us = deadline_us,
			   .dispatch = dispatch,
			   .forget = forget,
			   .settled = settled,
			   .close = close_pedals},
		.config = *config,
	};
	if (!config->root)
		pedals->config.root = "";
	watch_for_changes(pedals);
	return &pedals->source;
}
