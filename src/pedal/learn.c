/* Learning a key: which device a press comes from, and which code it sends. */
#include "pedal/internal.h"

#include "base/base.h"

#include <poll.h>
#include <stdlib.h>

struct press {
	const char *input_dir;
	const char *sysfs_dir;
	bool came;
	unsigned code;
	struct pedal_info *info; /* the device it came from; NULL if it was unplugged at once */
};

/* Moves the device out of the list. */
static struct pedal_info *take(struct pedal_info *list, size_t count,
			       const struct pedal_event *event)
{
	for (size_t i = 0; i < count; i++) {
		if (!same_text(list[i].name, event->name) || !same_text(list[i].port, event->port))
			continue;
		struct pedal_info *info = memory_new(1, sizeof *info);
		*info = list[i];
		list[i] = (struct pedal_info){0};
		return info;
	}
	return NULL;
}

static void on_event(void *owner, const struct pedal_event *event)
{
	struct press *press = owner;

	if (event->kind != PEDAL_GESTURE || press->came)
		return;
	size_t count;
	struct pedal_info *list = pedal_list(press->input_dir, press->sysfs_dir, &count);
	press->came = true;
	press->code = event->code;
	press->info = take(list, count, event);
	pedal_list_free(list, count);
}

/* Until a press has come, or poll has waited until end_us. */
static void wait_for_press(struct source *source, const struct press *press, int64_t end_us)
{
	while (!press->came) {
		struct pollfd ready = {.fd = source->fd, .events = POLLIN};
		int64_t due_us = source->deadline_us(source);
		int64_t until_us = due_us < end_us ? due_us : end_us;
		int64_t wait_us = until_us - clock_steady_us();
		int wait_ms = until_us == INT64_MAX ? -1
			      : wait_us > 0         ? (int)((wait_us + MS_US - 1) / MS_US)
						    : 0;

		if (poll(&ready, 1, wait_ms) == 0 && until_us == end_us)
			return;
		source->dispatch(source);
	}
}

static bool none_can_be_read(const struct pedal_info *list, size_t count)
{
	for (size_t i = 0; i < count; i++)
		if (!list[i].trouble)
			return false;
	return count > 0;
}

enum pedal_learn_result pedal_learn(const char *input_dir, const char *sysfs_dir, int timeout_ms,
				    struct pedal_info **info, unsigned *code, char **why)
{
	/* Every key of every device does something. */
	const struct pedal_entry any = {
		.vendor = PEDAL_ANY,
		.product = PEDAL_ANY,
		.times = gesture_default_times,
		.grab = PEDAL_GRAB_NO,
	};
	const struct pedal_config config = {
		.entries = &any, .entry_count = 1, .input_dir = input_dir, .sysfs_dir = sysfs_dir};
	struct press press = {.input_dir = input_dir, .sysfs_dir = sysfs_dir};
	size_t count;
	struct pedal_info *list = pedal_list(input_dir, sysfs_dir, &count);
	bool nothing = none_can_be_read(list, count);

	pedal_list_free(list, count);
	if (nothing) {
		*why = memory_copy("no permission to read any input device: run this once as "
				   "root; 71-pullcall-pedal.rules says how to do without");
		return PEDAL_LEARN_NOTHING;
	}
	struct source *source = pedals_open(&config, on_event, &press, why);
	if (!source)
		return PEDAL_LEARN_NOTHING;
	wait_for_press(source, &press,
		       timeout_ms < 0 ? INT64_MAX : clock_steady_us() + timeout_ms * MS_US);
	source->close(source);
	*info = press.info;
	*code = press.code;
	return *info ? PEDAL_LEARNED : PEDAL_LEARN_TIMEOUT;
}
