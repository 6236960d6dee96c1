/* Learning a key: which device a press comes from, and which code it sends. */
#include "pedal/internal.h"

#include <poll.h>

/* Nobody notices a wait of that length. */
enum { POLL_MS = 50 };

struct lesson {
	pedal_sink *learned;
	void *owner;
	bool done;
};

static void on_press(void *owner, const struct pedal_event *event)
{
	struct lesson *lesson = owner;

	if (event->kind > GESTURE_HELD || lesson->done)
		return;
	lesson->done = true;
	lesson->learned(lesson->owner, event);
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

bool pedal_learn(const char *root, pedal_sink *learned, void *owner, char **why)
{
	/* Every key of every device does something. */
	const struct pedal_entry any = {
		.vendor = PEDAL_ANY,
		.product = PEDAL_ANY,
		.times = gesture_default_times,
		.grab = PEDAL_GRAB_NO,
	};
	const struct pedal_config config = {.entries = &any, .entry_count = 1, .root = root};
	struct lesson lesson = {.learned = learned, .owner = owner};

	if (none_can_be_read(root)) {
		*why = memory_copy("no permission to read any input device: run this once as "
				   "root; 71-pullcall-pedal.rules says how to do without");
		return false;
	}
	struct presses *presses = presses_open(&config, on_press, &lesson, why);
	while (presses && !lesson.done) {
		struct pollfd ready = {.fd = presses_fd(presses), .events = POLLIN};

		poll(&ready, 1, POLL_MS);
		presses_dispatch(presses);
	}
	presses_close(presses);
	return lesson.done;
}
