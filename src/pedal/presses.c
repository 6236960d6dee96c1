/* All that presses: the pedals of a run, which are plugged in, what each of them sends, what is
 * due; and the keys beside them.
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

/* How often trouble with a contact is reported at most. */
static const int64_t trouble_rest_us = 30 * SECOND_US;

enum {
	NODES_MAX = 16,
	/* What one dispatch reads at most, so that a device that sends without end does not hold up
	 * everything else. */
	ROUNDS_MAX = 16,
	READY_MAX = 32,
	EVENTS_AT_ONCE = 512,
};

struct node {
	struct pedal *pedal;
	char *path;
	struct libevdev *evdev;
	int fd;
	bool kernel_time; /* events are stamped with CLOCK_MONOTONIC, else with their arrival */
};

struct presses {
	pedal_sink *emit;
	void *owner;
	int epoll; /* over the nodes, the hotplug, and the keys */
	struct pedal_config config;
	int hotplug;     /* inotify, or -1 */
	int64_t scan_us; /* when to scan the folder; INT64_MAX: no need to */
	struct pedal **all;
	size_t count;
	struct keys *keys; /* NULL: none, or at their end */
	int keys_fd;
	bool keys_wait; /* else they come from a file, which can be read at once */
};

/* One pedal, which stays the same through being unplugged. */
struct pedal {
	struct presses *presses;
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

/* Gives an event with a text, which begins with the name of the pedal if there is one. */
__attribute__((format(printf, 5, 6))) static void tell(const struct presses *presses,
						       enum pedal_event_kind kind,
						       const struct pedal_info *pedal,
						       int64_t time_us, const char *format, ...)
{
	char text[512];
	int begin = pedal ? snprintf(text, sizeof text, "%.200s: ", pedal->name) : 0;
	va_list values;

	va_start(values, format);
	vsnprintf(text + begin, sizeof text - (size_t)begin, format, values);
	va_end(values);
	presses->emit(presses->owner,
		      &(struct pedal_event){
			      .kind = kind, .pedal = pedal, .text = text, .time_us = time_us});
}

#define say(pedal, kind, ...) tell((pedal)->presses, kind, &(pedal)->info, __VA_ARGS__)

/* ---- keys and gestures ---- */

static void forget(struct presses *presses, const struct pedal *but, bool keys)
{
	for (size_t i = 0; i < presses->count; i++)
		if (presses->all[i] != but)
			gestures_forget(presses->all[i]->gestures);
	if (keys && presses->keys)
		keys_forget(presses->keys);
}

/* Gives a gesture of a pedal or, if that is NULL, of a key. What the others gave before it must not
 * be taken back. */
static void give(struct presses *presses, const struct pedal *pedal, struct pedal_event event)
{
	forget(presses, pedal, pedal != NULL);
	event.pedal = pedal ? &pedal->info : NULL;
	presses->emit(presses->owner, &event);
}

static void on_key(void *owner, const struct pedal_event *event)
{
	give(owner, NULL, *event);
}

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

	if (event->kind <= GESTURE_HELD)
		give(pedal->presses, pedal, *event);
	else
		report_trouble(pedal, event);
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

/* Takes the events that wait. 0 if there may be more, -EAGAIN if not, another negative errno if the
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

/* Grabs it if it may; says what comes of it. */
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

/* ---- one pedal, coming and going ---- */

/* node: what is to be read then; NULL: what is looked at each time. False with errno. */
static bool watch(const struct presses *presses, int fd, struct node *node)
{
	struct epoll_event event = {.events = EPOLLIN, .data.ptr = node};

	return epoll_ctl(presses->epoll, EPOLL_CTL_ADD, fd, &event) == 0;
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
		int failure = node_open(pedal, node, input->nodes[i].path);
		if (failure) {
			error = failure;
			continue;
		}
		pedal->node_count++;
		watch(pedal->presses, node->fd, node);
		for (unsigned code = 0; code < KEY_CNT; code++)
			if (libevdev_get_event_value(node->evdev, EV_KEY, code) == 1)
				on_edge(pedal, code, GESTURE_EDGE_FOUND_DOWN, now_us);
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

static void scan_soon(struct presses *presses, int64_t now_us)
{
	if (presses->scan_us == INT64_MAX)
		presses->scan_us = now_us + settle_us;
}

/* Reads one node. False if there may be more to read. If the node is gone, so is the pedal. */
static bool read_node(const struct node *node, bool hung_up, int64_t now_us)
{
	struct pedal *pedal = node->pedal;

	if (node >= pedal->nodes + pedal->node_count)
		return true; /* closed by an earlier event of the same round */
	int result = read_events(pedal, node, now_us);
	if (result == -EAGAIN ? hung_up : result < 0) {
		lose(pedal, now_us);
		scan_soon(pedal->presses, now_us);
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

/* The folder, and the one above it, where it comes back. One that is watched already stays watched
 * as it is. */
static bool watch_folders(const struct presses *presses)
{
	static const char *const folders[] = {"/dev", "/dev/input"};
	static const uint32_t changes[] = {IN_CREATE | IN_MOVED_TO,
					   IN_CREATE | IN_DELETE | IN_ATTRIB | IN_MOVED_TO |
						   IN_MOVED_FROM | IN_ONLYDIR};
	bool watched = false;

	for (int i = 0; i < 2; i++) {
		char *path = memory_format("%s%s", presses->config.root, folders[i]);
		watched |= inotify_add_watch(presses->hotplug, path, changes[i]) >= 0;
		free(path);
	}
	return watched;
}

static void watch_for_changes(struct presses *presses)
{
	presses->hotplug = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
	if (presses->hotplug >= 0 && watch_folders(presses))
		watch(presses, presses->hotplug, NULL);
	else
		tell(presses, PEDAL_NOTE, NULL, clock_steady_us(),
		     "pedals: those plugged in later will not be noticed: %s", strerror(errno));
}

static void read_changes(struct presses *presses, int64_t now_us)
{
	char events[4096];

	while (read(presses->hotplug, events, sizeof events) > 0) {
		scan_soon(presses, now_us);
		watch_folders(presses);
	}
}

static const struct pedal_entry *entry_for(const struct presses *presses,
					   const struct input_device *input)
{
	for (size_t i = 0; i < presses->config.entry_count; i++)
		if (entry_matches(&presses->config.entries[i], input))
			return &presses->config.entries[i];
	return NULL;
}

static bool is_wanted(const struct presses *presses, const struct input_device *input)
{
	if (presses->config.entry_count > 0)
		return entry_for(presses, input) != NULL;
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

static void lose_missing(struct presses *presses, const struct input_device *inputs, size_t count,
			 int64_t now_us)
{
	for (size_t i = 0; i < presses->count; i++) {
		struct pedal *pedal = presses->all[i];
		bool there = false;

		for (size_t k = 0; k < count && !there; k++)
			there = is_at_its_port(pedal, &inputs[k]) &&
				(pedal->entry || is_wanted(presses, &inputs[k]));
		if (is_plugged_in(pedal) && !there)
			lose(pedal, now_us);
	}
}

static struct pedal *add_pedal(struct presses *presses, const struct input_device *input,
			       const struct pedal_entry *entry)
{
	struct pedal *pedal = memory_new(1, sizeof *pedal);

	*pedal = (struct pedal){
		.presses = presses,
		.entry = entry,
		.gestures = gestures_new(entry ? &entry->times : &presses->config.times, on_gesture,
					 pedal),
		.grab_us = INT64_MAX,
		.denied_us = INT64_MAX,
	};
	set_keys(pedal, &input->info);
	presses->all = memory_resize(presses->all, presses->count + 1, sizeof pedal);
	presses->all[presses->count++] = pedal;
	return pedal;
}

/* The pedal that an input device is: one that is there, else a missing one, if possible of the same
 * entry, else a new one; NULL if it is not wanted. */
static struct pedal *pedal_for(struct presses *presses, const struct input_device *input)
{
	const struct pedal_entry *entry = entry_for(presses, input);
	struct pedal *best = NULL;

	if (presses->config.entry_count == 0 && !is_wanted(presses, input))
		return NULL;
	for (size_t i = 0; i < presses->count; i++) {
		struct pedal *pedal = presses->all[i];

		if (is_plugged_in(pedal) && is_at_its_port(pedal, input))
			return pedal;
		if (!is_plugged_in(pedal) && could_be(pedal, input) &&
		    (!best || (best->entry != entry && pedal->entry == entry)))
			best = pedal;
	}
	return best || !is_wanted(presses, input) ? best : add_pedal(presses, input, entry);
}

static void scan(struct presses *presses, int64_t now_us)
{
	size_t count;
	struct input_device *inputs = inventory_take(presses->config.root, &count);

	presses->scan_us = INT64_MAX;
	lose_missing(presses, inputs, count, now_us);
	for (size_t i = 0; i < count; i++) {
		struct pedal *pedal = pedal_for(presses, &inputs[i]);

		if (pedal)
			attach(pedal, &inputs[i], now_us);
	}
	inventory_free(inputs, count);
}

/* ---- the whole ---- */

/* Reads what is ready. True if there was nothing more to read. */
static bool read_ready(const struct presses *presses, int64_t now_us)
{
	struct epoll_event ready[READY_MAX];
	int count = epoll_wait(presses->epoll, ready, READY_MAX, 0);
	bool drained = count < READY_MAX;

	for (int i = 0; i < count; i++)
		if (ready[i].data.ptr)
			drained &= read_node(ready[i].data.ptr,
					     ready[i].events & (EPOLLHUP | EPOLLERR), now_us);
	return drained;
}

static void dispatch_keys(struct presses *presses, int64_t now_us)
{
	bool more = keys_read(presses->keys, presses->keys_fd, now_us);

	keys_tick(presses->keys, now_us);
	if (more)
		return;
	epoll_ctl(presses->epoll, EPOLL_CTL_DEL, presses->keys_fd, NULL);
	keys_close(presses->keys);
	presses->keys = NULL;
	tell(presses, PEDAL_KEYS_ENDED, NULL, now_us, "keys: no more will come");
}

void presses_dispatch(struct presses *presses)
{
	if (!presses)
		return;
	/* Events up to now are read before time passes up to now: a press that waited in the queue
	 * with its release is short, however late it is read. */
	int64_t now_us = clock_steady_us();
	bool drained = false;

	read_changes(presses, now_us);
	for (int round = 0; round < ROUNDS_MAX && !drained; round++)
		drained = read_ready(presses, clock_steady_us());
	if (presses->scan_us <= now_us)
		scan(presses, now_us);
	for (size_t i = 0; drained && i < presses->count; i++)
		tick(presses->all[i], now_us);
	if (presses->keys)
		dispatch_keys(presses, now_us);
}

int presses_fd(const struct presses *presses)
{
	return presses->epoll;
}

static int64_t sooner(int64_t a_us, int64_t b_us)
{
	return a_us < b_us ? a_us : b_us;
}

int64_t presses_deadline_us(const struct presses *presses)
{
	if (!presses)
		return INT64_MAX;
	int64_t earliest_us = presses->scan_us;
	for (size_t i = 0; i < presses->count; i++) {
		const struct pedal *pedal = presses->all[i];

		earliest_us = sooner(earliest_us, gestures_deadline_us(pedal->gestures));
		earliest_us = sooner(earliest_us, sooner(pedal->grab_us, pedal->denied_us));
	}
	if (!presses->keys)
		return earliest_us;
	return presses->keys_wait ? sooner(earliest_us, keys_deadline_us(presses->keys)) : 0;
}

void presses_forget(struct presses *presses)
{
	if (presses)
		forget(presses, NULL, true);
}

bool presses_settled(const struct presses *presses)
{
	if (!presses)
		return true;
	for (size_t i = 0; i < presses->count; i++)
		if (!gestures_settled(presses->all[i]->gestures))
			return false;
	return !presses->keys || keys_settled(presses->keys);
}

void presses_close(struct presses *presses)
{
	if (!presses)
		return;
	for (size_t i = 0; i < presses->count; i++) {
		close_nodes(presses->all[i]);
		free(presses->all[i]->gestures);
		info_free(&presses->all[i]->info);
		free(presses->all[i]);
	}
	free(presses->all);
	if (presses->keys)
		keys_close(presses->keys);
	if (presses->hotplug >= 0)
		close(presses->hotplug);
	close(presses->epoll);
	free(presses);
}

struct presses *presses_open(const struct pedal_config *config, pedal_sink *emit, void *owner,
			     char **why)
{
	int epoll = epoll_create1(EPOLL_CLOEXEC);

	if (epoll < 0) {
		*why = memory_format("pedals cannot be read: %s", strerror(errno));
		return NULL;
	}
	struct presses *presses = memory_new(1, sizeof *presses);
	*presses = (struct presses){
		.emit = emit, .owner = owner, .epoll = epoll, .hotplug = -1, .scan_us = INT64_MAX};
	if (!config)
		return presses;
	presses->config = *config;
	if (!config->root)
		presses->config.root = "";
	libevdev_set_log_function(NULL, NULL); /* it writes about oddities on standard error */
	watch_for_changes(presses);
	scan(presses, clock_steady_us());
	return presses;
}

bool presses_read_keys(struct presses *presses, int fd, char **why)
{
	presses->keys_fd = fd;
	presses->keys_wait = watch(presses, fd, NULL);
	if (!presses->keys_wait && errno != EPERM) { /* EPERM: a file, which epoll does not take */
		*why = memory_format("keys cannot be read: %s", strerror(errno));
		return false;
	}
	/* Last: nothing after it can fail and leave a terminal in our mode. */
	presses->keys = keys_open(fd, on_key, presses);
	if (presses->keys)
		return true;
	epoll_ctl(presses->epoll, EPOLL_CTL_DEL, fd, NULL);
	*why = memory_copy("keys cannot be read: the program runs in the background of its "
			   "terminal");
	return false;
}
