#include "speech/internal.h"

#include "base/base.h"
#include "speech/speech.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/pidfd.h>
#include <sys/wait.h>
#include <sysexits.h>
#include <unistd.h>

enum {
	CHILD_FD = 3,             /* where the speaker finds its end of the wire */
	ERRORS_A_SECOND = 1 << 16 /* bytes of standard error that are read, at most */
};

static void close_fd(int *fd)
{
	if (*fd >= 0)
		close(*fd);
	*fd = -1;
}

/* What the daemon blocks or ignores is not for the speaker. */
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
	move_to(wire, CHILD_FD);
	execvp(arguments[0], arguments);
	struct wire_message message = {.kind = WIRE_NO_DEVICE};
	snprintf(message.text, sizeof message.text, "cannot start %s: %s", arguments[0],
		 strerror(errno));
	wire_send(CHILD_FD, &message);
	_exit(EX_UNAVAILABLE);
}

/* Not posix_spawn: it waits until the new program is loaded, which on a busy machine may take
 * longer than a press can wait. The daemon has one thread and little memory: fork is cheap. */
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
		/* Only our end: the speaker must feel that the pipe is full, not lose lines. */
		fcntl(errors[1], F_SETFL, 0);
		return true;
	}
	int error = errno;
	close(wire[0]);
	close(wire[1]);
	errno = error;
	return false;
}

bool child_start(struct child *child, char *arguments[])
{
	static char number[] = "3", option[] = "--fd";
	int wire[2], errors[2];
	size_t count = 0;

	static_assert(CHILD_FD == 3, "as in number");
	*child = (struct child){.wire = -1, .process = -1, .errors = -1};
	if (!open_pairs(wire, errors))
		return false;
	while (arguments[count])
		count++;
	arguments[count] = option;
	arguments[count + 1] = number;
	arguments[count + 2] = NULL;
	int error = start(arguments, wire[1], errors[1], &child->process);
	arguments[count] = NULL;
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

	if (now_us - child->allowance_us >= SECOND_US) {
		child->allowance_us = now_us;
		child->allowance_bytes = ERRORS_A_SECOND;
	}
	while (child->allowance_bytes >= sizeof bytes) {
		ssize_t length = read(child->errors, bytes, sizeof bytes);
		if (length <= 0) {
			if (length == 0)
				close_fd(&child->errors);
			return true;
		}
		tail_add(&child->tail, bytes, (size_t)length);
		child->allowance_bytes -= (size_t)length;
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

void child_finish(struct child *child, int64_t patience_us)
{
	struct pollfd end = {.fd = child->process, .events = POLLIN};
	char how[CHILD_HOW_MAX];

	if (child->process < 0)
		return;
	if (poll(&end, 1, (int)(patience_us / MS_US)) <= 0)
		child_kill(child);
	poll(&end, 1, (int)(SECOND_US / MS_US));
	child_reap(child, how);
}

void child_close(struct child *child)
{
	close_fd(&child->wire);
	close_fd(&child->process);
	close_fd(&child->errors);
}
