#include "pedal/internal.h"

#include "pedal/pedal.h"

#include <errno.h>
#include <signal.h>
#include <termios.h>
#include <unistd.h>

/* Seen by signal handlers: `active` is set after the rest and cleared before it. */
static struct {
	volatile sig_atomic_t active;
	bool wanted; /* between enter and leave, whatever happened to the terminal meanwhile */
	int fd;
	struct termios before;
} saved;

/* A program in the background would be stopped by the kernel at its first touch of the terminal. */
static bool is_in_foreground(int fd)
{
	pid_t group = tcgetpgrp(fd);

	return group < 0 || group == getpgrp();
}

static struct termios key_mode(struct termios mode)
{
	mode.c_lflag &= ~(tcflag_t)(ICANON | ECHO | ECHONL | IEXTEN);
	mode.c_iflag &= ~(tcflag_t)(IXON | IXOFF | ISTRIP | INLCR | IGNCR);
	mode.c_cc[VINTR] = _POSIX_VDISABLE;
	mode.c_cc[VSUSP] = _POSIX_VDISABLE;
	/* Without a minimum a read never blocks, and the flags of the descriptor, which is shared
	 * with the shell, need no change. */
	mode.c_cc[VMIN] = 0;
	mode.c_cc[VTIME] = 0;
	return mode;
}

bool terminal_enter(int fd, const char **why)
{
	struct termios before;

	if (saved.active) {
		*why = "another terminal is being read";
		return false;
	}
	if (tcgetattr(fd, &before) != 0) {
		*why = "not a terminal";
		return false;
	}
	if (!is_in_foreground(fd)) {
		*why = "the program runs in the background of its terminal";
		return false;
	}
	struct termios mode = key_mode(before);
	saved.fd = fd;
	saved.before = before;
	saved.wanted = true;
	saved.active = 1;
	if (tcsetattr(fd, TCSADRAIN, &mode) != 0) {
		saved.active = 0;
		saved.wanted = false;
		*why = "the terminal does not accept another mode";
		return false;
	}
	return true;
}

void terminal_leave(void)
{
	saved.wanted = false;
	pedals_restore_terminal();
}

void pedals_retake_terminal(void)
{
	if (!saved.wanted || !is_in_foreground(saved.fd))
		return;
	if (!saved.active && tcgetattr(saved.fd, &saved.before) != 0)
		return;
	struct termios mode = key_mode(saved.before);
	saved.active = 1;
	tcsetattr(saved.fd, TCSANOW, &mode);
}

void pedals_restore_terminal(void)
{
	int error = errno;

	if (saved.active && is_in_foreground(saved.fd)) {
		saved.active = 0;
		tcsetattr(saved.fd, TCSANOW, &saved.before);
	}
	errno = error;
}
