/* The real speaker on sound devices: ALSA's own, made of its file plugin and a fake card that takes
 * sound at the pace of a real one. */
#include "base/base.h"
#include "speech/voice_bench.h"

#include <dirent.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <sysexits.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

#define PROGRAM BINARY_DIR "/bin/pullcall-speaker"
#define CARD    "fake_card"

static const char *const two_cards =
	"pcm.bench_left { type file slave.pcm nowhere file \"| " BINARY_DIR "/tests/speaker/" CARD
	"\" format raw }\n"
	"pcm.bench_right { type file slave.pcm nowhere file \"| " BINARY_DIR "/tests/speaker/" CARD
	"\" format raw }\n"
	"pcm.nowhere { type null }\n"
	"pcm.!default { type null }\n"; /* PortAudio 19.6 aborts where there is none */

/* The machine's sound devices, as ALSA is told. */
static void set_devices(struct voice_bench *bench, const char *configuration)
{
	FILE *file = fopen(bench->file, "w");

	assert_non_null(file);
	fputs(configuration, file);
	fclose(file);
}

static void open_device(struct voice_bench *bench, const char *sound)
{
	struct speech_options options = {.program = PROGRAM, .sound = sound, .rate_wpm = 240};

	bench->speech = speech_open(&options, clock_steady_us());
}

static int setup(void **state)
{
	struct voice_bench *bench = calloc(1, sizeof *bench);

	voice_bench_open(bench);
	setenv("ALSA_CONFIG_PATH", bench->file, 1);
	set_devices(bench, two_cards);
	*state = bench;
	return 0;
}

static int teardown(void **state)
{
	voice_bench_close(*state);
	free(*state);
	return 0;
}

/* Sends a signal to the cards that the speaker's libraries have started. */
static void signal_cards(int number)
{
	DIR *folder = opendir("/proc");
	const struct dirent *entry;
	int speaker = voice_process(), found = 0;

	while ((entry = readdir(folder))) {
		char path[300], name[32] = "";
		int process = atoi(entry->d_name);
		snprintf(path, sizeof path, "/proc/%s/comm", entry->d_name);
		FILE *file = process > 0 ? fopen(path, "r") : NULL;
		if (file && fgets(name, sizeof name, file) && strcmp(name, CARD "\n") == 0 &&
		    getpgid(process) == speaker)
			found += kill(process, number) == 0;
		if (file)
			fclose(file);
	}
	closedir(folder);
	assert_true(found > 0);
}

static void words_go_to_the_device_asked_for(void **state)
{
	struct voice_bench *bench = *state;

	open_device(bench, "device:bench_left");
	voice_await(bench, "READY: device \"bench_left\", 48000 Hz\n");
	int64_t said_us = clock_steady_us();
	voice_say(bench, "Main four left, seven throat.");
	voice_await(bench, "FINISHED 1\n");
	/* At the pace of a card: not faster than its words. */
	assert_true(bench->finished_us - bench->started_us > 800 * MS_US);
	assert_true(bench->finished_us - said_us < 6 * SECOND_US);
}

static void a_part_of_one_name_is_enough(void **state)
{
	struct voice_bench *bench = *state;

	open_device(bench, "device:RIGHT");
	voice_await(bench, "READY: device \"bench_right\", 48000 Hz\n");
}

static void names_that_do_not_fit_are_refused(void **state)
{
	struct voice_bench *bench = *state;
	static const struct {
		const char *sound;
		const char *expected;
	} cases[] = {
		{"device:bench",
		 "REFUSED: more than one sound device is called \"bench\"; there "
		 "are: \"bench_left\", \"bench_right\", \"nowhere\", \"default\"\n"},
		{"device:kitchen", "REFUSED: no sound device is called \"kitchen\"; there are: "
				   "\"bench_left\", \"bench_right\", \"nowhere\", \"default\"\n"},
	};

	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		text_clear(&bench->log);
		open_device(bench, cases[i].sound);
		voice_await(bench, "REFUSED");
		assert_string_equal(text_string(&bench->log), cases[i].expected);
		speech_close(bench->speech);
		bench->speech = NULL;
	}
}

static void no_device_at_all(void **state)
{
	struct voice_bench *bench = *state;

	set_devices(bench, "pcm.!default { type hw card 31 }\n");
	open_device(bench, "auto");
	voice_await(bench, "NO-SOUND: there is no sound device\n");
	voice_say(bench, "Main four left.");
	set_devices(bench, two_cards); /* it appears; the next try finds it */
	voice_await(bench, "READY: device \"");
	voice_await(bench, "FINISHED 1\n");
}

/* A card that stands still reports nothing: callbacks just stop. */
static void a_device_that_stands_still(void **state)
{
	struct voice_bench *bench = *state;

	open_device(bench, "device:bench_left");
	voice_await(bench, "READY: device ");
	voice_say(bench, "Cross nine from the left, twelve head, over first.");
	voice_await(bench, "STARTED 1\n");
	int64_t stopped_us = clock_steady_us();
	signal_cards(SIGSTOP);
	voice_await(bench, "LOST: no sound flowed in time");
	/* The pipe to the card takes sound for another 0.35 s. */
	assert_in_range(bench->lost_us - stopped_us, 400 * MS_US, 1500 * MS_US);
	voice_await(bench, "BACK: device \"bench_left\", 48000 Hz\n");
	voice_await(bench, "FINISHED 1\n");
	assert_true(bench->started_us > bench->lost_us);
}

/* By itself, the speaker does not wait for a card that never takes a sample; of one that stops it
 * says so too. The pipe to a card takes 64 KiB: words longer than that stand still in the midst.
 * ThreadSanitizer holds a signal back until the write ends, here when this card goes. */
static void a_device_that_takes_nothing_is_named(void **state)
{
	struct voice_bench *bench = *state;
	static const char command[] =
		PROGRAM " --sound device:bench_stuck --say 'Main four left, seven throat.' 2>&1";
	char told[300] = "";

	set_devices(bench, "pcm.bench_stuck { type file slave.pcm nowhere file \"| sleep 8 "
			   ">/dev/null 2>&1\" format raw }\n"
			   "pcm.nowhere { type null }\n"
			   "pcm.!default { type null }\n");
	FILE *output = popen(command, "r");
	assert_non_null(output);
	assert_non_null(fgets(told, sizeof told, output));
	int status = pclose(output);
	assert_string_equal(told,
			    "pullcall-speaker: device:bench_stuck has taken no sound for 5 s\n");
	assert_true(WIFEXITED(status));
	assert_int_equal(WEXITSTATUS(status), EX_UNAVAILABLE);
}

/* Devices asked for and lost are waited for; the name was right once. */
static void a_device_that_is_unplugged(void **state)
{
	struct voice_bench *bench = *state;

	open_device(bench, "device:bench_left");
	voice_await(bench, "READY: device ");
	voice_say(bench, "Main four left.");
	voice_await(bench, "STARTED 1\n");
	set_devices(bench, "pcm.other { type null }\npcm.!default { type null }\n");
	kill(voice_process(), SIGKILL);
	voice_await(
		bench,
		"NO-SOUND: no sound device is called \"bench_left\"; there are: \"other\", \"default\"\n");
	set_devices(bench, two_cards);
	voice_await(bench, "BACK: device \"bench_left\", 48000 Hz\n");
	voice_await(bench, "FINISHED 1\n");
}

#define DEVICE_TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		DEVICE_TEST(words_go_to_the_device_asked_for),
		DEVICE_TEST(a_part_of_one_name_is_enough),
		DEVICE_TEST(a_device_that_takes_nothing_is_named),
		DEVICE_TEST(names_that_do_not_fit_are_refused),
		DEVICE_TEST(no_device_at_all),
		DEVICE_TEST(a_device_that_stands_still),
		DEVICE_TEST(a_device_that_is_unplugged),
	};

	setenv("TSAN_OPTIONS", "halt_on_error=1", 0);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
