#include "cli/cli.h"

#include "base/base.h"
#include "pedal/pedal.h"

#include <langinfo.h>
#include <locale.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

struct screen {
	struct daemon *daemon;
	int fd;
	bool blocks;
	sd_event_source *after; /* draws after every other event */
	sd_event_source *tick;
	sd_event_source *resize;
};

/* The terminal to give back at exit; -1: none. */
static int taken_fd = -1;

/* To the alternate screen without a cursor, and back. */
static const char enter_codes[] = "\033[?1049h\033[?25l";
static const char leave_codes[] = "\033[?25h\033[?1049l";

static void write_all(int fd, const char *bytes, size_t length)
{
	while (length > 0) {
		ssize_t count = write(fd, bytes, length);
		if (count <= 0)
			return;
		bytes += count;
		length -= (size_t)count;
	}
}

static void give_screen_back(void)
{
	if (taken_fd >= 0)
		write_all(taken_fd, leave_codes, sizeof(leave_codes) - 1);
	taken_fd = -1;
}

static struct screen_size size_of(const struct screen *screen)
{
	struct winsize size;
	struct screen_size shown = {.columns = 80, .rows = 24, .blocks = screen->blocks};

	if (ioctl(screen->fd, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 && size.ws_row > 0) {
		shown.columns = size.ws_col;
		shown.rows = size.ws_row;
	}
	return shown;
}

/* Writes the lines over the old ones, and clears the rest of each line and of the screen. */
static void paint(const char *lines, int rows, struct text *out)
{
	text_add(out, "\033[H");
	for (int row = 0; row < rows && *lines; row++) {
		size_t length = strcspn(lines, "\n");
		text_add(out, row > 0 ? "\r\n" : "");
		text_add_part(out, lines, length);
		text_add(out, "\033[K");
		lines += length;
		lines += *lines == '\n';
	}
	text_add(out, "\033[J");
}

static void draw(struct screen *screen)
{
	struct daemon_look look = daemon_look(screen->daemon);
	struct screen_size size = size_of(screen);
	struct text lines = {0}, out = {0};
	bool runs = look.work && look.work->session.state == SESSION_CALLING;

	if (taken_fd < 0)
		return;
	screen_lines(&look, clock_steady_us(), &size, &lines);
	paint(text_string(&lines), size.rows, &out);
	write_all(screen->fd, out.bytes, out.length);
	text_free(&lines);
	text_free(&out);
	sd_event_source_set_enabled(screen->tick, runs ? SD_EVENT_ON : SD_EVENT_OFF);
}

static int on_any_event(sd_event_source *source, void *data)
{
	(void)source;
	draw(data);
	return 0;
}

static int on_tick(sd_event_source *source, uint64_t usec, void *data)
{
	(void)usec;
	(void)data;
	/* Relative to now, so that seconds missed during a pause are not made up for. */
	return sd_event_source_set_time_relative(source, (uint64_t)SECOND_US);
}

static int on_resize(sd_event_source *source, const struct signalfd_siginfo *info, void *data)
{
	(void)source;
	(void)info;
	(void)data;
	return 0;
}

struct screen *screen_open(struct daemon *daemon, int fd)
{
	struct screen *screen = memory_new(1, sizeof(*screen));
	sd_event *loop = daemon_loop(daemon);
	sigset_t mask;

	/* For the character set only: numbers must stay as the files write them. */
	setlocale(LC_CTYPE, "");
	screen->daemon = daemon;
	screen->fd = fd;
	screen->blocks = strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
	sigemptyset(&mask);
	sigaddset(&mask, SIGWINCH);
	sigprocmask(SIG_BLOCK, &mask, NULL);
	sd_event_add_post(loop, &screen->after, on_any_event, screen);
	sd_event_source_set_priority(screen->after, SD_EVENT_PRIORITY_IDLE);
	sd_event_add_signal(loop, &screen->resize, SIGWINCH, on_resize, screen);
	sd_event_add_time_relative(loop, &screen->tick, CLOCK_MONOTONIC, (uint64_t)SECOND_US, 0,
				   on_tick, screen);
	taken_fd = fd;
	atexit(give_screen_back);
	write_all(fd, enter_codes, sizeof(enter_codes) - 1);
	draw(screen);
	return screen;
}

void screen_close(struct screen *screen)
{
	if (!screen)
		return;
	give_screen_back();
	sd_event_source_disable_unref(screen->after);
	sd_event_source_disable_unref(screen->tick);
	sd_event_source_disable_unref(screen->resize);
	free(screen);
}

/* ---- being stopped and dying: screen and keys go back to the terminal ---- */

/* Unless another program is in the foreground. */
static void take_screen_again(struct screen *screen)
{
	if (tcgetpgrp(screen->fd) != getpgrp())
		return;
	taken_fd = screen->fd;
	write_all(screen->fd, enter_codes, sizeof(enter_codes) - 1);
	draw(screen);
}

static const int deaths[] = {SIGQUIT, SIGABRT, SIGSEGV, SIGBUS, SIGFPE, SIGILL};

enum { DEATHS = sizeof(deaths) / sizeof(deaths[0]) };

/* The handlers that were set before, by a sanitizer say. */
static struct sigaction before[DEATHS];

/* In a signal handler: only what is safe there. */
static void give_back(void)
{
	give_screen_back();
	terminal_restore();
}

static void on_death(int number, siginfo_t *info, void *context)
{
	(void)context;
	give_back();
	for (size_t i = 0; i < DEATHS; i++)
		if (deaths[i] == number)
			sigaction(number, &before[i], NULL);
	/* A fault comes again by itself, and with what is known about it; what was sent does not.
	 */
	if (info->si_code <= 0 || info->si_code == SI_KERNEL)
		raise(number);
}

static int on_stop(sd_event_source *source, const struct signalfd_siginfo *info, void *data)
{
	(void)source;
	(void)info;
	(void)data;
	give_back();
	raise(SIGSTOP);
	return 0;
}

/* SIGSTOP cannot be caught, so the terminal may not have been given back: take it again anyway. */
static int on_continue(sd_event_source *source, const struct signalfd_siginfo *info, void *data)
{
	struct screen *const *screen = data;

	(void)source;
	(void)info;
	terminal_retake();
	if (*screen)
		take_screen_again(*screen);
	return 0;
}

void suspend_start(sd_event *loop, struct screen **screen)
{
	struct sigaction death = {.sa_sigaction = on_death, .sa_flags = SA_SIGINFO};
	sigset_t mask;

	sigemptyset(&death.sa_mask);
	for (size_t i = 0; i < DEATHS; i++)
		sigaction(deaths[i], &death, &before[i]);
	sigemptyset(&mask);
	sigaddset(&mask, SIGTSTP);
	sigaddset(&mask, SIGCONT);
	sigprocmask(SIG_BLOCK, &mask, NULL);
	sd_event_add_signal(loop, NULL, SIGTSTP, on_stop, NULL);
	sd_event_add_signal(loop, NULL, SIGCONT, on_continue, screen);
}
