#include "pedal/internal.h"

#include "base/base.h"

#include <errno.h>
#include <libgen.h>
#include <stdalign.h>
#include <stdlib.h>
#include <string.h>
#include <sys/inotify.h>
#include <unistd.h>

static bool watch_folder(struct hotplug *hotplug)
{
	hotplug->folder = inotify_add_watch(hotplug->fd, hotplug->input_dir,
					    IN_CREATE | IN_DELETE | IN_ATTRIB | IN_MOVED_TO |
						    IN_MOVED_FROM | IN_ONLYDIR);
	return hotplug->folder >= 0;
}

bool hotplug_open(struct hotplug *hotplug, const char *input_dir)
{
	*hotplug = (struct hotplug){.fd = inotify_init1(IN_NONBLOCK | IN_CLOEXEC),
				    .input_dir = input_dir ? input_dir : INPUT_DIR};
	if (hotplug->fd < 0)
		return false;
	char *copy = memory_copy(hotplug->input_dir);
	int parent = inotify_add_watch(hotplug->fd, dirname(copy), IN_CREATE | IN_MOVED_TO);
	free(copy);
	if (watch_folder(hotplug) || parent >= 0)
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
	if (hotplug->folder < 0) /* something came in the folder above: ours? */
		return watch_folder(hotplug);
	if (event->wd != hotplug->folder)
		return false;
	if (event->mask & IN_IGNORED) { /* the folder is gone; another may be there already */
		watch_folder(hotplug);
		return true;
	}
	return event->len > 0 && strncmp(event->name, "event", 5) == 0;
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
