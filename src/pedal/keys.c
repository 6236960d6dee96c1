#include "pedal/internal.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

/* ---- from bytes to keys ---- */

enum sequence {
	SEQUENCE_NONE,
	SEQUENCE_ESCAPE,  /* after ESC */
	SEQUENCE_CONTROL, /* after ESC [ or ESC O : parameters, then one final byte */
	SEQUENCE_CONSOLE, /* after ESC [ [ : the Linux console's function keys, one more byte */
};

/* The bytes for each meaning, and the last byte of the sequence for an arrow key. */
static const struct {
	const char *bytes;
	char arrow;
} meanings[] = {
	[GESTURE_NEXT] = {" \n\rn", 'C'},  [GESTURE_AGAIN] = {"ar", 'A'},
	[GESTURE_BACK] = {"b\b\x7f", 'D'}, /* Backspace sends one or the other */
	[GESTURE_PAUSE] = {"p", 0},        [GESTURE_WHERE] = {"w", 0},
	[GESTURE_WHY] = {"?", 0},          [GESTURE_CHOICES] = {"c", 0},
	[GESTURE_STOP] = {"q\x03\x04", 0}, /* Ctrl-C, Ctrl-D */
};

static bool find(unsigned char byte, bool ends_control, enum gesture_kind *kind)
{
	for (size_t i = 0; i < sizeof meanings / sizeof *meanings; i++) {
		bool found = ends_control ? byte == meanings[i].arrow
					  : byte && strchr(meanings[i].bytes, tolower(byte));
		if (!found)
			continue;
		*kind = (enum gesture_kind)i;
		return true;
	}
	return false;
}

/* True when the byte completes a key that means something; *kind is what. ESC, then a key: the Alt
 * key was held, or Escape was pressed before; the key counts either way. */
static bool take_byte(enum sequence *sequence, unsigned char byte, enum gesture_kind *kind)
{
	enum sequence before = *sequence;
	bool in_control = before == SEQUENCE_CONTROL && byte >= ' ' && byte <= '~';
	bool parameter = in_control && byte <= '?';
	bool begins = before == SEQUENCE_ESCAPE && (byte == '[' || byte == 'O');

	*sequence = parameter || begins         ? SEQUENCE_CONTROL
		    : in_control && byte == '[' ? SEQUENCE_CONSOLE
		    : byte == '\x1b'            ? SEQUENCE_ESCAPE
						: SEQUENCE_NONE;
	if (parameter || begins || (before == SEQUENCE_CONSOLE && byte >= ' '))
		return false;
	return find(byte, in_control, kind);
}

/* ---- from keys to gestures ---- */

/* Cases of a typed key; each | is the same byte, time runs to the right. G is REPEAT_GAP_US, K the
 * keyboard's delay before it repeats (a quarter to a whole second). N next, UP undo-pause.
 *
 *  1  presses              |        |        |            gaps above G
 *                          N        N        N
 *  2  held                 |      K     |||||||||||
 *                          N            N UP(2)           the 2nd byte looked like a press
 *  3  held from before     |||||||||||
 *                          N UP(1)
 *  4  two quick presses    ||
 *                          N  N                           the 2nd after G without a third
 *  5  held after a press   |    |   K   |||||||
 *                          N    N       N UP(2)           the first N stays
 *  6  a command between    |  x   K     |||||||
 *                          N            N UP(1)           what x moved over is not taken back
 */
#define REPEAT_GAP_US    (120 * MS_US)
#define KEYBOARD_WAIT_US (1100 * MS_US)

enum run_state {
	RUN_NONE,  /* the last byte acted, or there was none */
	RUN_QUICK, /* one byte came quickly after: a press, or the first of a run */
	RUN_HELD,  /* a held key: nothing more comes of it */
};

struct keys {
	bool is_terminal;
	gesture_sink *emit;
	void *owner;
	enum sequence sequence; /* the bytes before */
	bool line_used;         /* pipe: this line is not empty */
	bool after_return;      /* pipe: the last byte was a carriage return */
	enum gesture_kind last; /* terminal: the last key, valid unless last_us is INT64_MIN */
	int64_t last_us;
	int64_t now_us;
	enum run_state run;
	int undoable; /* the last gestures of one held key, as far as is known: 0 to 2 */
};

struct keys *keys_new(bool is_terminal, gesture_sink *emit, void *owner)
{
	struct keys *keys = memory_new(1, sizeof *keys);

	*keys = (struct keys){.is_terminal = is_terminal,
			      .emit = emit,
			      .owner = owner,
			      .last_us = INT64_MIN,
			      .now_us = INT64_MIN};
	return keys;
}

static void give(struct keys *keys, enum gesture_kind kind, int steps, int64_t time_us)
{
	struct gesture gesture = {.kind = kind, .steps = steps, .key = -1, .time_us = time_us};

	keys->emit(keys->owner, &gesture);
}

/* Keys that move the job, or can be taken back with those that do. */
static bool counts_as_hold(enum gesture_kind kind)
{
	return kind <= GESTURE_PAUSE;
}

/* Time since the last byte of the same key. */
static int64_t gap_us(const struct keys *keys, enum gesture_kind kind, int64_t time_us)
{
	if (keys->last_us == INT64_MIN || keys->last != kind)
		return INT64_MAX;
	return time_us - keys->last_us;
}

static void act(struct keys *keys, enum gesture_kind kind, bool may_be_repeat, int64_t time_us)
{
	keys->undoable = !counts_as_hold(kind) ? 0 : may_be_repeat && keys->undoable > 0 ? 2 : 1;
	keys->run = RUN_NONE;
	give(keys, kind, 0, time_us);
}

/* A byte sooner after the same one than a hand can press twice. */
static void quick(struct keys *keys, enum gesture_kind kind, int64_t time_us)
{
	switch (keys->run) {
	case RUN_NONE:
		keys->run = RUN_QUICK;
		break;
	case RUN_QUICK:
		keys->run = RUN_HELD;
		if (counts_as_hold(kind) && keys->undoable > 0)
			give(keys, GESTURE_UNDO_PAUSE, keys->undoable, time_us);
		keys->undoable = 0;
		break;
	case RUN_HELD:
		break;
	}
}

static void typed_key(struct keys *keys, enum gesture_kind kind, int64_t time_us)
{
	int64_t gap = gap_us(keys, kind, time_us);

	keys_tick(keys, time_us);
	if (keys->run == RUN_QUICK && keys->last != kind)
		act(keys, keys->last, false, time_us);
	keys->last = kind;
	keys->last_us = time_us;
	if (gap < REPEAT_GAP_US)
		quick(keys, kind, time_us);
	else
		act(keys, kind, gap <= KEYBOARD_WAIT_US, time_us);
}

static void pipe_byte(struct keys *keys, unsigned char byte, int64_t time_us)
{
	enum gesture_kind kind;
	bool line_end = byte == '\n' || byte == '\r';
	bool second_half = byte == '\n' && keys->after_return;
	bool means_something = take_byte(&keys->sequence, byte, &kind);

	if (means_something && !(line_end && (keys->line_used || second_half)))
		give(keys, kind, 0, time_us);
	keys->line_used = !line_end;
	keys->after_return = byte == '\r';
}

void keys_bytes(struct keys *keys, const char *bytes, size_t count, int64_t time_us)
{
	if (time_us < keys->now_us)
		time_us = keys->now_us;
	keys->now_us = time_us;
	for (size_t i = 0; i < count; i++) {
		enum gesture_kind kind;

		if (!keys->is_terminal)
			pipe_byte(keys, (unsigned char)bytes[i], time_us);
		else if (take_byte(&keys->sequence, (unsigned char)bytes[i], &kind))
			typed_key(keys, kind, time_us);
	}
}

void keys_tick(struct keys *keys, int64_t now_us)
{
	if (keys->run == RUN_QUICK && now_us - keys->last_us >= REPEAT_GAP_US)
		act(keys, keys->last, false, keys->last_us + REPEAT_GAP_US);
	if (keys->undoable > 0 && now_us - keys->last_us > KEYBOARD_WAIT_US)
		keys->undoable = 0;
}

int64_t keys_deadline_us(const struct keys *keys)
{
	if (keys->run == RUN_QUICK)
		return keys->last_us + REPEAT_GAP_US;
	if (keys->undoable > 0 && keys->is_terminal)
		return keys->last_us + KEYBOARD_WAIT_US + 1;
	return INT64_MAX;
}

void keys_forget(struct keys *keys)
{
	keys->undoable = 0;
}

bool keys_settled(const struct keys *keys)
{
	return !keys->is_terminal || (keys->run != RUN_QUICK && keys->undoable == 0);
}
