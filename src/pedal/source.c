#include "pedal/pedal.h"

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
