/* One run of the speaker: its process, the wire to it, and what it prints on standard error. */
#include "speech/internal.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/pidfd.h>
#include <sys/wait.h>
#include <sysexits.h>
#include <unistd.h>

enum {
	END_US = 500000, /* to fade out and end */
	ERRORS_MAX = 16, /* reads of a full pipe */
	WIRE_FD = 3,     /* where the speaker finds its end of the wire */
};

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

/* In the new process: becomes the speaker, or tells over the wire why it cannot. Its process group
 * is its own: Ctrl-C in a terminal is for the daemon, which ends the speaker in its own time. */
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
	path_become(options->program, arguments);
	struct wire_message message = {.kind = WIRE_NO_DEVICE};
	snprintf(message.text, sizeof message.text, "cannot start %s: %s", options->program,
		 strerror(errno));
	wire_send(WIRE_FD, &message);
	_exit(EX_UNAVAILABLE);
}

void run_close_wire(struct run *run)
{
	close_fd(&run->wire);
}

void run_close(struct run *run)
{
	close_fd(&run->wire);
	close_fd(&run->process);
	close_fd(&run->errors);
}

/* Not posix_spawn, which waits until the new program is loaded: on a busy machine that takes longer
 * than a press may wait. fork is cheap for a daemon with one thread and little memory. */
bool run_start(struct run *run, const struct speech_options *options, int64_t began_us)
{
	int wire[2] = {-1, -1}, errors[2] = {-1, -1};
	pid_t pid = -1;

	/* The speaker's end of the pipe blocks: it waits when the pipe is full. */
	if (wire_pair(wire) && pipe2(errors, O_CLOEXEC) == 0 &&
	    fcntl(errors[0], F_SETFL, O_NONBLOCK) == 0)
		pid = fork();
	if (pid == 0)
		become_speaker(options, began_us, wire[1], errors[1]);
	*run = (struct run){
		.wire = wire[0],
		.process = pid > 0 ? pidfd_open(pid, 0) : -1,
		.errors = errors[0],
	};
	int error = errno;
	close_fd(&wire[1]);
	close_fd(&errors[1]);
	if (pid > 0 && run->process < 0) {
		kill(pid, SIGKILL);
		waitpid(pid, NULL, 0);
	}
	if (run->process < 0)
		run_close(run);
	errno = error;
	return run->process >= 0;
}

bool run_read_errors(struct run *run)
{
	char bytes[4096 + 1];
	ssize_t length = read(run->errors, bytes, sizeof bytes - 1);

	if (length <= 0)
		return false;
	while (length > 0 && bytes[length - 1] == '\n')
		length--;
	if (length == 0)
		return true;
	bytes[length] = '\0';
	const char *line = strrchr(bytes, '\n');
	snprintf(run->last_line, sizeof run->last_line, "%.*s", (int)sizeof run->last_line - 1,
		 line ? line + 1 : bytes);
	for (char *at = run->last_line; *at; at++)
		if ((unsigned char)*at < ' ' || *at == 0x7f)
			*at = '?';
	return true;
}

bool run_reap(struct run *run, char **how)
{
	siginfo_t info = {0};

	if (run->process < 0 ||
	    waitid(P_PIDFD, (id_t)run->process, &info, WEXITED | WNOHANG) != 0 || info.si_pid == 0)
		return false;
	for (int i = 0; i < ERRORS_MAX && run_read_errors(run); i++)
		;
	*how = info.si_code == CLD_EXITED ? memory_format("exit %d", info.si_status)
					  : memory_format("signal %d (%s)", info.si_status,
							  sigdescr_np(info.si_status));
	return true;
}

void run_kill(const struct run *run)
{
	pidfd_send_signal(run->process, SIGKILL, NULL, 0);
}

void run_end(struct run *run)
{
	close_fd(&run->wire);
	if (run->process >= 0) {
		struct pollfd end = {.fd = run->process, .events = POLLIN};
		if (poll(&end, 1, END_US / MS_US) <= 0)
			run_kill(run);
		poll(&end, 1, SECOND_US / MS_US);
		waitid(P_PIDFD, (id_t)run->process, &(siginfo_t){0}, WEXITED | WNOHANG);
	}
	run_close(run);
}
