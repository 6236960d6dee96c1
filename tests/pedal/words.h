/* Events and gestures as words, for tests that compare a line of them. */
#ifndef TESTS_PEDAL_WORDS_H
#define TESTS_PEDAL_WORDS_H

#include "base/base.h"
#include "pedal/pedal.h"

static inline const char *event_name(enum pedal_event_kind kind)
{
	static const char *const names[] = {
		[GESTURE_NEXT] = "next",
		[GESTURE_AGAIN] = "again",
		[GESTURE_BACK] = "back",
		[GESTURE_PAUSE] = "pause",
		[GESTURE_WHERE] = "where",
		[GESTURE_WHY] = "why",
		[GESTURE_CHOICES] = "choices",
		[GESTURE_STOP] = "stop",
		[GESTURE_UNDO_AGAIN] = "undo-again",
		[GESTURE_UNDO_BACK] = "undo-back",
		[GESTURE_UNDO_PAUSE] = "undo-pause",
		[GESTURE_HELD] = "held",
		[PEDAL_STUCK] = "stuck",
		[PEDAL_FREED] = "freed",
		[PEDAL_CHATTER] = "chatter",
		[PEDAL_FOUND] = "found",
		[PEDAL_GONE] = "gone",
		[PEDAL_BACK] = "back-again",
		[PEDAL_BUSY] = "busy",
		[PEDAL_DENIED] = "denied",
		[PEDAL_NOTE] = "note",
		[PEDAL_KEYS_ENDED] = "keys-ended",
	};

	return names[kind];
}

/* Adds "next", "undo-pause(2)", "found", ... separated by spaces. */
static inline void add_event(struct text *out, const struct pedal_event *event)
{
	if (out->length > 0)
		text_add_char(out, ' ');
	text_add(out, event_name(event->kind));
	if (event->steps > 1)
		text_format(out, "(%d)", event->steps);
}

#endif
