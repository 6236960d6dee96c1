/* pullcall-speaker: the voice. Runs as the daemon's child (--fd), or by itself to try a voice. */
#include "base/base.h"
#include "speaker/speaker.h"

#include <errno.h>
#include <malloc.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <unistd.h>

enum {
	POLL_US = 5000,
	STALL_US = 2000000, /* a device that takes no sound for so long is lost */
	MMAP_BYTES = 64 * 1024,
	WIRE_MAX = 1 << 20,
	SLEEP_MAX_S = 86400,
	NICE = -10,
};

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

static int fail(char *why, int code)
{
	fprintf(stderr, "pullcall-speaker: %s\n", why);
	free(why);
	return code;
}

/* Ends the program if the device takes no sound, because closing one that is lost may hang. */
static void wait_until_said(struct player *player)
{
	uint64_t beats = atomic_load(&player->mixer.beats);
	int64_t flowed_us = clock_steady_us(), at_us = 0;

	while (!(player_started(player, &at_us), player_finished(player))) {
		usleep(POLL_US);
		if (atomic_load(&player->mixer.beats) != beats) {
			beats = atomic_load(&player->mixer.beats);
			flowed_us = clock_steady_us();
		} else if (clock_steady_us() - flowed_us > STALL_US) {
			fprintf(stderr, "pullcall-speaker: %s takes no sound\n",
				player->sink->name);
			_exit(EXIT_IO);
		}
	}
}

static int say(const struct request *request)
{
	struct player *player = NULL;
	char *why = NULL;
	enum sink_result result = player_open(&request->player, &player, &why);

	if (result != SINK_OPEN)
		return fail(why, result == SINK_REFUSED ? EXIT_NO : EXIT_UNAVAILABLE);
	if (!player_start(player, &why)) {
		player_close(player);
		return fail(why, EXIT_UNAVAILABLE);
	}
	bool good = player_say(player, request->text, 1);
	if (good)
		wait_until_said(player);
	usleep((useconds_t)(player->sink->latency_ms * MS_US + POLL_US));
	player_close(player);
	return good ? 0 : fail(memory_copy("nothing in that text can be said"), EXIT_NO);
}

static _Noreturn void serve(const struct request *request)
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
	service_run(request->wire, &request->player, request->sleep_s);
}

int main(int argc, char **argv)
{
	struct request request = {
		.player = {.sound = "auto",
			   .voice = SYNTH_VOICE,
			   .rate_wpm = SYNTH_RATE_WPM,
			   .style.volume_percent = 100},
		.wire = -1,
		.sleep_s = SERVICE_SLEEP_S,
	};

	char *why = NULL;

	read_command_line(argc, argv, &request);
	if (request.wire >= 0)
		serve(&request);
	if (request.text)
		return say(&request);
	if (request.voices)
		return synth_list(stdout, &why) ? 0 : fail(why, EXIT_NO);
	return sink_list_devices(stdout) > 0
		       ? 0
		       : fail(memory_copy("there is no sound device"), EXIT_UNAVAILABLE);
}
