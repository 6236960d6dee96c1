#include "pedal/internal.h"

#include "base/base.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

/* So that a device that sends without end does not hold up everything else. */
enum { EVENTS_AT_ONCE = 512 };

/* Without it libevdev writes about a device's oddities on standard error. */
__attribute__((format(printf, 7, 0))) static void log_nothing(const struct libevdev *evdev,
							      enum libevdev_log_priority priority,
							      void *data, const char *file,
							      int line, const char *function,
							      const char *format, va_list values)
{
	(void)evdev, (void)priority, (void)data, (void)file, (void)line, (void)function;
	(void)format, (void)values;
}

int node_open(struct node *node, const char *path)
{
	int fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);

	if (fd < 0)
		return errno;
	struct libevdev *evdev = libevdev_new();
	if (!evdev)
		memory_fail();
	libevdev_set_device_log_function(evdev, log_nothing, LIBEVDEV_LOG_ERROR, NULL);
	int result = libevdev_set_fd(evdev, fd);
	if (result < 0) {
		libevdev_free(evdev);
		close(fd);
		return -result;
	}
	*node = (struct node){
		.path = memory_copy(path),
		.evdev = evdev,
		.fd = fd,
		.kernel_time = libevdev_set_clock_id(evdev, CLOCK_MONOTONIC) == 0,
	};
	return 0;
}

static int64_t time_of(const struct node *node, const struct input_event *event, int64_t now_us)
{
	int64_t time_us = (int64_t)event->input_event_sec * SECOND_US + event->input_event_usec;

	return node->kernel_time && time_us < now_us ? time_us : now_us;
}

enum node_state node_read(struct node *node, node_sink *give, void *owner, int64_t now_us,
			  bool *dropped)
{
	struct input_event event;
	unsigned flag = LIBEVDEV_READ_FLAG_NORMAL;

	/* The whole difference after a drop: libevdev forgets what is not read of it. */
	for (int i = 0; i < EVENTS_AT_ONCE || flag == LIBEVDEV_READ_FLAG_SYNC; i++) {
		int result = libevdev_next_event(node->evdev, flag, &event);

		if (result == -EAGAIN && flag == LIBEVDEV_READ_FLAG_NORMAL)
			return NODE_DRAINED;
		if (result < 0 && result != -EAGAIN && result != -EINTR)
			return NODE_GONE;
		flag = result == LIBEVDEV_READ_STATUS_SYNC ? LIBEVDEV_READ_FLAG_SYNC
							   : LIBEVDEV_READ_FLAG_NORMAL;
		*dropped |= result == LIBEVDEV_READ_STATUS_SYNC;
		if (result >= 0 && event.type == EV_KEY && event.value >= 0 &&
		    event.value <= GESTURE_EDGE_REPEAT)
			give(owner, event.code, (enum gesture_edge)event.value,
			     time_of(node, &event, now_us));
	}
	return NODE_MORE;
}

void node_found_down(const struct node *node, node_sink *give, void *owner, int64_t now_us)
{
	for (unsigned code = 0; code < KEY_CNT; code++)
		if (libevdev_get_event_value(node->evdev, EV_KEY, code) == 1)
			give(owner, code, GESTURE_EDGE_FOUND_DOWN, now_us);
}

/* As the kernel knows it, which may be newer than what was read. */
bool node_has_key_down(const struct node *node)
{
	unsigned char bits[KEY_CNT / 8] = {0};

	if (ioctl(node->fd, EVIOCGKEY(sizeof bits), bits) < 0)
		return false;
	for (size_t i = 0; i < sizeof bits; i++)
		if (bits[i])
			return true;
	return false;
}

static void ungrab(struct node *node)
{
	if (node->grabbed)
		libevdev_grab(node->evdev, LIBEVDEV_UNGRAB);
	node->grabbed = false;
}

void node_close(struct node *node)
{
	ungrab(node);
	libevdev_free(node->evdev);
	close(node->fd);
	free(node->path);
}

int node_grab(struct node *node)
{
	if (node->grabbed)
		return 0;
	int result = libevdev_grab(node->evdev, LIBEVDEV_GRAB);
	if (result < 0)
		return -result;
	node->grabbed = true;
	/* Pressed meanwhile: whoever saw the press must see the release too. */
	if (!node_has_key_down(node))
		return 0;
	ungrab(node);
	return EAGAIN;
}
