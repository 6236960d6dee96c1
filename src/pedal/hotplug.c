#include "pedal/internal.h"

#include "base/base.h"

#include <libgen.h>
#include <stdlib.h>
#include <sys/inotify.h>
#include <unistd.h>

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

int hotplug_open(const char *input_dir)
{
	int fd = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);

	if (fd < 0 || watch_folders(fd, input_dir))
		return fd;
	close(fd);
	return -1;
}

bool hotplug_changed(int fd, const char *input_dir)
{
	char events[4096];
	bool changed = false;

	while (read(fd, events, sizeof events) > 0)
		changed = true;
	if (changed)
		watch_folders(fd, input_dir);
	return changed;
}
