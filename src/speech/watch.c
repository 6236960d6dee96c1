#include "speech/internal.h"

#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <sys/inotify.h>
#include <unistd.h>

/* A device is of use when its permissions are set, some time after it was made. */
enum { WANTED = IN_CREATE | IN_MOVED_TO | IN_ATTRIB | IN_ONLYDIR };

static void add(int fd, const char *folder, const char *within)
{
	char path[PATH_MAX];
	int length = snprintf(path, sizeof path, "%s%s", folder, within);

	if (length > 0 && (size_t)length < sizeof path)
		inotify_add_watch(fd, path, WANTED); /* no such folder: fine */
}

static void add_all(int fd, const char *devices, const char *runtime)
{
	add(fd, devices, "");
	add(fd, devices, "/snd");
	if (runtime) {
		add(fd, runtime, "");
		add(fd, runtime, "/pulse");
	}
}

int watch_open(const char *devices, const char *runtime)
{
	int fd = inotify_init1(IN_CLOEXEC | IN_NONBLOCK);

	if (fd >= 0)
		add_all(fd, devices, runtime);
	return fd;
}

static bool starts(const char *name, const char *with)
{
	return strncmp(name, with, strlen(with)) == 0;
}

static bool is_about_sound(const char *name)
{
	static const char *const names[] = {"snd", "pcm", "control", "pipewire", "pulse", "native"};

	for (size_t i = 0; i < sizeof names / sizeof *names; i++)
		if (starts(name, names[i]))
			return true;
	return false;
}

bool watch_changed(int fd, const char *devices, const char *runtime)
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
		add_all(fd, devices, runtime);
	return changed;
}
