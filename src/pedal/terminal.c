#include "pedal/internal.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

/* ---- the mode of the terminal ---- */

/* Read by signal handlers: `active` is set after the rest and cleared before it. */
static struct {
	volatile sig_atomic_t active;
	bool wanted; /* from enter_mode to leave_mode, also while the program is stopped */
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

/* NULL, or why not. Also undone when memory runs out, which ends the program by quick_exit. */
static const char *enter_mode(int fd)
{
	static bool registered;
	struct termios before;

	if (saved.active)
		return "another terminal is being read";
	if (tcgetattr(fd, &before) != 0)
		return strerror(errno);
	if (!is_in_foreground(fd))
		return "the program runs in the background of its terminal";
	if (!registered && at_quick_exit(terminal_restore) != 0)
		return "out of memory";
	registered = true;
	struct termios mode = key_mode(before);
	saved.fd = fd;
	saved.before = before;
	saved.wanted = true;
	saved.active = 1;
	if (tcsetattr(fd, TCSADRAIN, &mode) == 0)
		return NULL;
	saved.active = 0;
	saved.wanted = false;
	return "the terminal does not accept another mode";
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

/* ---- the source ---- */

struct terminal {
	struct source source;
	int fd;
	bool is_terminal; /* else a pipe or a file */
	bool ended;
	struct keys *keys;
};

static void on_key(void *owner, const struct gesture *gesture)
{
	struct terminal *terminal = owner;

	source_give(&terminal->source, (struct pedal_event){.kind = PEDAL_GESTURE,
							    .gesture = *gesture,
							    .time_us = gesture->time_us});
}

static void end(struct terminal *terminal, int64_t now_us)
{
	keys_tick(terminal->keys, now_us);
	terminal->ended = true;
	terminal->source.fd = -1;
	source_say(&terminal->source, PEDAL_KEYS_ENDED, NULL, now_us, "no more will come");
}

/* Reads once: what is left makes the descriptor ready again. */
static void read_keys(struct terminal *terminal, int64_t now_us)
{
	struct pollfd ready = {.fd = terminal->fd, .events = POLLIN};
	char bytes[256];

	/* The descriptor is shared with the shell and may block. */
	if (poll(&ready, 1, 0) <= 0)
		return;
	ssize_t count = read(terminal->fd, bytes, sizeof bytes);
	bool may_go_on =
		(count < 0 && (errno == EAGAIN || errno == EINTR)) ||
		/* an empty read of a terminal is no end until it hangs up */
		(count == 0 && terminal->is_terminal && !(ready.revents & (POLLHUP | POLLERR)));
	if (count > 0)
		keys_bytes(terminal->keys, bytes, (size_t)count, now_us);
	else if (!may_go_on)
		end(terminal, now_us);
}

static void dispatch(struct source *source)
{
	struct terminal *terminal = (struct terminal *)source;
	int64_t now_us = clock_steady_us();

	if (!terminal->ended)
		read_keys(terminal, now_us);
	if (!terminal->ended)
		keys_tick(terminal->keys, now_us);
}

static int64_t deadline_us(const struct source *source)
{
	const struct terminal *terminal = (const struct terminal *)source;

	if (terminal->ended)
		return INT64_MAX;
	return source->fd < 0 ? 0 : keys_deadline_us(terminal->keys);
}

static void forget(struct source *source)
{
	keys_forget(((struct terminal *)source)->keys);
}

static bool settled(const struct source *source)
{
	const struct terminal *terminal = (const struct terminal *)source;

	return terminal->ended || keys_settled(terminal->keys);
}

static void close_terminal(struct source *source)
{
	struct terminal *terminal = (struct terminal *)source;

	if (terminal->is_terminal) {
		saved.wanted = false;
		terminal_restore();
	}
	free(terminal->keys);
	free(terminal);
}

struct source *terminal_open(int fd, pedal_sink *emit, void *owner, char **why)
{
	struct stat status;
	bool is_terminal = isatty(fd);
	/* The mode comes last: nothing after it can fail and leave the terminal in it. */
	const char *refusal = fstat(fd, &status) != 0 ? strerror(errno)
			      : is_terminal           ? enter_mode(fd)
						      : NULL;

	if (refusal) {
		*why = memory_format("keys cannot be read: %s", refusal);
		return NULL;
	}
	struct terminal *terminal = memory_new(1, sizeof *terminal);
	/* Files and /dev/null can be read at once; epoll does not take them. */
	bool can_wait = is_terminal || S_ISFIFO(status.st_mode) || S_ISSOCK(status.st_mode);
	*terminal = (struct terminal){
		.source = {.name = "keys",
			   .emit = emit,
			   .owner = owner,
			   .fd = can_wait ? fd : -1,
			   .deadline_us = deadline_us,
			   .dispatch = dispatch,
			   .forget = forget,
			   .settled = settled,
			   .close = close_terminal},
		.fd = fd,
		.is_terminal = is_terminal,
		.keys = keys_new(is_terminal, on_key, terminal),
	};
	return &terminal->source;
}
