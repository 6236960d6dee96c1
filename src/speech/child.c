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

static void close_fd(int *fd)
{
	if (*fd >= 0)
		close(*fd);
	*fd = -1;
}

/* NULL for 0, the speaker's default. */
static char *number(int64_t value)
{
	return value ? memory_format("%lld", (long long)value) : NULL;
}

/* In the new process, so nothing is freed. */
static char **command_line(const struct speech_options *options, int64_t began_us)
{
	const char *const values[][2] = {
		{"--sound", options->sound},
		{"--voice", options->voice},
		{"--recorded", options->recorded},
		{"--rate", number(options->rate_wpm)},
		{"--volume", number(options->volume_percent)},
		{"--tone", options->tone ? "yes" : NULL},
		{"--shop", options->loud ? "loud" : NULL},
		{"--sleep", number(options->sleep_s)},
		{"--began", number(began_us)},
		{"--fd", number(WIRE_FD)},
	};
	size_t rows = sizeof values / sizeof *values, count = 0;
	char **arguments = memory_new(2 * rows + 2, sizeof *arguments);

	arguments[count++] = memory_copy(options->program);
	for (size_t i = 0; i < rows; i++) {
		if (!values[i][1])
			continue;
		arguments[count++] = memory_copy(values[i][0]);
		arguments[count++] = memory_copy(values[i][1]);
	}
	return arguments;
}

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
static _Noreturn void become_speaker(const struct speech_options *options, int64_t began_us,
				     int wire, int errors)
{
	char **arguments = command_line(options, began_us);
	int null = open("/dev/null", O_RDWR | O_CLOEXEC);

	setpgid(0, 0);
	reset_signals();
	move_to(null, STDIN_FILENO);
	move_to(null, STDOUT_FILENO);
	move_to(errors, STDERR_FILENO);
	move_to(wire, WIRE_FD);
	execvp(options->program, arguments);
	struct wire_message message = {.kind = WIRE_NO_DEVICE};
	snprintf(message.text, sizeof message.text, "cannot start %s: %s", options->program,
		 strerror(errno));
	wire_send(WIRE_FD, &message);
	_exit(EX_UNAVAILABLE);
}

/* Not posix_spawn, which waits until the new program is loaded: on a busy machine that takes longer
 * than a press may wait. fork is cheap for a daemon with one thread and little memory. */
bool child_start(struct child *child, const struct speech_options *options, int64_t began_us)
{
	int wire[2] = {-1, -1}, errors[2] = {-1, -1};
	pid_t pid = -1;

	/* The speaker's end of the pipe blocks: it waits when the pipe is full. */
	if (wire_pair(wire) && pipe2(errors, O_CLOEXEC) == 0 &&
	    fcntl(errors[0], F_SETFL, O_NONBLOCK) == 0)
		pid = fork();
	if (pid == 0)
		become_speaker(options, began_us, wire[1], errors[1]);
	*child = (struct child){
		.wire = wire[0], .process = pid > 0 ? pidfd_open(pid, 0) : -1, .errors = errors[0]};
	bool good = child->process >= 0;
	int error = errno;
	close_fd(&wire[1]);
	close_fd(&errors[1]);
	if (pid > 0 && !good) {
		kill(pid, SIGKILL);
		waitpid(pid, NULL, 0);
	}
	if (!good)
		child_close(child);
	errno = error;
	return good;
}

void child_read_errors(struct child *child, size_t most)
{
	char bytes[4096];
	ssize_t length = 1;

	while (child->errors >= 0 && most >= sizeof bytes && length > 0) {
		length = read(child->errors, bytes, sizeof bytes);
		most -= sizeof bytes;
		for (ssize_t i = 0; i < length; i++)
			last_line_add(&child->last_line, bytes[i]);
	}
}

void last_line_add(struct last_line *last, char byte)
{
	if (last->ended && byte != '\n')
		*last = (struct last_line){0};
	last->ended = byte == '\n' && last->length > 0;
	bool control = (unsigned char)byte < ' ' || byte == 0x7f;
	if (byte != '\n' && last->length < LINE_BYTES_MAX - 1)
		last->text[last->length++] = control ? '?' : byte;
}

void child_hang_up(struct child *child)
{
	close_fd(&child->wire);
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
			pidfd_send_signal(child->process, SIGKILL, NULL, 0);
		poll(&end, 1, (int)(SECOND_US / MS_US));
		child_reap(child, how);
	}
	child_close(child);
}
