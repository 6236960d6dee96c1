#include "pedal/internal.h"

#include <stdarg.h>
#include <stdio.h>

static const int64_t say_again_us = 30 * SECOND_US;

void sink_give(const struct event_sink *sink, struct pedal_event event)
{
	event.source = sink->source;
	if (!event.text)
		event.text = "";
	sink->emit(sink->owner, &event);
}

void sink_say(const struct event_sink *sink, enum pedal_event_kind kind, const char *name,
	      int64_t time_us, const char *format, ...)
{
	char text[512];
	va_list values;
	int begin = snprintf(text, sizeof text, "%.200s: ", name);

	va_start(values, format);
	vsnprintf(text + begin, sizeof text - (size_t)begin, format, values);
	va_end(values);
	sink_give(sink, (struct pedal_event){
				.kind = kind, .name = name, .text = text, .time_us = time_us});
}

bool may_say_again(int64_t *next_us, int64_t now_us)
{
	if (now_us < *next_us)
		return false;
	*next_us = now_us + say_again_us;
	return true;
}
