/* From the bytes of a terminal, or of a pipe, to gestures. Pure: bytes and times in, gestures out.
 *
 *	space Enter n Right	next		p	pause
 *	a r Up			again		w ?	where
 *	b Backspace Left	back		q Ctrl-C Ctrl-D	stop
 *
 * Capitals count as well (a caps-lock key may be on), everything else is ignored, and so is text
 * pasted between the brackets that a terminal puts round it when asked. Sequences may come in
 * pieces.
 *
 * A terminal sends a held key as the same byte again and again. The first byte of such a run acts
 * at once, as any press does; when more follow faster than REPEAT_GAP_US, the run is a held key:
 * what it moved is taken back and the job pauses (GESTURE_UNDO_PAUSE). The first repeat comes only
 * after the keyboard's delay and looks like a second press, so up to two gestures are taken back. A
 * quick second press with nothing after it is given when that is certain, REPEAT_GAP_US late. A key
 * held in a terminal set to repeat slower than that cannot be told from presses.
 *
 * In a pipe or a file nothing repeats by itself: bytes are taken as they come, and a line end
 * counts as Enter only when its line held nothing else, so that `echo n` is one press.
 */
#ifndef PEDAL_KEYS_H
#define PEDAL_KEYS_H

#include "pedal/gesture.h"

struct keys;

struct keys *keys_new(bool typed, gesture_sink *emit, void *owner);
void keys_free(struct keys *keys);

void keys_bytes(struct keys *keys, const char *bytes, size_t count, int64_t time_us);
void keys_tick(struct keys *keys, int64_t now_us);
int64_t keys_deadline_us(const struct keys *keys);

/* As the functions of gesture.h with these names. */
void keys_forget(struct keys *keys);
bool keys_settled(const struct keys *keys);

#endif
