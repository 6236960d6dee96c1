#include "pedal/internal.h"

#include "base/base.h"

#include <errno.h>
#include <libgen.h>
#include <stdalign.h>
#include <stdlib.h>
#include <string.h>
#include <sys/inotify.h>
#include <unistd.h>

static int watch_parent(const struct hotplug *hotplug)
{
	char *copy = memory_copy(hotplug->input_dir);
	int watch = inotify_add_watch(hotplug->fd, dirname(copy), IN_CREATE | IN_MOVED_TO);

	free(copy);
	return watch;
}

static int watch_folder(const struct hotplug *hotplug)
{
	return inotify_add_watch(hotplug->fd, hotplug->input_dir,
				 IN_CREATE | IN_DELETE | IN_ATTRIB | IN_MOVED_TO | IN_MOVED_FROM |
					 IN_ONLYDIR);
}

/* Watches the folder, or until there is one, the folder above it. */
static bool arm(struct hotplug *hotplug)
{
	hotplug->folder = watch_folder(hotplug);
	if (hotplug->folder < 0 && hotplug->parent < 0) {
		hotplug->parent = watch_parent(hotplug);
		/* It may have come between the two looks. */
		hotplug->folder = watch_folder(hotplug);
	}
	if (hotplug->folder >= 0 && hotplug->parent >= 0) {
		inotify_rm_watch(hotplug->fd, hotplug->parent);
		hotplug->parent = -1;
	}
	return hotplug->folder >= 0 || hotplug->parent >= 0;
}

bool hotplug_open(struct hotplug *hotplug, const char *input_dir)
{
	*hotplug = (struct hotplug){.folder = -1, .parent = -1, .input_dir = input_dir};
	hotplug->fd = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
	if (hotplug->fd < 0)
		return false;
	if (arm(hotplug))
		return true;
	int error = errno;
	hotplug_close(hotplug);
	errno = error;
	return false;
}

void hotplug_close(struct hotplug *hotplug)
{
	if (hotplug->fd >= 0)
		close(hotplug->fd);
	hotplug->fd = -1;
}

static bool concerns_us(struct hotplug *hotplug, const struct inotify_event *event)
{
	if (event->mask & IN_Q_OVERFLOW)
		return true;
	if (event->wd == hotplug->folder) {
		if (event->mask & IN_IGNORED) {
			hotplug->folder = -1;
			arm(hotplug);
			return true;
		}
		return event->len > 0 && strncmp(event->name, "event", 5) == 0;
	}
	if (event->wd == hotplug->parent && !(event->mask & IN_IGNORED)) {
		arm(hotplug);
		return hotplug->folder >= 0;
	}
	return false;
}

bool hotplug_read(struct hotplug *hotplug)
{
	alignas(struct inotify_event) char buffer[4096];
	bool changed = false;
	ssize_t length;

	while ((length = read(hotplug->fd, buffer, sizeof buffer)) > 0) {
		for (char *at = buffer; at < buffer + length;) {
			const struct inotify_event *event = (const void *)at;

			changed |= concerns_us(hotplug, event);
			at += sizeof *event + event->len;
		}
	}
	return changed;
}
