/* Keys: what a terminal sends, from bytes to gestures (pure), and its mode. */
#include "pedal/internal.h"

#include <ctype.h>
#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

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
	unsigned char arrow;
} meanings[] = {
	[GESTURE_NEXT] = {" \n\rn", 'C'},  [GESTURE_AGAIN] = {"ar", 'A'},
	[GESTURE_BACK] = {"b\b\x7f", 'D'}, /* Backspace sends one or the other */
	[GESTURE_PAUSE] = {"p", 0},        [GESTURE_WHERE] = {"w", 0},
	[GESTURE_WHY] = {"?", 0},          [GESTURE_CHOICES] = {"c", 0},
	[GESTURE_STOP] = {"q\x03\x04", 0}, /* Ctrl-C, Ctrl-D */
};

static bool find(unsigned char byte, bool ends_control, enum pedal_event_kind *kind)
{
	for (size_t i = 0; i < sizeof meanings / sizeof *meanings; i++) {
		bool found = ends_control ? byte == meanings[i].arrow
					  : byte && strchr(meanings[i].bytes, tolower(byte));
		if (!found)
			continue;
		*kind = (enum pedal_event_kind)i;
		return true;
	}
	return false;
}

/* True when the byte completes a key that means something; *kind is what. ESC, then a key: the Alt
 * key was held, or Escape was pressed before; the key counts either way. */
static bool take_byte(enum sequence *sequence, unsigned char byte, enum pedal_event_kind *kind)
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
	bool is_terminal; /* else a pipe or a file */
	pedal_sink *emit;
	void *owner;
	enum sequence sequence;     /* the bytes before */
	enum pedal_event_kind last; /* the last key; at first none that there is */
	int64_t last_us;
	int64_t now_us;
	enum run_state run;
	int undoable; /* the last gestures of one held key, as far as is known: 0 to 2 */
};

struct keys *keys_new(bool is_terminal, pedal_sink *emit, void *owner)
{
	struct keys *keys = memory_new(1, sizeof *keys);

	*keys = (struct keys){
		.is_terminal = is_terminal, .emit = emit, .owner = owner, .last = PEDAL_NOTE};
	return keys;
}

static void give(struct keys *keys, enum pedal_event_kind kind, int steps, int64_t time_us)
{
	struct pedal_event event = {.kind = kind, .steps = steps, .key = -1, .time_us = time_us};

	keys->emit(keys->owner, &event);
}

/* Keys that move the job, or can be taken back with those that do. */
static bool counts_as_hold(enum pedal_event_kind kind)
{
	return kind <= GESTURE_PAUSE;
}

static void act(struct keys *keys, enum pedal_event_kind kind, bool may_be_repeat, int64_t time_us)
{
	keys->undoable = !counts_as_hold(kind) ? 0 : may_be_repeat && keys->undoable > 0 ? 2 : 1;
	keys->run = RUN_NONE;
	give(keys, kind, 0, time_us);
}

/* A byte sooner after the same one than a hand can press twice. */
static void quick(struct keys *keys, enum pedal_event_kind kind, int64_t time_us)
{
	if (keys->run == RUN_NONE) {
		keys->run = RUN_QUICK;
	} else if (keys->run == RUN_QUICK) {
		keys->run = RUN_HELD;
		if (counts_as_hold(kind) && keys->undoable > 0)
			give(keys, GESTURE_UNDO_PAUSE, keys->undoable, time_us);
		keys->undoable = 0;
	}
}

static void typed_key(struct keys *keys, enum pedal_event_kind kind, int64_t time_us)
{
	int64_t gap_us = keys->last == kind ? time_us - keys->last_us : INT64_MAX;

	keys_tick(keys, time_us);
	if (keys->run == RUN_QUICK && keys->last != kind)
		act(keys, keys->last, false, time_us);
	keys->last = kind;
	keys->last_us = time_us;
	if (gap_us < REPEAT_GAP_US)
		quick(keys, kind, time_us);
	else
		act(keys, kind, gap_us <= KEYBOARD_WAIT_US, time_us);
}

void keys_bytes(struct keys *keys, const char *bytes, size_t count, int64_t time_us)
{
	if (time_us < keys->now_us)
		time_us = keys->now_us;
	keys->now_us = time_us;
	for (size_t i = 0; i < count; i++) {
		enum pedal_event_kind kind;

		if (!take_byte(&keys->sequence, (unsigned char)bytes[i], &kind))
			continue;
		if (keys->is_terminal)
			typed_key(keys, kind, time_us);
		else if (!strchr("\r\n", bytes[i]))
			give(keys, kind, 0, time_us);
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

/* ---- the mode of the terminal ---- */

/* Read by signal handlers: `active` is set after the rest and cleared before it. */
static struct {
	volatile sig_atomic_t active;
	bool wanted; /* from keys_open to keys_close, also while the program is stopped */
	int fd;
	struct termios before;
} saved;

/* The kernel stops a program in the background that changes the mode of its terminal. */
static bool is_in_foreground(int fd)
{
	pid_t group = tcgetpgrp(fd);

	return group < 0 || group == getpgrp();
}

static struct termios key_mode(struct termios mode)
{
	mode.c_lflag &= ~(tcflag_t)(ICANON | ECHO | ECHONL | IEXTEN);
	mode.c_iflag &= ~(tcflag_t)(IXON | IXOFF | ISTRIP | INLCR | IGNCR);
	mode.c_cc[VINTR] = _POSIX_VDISABLE; /* Ctrl-\ still ends a program that hangs */
	mode.c_cc[VSUSP] = _POSIX_VDISABLE;
	/* Reads return at once without O_NONBLOCK, which the shell's descriptor would share. */
	mode.c_cc[VMIN] = 0;
	mode.c_cc[VTIME] = 0;
	return mode;
}

void terminal_retake(void)
{
	if (!saved.wanted || !is_in_foreground(saved.fd))
		return;
	if (!saved.active && tcgetattr(saved.fd, &saved.before) != 0)
		return;
	struct termios mode = key_mode(saved.before);
	saved.active = 1;
	tcsetattr(saved.fd, TCSANOW, &mode);
}

void terminal_restore(void)
{
	int error = errno;

	if (saved.active && is_in_foreground(saved.fd)) {
		saved.active = 0;
		tcsetattr(saved.fd, TCSANOW, &saved.before);
	}
	errno = error;
}

bool terminal_mend(int fd)
{
	struct termios mode;

	if (tcgetattr(fd, &mode) != 0 || !is_in_foreground(fd) || mode.c_lflag & ICANON ||
	    mode.c_cc[VMIN] != 0 || mode.c_cc[VINTR] != _POSIX_VDISABLE)
		return false;
	mode.c_lflag |= ICANON | ECHO | IEXTEN;
	mode.c_iflag |= IXON;
	mode.c_cc[VINTR] = CINTR;
	mode.c_cc[VSUSP] = CSUSP;
	mode.c_cc[VMIN] = 1;
	return tcsetattr(fd, TCSADRAIN, &mode) == 0;
}

/* ---- what is read ---- */

struct keys *keys_open(int fd, pedal_sink *emit, void *owner)
{
	static bool registered;
	bool is_terminal = isatty(fd);

	if (is_terminal && !is_in_foreground(fd))
		return NULL;
	if (is_terminal) {
		if (!registered) /* when memory runs out, which ends the program by quick_exit */
			(void)at_quick_exit(terminal_restore);
		registered = saved.wanted = true;
		saved.fd = fd;
		terminal_retake();
	}
	return keys_new(is_terminal, emit, owner);
}

bool keys_read(struct keys *keys, int fd, int64_t now_us)
{
	struct pollfd ready = {.fd = fd, .events = POLLIN};
	char bytes[256];

	/* The descriptor is shared with the shell and may block. */
	if (poll(&ready, 1, 0) <= 0)
		return true;
	ssize_t count = read(fd, bytes, sizeof bytes);
	if (count > 0)
		keys_bytes(keys, bytes, (size_t)count, now_us);
	return count > 0 || (count < 0 && (errno == EAGAIN || errno == EINTR)) ||
	       /* an empty read of a terminal is no end until it hangs up */
	       (count == 0 && keys->is_terminal && !(ready.revents & (POLLHUP | POLLERR)));
}

void keys_close(struct keys *keys)
{
	if (keys->is_terminal) {
		saved.wanted = false;
		terminal_restore();
	}
	free(keys);
}
