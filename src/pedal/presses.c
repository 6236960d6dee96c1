/* All that presses: the pedals of a run, which of them are plugged in, and the keys beside them.
 *
 * Whenever something in the folder of event nodes changes, the whole folder is scanned a moment
 * later and compared with what is known, so that a missed or reordered change does no harm.
 */
#include "pedal/internal.h"

#include <errno.h>
#include <libevdev/libevdev.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/inotify.h>
#include <unistd.h>

/* The nodes of one device appear one after the other: wait for all of them before a scan. */
static const int64_t settle_us = 100 * MS_US;

enum {
	/* What one dispatch reads at most, so that a device that sends without end does not hold up
	 * everything else. */
	ROUNDS_MAX = 16,
	READY_MAX = 32,
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

static void tell(const struct presses *presses, enum pedal_event_kind kind, int64_t time_us,
		 const char *text)
{
	presses->emit(presses->owner,
		      &(struct pedal_event){.kind = kind, .text = text, .time_us = time_us});
}

static void forget_pedals(const struct presses *presses, const struct pedal_info *but)
{
	for (size_t i = 0; i < presses->count; i++)
		if (&presses->all[i]->info != but)
			gestures_forget(presses->all[i]->gestures);
}

static void forget_keys(const struct presses *presses)
{
	if (presses->keys)
		keys_forget(presses->keys);
}

/* What the others gave before a gesture of one pedal, or of the keys, must not be taken back. */
static void on_event(void *owner, const struct pedal_event *event)
{
	const struct presses *presses = owner;

	if (event->kind <= GESTURE_HELD) {
		forget_pedals(presses, event->pedal);
		if (event->pedal)
			forget_keys(presses);
	}
	presses->emit(presses->owner, event);
}

/* Wakes the owner of the epoll; presses_dispatch looks at it every time. False with errno. */
static bool watch(const struct presses *presses, int fd)
{
	return epoll_ctl(presses->epoll, EPOLL_CTL_ADD, fd,
			 &(struct epoll_event){.events = EPOLLIN}) == 0;
}

static void scan_soon(struct presses *presses, int64_t now_us)
{
	if (presses->scan_us == INT64_MAX)
		presses->scan_us = now_us + settle_us;
}

/* ---- plugging in and out ----
 *
 * inotify on the folder of the event nodes, not the udev monitor: it works without udev, and a node
 * that appears unreadable is reported again when its permissions change. The folder itself comes
 * with the first device and goes with the last.
 */

/* Watches the folder, and the one above it, in which it appears again. To watch one twice changes
 * nothing. */
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
	if (presses->hotplug >= 0 && watch_folders(presses)) {
		watch(presses, presses->hotplug);
		return;
	}
	char *text = memory_format("pedals: those plugged in later will not be noticed: %s",
				   strerror(errno));
	tell(presses, PEDAL_NOTE, clock_steady_us(), text);
	free(text);
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
		if (pedal_is_there(pedal) && !there)
			pedal_lose(pedal, now_us);
	}
}

static struct pedal *add_pedal(struct presses *presses, const struct input_device *input,
			       const struct pedal_entry *entry)
{
	struct pedal *pedal =
		pedal_new(entry, &presses->config.times, &input->info, on_event, presses);

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

		if (pedal_is_there(pedal) && is_at_its_port(pedal, input))
			return pedal;
		if (!pedal_is_there(pedal) && could_be(pedal, input) &&
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
			pedal_attach(pedal, &inputs[i], presses->epoll, now_us);
	}
	inventory_free(inputs, count);
}

/* ---- the whole ---- */

/* Reads what is ready. True if there was nothing more to read. */
static bool read_ready(struct presses *presses, int64_t now_us)
{
	struct epoll_event ready[READY_MAX];
	int count = epoll_wait(presses->epoll, ready, READY_MAX, 0);
	bool drained = count < READY_MAX;

	for (int i = 0; i < count; i++) {
		if (!ready[i].data.ptr)
			continue;
		enum node_state state = node_read(ready[i].data.ptr,
						  ready[i].events & (EPOLLHUP | EPOLLERR), now_us);
		if (state == NODE_GONE)
			scan_soon(presses, now_us);
		drained &= state != NODE_MORE;
	}
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
	tell(presses, PEDAL_KEYS_ENDED, now_us, "keys: no more will come");
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
		pedal_tick(presses->all[i], now_us);
	if (presses->keys)
		dispatch_keys(presses, now_us);
}

int presses_fd(const struct presses *presses)
{
	return presses->epoll;
}

int64_t presses_deadline_us(const struct presses *presses)
{
	if (!presses)
		return INT64_MAX;
	int64_t earliest_us = presses->scan_us;
	for (size_t i = 0; i < presses->count; i++)
		earliest_us = sooner(earliest_us, pedal_deadline_us(presses->all[i]));
	if (!presses->keys)
		return earliest_us;
	return presses->keys_wait ? sooner(earliest_us, keys_deadline_us(presses->keys)) : 0;
}

void presses_forget(struct presses *presses)
{
	if (!presses)
		return;
	forget_pedals(presses, NULL);
	forget_keys(presses);
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
	for (size_t i = 0; i < presses->count; i++)
		pedal_free(presses->all[i]);
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
	presses->keys_wait = watch(presses, fd);
	if (!presses->keys_wait && errno != EPERM) { /* EPERM: a file, which epoll does not take */
		*why = memory_format("keys cannot be read: %s", strerror(errno));
		return false;
	}
	/* Last: nothing after it can fail and leave a terminal in our mode. */
	presses->keys = keys_open(fd, on_event, presses);
	if (presses->keys)
		return true;
	epoll_ctl(presses->epoll, EPOLL_CTL_DEL, fd, NULL);
	*why = memory_copy("keys cannot be read: the program runs in the background of its "
			   "terminal");
	return false;
}
