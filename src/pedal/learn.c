/* Learning a key: which device a press comes from, and which code it sends. */
#include "pedal/internal.h"

#include "base/base.h"

#include <errno.h>
#include <poll.h>
#include <stdlib.h>

/* More nodes than any machine has. */
enum { NODES_MAX = 256 };

struct learner {
	const char *input_dir;
	const char *sysfs_dir;
	struct hotplug hotplug;
	struct node *nodes[NODES_MAX];
	size_t count;
	struct pollfd ready[NODES_MAX + 1]; /* the hotplug's, then the nodes' */
	bool refused;                       /* a node may not be opened */
	bool pressed;
	unsigned code;
};

static void on_edge(void *owner, unsigned code, enum gesture_edge edge, int64_t time_us)
{
	struct learner *learner = owner;

	(void)time_us;
	if (edge != GESTURE_EDGE_DOWN || learner->pressed)
		return;
	learner->pressed = true;
	learner->code = code;
}

static bool is_open(const struct learner *learner, const struct event_node *node)
{
	for (size_t i = 0; i < learner->count; i++)
		if (same_text(learner->nodes[i]->path, node->path))
			return true;
	return false;
}

static void open_node(struct learner *learner, const struct event_node *wanted)
{
	int error = 0;

	if (learner->count == NODES_MAX || is_open(learner, wanted))
		return;
	struct node *node = node_open(wanted->path, &error);
	if (node) {
		learner->nodes[learner->count++] = node;
		learner->ready[learner->count] = (struct pollfd){.fd = node->fd, .events = POLLIN};
	} else if (error == EACCES || error == EPERM) {
		learner->refused = true;
	}
}

static void scan(struct learner *learner)
{
	struct inventory inventory = inventory_take(learner->input_dir, learner->sysfs_dir);

	learner->refused = false;
	for (size_t i = 0; i < inventory.count; i++)
		for (size_t n = 0; n < inventory.devices[i].node_count; n++)
			open_node(learner, &inventory.devices[i].nodes[n]);
	inventory_free(&inventory);
}

static void drop(struct learner *learner, size_t index)
{
	node_close(learner->nodes[index]);
	learner->ready[index + 1] = learner->ready[learner->count];
	learner->nodes[index] = learner->nodes[--learner->count];
}

/* Reads every node that is ready; returns the one with the press, or NULL. */
static const struct node *read_nodes(struct learner *learner)
{
	/* Backwards, because a node that is gone is replaced by the last one. */
	for (size_t i = learner->count; i-- > 0;) {
		bool dropped = false;
		short events = learner->ready[i + 1].revents;

		if (!events)
			continue;
		enum node_state state =
			node_read(learner->nodes[i], on_edge, learner, clock_steady_us(), &dropped);
		if (learner->pressed)
			return learner->nodes[i];
		if (state == NODE_GONE || (events & (POLLHUP | POLLERR)))
			drop(learner, i);
	}
	return NULL;
}

static int left_ms(int64_t end_us)
{
	if (end_us == INT64_MAX)
		return -1;
	int64_t left_us = end_us - clock_steady_us();
	return left_us > 0 ? (int)((left_us + MS_US - 1) / MS_US) : 0;
}

static const struct node *wait_for_press(struct learner *learner, int64_t end_us)
{
	for (;;) {
		int count = poll(learner->ready, learner->count + 1, left_ms(end_us));

		if (count == 0 || (count < 0 && errno != EINTR))
			return NULL;
		if (count < 0)
			continue;
		const struct node *node = read_nodes(learner);
		if (node)
			return node;
		if (learner->ready[0].revents && hotplug_read(&learner->hotplug))
			scan(learner);
	}
}

static const struct input_device *device_with(const struct inventory *inventory, const char *path)
{
	for (size_t i = 0; i < inventory->count; i++)
		for (size_t n = 0; n < inventory->devices[i].node_count; n++)
			if (same_text(inventory->devices[i].nodes[n].path, path))
				return &inventory->devices[i];
	return NULL;
}

static struct pedal_info *info_with_node(const struct learner *learner, const char *path)
{
	struct inventory inventory = inventory_take(learner->input_dir, learner->sysfs_dir);
	const struct input_device *device = device_with(&inventory, path);
	struct pedal_info *info = NULL;

	if (device) {
		info = memory_new(1, sizeof *info);
		*info = info_of(device);
	}
	inventory_free(&inventory);
	return info;
}

static enum pedal_learn_result learn(struct learner *learner, int timeout_ms,
				     struct pedal_info **info, unsigned *code, char **why)
{
	scan(learner);
	if (learner->count == 0 && learner->refused) {
		*why = memory_copy("no permission to read any input device: run this once as "
				   "root; 71-pullcall-pedal.rules says how to do without");
		return PEDAL_LEARN_NOTHING;
	}
	const struct node *node = wait_for_press(
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
	struct learner learner = {.input_dir = input_dir, .sysfs_dir = sysfs_dir};

	hotplug_open(&learner.hotplug, input_dir);
	learner.ready[0] = (struct pollfd){.fd = learner.hotplug.fd, .events = POLLIN};
	enum pedal_learn_result result = learn(&learner, timeout_ms, info, code, why);
	while (learner.count > 0)
		drop(&learner, learner.count - 1);
	hotplug_close(&learner.hotplug);
	return result;
}
