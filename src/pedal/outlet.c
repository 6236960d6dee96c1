#include "pedal/internal.h"

#include "base/base.h"

#include <stdarg.h>
#include <stdio.h>

void outlet_gesture(const struct outlet *outlet, const void *source, const char *name,
		    const struct gesture *gesture)
{
	struct pedal_event event = {
		.kind = PEDAL_GESTURE,
		.gesture = *gesture,
		.name = name,
		.text = "",
		.time_us = gesture->time_us,
	};

	outlet->moving(outlet->pedals, source);
	outlet->emit(outlet->owner, &event);
}

void outlet_say(const struct outlet *outlet, enum pedal_event_kind kind, const char *name,
		int64_t time_us, const char *format, ...)
{
	char text[512];
	va_list values;

	va_start(values, format);
	vsnprintf(text, sizeof text, format, values);
	va_end(values);
	outlet->emit(outlet->owner, &(struct pedal_event){
					    .kind = kind,
					    .name = name,
					    .text = text,
					    .time_us = time_us,
				    });
}

bool repeat_allowed(struct repeat_limit *limit, int64_t now_us)
{
	if (limit->used && now_us - limit->last_us < REPEAT_US)
		return false;
	limit->used = true;
	limit->last_us = now_us;
	return true;
}
