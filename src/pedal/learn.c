/* Learning a key: which device a press comes from, and which code it sends. */
#include "pedal/internal.h"

#include <poll.h>
#include <stdlib.h>

/* Nobody waits for less than that. */
enum { POLL_MS = 50 };

struct press {
	struct pedal_info *info; /* the device it came from; NULL: not yet */
	unsigned code;
};

static void on_event(void *owner, const struct pedal_event *event)
{
	struct press *press = owner;

	if (event->kind != PEDAL_GESTURE || press->info)
		return;
	press->code = (unsigned)event->gesture.key;
	press->info = memory_new(1, sizeof *press->info);
	*press->info = *event->pedal;
	press->info->name = memory_copy(event->pedal->name);
	press->info->serial = memory_copy(event->pedal->serial);
	press->info->port = memory_copy(event->pedal->port);
}

static bool none_can_be_read(const char *root)
{
	size_t count, troubles = 0;
	struct pedal_info *list = pedal_list(root, &count);

	for (size_t i = 0; i < count; i++)
		troubles += list[i].trouble != NULL;
	pedal_list_free(list, count);
	return count > 0 && troubles == count;
}

struct pedal_info *pedal_learn(const char *root, unsigned *code, char **why)
{
	/* Every key of every device does something. */
	const struct pedal_entry any = {
		.vendor = PEDAL_ANY,
		.product = PEDAL_ANY,
		.times = gesture_default_times,
		.grab = PEDAL_GRAB_NO,
	};
	const struct pedal_config config = {.entries = &any, .entry_count = 1, .root = root};
	struct press press = {0};

	if (none_can_be_read(root)) {
		*why = memory_copy("no permission to read any input device: run this once as "
				   "root; 71-pullcall-pedal.rules says how to do without");
		return NULL;
	}
	struct source *source = pedals_open(&config, on_event, &press, why);
	while (source && !press.info) {
		struct pollfd ready = {.fd = source->fd, .events = POLLIN};

		poll(&ready, 1, POLL_MS);
		source->dispatch(source);
	}
	sources_close(source);
	*code = press.code;
	return press.info;
}
