/* pullcall-speaker: the voice. Runs as the daemon's child (--fd), or by itself to try a voice. */
#include "speaker/speaker.h"

#include <errno.h>
#include <fcntl.h>
#include <malloc.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sysexits.h>
#include <unistd.h>

/* ---- The service: orders from the daemon's wire, reports back ----
 *
 * One thread, one poll. In a rest, when the daemon does not, it watches its own sound: a stream
 * whose callback has stopped cannot be saved (its stop may hang), so the process ends and is
 * replaced. It ends by _exit(): the clean-up of a library with a lost device in it may hang.
 */

enum {
	LOOK_US = 50000,       /* between two looks at the flow of sound */
	BEAT_US = 100000,      /* the daemon takes five missing ones for a stall */
	LOST_US = 2000000,     /* without flow in a rest, when the daemon does not watch */
	END_US = 400000,       /* for the last fade to be taken */
	START_US = 2000000,    /* for a device to ask for its first samples */
	NO_FLOW_US = 30000000, /* for a device to appear behind a running sound server */
	PENDING_US = 2000,     /* looking for the first sample of what was just said */
	SAYING_US = 20000,     /* looking for its last */
	RESTING_US = 1000000,  /* looking whether the sound still flows, in a rest */
	FADED_US = 50000,      /* and played */
	END_POLL_US = 5000,
	FIRST_SOUND_S = 5, /* by itself: for a device to take its first samples */
	SLEEP_S = 180,
	SLEEP_MAX_S = 86400,
	MMAP_BYTES = 64 * 1024,
	WIRE_MAX = 1 << 20,
	NICE = -10,
};

struct service {
	int wire; /* -1: it runs by itself, in a rest */
	struct player *player;
	int64_t sleep_us;

	bool flowing; /* the device has asked for samples since the stream was opened */
	bool told_no_device;
	bool resting;
	bool asleep; /* the stream is closed */
	bool told_error;
	uint64_t beats;        /* at the last look */
	int64_t flowed_us;     /* when they last grew, or the stream was opened */
	int64_t next_beat_us;  /* report */
	int64_t rest_began_us; /* or what was said in it has ended */
};

/* A daemon that does not read misses beats and nothing else. */
static void report_text(const struct service *service, enum wire_kind kind, const char *text)
{
	struct wire_message message = {.kind = (uint16_t)kind};

	if (service->wire < 0)
		fprintf(stderr, "pullcall-speaker: %s\n", text);
	wire_set_text(&message, text);
	wire_send(service->wire, &message);
}

/* By itself, a device that takes no sound is not waited for. One may hold up the library that opens
 * it for as long as it likes, so a signal tells; standard error may be elsewhere then (sink.c). */
static char late[SINK_NAME_MAX + 64];
static int errors = -1;

static void on_late(int number)
{
	(void)number;
	_exit(write(errors, late, strlen(late)) < 0 ? EX_IOERR : EX_UNAVAILABLE);
}

static void expect_sound(const char *name)
{
	snprintf(late, sizeof late, "pullcall-speaker: %s has taken no sound for %d s\n", name,
		 FIRST_SOUND_S);
	if (errors < 0)
		errors = fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 0);
	signal(SIGALRM, on_late);
	alarm(FIRST_SOUND_S);
}

static void open_stream(struct service *service, int64_t now_us)
{
	char *why = NULL;

	if (!player_start(service->player, &why)) {
		report_text(service, WIRE_NO_DEVICE, why);
		_exit(EX_UNAVAILABLE);
	}
	service->asleep = false;
	service->flowing = false;
	service->beats = atomic_load(&service->player->mixer.beats);
	service->flowed_us = now_us;
}

static void wake(struct service *service, int64_t now_us)
{
	if (service->asleep)
		open_stream(service, now_us);
	service->resting = false;
}

static void report_ready(struct service *service)
{
	const struct sink *sink = service->player->sink;
	struct wire_message message = {.kind = WIRE_READY, .at_us = sink->began_us};

	snprintf(message.text, sizeof message.text, "%s, %u Hz", sink->name, sink->rate_hz);
	wire_send(service->wire, &message);
}

static void check_flow(struct service *service, int64_t now_us)
{
	uint64_t beats = atomic_load(&service->player->mixer.beats);
	int64_t silent_us = now_us - service->flowed_us;

	if (beats != service->beats) {
		service->beats = beats;
		service->flowed_us = now_us;
		if (!service->flowing)
			report_ready(service);
		service->flowing = true;
		alarm(0);
		if (!service->resting && now_us >= service->next_beat_us) {
			service->next_beat_us = now_us + BEAT_US;
			report_text(service, WIRE_BEAT, "");
		}
	} else if (service->flowing) {
		if (service->resting && silent_us > LOST_US) {
			if (service->wire < 0)
				fprintf(stderr, "pullcall-speaker: %s takes no sound any more\n",
					service->player->sink->name);
			_exit(EX_IOERR);
		}
	} else if (silent_us > NO_FLOW_US) {
		_exit(EX_UNAVAILABLE);
	} else if (silent_us > START_US && !service->told_no_device && service->wire >= 0) {
		/* A sound server may run without a device, and one may yet appear. */
		char text[SINK_NAME_MAX + 40];
		snprintf(text, sizeof text, "%s takes no sound now", service->player->sink->name);
		report_text(service, WIRE_NO_DEVICE, text);
		service->told_no_device = true;
	}
}

static void report_progress(struct service *service, int64_t now_us)
{
	struct player *player = service->player;
	const struct sink *sink = player->sink;
	struct wire_message message = {.generation = player->said ? player->said->generation : 0};
	int error = atomic_load(&sink->error);

	if (player_started(player, &message.at_us)) {
		message.kind = WIRE_STARTED;
		wire_send(service->wire, &message);
	}
	if (player_finished(player)) {
		message.kind = WIRE_FINISHED;
		service->rest_began_us = now_us;
		wire_send(service->wire, &message);
	}
	if (error && !service->told_error) {
		service->told_error = true;
		report_text(service, WIRE_TROUBLE, strerror(error));
	}
}

static void look(struct service *service, int64_t now_us)
{
	if (service->asleep)
		return;
	check_flow(service, now_us);
	report_progress(service, now_us);
}

/* While a prompt is made, signs of life go on, and one made ahead gives way to an order. */
static bool keep_going(void *context)
{
	struct service *service = context;
	struct pollfd wire = {.fd = service->wire, .events = POLLIN};

	look(service, clock_steady_us());
	return poll(&wire, 1, 0) <= 0;
}

static void obey(struct service *service, const struct wire_message *order, int64_t now_us)
{
	switch (order->kind) {
	case WIRE_SAY:
		wake(service, now_us);
		report_progress(service, now_us);
		if (!player_say(service->player, order->text, order->generation))
			report_text(service, WIRE_TROUBLE, "nothing in the text can be said");
		break;
	case WIRE_PREPARE:
		if (order->generation == 0)
			player_forget_prepared(service->player);
		player_prepare(service->player, order->text);
		break;
	case WIRE_HUSH:
		if (!service->asleep)
			player_hush(service->player);
		break;
	case WIRE_SHOP:
		service->player->style.loud = order->generation;
		break;
	case WIRE_VOLUME:
		service->player->style.volume_percent = (int)order->generation;
		break;
	case WIRE_REST:
		service->resting = true;
		service->rest_began_us = now_us;
		break;
	case WIRE_WAKE:
		wake(service, now_us);
		break;
	default:
		report_text(service, WIRE_TROUBLE, "an unknown order");
	}
}

/* The daemon is gone or wants the speaker to end: fades out first, so that nothing clicks. */
static _Noreturn void end(struct service *service)
{
	if (!service->asleep && service->flowing) {
		int64_t until_us = clock_steady_us() + END_US;
		player_hush(service->player);
		while (!player_finished(service->player) && clock_steady_us() < until_us)
			usleep(END_POLL_US);
		usleep((useconds_t)(service->player->sink->latency_ms * MS_US + FADED_US));
		player_close(service->player);
	}
	_exit(0);
}

static void read_order(struct service *service, int64_t now_us)
{
	struct wire_message order;

	switch (wire_receive(service->wire, &order)) {
	case WIRE_DONE:
		obey(service, &order, now_us);
		break;
	case WIRE_LATER:
		break;
	case WIRE_CLOSED:
		end(service);
	case WIRE_BAD:
		report_text(service, WIRE_TROUBLE, "a malformed order");
		break;
	}
}

/* How long to wait for an order before the next look; -1: for ever. */
static int64_t idle_us(struct service *service)
{
	if (service->asleep)
		return -1;
	if (service->player->ahead_count > 0)
		return 0;
	if (!service->flowing)
		return END_POLL_US;
	if (service->player->said)
		return service->player->told_start ? SAYING_US : PENDING_US;
	return service->resting ? RESTING_US : LOOK_US;
}

static void turn(struct service *service)
{
	struct pollfd wire = {.fd = service->wire, .events = POLLIN};
	int64_t wait_us = idle_us(service);
	struct timespec wait = {.tv_sec = wait_us / SECOND_US,
				.tv_nsec = wait_us % SECOND_US * 1000};

	ppoll(&wire, 1, wait_us < 0 ? NULL : &wait, NULL);
	int64_t now_us = clock_steady_us();
	look(service, now_us);
	if (wire.revents)
		read_order(service, now_us);
	else
		player_make_ready(service->player);
	if (service->asleep)
		return;
	if (service->resting && !service->player->said &&
	    now_us - service->rest_began_us >= service->sleep_us) {
		player_stop(service->player);
		service->asleep = true;
	}
}

static void open_service(struct service *service, struct player_options options)
{
	char *why = NULL;

	options.checkpoint = (struct checkpoint){.keep_going = keep_going, .owner = service};
	switch (player_open(&options, &service->player, &why)) {
	case SINK_OPEN:
		if (service->wire < 0)
			expect_sound(service->player->sink->name);
		break;
	case SINK_NO_DEVICE:
		report_text(service, WIRE_NO_DEVICE, why);
		_exit(EX_UNAVAILABLE);
	case SINK_REFUSED:
		report_text(service, WIRE_REFUSED, why);
		_exit(service->wire < 0 ? EXIT_NO : EX_CONFIG);
	}
	open_stream(service, clock_steady_us());
}

static _Noreturn void serve(struct service *service, const struct player_options *options)
{
	/* A prompt needs large pieces of memory for a moment: they go back to the system, so that
	 * the heap does not stay as large as the longest prompt. */
	mallopt(M_MMAP_THRESHOLD, MMAP_BYTES);
	/* Even if this process hangs in a library, it does not outlive the daemon. */
	prctl(PR_SET_PDEATHSIG, SIGKILL);
	signal(SIGPIPE, SIG_IGN);
	/* Before other ordinary processes, where that is granted; on Linux, against POSIX, this is
	 * for the thread and those it starts. */
	setpriority(PRIO_PROCESS, 0, NICE);
	open_service(service, *options);
	for (;;)
		turn(service);
}

/* ---- By itself ---- */

static _Noreturn void say_once(struct service *service, const struct player_options *options,
			       const char *text)
{
	service->resting = true;
	expect_sound(options->sound);
	open_service(service, *options);
	if (!player_say(service->player, text, 1)) {
		report_text(service, WIRE_TROUBLE, "nothing in that text can be said");
		_exit(EXIT_NO);
	}
	while (service->player->said) {
		usleep(END_POLL_US);
		look(service, clock_steady_us());
	}
	end(service);
}

/* ---- The command line ---- */

struct request {
	struct player_options player;
	const char *text; /* to say */
	int wire;         /* the socket to serve, or -1 */
	int sleep_s;
	bool voices;
	bool devices;
};

static bool read_began(const char *value, void *out)
{
	int64_t *began_us = out;
	char *end;

	errno = 0;
	*began_us = strtoll(value, &end, 10);
	return !errno && !*end && *began_us > 0 && *began_us <= INT64_MAX / 2;
}

static void read_command_line(int argc, char **argv, struct request *request)
{
	static const char *const tones[] = {"no", "yes", NULL}, *const shops[] = {"quiet", "loud",
										  NULL};
	int tone = false, loud = false;
	const struct option_row options[] = {
		{"say", 0, "TEXT", "say a text", .text = &request->text},
		{"list-voices", 0, NULL, "list the voices of the synthesiser",
		 .flag = &request->voices},
		{"list-devices", 0, NULL, "list the sound devices", .flag = &request->devices},
		{"fd", 0, "N", "serve pullcalld over the socket N", .number = &request->wire,
		 .max = WIRE_MAX},
		{"sound", 0, "SOUND",
		 "device, device:NAME (a part that only one name has is enough), wav:FILE, none, auto; default: auto",
		 .text = &request->player.sound},
		{"voice", 0, "VOICE", "a name from --list-voices; default: " SYNTH_VOICE,
		 .text = &request->player.voice},
		{"recorded", 0, "FOLDER",
		 "recordings that take the place of the words they are named by",
		 .text = &request->player.recorded},
		{"rate", 0, "WPM", "words a minute, 80 to 450; default: 165",
		 .number = &request->player.rate_wpm, .min = SYNTH_RATE_MIN_WPM,
		 .max = SYNTH_RATE_MAX_WPM},
		{"volume", 0, "PERCENT", "1 to 200; default: 100",
		 .number = &request->player.style.volume_percent, .min = 1,
		 .max = SPEECH_VOLUME_MAX},
		{"tone", 0, "yes|no", "a short tone before the words; default: no", .number = &tone,
		 .names = tones},
		{"shop", 0, "quiet|loud",
		 "loud: shape the words to be heard in noise; default: quiet", .number = &loud,
		 .names = shops},
		{"sleep", 0, "SECONDS", "close the device after resting that long; default: 180",
		 .number = &request->sleep_s, .min = 1, .max = SLEEP_MAX_S},
		{"began", 0, "US", "continue the file that was begun at this steady time",
		 .read = read_began, .out = &request->player.began_us,
		 .expected = "a time in microseconds"},
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall-speaker",
		.usage =
			"--say TEXT [OPTION...]\n--list-voices | --list-devices\n--fd N [OPTION...]",
		.about = "Says a text aloud, or serves as the voice of pullcalld.",
		.end = "Exit: 0 done, 1 a voice, device or file that does not exist, 2 wrong usage, "
		       "69 no sound device, 74 the sound device was lost, 78 (serving) what was asked "
		       "for will never work.",
		.options = options,
	};

	command_line_read(&line, argc, argv);
	request->player.style.tone = tone;
	request->player.style.loud = loud;
	if (request->wire < 0 && !request->text && !request->voices && !request->devices)
		command_line_wrong(&line, "expected --say TEXT, --list-voices or --list-devices");
}

int main(int argc, char **argv)
{
	struct request request = {
		.player = {.sound = "auto",
			   .voice = SYNTH_VOICE,
			   .rate_wpm = SYNTH_RATE_WPM,
			   .style.volume_percent = 100},
		.wire = -1,
		.sleep_s = SLEEP_S,
	};
	char *why = NULL;

	read_command_line(argc, argv, &request);
	struct service service = {.wire = request.wire, .sleep_us = request.sleep_s * SECOND_US};
	if (service.wire >= 0)
		serve(&service, &request.player);
	if (request.text)
		say_once(&service, &request.player, request.text);
	if (request.voices && synth_list(stdout, &why))
		return EXIT_DONE;
	if (!request.voices && sink_list_devices(stdout) > 0)
		return EXIT_DONE;
	fprintf(stderr, "pullcall-speaker: %s\n", why ? why : "there is no sound device");
	return why ? EXIT_NO : EXIT_UNAVAILABLE;
}
