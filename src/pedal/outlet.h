/* Where the sources inside this room put their events: the caller's callback, and a word to the
 * other sources that the place has moved. */
#ifndef PEDAL_OUTLET_H
#define PEDAL_OUTLET_H

#include "pedal/pedal.h"

struct outlet {
	pedal_sink *emit;
	void *owner;
	/* Called before each gesture: every source but this one forgets what it could take back. */
	void (*moving)(struct pedals *pedals, const void *source);
	struct pedals *pedals;
};

void outlet_gesture(const struct outlet *outlet, const void *source, const char *name,
		    const struct gesture *gesture);
void outlet_say(const struct outlet *outlet, enum pedal_event_kind kind, const char *name,
		int64_t time_us, const char *format, ...) __attribute__((format(printf, 5, 6)));

/* A message that may come again and again is let through once in REPEAT_US. */
#define REPEAT_US (30 * (int64_t)1000000)
struct repeat_limit {
	bool used;
	int64_t last_us;
};
bool repeat_allowed(struct repeat_limit *limit, int64_t now_us);

#endif
