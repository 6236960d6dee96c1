/* The real speaker as the daemon runs it, into a WAV file: what the file holds is what would have
 * been heard, and when. It is killed, stopped, flooded and starved on the way. */
#include "base/base.h"
#include "speech/voice_bench.h"

#include <fcntl.h>
#include <math.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

#define PROGRAM BINARY_DIR "/bin/pullcall-speaker"

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define SANITIZED 1
#endif
#endif
#ifndef SANITIZED
#define SANITIZED 0
#endif

enum {
	HEADER = 44,
	RATE_HZ = 48000,
	QUIET = 100,              /* of 32767 */
	GAP_FRAMES = RATE_HZ / 5, /* silence that long is none within a phrase */
	LATE_US = 40000,          /* a period, the edge of a word, and a busy machine */
	STRETCHES_MAX = 32,
};

/* Where in the file something is heard. */
struct heard {
	int16_t *samples; /* the whole file */
	size_t frames;
	size_t count;
	struct {
		size_t first, last;
	} stretches[STRETCHES_MAX];
};

static uint32_t number(const unsigned char *at)
{
	return (uint32_t)at[0] | (uint32_t)at[1] << 8 | (uint32_t)at[2] << 16 |
	       (uint32_t)at[3] << 24;
}

static void check_header(const unsigned char *bytes, size_t length)
{
	uint32_t data = number(bytes + 40);

	assert_memory_equal(bytes, "RIFF", 4);
	assert_memory_equal(bytes + 8, "WAVEfmt \x10\0\0\0\x01\0\x01\0", 16);
	assert_int_equal(number(bytes + 24), RATE_HZ);
	assert_int_equal(number(bytes + 28), 2 * RATE_HZ);
	assert_memory_equal(bytes + 32, "\x02\0\x10\0data", 8);
	assert_int_equal(number(bytes + 4), data + HEADER - 8);
	assert_true(data <= length - HEADER);
	/* What a kill may leave out of it is a quarter of a second. */
	assert_true(length - HEADER - data < RATE_HZ / 2);
}

static void add_sample(struct heard *heard, size_t frame)
{
	size_t last = heard->count ? heard->stretches[heard->count - 1].last : 0;

	if (heard->count == 0 || frame - last > GAP_FRAMES) {
		assert_true(heard->count < STRETCHES_MAX);
		heard->stretches[heard->count++].first = frame;
	}
	heard->stretches[heard->count - 1].last = frame;
}

static struct heard listen_to(const char *path)
{
	struct heard heard = {0};
	struct stat status;
	FILE *file = fopen(path, "r");

	assert_non_null(file);
	assert_int_equal(fstat(fileno(file), &status), 0);
	size_t length = (size_t)status.st_size;
	unsigned char *bytes = malloc(length);
	assert_true(length >= HEADER);
	assert_int_equal(fread(bytes, 1, length, file), length);
	fclose(file);
	check_header(bytes, length);
	heard.frames = (length - HEADER) / 2;
	heard.samples = calloc(heard.frames, sizeof *heard.samples);
	for (size_t i = 0; i < heard.frames; i++) {
		const unsigned char *sample = bytes + HEADER + 2 * i;
		heard.samples[i] = (int16_t)(sample[0] | sample[1] << 8);
		assert_in_range(abs(heard.samples[i]), 0, 32000); /* nothing is clipped */
		if (abs(heard.samples[i]) > QUIET)
			add_sample(&heard, i);
	}
	free(bytes);
	assert_true(heard.count > 0);
	return heard;
}

static int64_t us(size_t frames)
{
	return (int64_t)frames * SECOND_US / RATE_HZ;
}

static size_t frames(int64_t time_us)
{
	return (size_t)(time_us * RATE_HZ / SECOND_US);
}

static void open_file(struct voice_bench *bench, int sleep_s)
{
	char sound[80];
	struct speech_options options = {
		.program = PROGRAM, .sound = sound, .rate_wpm = 240, .sleep_s = sleep_s};

	snprintf(sound, sizeof sound, "wav:%s", bench->file);
	bench->speech = speech_open(&options, clock_steady_us());
	voice_await(bench, "READY: file ");
}

static int setup(void **state)
{
	struct voice_bench *bench = calloc(1, sizeof *bench);

	voice_bench_open(bench);
	*state = bench;
	return 0;
}

static int teardown(void **state)
{
	voice_bench_close(*state);
	free(*state);
	return 0;
}

static void close_voice(struct voice_bench *bench)
{
	speech_close(bench->speech);
	bench->speech = NULL;
}

static void calls_are_in_the_file_when_they_were_said(void **state)
{
	struct voice_bench *bench = *state;
	int64_t opened_us = clock_steady_us();
	int64_t started_us[2], finished_us[2];

	open_file(bench, 0);
	voice_say(bench, "Main four left.");
	voice_await(bench, "FINISHED 1\n");
	started_us[0] = bench->started_us;
	finished_us[0] = bench->finished_us;
	voice_run(bench, 500 * MS_US);
	int64_t said_us = clock_steady_us();
	voice_say(bench, "Pull fifty two.");
	voice_await(bench, "FINISHED 2\n");
	started_us[1] = bench->started_us;
	finished_us[1] = bench->finished_us;
	voice_run(bench, 300 * MS_US);
	close_voice(bench);
	int64_t lasted_us = clock_steady_us() - opened_us;

	struct heard heard = listen_to(bench->file);
	assert_int_equal(heard.count, 2);
	if (!SANITIZED)
		assert_in_range(started_us[1] - said_us, 0, 50 * MS_US);
	/* The distance in the file is the distance in time, and the words last as long. */
	int64_t distance_us = us(heard.stretches[1].first - heard.stretches[0].first);
	assert_in_range(llabs(distance_us - (started_us[1] - started_us[0])), 0, LATE_US);
	for (int i = 0; i < 2; i++) {
		int64_t words_us = us(heard.stretches[i].last - heard.stretches[i].first);
		int64_t told_us = finished_us[i] - started_us[i];
		assert_true(words_us > 400 * MS_US);
		assert_in_range(llabs(told_us - words_us), 0, 100 * MS_US);
	}
	/* The file lasts as long as the voice. */
	assert_true(us(heard.frames) <= lasted_us);
	assert_true(us(heard.frames) > lasted_us - SECOND_US);
	free(heard.samples);
}

static void a_hushed_call_is_gone_at_once(void **state)
{
	struct voice_bench *bench = *state;

	open_file(bench, 0);
	voice_say(bench, "Stop if the frame creaks, twists or shifts in its mounts.");
	voice_await(bench, "STARTED 1\n");
	voice_run(bench, 700 * MS_US);
	int64_t hushed_us = clock_steady_us();
	speech_hush(bench->speech, hushed_us);
	voice_run(bench, 300 * MS_US);
	close_voice(bench);
	struct heard heard = listen_to(bench->file);
	assert_int_equal(heard.count, 1);
	int64_t words_us = us(heard.stretches[0].last - heard.stretches[0].first);
	/* The order, one period, and the fade of 10 ms at most. */
	assert_in_range(words_us, 300 * MS_US,
			hushed_us - bench->started_us + LATE_US + 10 * MS_US);
	free(heard.samples);
}

static void a_press_cuts_off_the_old_call(void **state)
{
	struct voice_bench *bench = *state;

	open_file(bench, 0);
	voice_say(bench, "Stop if the frame creaks, twists or shifts in its mounts.");
	voice_await(bench, "STARTED 1\n");
	int64_t first_us = bench->started_us;
	voice_run(bench, 400 * MS_US);
	voice_say(bench, "Again.");
	voice_await(bench, "FINISHED 2\n");
	voice_run(bench, 300 * MS_US);
	close_voice(bench);
	struct heard heard = listen_to(bench->file);
	assert_int_equal(heard.count, 1); /* no pause between the two */
	int64_t words_us = us(heard.stretches[0].last - heard.stretches[0].first);
	int64_t again_us = words_us - (bench->started_us - first_us);
	assert_in_range(again_us, 200 * MS_US, 900 * MS_US);
	free(heard.samples);
}

/* What is lost is said again, and the file shows the pause between. */
static void check_said_again(struct voice_bench *bench, int64_t first_us, int64_t hurt_us)
{
	voice_await(bench, "BACK: file ");
	voice_await(bench, "FINISHED 1\n");
	assert_true(bench->started_us > hurt_us);
	if (!SANITIZED)
		assert_in_range(bench->started_us - hurt_us, 0, SECOND_US);
	voice_run(bench, 300 * MS_US);
	close_voice(bench);
	struct heard heard = listen_to(bench->file);
	size_t first = heard.stretches[0].first, last = heard.stretches[heard.count - 1].last;
	size_t hurt = first + frames(hurt_us + LATE_US - first_us);
	size_t again = first + frames(bench->started_us - LATE_US - first_us);
	for (size_t i = hurt; i < again; i++)
		assert_in_range(abs(heard.samples[i]), 0, QUIET);
	int64_t words_us = us(last - again) - LATE_US;
	assert_in_range(llabs(words_us - (bench->finished_us - bench->started_us)), 0, 100 * MS_US);
	free(heard.samples);
}

static void killed_in_a_word(void **state)
{
	struct voice_bench *bench = *state;

	open_file(bench, 0);
	voice_say(bench, "Cross nine from the left, twelve head, over first.");
	voice_await(bench, "STARTED 1\n");
	voice_run(bench, 500 * MS_US);
	int process = voice_process();
	int64_t first_us = bench->started_us, killed_us = clock_steady_us();
	kill(process, SIGKILL);
	voice_await(bench, "LOST: " PROGRAM " ended: signal 9 (Killed)");
	free(listen_to(bench->file).samples); /* a valid file at any time */
	check_said_again(bench, first_us, killed_us);
}

static void stopped_in_a_word(void **state)
{
	struct voice_bench *bench = *state;

	open_file(bench, 0);
	voice_say(bench, "Cross nine from the left, twelve head, over first.");
	voice_await(bench, "STARTED 1\n");
	voice_run(bench, 500 * MS_US);
	int process = voice_process();
	int64_t first_us = bench->started_us, stopped_us = clock_steady_us();
	kill(process, SIGSTOP);
	voice_await(bench, "LOST: no sound flowed in time");
	assert_in_range(bench->lost_us - stopped_us, 350 * MS_US, 600 * MS_US);
	check_said_again(bench, first_us, stopped_us);
}

/* Its libraries print megabytes: nobody waits, nothing grows, the words go on. */
static void flooded_with_messages(void **state)
{
	struct voice_bench *bench = *state;
	char path[60], line[4096];
	size_t written = 0;

	open_file(bench, 0);
	snprintf(path, sizeof path, "/proc/%d/fd/2", voice_process());
	int errors = open(path, O_WRONLY | O_NONBLOCK);
	assert_true(errors >= 0);
	memset(line, 'x', sizeof line);
	voice_say(bench, "Cross nine from the left, twelve head, over first.");
	voice_await(bench, "STARTED 1\n");
	bench->dispatches = 0;
	int64_t until_us = clock_steady_us() + 1500 * MS_US;
	while (clock_steady_us() < until_us) {
		ssize_t length = write(errors, line, sizeof line);
		written += length > 0 ? (size_t)length : 0;
		voice_turn(bench, clock_steady_us() + MS_US);
	}
	close(errors);
	voice_await(bench, "FINISHED 1\n");
	assert_null(strstr(text_string(&bench->log), "LOST"));
	assert_in_range(written, 64 * 1024, 400 * 1024); /* 40 KiB a second, and the pipe */
}

static void says_nothing_in_a_rest(void **state)
{
	struct voice_bench *bench = *state;

	open_file(bench, 0);
	voice_say(bench, "Paused.");
	voice_await(bench, "STARTED 1\n");
	speech_rest(bench->speech, clock_steady_us());
	voice_await(bench, "FINISHED 1\n");
	voice_run(bench, 300 * MS_US); /* beats on the way */
	bench->dispatches = 0;
	voice_run(bench, 700 * MS_US);
	assert_int_equal(bench->dispatches, 1); /* the end of voice_run */
}

/* The daemon ends in the middle of a word: a fade, and all of it heard. */
static void fades_out_at_the_end(void **state)
{
	struct voice_bench *bench = *state;

	open_file(bench, 0);
	voice_say(bench, "Cross nine from the left, twelve head, over first.");
	voice_await(bench, "STARTED 1\n");
	voice_run(bench, 500 * MS_US);
	close_voice(bench);
	struct heard heard = listen_to(bench->file);
	assert_true(heard.frames > RATE_HZ / 2);
	for (size_t i = heard.frames - RATE_HZ / 50; i < heard.frames; i++)
		assert_int_equal(heard.samples[i], 0);
	free(heard.samples);
}

static void sleeps_in_a_long_rest(void **state)
{
	struct voice_bench *bench = *state;

	open_file(bench, 1);
	voice_say(bench, "Paused.");
	voice_await(bench, "STARTED 1\n");
	int64_t first_us = bench->started_us;
	speech_rest(bench->speech, clock_steady_us());
	voice_await(bench, "FINISHED 1\n");
	voice_run(bench, 2500 * MS_US);
	struct heard before = listen_to(bench->file);
	assert_true(us(before.frames) < clock_steady_us() - first_us - 300 * MS_US); /* asleep */
	free(before.samples);
	bench->dispatches = 0;
	voice_run(bench, 500 * MS_US);
	assert_in_range(bench->dispatches, 1, 1);
	voice_say(bench, "Resumed.");
	voice_await(bench, "FINISHED 2\n");
	voice_run(bench, 700 * MS_US); /* beats are expected again, and come */
	assert_null(strstr(text_string(&bench->log), "LOST"));
	close_voice(bench);
	struct heard heard = listen_to(bench->file);
	assert_int_equal(heard.count, 2);
	int64_t distance_us = us(heard.stretches[1].first - heard.stretches[0].first);
	assert_in_range(llabs(distance_us - (bench->started_us - first_us)), 0, LATE_US);
	free(heard.samples);
}

static void killed_in_its_sleep(void **state)
{
	struct voice_bench *bench = *state;

	open_file(bench, 1);
	speech_rest(bench->speech, clock_steady_us());
	voice_run(bench, 1300 * MS_US);
	kill(voice_process(), SIGKILL);
	voice_await(bench, "BACK: file ");
	voice_say(bench, "Resumed.");
	voice_await(bench, "FINISHED 1\n");
}

static void words_that_are_none(void **state)
{
	struct voice_bench *bench = *state;

	open_file(bench, 0);
	voice_say(bench, "... \xE2\x80\xA6 !!");
	voice_await(bench, "STARTED 1\n");
	voice_await(bench, "FINISHED 1\n");
	voice_await(bench, "TROUBLE: nothing in the text can be said");
}

static void what_cannot_work_is_refused(void **state)
{
	struct voice_bench *bench = *state;
	static const struct {
		struct speech_options options;
		const char *expected;
	} cases[] = {
		{{.sound = "wav:/nonexistent/a.wav"},
		 "REFUSED: cannot write the sound to /nonexistent/a.wav: No such file or directory\n"},
		{{.sound = "wav:/dev/null"},
		 "REFUSED: cannot write the sound to /dev/null: it is not a plain file\n"},
		{{.sound = "auto", .voice = "nobody"},
		 "REFUSED: espeak-ng has no voice \"nobody\": \"pullcall voices\" lists them\n"},
		{{.sound = "loud"},
		 "REFUSED: \"loud\" is no sound; expected auto, device, device:NAME, wav:FILE or none\n"},
	};

	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		struct speech_options options = cases[i].options;
		options.program = PROGRAM;
		text_clear(&bench->log);
		bench->speech = speech_open(&options, clock_steady_us());
		voice_await(bench, "REFUSED");
		voice_run(bench, 50 * MS_US);
		assert_string_equal(text_string(&bench->log), cases[i].expected);
		close_voice(bench);
	}
}

/* A daemon that is killed leaves no voice behind, even one that hangs. */
static void no_speaker_outlives_its_daemon(void **state)
{
	struct voice_bench *bench = *state;
	int status;

	prctl(PR_SET_CHILD_SUBREAPER, 1);
	for (int hung = 0; hung < 2; hung++) {
		pid_t daemon = fork();
		if (daemon == 0) {
			open_file(bench, 0);
			if (hung)
				kill(voice_process(), SIGSTOP);
			raise(SIGKILL);
		}
		assert_int_equal(waitpid(daemon, &status, 0), daemon);
		assert_true(WIFSIGNALED(status));
		int64_t until_us = clock_steady_us() + SECOND_US;
		pid_t speaker = 0;
		while (speaker == 0 && clock_steady_us() < until_us) {
			speaker = waitpid(-1, &status, WNOHANG);
			usleep(5000);
		}
		assert_true(speaker > 0);
	}
	prctl(PR_SET_CHILD_SUBREAPER, 0);
}

static long status_kib(int process, const char *name)
{
	char path[60], line[200];
	long kib = -1;

	snprintf(path, sizeof path, "/proc/%d/status", process);
	FILE *file = fopen(path, "r");
	while (file && fgets(line, sizeof line, file))
		if (strncmp(line, name, strlen(name)) == 0)
			kib = atol(line + strlen(name) + 1);
	if (file)
		fclose(file);
	return kib;
}

static void it_is_small_and_does_not_grow(void **state)
{
	struct voice_bench *bench = *state;
	char words[80], line[40];
	long before_kib = 0, anon_kib = 0, resident_kib = 0;

	open_file(bench, 0);
	for (int i = 1; i <= 100; i++) {
		snprintf(words, sizeof words, "Main %d left, seven throat, pull fifty two.", i);
		voice_say(bench, words);
		voice_prepare(bench, "Cross nine from the left, twelve head.");
		snprintf(line, sizeof line, "STARTED %d\n", i);
		voice_await(bench, line);
		if (i == 30)
			before_kib = status_kib(voice_process(), "RssAnon:");
	}
	int process = voice_process();
	anon_kib = status_kib(process, "RssAnon:");
	resident_kib = status_kib(process, "VmRSS:");
	print_message("RssAnon %ld KiB (%ld KiB after 30 of 100 calls), VmRSS %ld KiB\n", anon_kib,
		      before_kib, resident_kib);
	if (SANITIZED)
		return; /* a sanitizer's memory is not ours */
	/* The eight prompts kept are half of it: three seconds are 280 KiB. */
	assert_in_range(anon_kib, 1, 6 * 1024);
	assert_in_range(resident_kib, 1, 16 * 1024);
	assert_in_range(anon_kib - before_kib + 1024, 0, 2 * 1024);
}

#define SPEAKER_TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		SPEAKER_TEST(calls_are_in_the_file_when_they_were_said),
		SPEAKER_TEST(a_hushed_call_is_gone_at_once),
		SPEAKER_TEST(a_press_cuts_off_the_old_call),
		SPEAKER_TEST(killed_in_a_word),
		SPEAKER_TEST(stopped_in_a_word),
		SPEAKER_TEST(flooded_with_messages),
		SPEAKER_TEST(says_nothing_in_a_rest),
		SPEAKER_TEST(fades_out_at_the_end),
		SPEAKER_TEST(sleeps_in_a_long_rest),
		SPEAKER_TEST(killed_in_its_sleep),
		SPEAKER_TEST(words_that_are_none),
		SPEAKER_TEST(what_cannot_work_is_refused),
		SPEAKER_TEST(no_speaker_outlives_its_daemon),
		SPEAKER_TEST(it_is_small_and_does_not_grow),
	};

	/* A race in the speaker ends it, and a speaker that ends fails the test. */
	setenv("TSAN_OPTIONS", "halt_on_error=1", 0);
	return cmocka_run_group_tests(tests, NULL, NULL);
}
