/* pullcall-speaker: the voice. Runs as the daemon's child (--fd), or alone to try a voice. */
#include "base/base.h"
#include "speaker/speaker.h"

#include <errno.h>
#include <getopt.h>
#include <malloc.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sysexits.h>
#include <unistd.h>

enum {
	EX_FAULT = 1,
	EX_WRONG_USAGE = 2,
	VOLUME_MAX_PERCENT = 200,
	FD_MAX = 1 << 20,
	SLEEP_MAX_S = 86400,
	POLL_US = 5000,
	STALL_US = 2000000, /* a device that takes no sound for so long is lost */
	MMAP_BYTES = 64 * 1024
};

enum task { TASK_NONE, TASK_SERVE, TASK_SAY, TASK_VOICES, TASK_DEVICES, TASK_DONE };

struct request {
	struct player_options player;
	enum task task;
	int wire;
	int sleep_s;
	const char *text;
};

static void print_help(void)
{
	puts("Usage: pullcall-speaker --say TEXT [OPTION...]\n"
	     "       pullcall-speaker --list-voices | --list-devices\n"
	     "       pullcall-speaker --fd N [OPTION...]\n"
	     "\n"
	     "Says a text aloud, or serves as the voice of pullcalld over the socket N.\n"
	     "\n"
	     "  --sound SOUND      device, device:NAME (a part that only one name has is enough),\n"
	     "                     wav:FILE, auto; default: auto\n"
	     "  --voice VOICE      a name from --list-voices; default: " SYNTH_VOICE "\n"
	     "  --rate WPM         words a minute, 80 to 450; default: 165\n"
	     "  --volume PERCENT   1 to 200; default: 100\n"
	     "  --tone yes|no      a short tone before the words; default: no\n"
	     "  --sleep SECONDS    close the device after resting that long; default: 180\n"
	     "  --began US         go on with the file that was begun at this steady time\n"
	     "  --help, --version\n"
	     "\n"
	     "Exit: 0 done, 1 a voice, device or file that does not exist, 2 wrong usage,\n"
	     "69 no sound device, 74 the sound device was lost.");
}

static bool take_number(const char *option, const char *text, int64_t min, int64_t max,
			int64_t *out)
{
	char *end;

	errno = 0;
	long long value = strtoll(text, &end, 10);
	if (errno || end == text || *end || value < min || value > max) {
		fprintf(stderr,
			"pullcall-speaker: %s takes a number from %lld to %lld, not \"%s\"\n",
			option, (long long)min, (long long)max, text);
		return false;
	}
	*out = value;
	return true;
}

static bool take_int(const char *option, const char *text, int min, int max, int *out)
{
	int64_t value;

	if (!take_number(option, text, min, max, &value))
		return false;
	*out = (int)value;
	return true;
}

/* *out: whether it is the second word. */
static bool take_word(const char *option, const char *text, const char *first, const char *second,
		      bool *out)
{
	*out = strcmp(text, second) == 0;
	if (*out || strcmp(text, first) == 0)
		return true;
	fprintf(stderr, "pullcall-speaker: %s takes %s or %s, not \"%s\"\n", option, second, first,
		text);
	return false;
}

static bool take(int option, const char *text, struct request *request)
{
	switch (option) {
	case 'f':
		request->task = TASK_SERVE;
		return take_int("--fd", text, 0, FD_MAX, &request->wire);
	case 's':
		request->player.sound = text;
		return true;
	case 'v':
		request->player.voice = text;
		return true;
	case 'r':
		return take_int("--rate", text, SYNTH_RATE_MIN_WPM, SYNTH_RATE_MAX_WPM,
				&request->player.rate_wpm);
	case 'u':
		return take_int("--volume", text, 1, VOLUME_MAX_PERCENT,
				&request->player.volume_percent);
	case 't':
		return take_word("--tone", text, "no", "yes", &request->player.tone);
	case 'p':
		return take_int("--sleep", text, 1, SLEEP_MAX_S, &request->sleep_s);
	case 'b':
		return take_number("--began", text, 1, INT64_MAX / 2, &request->player.began_us);
	case 'y':
		request->task = TASK_SAY;
		request->text = text;
		return true;
	case 'V':
		request->task = TASK_VOICES;
		return true;
	case 'D':
		request->task = TASK_DEVICES;
		return true;
	case 'h':
		print_help();
		request->task = TASK_DONE;
		return true;
	case 'n':
		puts("pullcall-speaker " PULLCALL_VERSION);
		request->task = TASK_DONE;
		return true;
	default:
		return false;
	}
}

static bool parse(int count, char **arguments, struct request *request)
{
	static const struct option options[] = {
		{"fd", required_argument, NULL, 'f'},     {"sound", required_argument, NULL, 's'},
		{"voice", required_argument, NULL, 'v'},  {"rate", required_argument, NULL, 'r'},
		{"volume", required_argument, NULL, 'u'}, {"tone", required_argument, NULL, 't'},
		{"sleep", required_argument, NULL, 'p'},  {"began", required_argument, NULL, 'b'},
		{"say", required_argument, NULL, 'y'},    {"list-voices", no_argument, NULL, 'V'},
		{"list-devices", no_argument, NULL, 'D'}, {"help", no_argument, NULL, 'h'},
		{"version", no_argument, NULL, 'n'},      {NULL, 0, NULL, 0},
	};
	int option;

	while (request->task != TASK_DONE &&
	       (option = getopt_long(count, arguments, "", options, NULL)) != -1)
		if (!take(option, optarg ? optarg : "", request))
			return false;
	if (request->task == TASK_DONE)
		return true;
	if (optind < count) {
		fprintf(stderr, "pullcall-speaker: unexpected argument \"%s\"\n",
			arguments[optind]);
		return false;
	}
	if (request->task == TASK_NONE)
		fputs("pullcall-speaker: expected --say TEXT, --list-voices or --list-devices "
		      "(see --help)\n",
		      stderr);
	return request->task != TASK_NONE;
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
	uint64_t beats = player_beats(player);
	int64_t flowed_us = clock_steady_us(), at_us = 0;

	while (!(player_started(player, &at_us), player_finished(player))) {
		usleep(POLL_US);
		if (player_beats(player) != beats) {
			beats = player_beats(player);
			flowed_us = clock_steady_us();
		} else if (clock_steady_us() - flowed_us > STALL_US) {
			fprintf(stderr, "pullcall-speaker: %s takes no sound\n",
				player_sink(player)->name);
			_exit(EX_IOERR);
		}
	}
}

static int say(const struct request *request)
{
	struct player *player = NULL;
	char *why = NULL;
	enum sink_result result = player_open(&request->player, &player, &why);

	if (result != SINK_OPEN)
		return fail(why, result == SINK_REFUSED ? EX_FAULT : EX_UNAVAILABLE);
	if (!player_start(player, &why)) {
		player_close(player);
		return fail(why, EX_UNAVAILABLE);
	}
	bool good = player_say(player, request->text, 1);
	if (good)
		wait_until_said(player);
	usleep((useconds_t)(player_sink(player)->latency_ms * MS_US + POLL_US));
	player_close(player);
	if (!good)
		fputs("pullcall-speaker: nothing in that text can be said\n", stderr);
	return good ? 0 : EX_FAULT;
}

static int list_voices(void)
{
	char *why = NULL;

	return synth_list(stdout, &why) ? 0 : fail(why, EX_FAULT);
}

static int list_devices(void)
{
	if (sink_list_devices(stdout) > 0)
		return 0;
	fputs("pullcall-speaker: there is no sound device\n", stderr);
	return EX_UNAVAILABLE;
}

static _Noreturn void serve(const struct request *request)
{
	/* A prompt needs large pieces of memory for a moment: they go back to the system, so that
	 * the heap does not stay as large as the longest prompt. */
	mallopt(M_MMAP_THRESHOLD, MMAP_BYTES);
	/* Even if this process hangs in a library, it does not outlive the daemon. */
	prctl(PR_SET_PDEATHSIG, SIGKILL);
	signal(SIGPIPE, SIG_IGN);
	raise_priority();
	service_run(request->wire, &request->player, request->sleep_s);
}

int main(int count, char **arguments)
{
	struct request request = {
		.player = {.sound = "auto",
			   .voice = SYNTH_VOICE,
			   .rate_wpm = SYNTH_RATE_WPM,
			   .volume_percent = 100},
		.sleep_s = SERVICE_SLEEP_S,
	};

	if (!parse(count, arguments, &request))
		return EX_WRONG_USAGE;
	switch (request.task) {
	case TASK_SERVE:
		serve(&request);
	case TASK_SAY:
		return say(&request);
	case TASK_VOICES:
		return list_voices();
	case TASK_DEVICES:
		return list_devices();
	case TASK_NONE:
	case TASK_DONE:
		break;
	}
	return 0;
}
