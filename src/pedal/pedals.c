/* The pedals of a run: which are plugged in, which descriptor is ready, what is due.
 *
 * Whenever something in the folder of event nodes changes, the whole folder is scanned a moment
 * later and compared with what is known, so that a missed or reordered change does no harm.
 */
#include "pedal/internal.h"

#include "base/base.h"

#include <errno.h>
#include <libgen.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/inotify.h>
#include <unistd.h>

/* The nodes of one device appear one after the other: wait for all of them before a scan. */
static const int64_t settle_us = 100 * MS_US;

/* What one dispatch reads at most. */
enum { ROUNDS_MAX = 16, READY_MAX = 32 };

struct pedals {
	struct source source; /* its fd is an epoll over the nodes and the hotplug */
	struct pedal_config config;
	struct event_sink sink;
	int hotplug;     /* inotify, or -1 */
	int64_t scan_us; /* when to scan the folder; INT64_MAX: no need to */
	struct pedal_device **devices;
	size_t device_count;
};

/* A gesture of one pedal: the others must not take back what they gave before it. */
static void forget_others(struct source *source, const struct pedal_device *device)
{
	struct pedals *pedals = (struct pedals *)source;

	for (size_t i = 0; i < pedals->device_count; i++)
		if (pedals->devices[i] != device)
			gestures_forget(pedals->devices[i]->gestures);
}

static void watch(struct pedals *pedals, int fd)
{
	struct epoll_event event = {.events = EPOLLIN, .data.fd = fd};

	/* EEXIST: it is watched already. */
	epoll_ctl(pedals->source.fd, EPOLL_CTL_ADD, fd, &event);
}

/* ---- plugging in and out ----
 *
 * inotify on the folder of the event nodes, not the udev monitor: it works without udev, and a node
 * that appears unreadable is reported again when its permissions change. The folder itself comes
 * with the first device and goes with the last.
 */

/* The folder, and the one above it, where it comes back. A folder that is watched already stays
 * watched as it is. */
static bool watch_folders(int fd, const char *input_dir)
{
	char *copy = memory_copy(input_dir);
	int above = inotify_add_watch(fd, dirname(copy), IN_CREATE | IN_MOVED_TO);
	int folder = inotify_add_watch(fd, input_dir,
				       IN_CREATE | IN_DELETE | IN_ATTRIB | IN_MOVED_TO |
					       IN_MOVED_FROM | IN_ONLYDIR);

	free(copy);
	return above >= 0 || folder >= 0;
}

/* An inotify descriptor, readable when something may have changed; -1 with errno: cannot watch. */
static int hotplug_open(const char *input_dir)
{
	int fd = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);

	if (fd < 0 || watch_folders(fd, input_dir))
		return fd;
	close(fd);
	return -1;
}

/* Reads what is waiting; true if the folder should be scanned. */
static bool hotplug_changed(int fd, const char *input_dir)
{
	char events[4096];
	bool changed = false;

	while (read(fd, events, sizeof events) > 0)
		changed = true;
	if (changed)
		watch_folders(fd, input_dir);
	return changed;
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
	return classify(input) == PEDAL_CLASS_PEDAL;
}

static bool is_plugged_in(const struct pedal_device *device)
{
	return device->state == DEVICE_PRESENT || device->state == DEVICE_DENIED;
}

static const struct input_device *input_of(const struct pedal_device *device,
					   const struct inventory *inventory)
{
	for (size_t i = 0; i < inventory->count; i++)
		if (pedal_device_is(device, &inventory->devices[i]))
			return &inventory->devices[i];
	return NULL;
}

static void lose_missing(struct pedals *pedals, const struct inventory *inventory, int64_t now_us)
{
	for (size_t i = 0; i < pedals->device_count; i++) {
		struct pedal_device *device = pedals->devices[i];
		const struct input_device *input = input_of(device, inventory);

		if (is_plugged_in(device) &&
		    (!input || (!device->entry && !is_wanted(pedals, input))))
			pedal_device_lose(device, now_us);
	}
}

/* How well an unplugged pedal fits an input device that has appeared: 0 is not at all. */
static int fit(const struct pedals *pedals, const struct pedal_device *device,
	       const struct input_device *input)
{
	if (is_plugged_in(device) || !pedal_device_could_be(device, input) ||
	    (!device->entry && !is_wanted(pedals, input)))
		return 0;
	return is_wanted(pedals, input) && device->entry == entry_for(pedals, input) ? 2 : 1;
}

/* The pedal that an input device is: a known one, or a new one; NULL if it is not wanted. */
static struct pedal_device *device_for(struct pedals *pedals, const struct input_device *input)
{
	struct pedal_device *best = NULL;
	int best_fit = 0;

	for (size_t i = 0; i < pedals->device_count; i++) {
		struct pedal_device *device = pedals->devices[i];

		if (is_plugged_in(device) && pedal_device_is(device, input))
			return device;
		if (fit(pedals, device, input) > best_fit) {
			best_fit = fit(pedals, device, input);
			best = device;
		}
	}
	if (best || !is_wanted(pedals, input))
		return best;
	pedals->devices = memory_resize(pedals->devices, pedals->device_count + 1, sizeof best);
	best = pedal_device_new(&pedals->sink, input, entry_for(pedals, input),
				&pedals->config.times);
	pedals->devices[pedals->device_count++] = best;
	return best;
}

static void scan(struct pedals *pedals, int64_t now_us)
{
	struct inventory inventory =
		inventory_take(pedals->config.input_dir, pedals->config.sysfs_dir);

	pedals->scan_us = INT64_MAX;
	lose_missing(pedals, &inventory, now_us);
	for (size_t i = 0; i < inventory.count; i++) {
		struct pedal_device *device = device_for(pedals, &inventory.devices[i]);

		if (!device)
			continue;
		pedal_device_attach(device, &inventory.devices[i], now_us);
		for (int node = 0; node < device->node_count; node++)
			watch(pedals, device->nodes[node].fd);
	}
	inventory_free(&inventory);
}

static void scan_soon(struct pedals *pedals, int64_t now_us)
{
	if (pedals->scan_us == INT64_MAX)
		pedals->scan_us = now_us + settle_us;
}

/* ---- reading ---- */

static struct pedal_device *device_with(const struct pedals *pedals, int fd, struct node **node)
{
	for (size_t i = 0; i < pedals->device_count; i++) {
		for (int n = 0; n < pedals->devices[i]->node_count; n++) {
			*node = &pedals->devices[i]->nodes[n];
			if ((*node)->fd == fd)
				return pedals->devices[i];
		}
	}
	return NULL;
}

static bool read_pedal(struct pedals *pedals, const struct epoll_event *event, int64_t now_us)
{
	struct node *node;
	struct pedal_device *device = device_with(pedals, event->data.fd, &node);

	/* Closed by an earlier event of the same round. */
	if (!device)
		return true;
	bool drained =
		pedal_device_read(device, node, event->events & (EPOLLHUP | EPOLLERR), now_us);
	if (device->state == DEVICE_GONE)
		scan_soon(pedals, now_us);
	return drained;
}

/* Reads what is ready. True if there was nothing more to read. */
static bool read_ready(struct pedals *pedals, int64_t now_us)
{
	struct epoll_event ready[READY_MAX];
	int count = epoll_wait(pedals->source.fd, ready, READY_MAX, 0);
	bool drained = count < READY_MAX;

	for (int i = 0; i < count; i++) {
		if (ready[i].data.fd != pedals->hotplug)
			drained &= read_pedal(pedals, &ready[i], now_us);
		else if (hotplug_changed(pedals->hotplug, pedals->config.input_dir))
			scan_soon(pedals, now_us);
	}
	return drained;
}

/* ---- the source ---- */

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
	for (size_t i = 0; drained && i < pedals->device_count; i++)
		pedal_device_tick(pedals->devices[i], now_us);
}

static int64_t deadline_us(const struct source *source)
{
	const struct pedals *pedals = (const struct pedals *)source;
	int64_t earliest_us = pedals->scan_us;

	for (size_t i = 0; i < pedals->device_count; i++)
		if (pedal_device_deadline_us(pedals->devices[i]) < earliest_us)
			earliest_us = pedal_device_deadline_us(pedals->devices[i]);
	return earliest_us;
}

static void forget(struct source *source)
{
	forget_others(source, NULL);
}

static bool settled(const struct source *source)
{
	const struct pedals *pedals = (const struct pedals *)source;

	for (size_t i = 0; i < pedals->device_count; i++)
		if (!gestures_settled(pedals->devices[i]->gestures))
			return false;
	return true;
}

static void close_pedals(struct source *source)
{
	struct pedals *pedals = (struct pedals *)source;

	for (size_t i = 0; i < pedals->device_count; i++)
		pedal_device_free(pedals->devices[i]);
	free(pedals->devices);
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
		.source = {.fd = epoll_fd,
			   .deadline_us = deadline_us,
			   .dispatch = dispatch,
			   .forget = forget,
			   .settled = settled,
			   .close = close_pedals},
		.config = *config,
		.sink = {.emit = emit,
			 .owner = owner,
			 .source = &pedals->source,
			 .before_gesture = forget_others},
	};
	if (!config->input_dir)
		pedals->config.input_dir = INPUT_DIR;
	pedals->hotplug = hotplug_open(pedals->config.input_dir);
	if (pedals->hotplug >= 0)
		watch(pedals, pedals->hotplug);
	else
		sink_say(&pedals->sink, PEDAL_NOTE, "pedals", clock_steady_us(),
			 "those plugged in later will not be noticed: %s", strerror(errno));
	return &pedals->source;
}
