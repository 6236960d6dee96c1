/* pullcall-speaker: the voice. Runs as the daemon's child (--fd), or by itself to try a voice. */
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
	POLL_US = 5000,
	STALL_US = 2000000, /* a device that takes no sound for so long is lost */
	MMAP_BYTES = 64 * 1024
};

enum task { TASK_NONE, TASK_SERVE, TASK_SAY, TASK_VOICES, TASK_DEVICES, TASK_DONE };

struct wish {
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
	     "  --sleep SECONDS    let the device go after resting that long; default: 180\n"
	     "  --began US         go on with the file that was begun at this steady time\n"
	     "  --help, --version\n"
	     "\n"
	     "Exit: 0 done, 1 a voice, device or file that does not exist, 2 wrong usage,\n"
	     "69 no sound device, 74 the sound device was lost.");
}

static bool number(const char *text, long long min, long long max, long long *out)
{
	char *end;

	errno = 0;
	long long value = strtoll(text, &end, 10);
	if (errno || end == text || *end || value < min || value > max)
		return false;
	*out = value;
	return true;
}

static bool set_number(int option, long long value, struct wish *wish)
{
	switch (option) {
	case 'f':
		wish->task = TASK_SERVE;
		wish->wire = (int)value;
		return true;
	case 'r':
		wish->player.rate_wpm = (int)value;
		return true;
	case 'u':
		wish->player.volume_percent = (int)value;
		return true;
	case 'p':
		wish->sleep_s = (int)value;
		return true;
	case 'b':
		wish->player.began_us = value;
		return true;
	default:
		return false;
	}
}

static bool take_number(int option, const char *text, struct wish *wish)
{
	static const struct {
		int option;
		const char *name;
		long long min, max;
	} limits[] = {
		{'f', "--fd", 0, 1 << 20},
		{'r', "--rate", SYNTH_RATE_MIN_WPM, SYNTH_RATE_MAX_WPM},
		{'u', "--volume", 1, VOLUME_MAX_PERCENT},
		{'p', "--sleep", 1, 86400},
		{'b', "--began", 1, INT64_MAX / 2},
	};

	for (size_t i = 0; i < sizeof limits / sizeof *limits; i++) {
		long long value = 0;
		if (limits[i].option != option)
			continue;
		if (number(text, limits[i].min, limits[i].max, &value))
			return set_number(option, value, wish);
		fprintf(stderr,
			"pullcall-speaker: %s takes a number from %lld to %lld, not \"%s\"\n",
			limits[i].name, limits[i].min, limits[i].max, text);
	}
	return false;
}

static bool take_tone(const char *text, struct wish *wish)
{
	wish->player.tone = strcmp(text, "yes") == 0;
	if (wish->player.tone || strcmp(text, "no") == 0)
		return true;
	fprintf(stderr, "pullcall-speaker: --tone takes yes or no, not \"%s\"\n", text);
	return false;
}

static bool take(int option, const char *text, struct wish *wish)
{
	switch (option) {
	case 's':
		wish->player.sound = text;
		return true;
	case 'v':
		wish->player.voice = text;
		return true;
	case 't':
		return take_tone(text, wish);
	case 'y':
		wish->task = TASK_SAY;
		wish->text = text;
		return true;
	case 'V':
		wish->task = TASK_VOICES;
		return true;
	case 'D':
		wish->task = TASK_DEVICES;
		return true;
	case 'h':
		print_help();
		wish->task = TASK_DONE;
		return true;
	case 'n':
		puts("pullcall-speaker " PULLCALL_VERSION);
		wish->task = TASK_DONE;
		return true;
	default:
		return take_number(option, text, wish);
	}
}

static bool parse(int count, char **arguments, struct wish *wish)
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

	while (wish->task != TASK_DONE &&
	       (option = getopt_long(count, arguments, "", options, NULL)) != -1)
		if (option == '?' || !take(option, optarg ? optarg : "", wish))
			return false;
	if (wish->task == TASK_DONE)
		return true;
	if (optind < count) {
		fprintf(stderr, "pullcall-speaker: \"%s\" is one argument too many\n",
			arguments[optind]);
		return false;
	}
	if (wish->task == TASK_NONE)
		fputs("pullcall-speaker: say what to do: --say TEXT, --list-voices, --list-devices "
		      "(see --help)\n",
		      stderr);
	return wish->task != TASK_NONE;
}

static int fail(char *why, int code)
{
	fprintf(stderr, "pullcall-speaker: %s\n", why);
	free(why);
	return code;
}

/* Ends the program if the device takes no sound: to close one that is lost may never end. */
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

static int say(const struct wish *wish)
{
	struct player *player = NULL;
	char *why = NULL;
	enum sink_result result = player_open(&wish->player, &player, &why);

	if (result != SINK_OPEN)
		return fail(why, result == SINK_REFUSED ? EX_FAULT : EX_UNAVAILABLE);
	if (!player_start(player, &why)) {
		player_close(player);
		return fail(why, EX_UNAVAILABLE);
	}
	bool good = player_say(player, wish->text, 1);
	if (good)
		wait_until_said(player);
	usleep((useconds_t)(player_sink(player)->latency_ms * MS_US + POLL_US));
	player_close(player);
	if (!good)
		fputs("pullcall-speaker: there is nothing to say in that\n", stderr);
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

static int serve(const struct wish *wish)
{
	/* Making a prompt takes a few large pieces of memory for a moment: back to the system with
	 * them, instead of a heap that keeps the size of the longest. */
	mallopt(M_MMAP_THRESHOLD, MMAP_BYTES);
	/* Even if this process hangs in a library, it does not outlive the daemon. */
	prctl(PR_SET_PDEATHSIG, SIGKILL);
	signal(SIGPIPE, SIG_IGN);
	hurry_thread();
	return service_run(wish->wire, &wish->player, wish->sleep_s);
}

int main(int count, char **arguments)
{
	struct wish wish = {
		.player = {.sound = "auto",
			   .voice = SYNTH_VOICE,
			   .rate_wpm = SYNTH_RATE_WPM,
			   .volume_percent = 100},
		.sleep_s = SERVICE_SLEEP_S,
	};

	if (!parse(count, arguments, &wish))
		return EX_WRONG_USAGE;
	switch (wish.task) {
	case TASK_SERVE:
		return serve(&wish);
	case TASK_SAY:
		return say(&wish);
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
