#include "pedal/internal.h"

int64_t sources_deadline_us(const struct source *first)
{
	int64_t earliest_us = INT64_MAX;

	for (const struct source *source = first; source; source = source->next)
		if (source->deadline_us(source) < earliest_us)
			earliest_us = source->deadline_us(source);
	return earliest_us;
}

void sources_dispatch_until(struct source *first, int64_t now_us)
{
	for (struct source *source = first; source; source = source->next)
		if (source->deadline_us(source) <= now_us)
			source->dispatch(source);
}

void sources_forget(struct source *first, const struct source *but)
{
	for (struct source *source = first; source; source = source->next)
		if (source != but && source->forget)
			source->forget(source);
}

bool sources_settled(const struct source *first)
{
	for (const struct source *source = first; source; source = source->next)
		if (source->settled && !source->settled(source))
			return false;
	return true;
}

void sources_close(struct source *first)
{
	while (first) {
		struct source *next = first->next;

		first->close(first);
		first = next;
	}
}

void source_give(struct source *source, struct pedal_event event)
{
	event.source = source;
	if (!event.text)
		event.text = "";
	source->emit(source->owner, &event);
}

void source_say(struct source *source, enum pedal_event_kind kind, const struct pedal_info *pedal,
		int64_t time_us, const char *format, ...)
{
	char text[512];
	va_list values;
	int begin = snprintf(text, sizeof text, "%.200s: ", pedal ? pedal->name : source->name);

	va_start(values, format);
	vsnprintf(text + begin, sizeof text - (size_t)begin, format, values);
	va_end(values);
	source_give(source,
		    (struct pedal_event){
			    .kind = kind, .pedal = pedal, .text = text, .time_us = time_us});
}
