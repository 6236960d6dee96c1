/* The pedals plugged in, and learning a new one: for the person who sets up the bench. */
#include "pedal/pedal.h"

#include "base/clock.h"
#include "base/memory.h"
#include "pedal/hotplug.h"
#include "pedal/look.h"
#include "pedal/node.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void copy_nodes(struct pedal_info *info, const struct input_device *device)
{
	info->nodes = memory_new(device->node_count + 1, sizeof *info->nodes);
	for (size_t i = 0; i < device->node_count; i++)
		info->nodes[i] = memory_copy(device->nodes[i].path);
}

/* NULL, or what keeps us from reading the device and what helps. */
static char *trouble_with(const struct input_device *device)
{
	for (size_t i = 0; i < device->node_count; i++) {
		const char *path = device->nodes[i].path;
		int fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);

		if (fd >= 0) {
			close(fd);
			continue;
		}
		if (errno == EACCES || errno == EPERM)
			return memory_format(
				"no permission to read %s: install pullcall's udev rule and "
				"plug the pedal in again",
				path);
		return memory_format("%s cannot be opened: %s", path, strerror(errno));
	}
	return NULL;
}

static struct pedal_info info_of(const struct input_device *device)
{
	struct pedal_info info = {
		.name = memory_copy(device->name),
		.vendor = device->vendor,
		.product = device->product,
		.serial = memory_copy(device->serial),
		.port = memory_copy(device->port),
		.look = look_at(device),
		.keys_total = device_keys(device, NULL, 0),
		.trouble = trouble_with(device),
	};
	bool any;

	info.key_count = default_keys(device, info.keys, &any);
	copy_nodes(&info, device);
	return info;
}

static void add_where(struct pedal_info **list, size_t *count, const struct inventory *inventory,
		      bool pedals)
{
	for (size_t i = 0; i < inventory->count; i++) {
		const struct input_device *device = &inventory->devices[i];

		if (device_keys(device, NULL, 0) == 0 ||
		    (look_at(device) == PEDAL_LOOKS_PEDAL) != pedals)
			continue;
		*list = memory_resize(*list, *count + 1, sizeof **list);
		(*list)[(*count)++] = info_of(device);
	}
}

static const char *or_default(const char *dir, const char *usual)
{
	return dir ? dir : usual;
}

struct pedal_info *pedal_list(const char *input_dir, const char *sysfs_dir, size_t *count)
{
	struct inventory inventory =
		inventory_take(or_default(input_dir, "/dev/input"), or_default(sysfs_dir, "/sys"));
	struct pedal_info *list = NULL;

	*count = 0;
	add_where(&list, count, &inventory, true);
	add_where(&list, count, &inventory, false);
	inventory_free(&inventory);
	return list;
}

void pedal_list_free(struct pedal_info *list, size_t count)
{
	for (size_t i = 0; i < count; i++) {
		for (char **node = list[i].nodes; *node; node++)
			free(*node);
		free(list[i].nodes);
		free(list[i].name);
		free(list[i].serial);
		free(list[i].port);
		free(list[i].trouble);
	}
	free(list);
}

/* ---- learning ---- */

struct learner {
	const char *input_dir;
	const char *sysfs_dir;
	struct hotplug hotplug;
	struct node **nodes;
	size_t node_count;
	size_t refused; /* nodes that may not be opened */
	bool pressed;
	unsigned code;
};

static void on_learn_edge(void *owner, unsigned code, enum gesture_edge edge, int64_t time_us)
{
	struct learner *learner = owner;

	(void)time_us;
	if (edge != GESTURE_EDGE_DOWN || learner->pressed)
		return;
	learner->pressed = true;
	learner->code = code;
}

static bool learner_has(const struct learner *learner, const struct event_node *node)
{
	for (size_t i = 0; i < learner->node_count; i++)
		if (learner->nodes[i]->id == node->id &&
		    same_text(learner->nodes[i]->path, node->path))
			return true;
	return false;
}

static void learner_open(struct learner *learner, const struct event_node *wanted)
{
	int error = 0;

	if (learner_has(learner, wanted))
		return;
	struct node *node = node_open(wanted->path, wanted->id, &error);
	if (!node) {
		learner->refused += error == EACCES || error == EPERM;
		return;
	}
	learner->nodes =
		memory_resize(learner->nodes, learner->node_count + 1, sizeof *learner->nodes);
	learner->nodes[learner->node_count++] = node;
}

static void learner_look(struct learner *learner)
{
	struct inventory inventory = inventory_take(learner->input_dir, learner->sysfs_dir);

	learner->refused = 0;
	for (size_t i = 0; i < inventory.count; i++)
		for (size_t n = 0; n < inventory.devices[i].node_count; n++)
			learner_open(learner, &inventory.devices[i].nodes[n]);
	inventory_free(&inventory);
}

static void learner_drop(struct learner *learner, size_t index)
{
	node_close(learner->nodes[index]);
	learner->nodes[index] = learner->nodes[--learner->node_count];
}

/* Reads every node once; returns the one with the press, or NULL. */
static const struct node *learner_read(struct learner *learner, const struct pollfd *ready)
{
	/* Backwards, because a node that is gone is replaced by the last one. */
	for (size_t i = learner->node_count; i-- > 0;) {
		bool dropped = false;

		if (!ready[i + 1].revents)
			continue;
		enum node_state state = node_read(learner->nodes[i], on_learn_edge, learner,
						  clock_steady_us(), &dropped);
		if (learner->pressed)
			return learner->nodes[i];
		if (state == NODE_GONE || (ready[i + 1].revents & (POLLHUP | POLLERR)))
			learner_drop(learner, i);
	}
	return NULL;
}

static int wait_ms(int64_t end_us)
{
	if (end_us == INT64_MAX)
		return -1;
	int64_t left_us = end_us - clock_steady_us();
	return left_us > 0 ? (int)((left_us + MS_US - 1) / MS_US) : 0;
}

static const struct node *learner_wait(struct learner *learner, int64_t end_us)
{
	for (;;) {
		struct pollfd *ready = memory_new(learner->node_count + 1, sizeof *ready);
		const struct node *node;

		ready[0] = (struct pollfd){.fd = learner->hotplug.fd, .events = POLLIN};
		for (size_t i = 0; i < learner->node_count; i++)
			ready[i + 1] =
				(struct pollfd){.fd = learner->nodes[i]->fd, .events = POLLIN};
		int count = poll(ready, learner->node_count + 1, wait_ms(end_us));
		node = count > 0 ? learner_read(learner, ready) : NULL;
		bool changed = count > 0 && ready[0].revents && hotplug_read(&learner->hotplug);
		free(ready);
		if (node)
			return node;
		if (changed)
			learner_look(learner);
		if (count == 0 || (count < 0 && errno != EINTR))
			return NULL;
	}
}

static struct pedal_info *info_with_node(const struct learner *learner, const char *path)
{
	struct inventory inventory = inventory_take(learner->input_dir, learner->sysfs_dir);
	struct pedal_info *info = NULL;

	for (size_t i = 0; i < inventory.count && !info; i++) {
		for (size_t n = 0; n < inventory.devices[i].node_count && !info; n++) {
			if (!same_text(inventory.devices[i].nodes[n].path, path))
				continue;
			info = memory_new(1, sizeof *info);
			*info = info_of(&inventory.devices[i]);
		}
	}
	inventory_free(&inventory);
	return info;
}

static enum pedal_learn_result learn(struct learner *learner, int timeout_ms,
				     struct pedal_info **info, unsigned *code, char **why)
{
	learner_look(learner);
	if (learner->node_count == 0 && learner->refused > 0) {
		*why = memory_format(
			"no permission to read any input device: install pullcall's udev "
			"rule and plug the pedal in again, or run this once as root");
		return PEDAL_LEARN_NOTHING;
	}
	const struct node *node = learner_wait(
		learner, timeout_ms < 0 ? INT64_MAX : clock_steady_us() + timeout_ms * MS_US);
	*info = node ? info_with_node(learner, node->path) : NULL;
	if (!*info)
		return PEDAL_LEARN_TIMEOUT;
	*code = learner->code;
	return PEDAL_LEARNED;
}

enum pedal_learn_result pedal_learn(const char *input_dir, const char *sysfs_dir, int timeout_ms,
				    struct pedal_info **info, unsigned *code, char **why)
{
	struct learner learner = {
		.input_dir = or_default(input_dir, "/dev/input"),
		.sysfs_dir = or_default(sysfs_dir, "/sys"),
	};

	hotplug_open(&learner.hotplug, learner.input_dir);
	enum pedal_learn_result result = learn(&learner, timeout_ms, info, code, why);
	while (learner.node_count > 0)
		learner_drop(&learner, learner.node_count - 1);
	free(learner.nodes);
	hotplug_close(&learner.hotplug);
	return result;
}
