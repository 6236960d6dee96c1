/* Changes of the machine's sound devices. Kernel devices come and go under /dev/snd; a sound server
 * makes its socket in the user's runtime folder. */
#include "speech/internal.h"

#include <stdlib.h>
#include <string.h>
#include <sys/inotify.h>
#include <unistd.h>

/* Attributes too: a device is of use once its permissions are set, some time after it was made. */
enum { DEVICE_CHANGES = IN_CREATE | IN_MOVED_TO | IN_ATTRIB | IN_ONLYDIR };

static void watch_folder(int fd, const char *folder, const char *within)
{
	char *path = memory_format("%s%s", folder, within);

	/* Fails harmlessly for a folder that is not there. */
	inotify_add_watch(fd, path, DEVICE_CHANGES);
	free(path);
}

static void watch_folders(int fd)
{
	const char *runtime = getenv("XDG_RUNTIME_DIR");

	watch_folder(fd, "/dev", "");
	watch_folder(fd, "/dev", "/snd");
	watch_folder(fd, runtime ? runtime : "", "");
	watch_folder(fd, runtime ? runtime : "", "/pulse");
}

int devices_watch(void)
{
	int fd = inotify_init1(IN_CLOEXEC | IN_NONBLOCK);

	if (fd >= 0)
		watch_folders(fd);
	return fd;
}

static bool is_about_sound(const char *name)
{
	static const char *const starts[] = {"snd",      "pcm",   "control",
					     "pipewire", "pulse", "native"};

	for (size_t i = 0; i < sizeof starts / sizeof *starts; i++)
		if (strncmp(name, starts[i], strlen(starts[i])) == 0)
			return true;
	return false;
}

bool devices_changed(int fd)
{
	_Alignas(struct inotify_event) char bytes[4096];
	bool changed = false;
	ssize_t length;

	while ((length = read(fd, bytes, sizeof bytes)) > 0)
		for (ssize_t at = 0; at < length;) {
			const struct inotify_event *event = (const void *)(bytes + at);
			changed |= event->len > 0 && is_about_sound(event->name);
			at += (ssize_t)(sizeof *event + event->len);
		}
	if (changed)
		watch_folders(fd);
	return changed;
}
