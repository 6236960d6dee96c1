#include "cli/screen.h"

#include "base/clock.h"
#include "base/memory.h"
#include "base/text.h"
#include "session/pace.h"

#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

struct screen {
	struct daemon *daemon;
	int fd;
	sd_event_source *tick;
	sd_event_source *resize;
};

static volatile sig_atomic_t taken_fd = -1;

/* Alternate screen and hidden cursor, and back. */
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

void screen_restore(void)
{
	int fd = taken_fd;

	if (fd < 0)
		return;
	taken_fd = -1;
	write_all(fd, leave_codes, sizeof(leave_codes) - 1);
}

/* ---- a frame ---- */

static void add_clock(struct text *out, const char *name, int64_t us)
{
	long long s = (long long)(us / SECOND_US);

	text_format(out, "%s %lld:%02lld", name, s / 60, s % 60);
}

static void add_bar(struct text *out, const char *name, int done, int all, int columns)
{
	int width = columns - 22;

	text_format(out, "%-8s [", name);
	for (int i = 0; i < width; i++)
		text_add_char(out, i < done * width / all ? '#' : '.');
	text_format(out, "] %d of %d\n", done, all);
}

void screen_frame(const struct daemon_look *look, int64_t now_us, int columns, int rows,
		  struct text *out)
{
	const struct work *work = look->work;

	(void)rows;
	if (!work) {
		text_add(out, "no job\n");
		return;
	}
	const struct session *session = &work->session;
	int call = session->call > session->calls ? session->calls : session->call;
	struct tally tally = work_tally(work, session->call);
	text_format(out, "%s  call %d of %d  %s\n\n", work->job->name, call, session->calls,
		    session_state_name(session->state));
	text_format(out, "%s\n\n", *look->said ? look->said : work->words[call]);
	if (call < session->calls)
		text_format(out, "next: %s\n\n", work->words[call + 1]);
	add_bar(out, "mains", tally.mains_done, tally.mains, columns);
	add_bar(out, "crosses", tally.crosses_done, tally.crosses, columns);
	add_clock(out, "work", session_worked_us(session, now_us));
	add_clock(out, "  this call", session_spent_us(session, now_us));
	add_clock(out, "  left about", work_left_us(work, now_us));
	text_add_char(out, '\n');
}

void screen_draw(struct screen *screen)
{
	struct winsize size = {.ws_col = 80, .ws_row = 24};
	struct daemon_look look = daemon_look(screen->daemon);
	struct text frame = {0}, out = {0};

	ioctl(screen->fd, TIOCGWINSZ, &size);
	screen_frame(&look, clock_steady_us(), size.ws_col, size.ws_row, &frame);
	text_add(&out, "\033[H");
	for (const char *line = text_string(&frame); *line;) {
		size_t length = strcspn(line, "\n");
		text_add_part(&out, line, length);
		text_add(&out, "\033[K");
		line += length;
		if (*line) {
			text_add(&out, "\r\n");
			line++;
		}
	}
	text_add(&out, "\033[J");
	write_all(screen->fd, out.bytes, out.length);
	text_free(&frame);
	text_free(&out);
}

static int on_tick(sd_event_source *source, uint64_t usec, void *data)
{
	struct screen *screen = data;

	screen_draw(screen);
	sd_event_source_set_time(source, usec + 1000 * 1000);
	return 0;
}

static int on_resize(sd_event_source *source, const struct signalfd_siginfo *info, void *data)
{
	(void)source;
	(void)info;
	screen_draw(data);
	return 0;
}

struct screen *screen_open(struct daemon *daemon, int fd)
{
	struct screen *screen = memory_new(1, sizeof(*screen));
	sigset_t mask;

	screen->daemon = daemon;
	screen->fd = fd;
	sigemptyset(&mask);
	sigaddset(&mask, SIGWINCH);
	sigprocmask(SIG_BLOCK, &mask, NULL);
	sd_event_add_signal(daemon_loop(daemon), &screen->resize, SIGWINCH, on_resize, screen);
	sd_event_add_time_relative(daemon_loop(daemon), &screen->tick, CLOCK_MONOTONIC, 1000 * 1000,
				   0, on_tick, screen);
	sd_event_source_set_enabled(screen->tick, SD_EVENT_ON);
	taken_fd = fd;
	atexit(screen_restore);
	write_all(fd, enter_codes, sizeof(enter_codes) - 1);
	screen_draw(screen);
	return screen;
}

void screen_close(struct screen *screen)
{
	if (!screen)
		return;
	screen_restore();
	sd_event_source_disable_unref(screen->tick);
	sd_event_source_disable_unref(screen->resize);
	free(screen);
}
