#include "speech/internal.h"

#include "base/base.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/pidfd.h>
#include <sys/wait.h>
#include <sysexits.h>
#include <unistd.h>

/* Where the speaker finds its end of the wire. */
enum { WIRE_FD = 3 };

enum {
	ARGUMENTS_MAX = 24,
	ERRORS_A_SECOND = 1 << 16, /* bytes of standard error that are read, at most */
};

static void close_fd(int *fd)
{
	if (*fd >= 0)
		close(*fd);
	*fd = -1;
}

/* --- The last line of its standard error --- */

void last_line_add(struct last_line *last, const char *bytes, size_t length)
{
	for (size_t i = 0; i < length; i++) {
		char byte = bytes[i];
		if (byte == '\n') {
			if (last->length > 0)
				memcpy(last->whole, last->growing, sizeof last->whole);
			memset(last->growing, 0, sizeof last->growing);
			last->length = 0;
		} else if (last->length < LINE_BYTES_MAX - 1) {
			bool control = (unsigned char)byte < ' ' || byte == 0x7f;
			last->growing[last->length++] = control ? '?' : byte;
		}
	}
}

const char *last_line_text(const struct last_line *last)
{
	return last->length > 0 ? last->growing : last->whole;
}

/* --- Its command line --- */

struct command_line {
	char *arguments[ARGUMENTS_MAX]; /* ended by NULL */
	int count;
};

/* Takes over value; nothing for NULL. */
static void add_option(struct command_line *line, const char *option, char *value)
{
	if (!value)
		return;
	line->arguments[line->count++] = memory_copy(option);
	line->arguments[line->count++] = value;
}

/* NULL for 0, the speaker's default. */
static char *number(int64_t value)
{
	return value ? memory_format("%lld", (long long)value) : NULL;
}

static struct command_line command_line(const struct speech_options *options, int64_t began_us)
{
	struct command_line line = {.arguments = {memory_copy(options->program)}, .count = 1};

	add_option(&line, "--sound", memory_copy(options->sound));
	add_option(&line, "--voice", memory_copy(options->voice));
	add_option(&line, "--recorded", memory_copy(options->recorded));
	add_option(&line, "--rate", number(options->rate_wpm));
	add_option(&line, "--volume", number(options->volume_percent));
	add_option(&line, "--tone", memory_copy(options->tone ? "yes" : NULL));
	add_option(&line, "--shop", memory_copy(options->loud ? "loud" : NULL));
	add_option(&line, "--sleep", number(options->sleep_s));
	add_option(&line, "--began", number(began_us));
	add_option(&line, "--fd", number(WIRE_FD));
	return line;
}

/* --- Its process --- */

/* The speaker does not inherit which signals the daemon blocks or ignores. */
static void reset_signals(void)
{
	sigset_t none;

	for (int number = 1; number < NSIG; number++)
		signal(number, SIG_DFL);
	sigemptyset(&none);
	sigprocmask(SIG_SETMASK, &none, NULL);
}

static void move_to(int fd, int number)
{
	if (fd == number)
		fcntl(fd, F_SETFD, 0);
	else
		dup2(fd, number);
}

/* In the new process: becomes the speaker, or tells over the wire why it cannot. */
static _Noreturn void become_speaker(char *arguments[], int wire, int errors)
{
	int null = open("/dev/null", O_RDWR | O_CLOEXEC);

	setpgid(0, 0);
	reset_signals();
	move_to(null, STDIN_FILENO);
	move_to(null, STDOUT_FILENO);
	move_to(errors, STDERR_FILENO);
	move_to(wire, WIRE_FD);
	execvp(arguments[0], arguments);
	struct wire_message message = {.kind = WIRE_NO_DEVICE};
	snprintf(message.text, sizeof message.text, "cannot start %s: %s", arguments[0],
		 strerror(errno));
	wire_send(WIRE_FD, &message);
	_exit(EX_UNAVAILABLE);
}

/* Returns errno. Not posix_spawn, which waits until the new program is loaded: on a busy machine
 * that takes longer than a press may wait. fork is cheap for a daemon with one thread and little
 * memory. */
static int start(char *arguments[], int wire, int errors, int *process)
{
	pid_t pid = fork();

	if (pid == 0)
		become_speaker(arguments, wire, errors);
	if (pid < 0)
		return errno;
	*process = pidfd_open(pid, 0);
	if (*process >= 0)
		return 0;
	int error = errno;
	kill(pid, SIGKILL);
	waitpid(pid, NULL, 0);
	return error;
}

/* Both pairs, or neither. */
static bool open_pairs(int wire[2], int errors[2])
{
	if (!wire_pair(wire))
		return false;
	if (pipe2(errors, O_CLOEXEC | O_NONBLOCK) == 0) {
		/* The speaker's end blocks: it waits when the pipe is full, and loses no line. */
		fcntl(errors[1], F_SETFL, 0);
		return true;
	}
	int error = errno;
	close(wire[0]);
	close(wire[1]);
	errno = error;
	return false;
}

bool child_start(struct child *child, const struct speech_options *options, int64_t began_us)
{
	int wire[2], errors[2];

	*child = NO_CHILD;
	if (!open_pairs(wire, errors))
		return false;
	struct command_line line = command_line(options, began_us);
	int error = start(line.arguments, wire[1], errors[1], &child->process);
	while (line.count > 0)
		free(line.arguments[--line.count]);
	close(wire[1]);
	close(errors[1]);
	child->wire = wire[0];
	child->errors = errors[0];
	if (error)
		child_close(child);
	errno = error;
	return error == 0;
}

bool child_drain(struct child *child, int64_t now_us)
{
	char bytes[4096];

	if (now_us - child->second_began_us >= SECOND_US) {
		child->second_began_us = now_us;
		child->bytes_left = ERRORS_A_SECOND;
	}
	while (child->bytes_left >= sizeof bytes) {
		ssize_t length = read(child->errors, bytes, sizeof bytes);
		if (length == 0)
			close_fd(&child->errors);
		if (length <= 0)
			return true;
		last_line_add(&child->last_line, bytes, (size_t)length);
		child->bytes_left -= (size_t)length;
	}
	return false;
}

void child_hang_up(struct child *child)
{
	close_fd(&child->wire);
}

void child_kill(const struct child *child)
{
	pidfd_send_signal(child->process, SIGKILL, NULL, 0);
}

bool child_reap(struct child *child, char how[static CHILD_HOW_MAX])
{
	siginfo_t info = {0};

	if (waitid(P_PIDFD, (id_t)child->process, &info, WEXITED | WNOHANG) != 0 ||
	    info.si_pid == 0)
		return false;
	if (info.si_code == CLD_EXITED)
		snprintf(how, CHILD_HOW_MAX, "exit %d", info.si_status);
	else
		snprintf(how, CHILD_HOW_MAX, "signal %d (%s)", info.si_status,
			 sigdescr_np(info.si_status));
	close_fd(&child->process);
	return true;
}

void child_close(struct child *child)
{
	close_fd(&child->wire);
	close_fd(&child->process);
	close_fd(&child->errors);
}

void child_end(struct child *child, int64_t patience_us)
{
	struct pollfd end = {.fd = child->process, .events = POLLIN};
	char how[CHILD_HOW_MAX];

	child_hang_up(child);
	if (child->process >= 0) {
		if (poll(&end, 1, (int)(patience_us / MS_US)) <= 0)
			child_kill(child);
		poll(&end, 1, (int)(SECOND_US / MS_US));
		child_reap(child, how);
	}
	child_close(child);
}
