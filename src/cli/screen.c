/* The screen of `pullcall run`: takes the terminal, draws the lines of screen_lines.c there, and
 * gives it back. */
#include "cli/cli.h"

#include <langinfo.h>
#include <locale.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

/* The program's own, on standard output. */
static struct {
	volatile sig_atomic_t taken; /* from the terminal, which gets it back at exit */
	struct daemon *daemon;       /* NULL: it is not open */
	bool blocks;
	const char *told; /* until the first press; then NULL */
	sd_event_source *tick;
} screen;

/* To the alternate screen without a cursor, and back. */
static const char enter_codes[] = "\033[?1049h\033[?25l";
static const char leave_codes[] = "\033[?25h\033[?1049l";

static void write_all(const char *bytes, size_t length)
{
	while (length > 0) {
		ssize_t count = write(STDOUT_FILENO, bytes, length);
		if (count <= 0)
			return;
		bytes += count;
		length -= (size_t)count;
	}
}

static void give_screen_back(void)
{
	if (screen.taken)
		write_all(leave_codes, sizeof(leave_codes) - 1);
	screen.taken = false;
}

static struct screen_size size_now(void)
{
	struct winsize size;

	if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0 || size.ws_col == 0 || size.ws_row == 0)
		size = (struct winsize){.ws_col = 80, .ws_row = 24};
	return (struct screen_size){size.ws_col, size.ws_row, screen.blocks};
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

static void draw(void)
{
	struct daemon_look look = daemon_look(screen.daemon);
	struct screen_size size = size_now();
	struct text lines = {0}, out = {0};
	bool runs = look.work && look.work->session.state == SESSION_CALLING;

	if (!screen.taken)
		return;
	if (look.work && look.work->session.state != SESSION_PAUSED)
		screen.told = NULL;
	look.told = screen.told;
	screen_lines(&look, clock_steady_us(), &size, &lines);
	paint(text_string(&lines), size.rows, &out);
	write_all(out.bytes, out.length);
	text_free(&lines);
	text_free(&out);
	sd_event_source_set_enabled(screen.tick, runs ? SD_EVENT_ON : SD_EVENT_OFF);
}

static void take_screen(void)
{
	screen.taken = true;
	write_all(enter_codes, sizeof(enter_codes) - 1);
	draw();
}

static int on_any_event(sd_event_source *source, void *data)
{
	(void)source;
	(void)data;
	draw();
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

void screen_open(struct daemon *daemon, const char *told)
{
	sd_event *loop = daemon_loop(daemon);
	sd_event_source *after;

	/* For the character set only: numbers must stay as the files write them. */
	setlocale(LC_CTYPE, "");
	screen.daemon = daemon;
	screen.told = told;
	screen.blocks = strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
	sd_event_add_post(loop, &after, on_any_event, NULL);
	sd_event_source_set_priority(after, SD_EVENT_PRIORITY_IDLE); /* after every other event */
	sd_event_source_set_floating(after, true);
	sd_event_source_unref(after);
	sd_event_add_signal(loop, NULL, SIGWINCH | SD_EVENT_SIGNAL_PROCMASK, on_resize, NULL);
	sd_event_add_time_relative(loop, &screen.tick, CLOCK_MONOTONIC, (uint64_t)SECOND_US, 0,
				   on_tick, NULL);
	atexit(give_screen_back);
	take_screen();
}

void screen_close(void)
{
	give_screen_back();
	screen.tick = sd_event_source_disable_unref(screen.tick);
	screen.daemon = NULL;
}

void screen_mend(void)
{
	if (terminal_mend(STDIN_FILENO) && isatty(STDOUT_FILENO))
		write_all(leave_codes, sizeof(leave_codes) - 1);
}

/* ---- being stopped and dying: screen and keys go back to the terminal ---- */

/* In a signal handler: only what is safe there. */
static void give_back(void)
{
	give_screen_back();
	terminal_restore();
}

/* What happens without this handler happens next: a fault comes again by itself, what was sent does
 * not. */
static void on_death(int number, siginfo_t *info, void *context)
{
	(void)context;
	give_back();
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

/* SIGSTOP cannot be caught, so the terminal may not have been given back: take it again anyway,
 * unless another program is in the foreground. */
static int on_continue(sd_event_source *source, const struct signalfd_siginfo *info, void *data)
{
	(void)source;
	(void)info;
	(void)data;
	terminal_retake();
	if (screen.daemon && tcgetpgrp(STDOUT_FILENO) == getpgrp())
		take_screen();
	return 0;
}

void suspend_start(sd_event *loop)
{
	static const int deaths[] = {SIGQUIT, SIGABRT, SIGSEGV, SIGBUS, SIGFPE, SIGILL};
	struct sigaction death = {.sa_sigaction = on_death, .sa_flags = SA_SIGINFO | SA_RESETHAND};

	sigemptyset(&death.sa_mask);
	for (size_t i = 0; i < sizeof(deaths) / sizeof(deaths[0]); i++)
		sigaction(deaths[i], &death, NULL);
	sd_event_add_signal(loop, NULL, SIGTSTP | SD_EVENT_SIGNAL_PROCMASK, on_stop, NULL);
	sd_event_add_signal(loop, NULL, SIGCONT | SD_EVENT_SIGNAL_PROCMASK, on_continue, NULL);
}
