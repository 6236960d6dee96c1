#include "pedal/internal.h"

#include "base/base.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* NULL, or why the device cannot be read and what to do about it. */
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
				"no permission to read %s: 71-pullcall-pedal.rules says "
				"how to let the person at this computer in; name the "
				"device there as %04x:%04x and plug it in again",
				path, (unsigned)device->vendor, (unsigned)device->product);
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
		.class = classify(device),
		.trouble = trouble_with(device),
	};

	info.key_count = default_keys(device, info.keys);
	return info;
}

static void add_where(struct pedal_info **list, size_t *count, const struct inventory *inventory,
		      bool pedals)
{
	for (size_t i = 0; i < inventory->count; i++) {
		const struct input_device *device = &inventory->devices[i];

		if (device_keys(device, NULL, 0) == 0 ||
		    (classify(device) == PEDAL_CLASS_PEDAL) != pedals)
			continue;
		*list = memory_resize(*list, *count + 1, sizeof **list);
		(*list)[(*count)++] = info_of(device);
	}
}

struct pedal_info *pedal_list(const char *input_dir, const char *sysfs_dir, size_t *count)
{
	struct inventory inventory = inventory_take(input_dir, sysfs_dir);
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
		free(list[i].name);
		free(list[i].serial);
		free(list[i].port);
		free(list[i].trouble);
	}
	free(list);
}
