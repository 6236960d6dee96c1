#include "speech/internal.h"

#include "base/base.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/inotify.h>
#include <sys/pidfd.h>
#include <sys/wait.h>
#include <sysexits.h>
#include <unistd.h>

enum {
	EVENTS_MAX = 64,
	REPLAYS_MAX = 1,      /* of words that each speaker died before it began */
	MESSAGES_A_TURN = 16, /* read in one dispatch */
	TROUBLES_MAX = 10,    /* told of one speaker */
	ERRORS_MAX = 16,      /* reads of a full pipe */
	END_US = 500000,
	WIRE_FD = 3, /* where the speaker finds its end of the wire */
};

struct utterance {
	uint64_t generation;
	char *text;
	bool finished;
	int replays;
};

struct speech {
	struct speech_options options; /* its texts are these: */
	char *program, *sound, *voice, *recorded;

	struct supervisor supervisor; /* off: the sound is "none" */
	int epoll;
	int devices;      /* inotify, or -1 */
	int64_t began_us; /* when the first speaker's sound began; 0: not yet */
	char *cause;      /* given with the next thing told */

	/* This run of the speaker. */
	int wire;            /* our end, or -1 */
	int process;         /* pidfd, so that a recycled process number is never hit; -1: none */
	int errors;          /* read end of its standard error, or -1 */
	char last_line[160]; /* of that */
	int troubles;        /* reported */

	uint64_t last_generation;
	struct utterance
		queue[1 + SPEECH_QUEUE_MAX]; /* is said or was said last; then those that wait */
	size_t queue_count;
	char *prepared[SPEECH_PREPARED_MAX];
	size_t prepared_count;
	bool rest_due; /* when what is being said has ended */

	struct speech_event events[EVENTS_MAX];
	size_t event_count;
};

/* What happens to the speaker, and all that follows from it. */
static void step(struct speech *speech, enum supervisor_event event, int64_t now_us);

/* --- Events for the owner --- */

static void tell(struct speech *speech, enum speech_kind kind, uint64_t generation, int64_t at_us,
		 const char *text)
{
	if (speech->event_count == EVENTS_MAX)
		return; /* the owner does not read them */
	struct speech_event *event = &speech->events[speech->event_count++];

	*event = (struct speech_event){.kind = kind, .generation = generation, .at_us = at_us};
	snprintf(event->text, sizeof event->text, "%s", text);
}

bool speech_next(struct speech *speech, struct speech_event *event)
{
	if (speech->event_count == 0)
		return false;
	*event = speech->events[0];
	memmove(speech->events, speech->events + 1, --speech->event_count * sizeof *speech->events);
	return true;
}

/* --- Orders to the speaker --- */

/* Takes what the next thing told to the owner gives as its reason. */
static void set_cause(struct speech *speech, char *cause)
{
	free(speech->cause);
	speech->cause = cause;
}

static void fault(struct speech *speech, const char *cause, int64_t now_us)
{
	set_cause(speech, memory_copy(cause));
	step(speech, SUPERVISOR_FAULT, now_us);
}

/* To a speaker whose sound flows, else nothing: `replay` will say it. */
static void send(struct speech *speech, enum wire_kind kind, uint64_t generation, const char *text,
		 int64_t now_us)
{
	struct wire_message message = {.kind = (uint16_t)kind, .generation = generation};

	if (speech->supervisor.state != SUPERVISOR_LIVE || speech->wire < 0)
		return;
	wire_set_text(&message, text);
	if (wire_send(speech->wire, &message) == WIRE_LATER)
		fault(speech, "it does not read its orders", now_us);
}

/* --- What is said, and what waits --- */

static void send_prepared(struct speech *speech, int64_t now_us)
{
	for (size_t i = 0; i < speech->prepared_count; i++)
		send(speech, WIRE_PREPARE, i, speech->prepared[i], now_us);
}

static void forget_prepared(struct speech *speech)
{
	while (speech->prepared_count > 0)
		free(speech->prepared[--speech->prepared_count]);
}

static void finish(struct speech *speech, struct utterance *utterance, int64_t now_us)
{
	if (!utterance->finished)
		tell(speech, SPEECH_FINISHED, utterance->generation, now_us, "");
	utterance->finished = true;
}

static void drop(struct speech *speech, size_t at, int64_t now_us)
{
	struct utterance *utterance = &speech->queue[at];

	finish(speech, utterance, now_us);
	free(utterance->text);
	memmove(utterance, utterance + 1, (--speech->queue_count - at) * sizeof *utterance);
}

/* Those that wait first. */
static void drop_all(struct speech *speech, int64_t now_us)
{
	while (speech->queue_count > 0)
		drop(speech, speech->queue_count > 1, now_us);
}

static void begin(struct speech *speech, int64_t now_us)
{
	struct utterance *first = speech->queue;

	if (speech_is_silent(speech)) {
		tell(speech, SPEECH_STARTED, first->generation, now_us, "");
		finish(speech, first, now_us);
		return;
	}
	send(speech, WIRE_SAY, first->generation, first->text, now_us);
	send_prepared(speech, now_us);
}

static void go_on(struct speech *speech, int64_t now_us)
{
	finish(speech, speech->queue, now_us);
	if (speech->queue_count == 1)
		return;
	drop(speech, 0, now_us);
	begin(speech, now_us);
}

static void rest_if_due(struct speech *speech, int64_t now_us)
{
	bool talks = speech->queue_count > 0 && !speech->queue[0].finished;

	if (!speech->rest_due || talks)
		return;
	speech->rest_due = false;
	step(speech, SUPERVISOR_REST, now_us);
	send(speech, WIRE_REST, 0, "", now_us);
}

/* WIRE_STARTED or WIRE_FINISHED. */
static void on_progress(struct speech *speech, const struct wire_message *message, int64_t now_us)
{
	struct utterance *current = speech->queue;

	if (speech->queue_count == 0 || message->generation != current->generation)
		return; /* late */
	if (message->kind == WIRE_STARTED) {
		current->replays = 0;
		tell(speech, SPEECH_STARTED, current->generation, message->at_us, "");
		return;
	}
	go_on(speech, now_us);
	rest_if_due(speech, now_us);
}

/* A fresh speaker knows nothing. The current call is said again even if it had been said to the
 * end, because its end may have been lost on the way to the ear. Not in a pause, and not for ever:
 * the words themselves may be what kills the speaker. */
static void replay(struct speech *speech, int64_t now_us)
{
	struct utterance *current = speech->queue;
	bool resting = speech->supervisor.resting;

	if (speech->queue_count > 0 && !(resting && current->finished)) {
		if (current->replays++ <= REPLAYS_MAX)
			send(speech, WIRE_SAY, current->generation, current->text, now_us);
		else
			go_on(speech, now_us);
	}
	send_prepared(speech, now_us);
	if (resting)
		send(speech, WIRE_REST, 0, "", now_us);
	rest_if_due(speech, now_us);
}

/* --- Changes of sound devices ---
 *
 * Kernel devices come and go under /dev/snd; a sound server makes its socket in the user's runtime
 * folder. A change means only that another try is worthwhile.
 */

/* Attributes too: a device is of use once its permissions are set, some time after it was made. */
enum { DEVICE_CHANGES = IN_CREATE | IN_MOVED_TO | IN_ATTRIB | IN_ONLYDIR };

static void watch_folder(int fd, const char *folder, const char *within)
{
	char *path = memory_format("%s%s", folder, within);

	/* Fails harmlessly for a folder that is not there. */
	inotify_add_watch(fd, path, DEVICE_CHANGES);
	free(path);
}

static void watch_folders(int fd)
{
	const char *runtime = getenv("XDG_RUNTIME_DIR");

	watch_folder(fd, "/dev", "");
	watch_folder(fd, "/dev", "/snd");
	watch_folder(fd, runtime ? runtime : "", "");
	watch_folder(fd, runtime ? runtime : "", "/pulse");
}

/* An inotify descriptor to poll for reading, or -1. */
static int watch_devices(void)
{
	int fd = inotify_init1(IN_CLOEXEC | IN_NONBLOCK);

	if (fd >= 0)
		watch_folders(fd);
	return fd;
}

static bool is_about_sound(const char *name)
{
	static const char *const starts[] = {"snd",      "pcm",   "control",
					     "pipewire", "pulse", "native"};

	for (size_t i = 0; i < sizeof starts / sizeof *starts; i++)
		if (strncmp(name, starts[i], strlen(starts[i])) == 0)
			return true;
	return false;
}

/* Reads it empty. True if anything in it was about sound. */
static bool devices_changed(int fd)
{
	_Alignas(struct inotify_event) char bytes[4096];
	bool changed = false;
	ssize_t length;

	while ((length = read(fd, bytes, sizeof bytes)) > 0)
		for (ssize_t at = 0; at < length;) {
			const struct inotify_event *event = (const void *)(bytes + at);
			changed |= event->len > 0 && is_about_sound(event->name);
			at += (ssize_t)(sizeof *event + event->len);
		}
	if (changed)
		watch_folders(fd);
	return changed;
}

/* --- One run of the speaker --- */

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
static char **command_line(const struct speech *speech)
{
	const struct speech_options *options = &speech->options;
	const char *const values[][2] = {
		{"--sound", options->sound},
		{"--voice", options->voice},
		{"--recorded", options->recorded},
		{"--rate", number(options->rate_wpm)},
		{"--volume", number(options->volume_percent)},
		{"--tone", options->tone ? "yes" : NULL},
		{"--shop", options->loud ? "loud" : NULL},
		{"--sleep", number(options->sleep_s)},
		{"--began", number(speech->began_us)},
		{"--fd", number(WIRE_FD)},
	};
	size_t rows = sizeof values / sizeof *values, count = 0;
	char **arguments = memory_new(2 * rows + 2, sizeof *arguments);

	arguments[count++] = memory_copy(speech->program);
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

/* In the new process: becomes the speaker, or tells over the wire why it cannot, as a speaker does.
 * It is in a process group of its own: Ctrl-C in a terminal is for the daemon, which ends the
 * speaker in its own time. */
static _Noreturn void become_speaker(const struct speech *speech, int wire, int errors)
{
	char **arguments = command_line(speech);
	int null = open("/dev/null", O_RDWR | O_CLOEXEC);

	setpgid(0, 0);
	reset_signals();
	move_to(null, STDIN_FILENO);
	move_to(null, STDOUT_FILENO);
	move_to(errors, STDERR_FILENO);
	move_to(wire, WIRE_FD);
	path_become(speech->program, arguments);
	struct wire_message message = {.kind = WIRE_NO_DEVICE};
	snprintf(message.text, sizeof message.text, "cannot start %s: %s", speech->program,
		 strerror(errno));
	wire_send(WIRE_FD, &message);
	_exit(EX_UNAVAILABLE);
}

/* False with errno. Not posix_spawn, which waits until the new program is loaded: on a busy machine
 * that takes longer than a press may wait. fork is cheap for a daemon with one thread and little
 * memory. */
static bool start(struct speech *speech)
{
	int wire[2] = {-1, -1}, errors[2] = {-1, -1};
	pid_t pid = -1;

	/* The speaker's end of the pipe blocks: it waits when the pipe is full. */
	if (wire_pair(wire) && pipe2(errors, O_CLOEXEC) == 0 &&
	    fcntl(errors[0], F_SETFL, O_NONBLOCK) == 0)
		pid = fork();
	if (pid == 0)
		become_speaker(speech, wire[1], errors[1]);
	speech->wire = wire[0];
	speech->errors = errors[0];
	speech->process = pid > 0 ? pidfd_open(pid, 0) : -1;
	speech->last_line[0] = '\0';
	speech->troubles = 0;
	int error = errno;
	close_fd(&wire[1]);
	close_fd(&errors[1]);
	if (pid > 0 && speech->process < 0) {
		kill(pid, SIGKILL);
		waitpid(pid, NULL, 0);
	}
	errno = error;
	return speech->process >= 0;
}

static void close_run(struct speech *speech)
{
	close_fd(&speech->wire);
	close_fd(&speech->process);
	close_fd(&speech->errors);
}

/* Reads a little of what its libraries print: one that floods the pipe waits, and fills neither the
 * log nor our memory. False if nothing is there. */
static bool read_errors(struct speech *speech)
{
	char bytes[4096 + 1];
	ssize_t length = read(speech->errors, bytes, sizeof bytes - 1);

	if (length <= 0)
		return false;
	while (length > 0 && bytes[length - 1] == '\n')
		length--;
	if (length == 0)
		return true;
	bytes[length] = '\0';
	const char *line = strrchr(bytes, '\n');
	snprintf(speech->last_line, sizeof speech->last_line, "%.*s",
		 (int)sizeof speech->last_line - 1, line ? line + 1 : bytes);
	for (char *at = speech->last_line; *at; at++)
		if ((unsigned char)*at < ' ' || *at == 0x7f)
			*at = '?';
	return true;
}

/* True once it has ended and is reaped; *how is then "exit 3" or "signal 9 (Killed)". */
static bool has_ended(const struct speech *speech, char **how)
{
	siginfo_t info = {0};

	if (speech->process < 0 ||
	    waitid(P_PIDFD, (id_t)speech->process, &info, WEXITED | WNOHANG) != 0 ||
	    info.si_pid == 0)
		return false;
	*how = info.si_code == CLD_EXITED ? memory_format("exit %d", info.si_status)
					  : memory_format("signal %d (%s)", info.si_status,
							  sigdescr_np(info.si_status));
	return true;
}

/* --- The speaker: carrying out the supervisor's orders --- */

static void watch(const struct speech *speech, int fd)
{
	epoll_ctl(speech->epoll, EPOLL_CTL_ADD, fd, &(struct epoll_event){.events = EPOLLIN});
}

static void spawn(struct speech *speech, int64_t now_us)
{
	if (start(speech)) {
		watch(speech, speech->wire);
		watch(speech, speech->process);
		return;
	}
	set_cause(speech, memory_format("cannot start %s: %s", speech->program, strerror(errno)));
	close_run(speech);
	step(speech, SUPERVISOR_SPAWN_FAILED, now_us);
}

static void step(struct speech *speech, enum supervisor_event event, int64_t now_us)
{
	unsigned orders = supervisor_step(&speech->supervisor, event, now_us);

	for (enum speech_kind kind = 0; kind <= SPEECH_TROUBLE; kind++)
		if (orders & 1U << kind)
			tell(speech, kind, 0, now_us, speech->cause);
	if (orders & SUPERVISOR_KILL)
		pidfd_send_signal(speech->process, SIGKILL, NULL, 0);
	if (orders & SUPERVISOR_REPLAY)
		replay(speech, now_us);
	if (orders & SUPERVISOR_SPAWN)
		spawn(speech, now_us);
}

static void on_message(struct speech *speech, const struct wire_message *message, int64_t now_us)
{
	switch (message->kind) {
	case WIRE_READY:
		if (speech->began_us == 0)
			speech->began_us = message->at_us;
		set_cause(speech, memory_copy(message->text));
		step(speech, SUPERVISOR_READY, now_us);
		return;
	case WIRE_NO_DEVICE:
	case WIRE_REFUSED:
		set_cause(speech, memory_copy(message->text));
		step(speech,
		     message->kind == WIRE_REFUSED ? SUPERVISOR_REFUSAL : SUPERVISOR_NO_DEVICE,
		     now_us);
		return;
	case WIRE_BEAT:
		read_errors(speech);
		step(speech, SUPERVISOR_BEAT, now_us);
		return;
	case WIRE_STARTED:
	case WIRE_FINISHED:
		on_progress(speech, message, now_us);
		return;
	case WIRE_TROUBLE:
		if (speech->troubles++ < TROUBLES_MAX)
			tell(speech, SPEECH_TROUBLE, 0, now_us, message->text);
		return;
	default: /* an order, from the wrong side */
		fault(speech, "its messages make no sense", now_us);
	}
}

static void read_wire(struct speech *speech, int64_t now_us)
{
	struct wire_message message;

	for (int i = 0; i < MESSAGES_A_TURN && speech->wire >= 0; i++)
		switch (wire_receive(speech->wire, &message)) {
		case WIRE_DONE:
			on_message(speech, &message, now_us);
			break;
		case WIRE_LATER:
			return;
		case WIRE_CLOSED:
			/* How the process ended says more, and is known in a moment. One that
			 * lives on beats no more. */
			close_fd(&speech->wire);
			return;
		case WIRE_BAD:
			fault(speech, "its messages make no sense", now_us);
			return;
		}
}

static void reap(struct speech *speech, int64_t now_us)
{
	enum supervisor_state state = speech->supervisor.state;
	char *how;

	if (!has_ended(speech, &how))
		return;
	read_wire(speech, now_us); /* its last words */
	for (int i = 0; i < ERRORS_MAX && read_errors(speech); i++)
		;
	/* Of one that was killed, or that said why it ended, the cause is known. */
	bool unexplained = (state == SUPERVISOR_STARTING || state == SUPERVISOR_LIVE) &&
			   speech->supervisor.told != SPEECH_NO_SOUND;
	if (unexplained && speech->supervisor.state == state)
		set_cause(speech, memory_format("%s ended: %s%s%s", speech->program, how,
						*speech->last_line ? ": " : "", speech->last_line));
	free(how);
	close_run(speech);
	step(speech, SUPERVISOR_EXIT, now_us);
}

static void on_time(struct speech *speech, int64_t now_us)
{
	if (now_us < speech->supervisor.deadline_us)
		return;
	if (speech->supervisor.state != SUPERVISOR_GONE) {
		read_errors(speech);
		set_cause(speech, memory_format("no sound flowed in time%s%s",
						*speech->last_line ? ": " : "", speech->last_line));
	}
	step(speech, SUPERVISOR_TIME, now_us);
}

void speech_dispatch(struct speech *speech, int64_t now_us)
{
	read_wire(speech, now_us);
	if (devices_changed(speech->devices))
		step(speech, SUPERVISOR_DEVICES, now_us);
	reap(speech, now_us);
	on_time(speech, now_us);
}

/* --- The public functions --- */

struct speech *speech_open(const struct speech_options *options, int64_t now_us)
{
	struct speech *speech = memory_new(1, sizeof *speech);

	*speech = (struct speech){
		.options = *options,
		.supervisor = {.deadline_us = SPEECH_NEVER},
		.wire = -1,
		.process = -1,
		.errors = -1,
		.epoll = epoll_create1(EPOLL_CLOEXEC),
		.devices = -1,
	};
	speech->program = memory_copy(options->program ? options->program : "pullcall-speaker");
	speech->options.sound = speech->sound =
		memory_copy(options->sound ? options->sound : "auto");
	speech->options.voice = speech->voice = memory_copy(options->voice);
	speech->options.recorded = speech->recorded = memory_copy(options->recorded);
	if (strcmp(speech->sound, "none") == 0) {
		tell(speech, SPEECH_READY, 0, now_us, "sound off");
		return speech;
	}
	speech->devices = watch_devices();
	if (speech->devices >= 0)
		watch(speech, speech->devices);
	step(speech, SUPERVISOR_OPEN, now_us);
	return speech;
}

bool speech_is_silent(const struct speech *speech)
{
	return speech->supervisor.state == SUPERVISOR_OFF;
}

void speech_close(struct speech *speech)
{
	if (!speech)
		return;
	close_fd(&speech->wire); /* the order to end */
	if (speech->process >= 0) {
		struct pollfd end = {.fd = speech->process, .events = POLLIN};
		if (poll(&end, 1, END_US / MS_US) <= 0)
			pidfd_send_signal(speech->process, SIGKILL, NULL, 0);
		poll(&end, 1, SECOND_US / MS_US);
		waitid(P_PIDFD, (id_t)speech->process, &(siginfo_t){0}, WEXITED | WNOHANG);
	}
	close_run(speech);
	close_fd(&speech->devices);
	close(speech->epoll);
	free(speech->cause);
	free(speech->program);
	free(speech->sound);
	free(speech->voice);
	free(speech->recorded);
	for (size_t i = 0; i < speech->queue_count; i++)
		free(speech->queue[i].text);
	forget_prepared(speech);
	free(speech);
}

int speech_fd(const struct speech *speech)
{
	return speech->epoll;
}

int64_t speech_deadline_us(const struct speech *speech)
{
	return speech->event_count > 0 ? 0 : speech->supervisor.deadline_us;
}

uint64_t speech_say(struct speech *speech, const char *text, enum speech_urgency urgency,
		    int64_t now_us)
{
	struct utterance utterance = {.generation = ++speech->last_generation,
				      .text = memory_copy(text)};

	speech->rest_due = false;
	step(speech, SUPERVISOR_WAKE, now_us);
	if (urgency == SPEECH_NOW)
		forget_prepared(speech);
	if (urgency == SPEECH_NOW || (speech->queue_count > 0 && speech->queue[0].finished))
		drop_all(speech, now_us);
	while (urgency == SPEECH_NEXT && speech->queue_count > 1)
		drop(speech, 1, now_us);
	if (speech->queue_count == 1 + SPEECH_QUEUE_MAX)
		drop(speech, 1, now_us);
	speech->queue[speech->queue_count++] = utterance;
	if (speech->queue_count == 1)
		begin(speech, now_us);
	return utterance.generation;
}

void speech_prepare(struct speech *speech, const char *const texts[], size_t count)
{
	forget_prepared(speech);
	while (speech->prepared_count < count && speech->prepared_count < SPEECH_PREPARED_MAX) {
		speech->prepared[speech->prepared_count] =
			memory_copy(texts[speech->prepared_count]);
		speech->prepared_count++;
	}
	send_prepared(speech, clock_steady_us());
}

void speech_set_loud(struct speech *speech, bool loud, int64_t now_us)
{
	speech->options.loud = loud;
	send(speech, WIRE_SHOP, loud, "", now_us);
	send_prepared(speech, now_us);
}

void speech_set_volume(struct speech *speech, int percent, int64_t now_us)
{
	speech->options.volume_percent = percent;
	send(speech, WIRE_VOLUME, (uint64_t)percent, "", now_us);
	send_prepared(speech, now_us);
}

void speech_hush(struct speech *speech, int64_t now_us)
{
	drop_all(speech, now_us);
	send(speech, WIRE_HUSH, 0, "", now_us);
	rest_if_due(speech, now_us);
}

void speech_rest(struct speech *speech, int64_t now_us)
{
	speech->rest_due = true;
	rest_if_due(speech, now_us);
}

void speech_wake(struct speech *speech, int64_t now_us)
{
	speech->rest_due = false;
	step(speech, SUPERVISOR_WAKE, now_us);
	send(speech, WIRE_WAKE, 0, "", now_us);
}
