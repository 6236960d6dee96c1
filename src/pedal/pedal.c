/* All sources of a run in one place: which pedals are there, which descriptor is ready, what is
 * due.
 *
 * The folder of the event nodes is looked through as a whole, a moment after something in it has
 * changed, and compared with what is known: whatever was missed or came in an odd order, the next
 * look puts it right.
 */
#include "pedal/pedal.h"

#include "base/base.h"
#include "pedal/internal.h"

#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <unistd.h>

/* The nodes of one device appear one after the other: look when they have all had time to come. */
static const int64_t settle_us = 100 * MS_US;

/* One dispatch reads on while there is something, but not for ever. */
enum { ROUNDS_MAX = 16, READY_MAX = 32 };

struct pedals {
	struct pedal_config config;
	struct outlet outlet;
	int epoll_fd;
	struct hotplug hotplug;
	int64_t look_us; /* when to look through the folder; INT64_MAX: no need to */
	struct pedal_device **units;
	size_t unit_count;
	struct keys *keys; /* NULL: none, or ended */
	bool keys_typed;
	bool keys_always_ready; /* a file: epoll does not take it, reading never blocks */
};

static void on_moving(struct pedals *pedals, const void *source)
{
	for (size_t i = 0; i < pedals->unit_count; i++)
		if (pedals->units[i] != source)
			gestures_forget(pedals->units[i]->gestures);
	if (pedals->keys && pedals->keys != source)
		keys_forget(pedals->keys);
}

static void on_key(void *owner, const struct gesture *gesture)
{
	struct pedals *pedals = owner;

	outlet_gesture(&pedals->outlet, pedals->keys, "keys", gesture);
}

static bool watch(struct pedals *pedals, int fd)
{
	struct epoll_event event = {.events = EPOLLIN, .data.fd = fd};

	return epoll_ctl(pedals->epoll_fd, EPOLL_CTL_ADD, fd, &event) == 0 || errno == EEXIST;
}

/* ---- the key source ---- */

static bool keys_open(struct pedals *pedals, char **why)
{
	int fd = pedals->config.keys_fd;
	enum pedal_keys wish = pedals->config.keys;
	const char *refusal = NULL;

	if (wish == PEDAL_KEYS_NONE)
		return true;
	pedals->keys_typed = wish == PEDAL_KEYS_TERMINAL || (wish == PEDAL_KEYS_AUTO && isatty(fd));
	if (pedals->keys_typed && !terminal_enter(fd, &refusal)) {
		*why = memory_format("keys cannot be read: %s", refusal);
		return false;
	}
	if (!watch(pedals, fd)) {
		if (errno != EPERM) {
			*why = memory_format("keys cannot be read: %s", strerror(errno));
			return false;
		}
		pedals->keys_always_ready = true;
	}
	pedals->keys = keys_new(pedals->keys_typed, on_key, pedals);
	return true;
}

static void keys_close(struct pedals *pedals)
{
	if (!pedals->keys)
		return;
	epoll_ctl(pedals->epoll_fd, EPOLL_CTL_DEL, pedals->config.keys_fd, NULL);
	pedals->keys_always_ready = false;
	keys_free(pedals->keys);
	pedals->keys = NULL;
	if (pedals->keys_typed)
		terminal_leave();
}

static bool keys_are_ready(const struct pedals *pedals)
{
	struct pollfd ready = {.fd = pedals->config.keys_fd, .events = POLLIN};

	return poll(&ready, 1, 0) > 0;
}

static void keys_read(struct pedals *pedals, bool hung_up, int64_t now_us)
{
	char bytes[256];

	/* The descriptor is shared with the shell and may be blocking: look again before reading.
	 */
	if (!pedals->keys || !keys_are_ready(pedals))
		return;
	ssize_t count = read(pedals->config.keys_fd, bytes, sizeof bytes);
	if (count > 0) {
		keys_bytes(pedals->keys, bytes, (size_t)count, now_us);
		return;
	}
	if (count < 0 && (errno == EAGAIN || errno == EINTR))
		return;
	/* Nothing to read is no end in a terminal, unless nobody is at the other side any more. */
	if (count == 0 && pedals->keys_typed && !hung_up)
		return;
	keys_tick(pedals->keys, now_us);
	keys_close(pedals);
	outlet_say(&pedals->outlet, PEDAL_KEYS_ENDED, "keys", now_us, "no more keys will come");
}

/* ---- pedals coming and going ---- */

static const struct pedal_entry *entry_for(const struct pedals *pedals,
					   const struct input_device *device)
{
	for (size_t i = 0; i < pedals->config.entry_count; i++)
		if (entry_matches(&pedals->config.entries[i], device))
			return &pedals->config.entries[i];
	return NULL;
}

static bool is_wanted(const struct pedals *pedals, const struct input_device *device)
{
	if (pedals->config.entry_count > 0)
		return entry_for(pedals, device) != NULL;
	return look_at(device) == PEDAL_LOOKS_PEDAL;
}

static bool is_plugged_in(const struct pedal_device *unit)
{
	return unit->state == UNIT_PRESENT || unit->state == UNIT_DENIED;
}

static const struct input_device *device_of(const struct pedal_device *unit,
					    const struct inventory *inventory)
{
	for (size_t i = 0; i < inventory->count; i++)
		if (pedal_device_is(unit, &inventory->devices[i]))
			return &inventory->devices[i];
	return NULL;
}

static void drop_the_missing(struct pedals *pedals, const struct inventory *inventory,
			     int64_t now_us)
{
	for (size_t i = 0; i < pedals->unit_count; i++) {
		struct pedal_device *unit = pedals->units[i];
		const struct input_device *device = device_of(unit, inventory);

		if (is_plugged_in(unit) &&
		    (!device || (!unit->entry && !is_wanted(pedals, device))))
			pedal_device_lose(unit, now_us);
	}
}

/* How well a pedal that is gone fits a device that has come: 0 is not at all. */
static int fit(const struct pedals *pedals, const struct pedal_device *unit,
	       const struct input_device *device)
{
	if (is_plugged_in(unit) || !pedal_device_could_be(unit, device) ||
	    (!unit->entry && !is_wanted(pedals, device)))
		return 0;
	return is_wanted(pedals, device) && unit->entry == entry_for(pedals, device) ? 2 : 1;
}

/* The pedal that this device is: one that was here before, or a new one; NULL when it is none. */
static struct pedal_device *pedal_device_for(struct pedals *pedals,
					     const struct input_device *device)
{
	struct pedal_device *best = NULL;
	int best_fit = 0;

	for (size_t i = 0; i < pedals->unit_count; i++) {
		struct pedal_device *unit = pedals->units[i];

		if (is_plugged_in(unit) && pedal_device_is(unit, device))
			return unit;
		if (fit(pedals, unit, device) > best_fit) {
			best_fit = fit(pedals, unit, device);
			best = unit;
		}
	}
	if (best || !is_wanted(pedals, device))
		return best;
	pedals->units =
		memory_resize(pedals->units, pedals->unit_count + 1, sizeof(struct pedal_device *));
	pedals->units[pedals->unit_count] = pedal_device_new(
		&pedals->outlet, device, entry_for(pedals, device), &pedals->config.times);
	return pedals->units[pedals->unit_count++];
}

static void look_round(struct pedals *pedals, int64_t now_us)
{
	struct inventory inventory =
		inventory_take(pedals->config.input_dir, pedals->config.sysfs_dir);

	pedals->look_us = INT64_MAX;
	drop_the_missing(pedals, &inventory, now_us);
	for (size_t i = 0; i < inventory.count; i++) {
		struct pedal_device *unit = pedal_device_for(pedals, &inventory.devices[i]);

		if (!unit)
			continue;
		pedal_device_attach(unit, &inventory.devices[i], now_us);
		for (int node = 0; node < unit->node_count; node++)
			watch(pedals, unit->nodes[node]->fd);
	}
	inventory_free(&inventory);
}

static void look_soon(struct pedals *pedals, int64_t now_us)
{
	if (pedals->look_us == INT64_MAX)
		pedals->look_us = now_us + settle_us;
}

/* ---- the event loop's side ---- */

static struct pedal_device *pedal_device_with(const struct pedals *pedals, int fd,
					      struct node **node)
{
	for (size_t i = 0; i < pedals->unit_count; i++) {
		for (int n = 0; n < pedals->units[i]->node_count; n++) {
			*node = pedals->units[i]->nodes[n];
			if ((*node)->fd == fd)
				return pedals->units[i];
		}
	}
	return NULL;
}

static bool read_pedal(struct pedals *pedals, const struct epoll_event *event, int64_t now_us)
{
	struct node *node;
	struct pedal_device *unit = pedal_device_with(pedals, event->data.fd, &node);

	/* Closed by an earlier event of the same round. */
	if (!unit)
		return true;
	bool drained = pedal_device_read(unit, node, event->events & (EPOLLHUP | EPOLLERR), now_us);
	if (unit->state == UNIT_GONE)
		look_soon(pedals, now_us);
	return drained;
}

/* One round over what is ready. True when there was nothing (more) to read. */
static bool read_ready(struct pedals *pedals, int64_t now_us)
{
	struct epoll_event ready[READY_MAX];
	int count = epoll_wait(pedals->epoll_fd, ready, READY_MAX, 0);
	bool drained = count < READY_MAX;

	if (pedals->keys_always_ready)
		keys_read(pedals, false, now_us);
	for (int i = 0; i < count; i++) {
		int fd = ready[i].data.fd;

		if (fd == pedals->hotplug.fd) {
			if (hotplug_read(&pedals->hotplug))
				look_soon(pedals, now_us);
		} else if (pedals->keys && fd == pedals->config.keys_fd) {
			keys_read(pedals, ready[i].events & (EPOLLHUP | EPOLLERR), now_us);
		} else {
			drained &= read_pedal(pedals, &ready[i], now_us);
		}
	}
	return drained;
}

void pedals_dispatch(struct pedals *pedals)
{
	/* Read what happened until now before letting time pass until now: a press that waited in
	 * the queue with its release is short, however late it is read. */
	int64_t now_us = clock_steady_us();
	bool drained = false;

	for (int round = 0; round < ROUNDS_MAX && !drained; round++)
		drained = read_ready(pedals, clock_steady_us());
	if (pedals->look_us <= now_us)
		look_round(pedals, now_us);
	if (!drained)
		return;
	for (size_t i = 0; i < pedals->unit_count; i++)
		pedal_device_tick(pedals->units[i], now_us);
	if (pedals->keys)
		keys_tick(pedals->keys, now_us);
}

int64_t pedals_deadline_us(const struct pedals *pedals)
{
	int64_t deadline_us = pedals->keys_always_ready ? 0 : pedals->look_us;

	if (pedals->keys && keys_deadline_us(pedals->keys) < deadline_us)
		deadline_us = keys_deadline_us(pedals->keys);
	for (size_t i = 0; i < pedals->unit_count; i++)
		if (pedal_device_deadline_us(pedals->units[i]) < deadline_us)
			deadline_us = pedal_device_deadline_us(pedals->units[i]);
	return deadline_us;
}

static void devices_open(struct pedals *pedals)
{
	if (!hotplug_open(&pedals->hotplug, pedals->config.input_dir))
		outlet_say(&pedals->outlet, PEDAL_NOTE, "pedals", clock_steady_us(),
			   "pedals plugged in later will not be noticed: %s", strerror(errno));
	else
		watch(pedals, pedals->hotplug.fd);
	pedals->look_us = 0;
}

struct pedals *pedals_open(const struct pedal_config *config, pedal_sink *emit, void *owner,
			   char **why)
{
	struct pedals *pedals = memory_new(1, sizeof *pedals);

	*pedals = (struct pedals){
		.config = *config,
		.outlet = {.emit = emit, .owner = owner, .moving = on_moving, .pedals = pedals},
		.epoll_fd = epoll_create1(EPOLL_CLOEXEC),
		.hotplug = {.fd = -1},
		.look_us = INT64_MAX,
	};
	if (!config->input_dir)
		pedals->config.input_dir = "/dev/input";
	if (!config->sysfs_dir)
		pedals->config.sysfs_dir = "/sys";
	if (pedals->epoll_fd < 0) {
		*why = memory_format("pedals and keys cannot be read: %s", strerror(errno));
		free(pedals);
		return NULL;
	}
	if (!keys_open(pedals, why)) {
		pedals_close(pedals);
		return NULL;
	}
	if (config->devices)
		devices_open(pedals);
	return pedals;
}

void pedals_close(struct pedals *pedals)
{
	if (!pedals)
		return;
	keys_close(pedals);
	for (size_t i = 0; i < pedals->unit_count; i++)
		pedal_device_free(pedals->units[i]);
	free(pedals->units);
	hotplug_close(&pedals->hotplug);
	close(pedals->epoll_fd);
	free(pedals);
}

int pedals_fd(const struct pedals *pedals)
{
	return pedals->epoll_fd;
}

void pedals_forget(struct pedals *pedals)
{
	on_moving(pedals, NULL);
}

bool pedals_settled(const struct pedals *pedals)
{
	for (size_t i = 0; i < pedals->unit_count; i++)
		if (!gestures_settled(pedals->units[i]->gestures))
			return false;
	return !pedals->keys || keys_settled(pedals->keys);
}

size_t pedals_present(const struct pedals *pedals)
{
	size_t count = 0;

	for (size_t i = 0; i < pedals->unit_count; i++)
		count += pedals->units[i]->state == UNIT_PRESENT;
	return count;
}
