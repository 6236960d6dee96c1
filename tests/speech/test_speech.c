/* The daemon's end of the voice with real processes: a fake speaker that dies, hangs, floods. */
#include "base/base.h"
#include "speech/voice_bench.h"

#include <dirent.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>

#define FAKE BINARY_DIR "/tests/speech/fake_speaker"

static void open_sound(struct voice_bench *bench, const char *sound)
{
	char full[80];
	struct speech_options options = {.program = FAKE, .sound = full};

	snprintf(full, sizeof full, "%s%s", sound, strchr(sound, ':') ? bench->file : "");
	bench->speech = speech_open(&options, clock_steady_us());
}

static int count_fds(void)
{
	DIR *folder = opendir("/proc/self/fd");
	int count = -1; /* the folder's own */

	while (readdir(folder))
		count++;
	closedir(folder);
	return count;
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

static void words_are_said(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "good");
	voice_say(bench, "one"); /* before it is ready: not lost */
	voice_await(bench, "FINISHED 1\n");
	voice_say(bench, "two");
	voice_await(bench, "FINISHED 2\n");
	assert_string_equal(text_string(&bench->log), "READY: fake, 48000 Hz\nSTARTED 1\n"
						      "FINISHED 1\nSTARTED 2\nFINISHED 2\n");
}

static void a_new_call_cuts_off_the_old(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "good");
	voice_say(bench, "one");
	voice_await(bench, "STARTED 1\n");
	voice_say(bench, "two");
	voice_say(bench, "three");
	voice_await(bench, "FINISHED 3\n");
	/* Each is finished once, in order; late reports about 2 mean nothing. */
	assert_string_equal(text_string(&bench->log),
			    "READY: fake, 48000 Hz\nSTARTED 1\nFINISHED 1\nFINISHED 2\n"
			    "STARTED 3\nFINISHED 3\n");
}

static void what_waits_comes_after(void **state)
{
	struct voice_bench *bench = *state;
	int64_t now_us = clock_steady_us();

	open_sound(bench, "good");
	for (int i = 0; i < SPEECH_QUEUE_MAX + 2; i++) /* one is said, one too many waits */
		speech_say(bench->speech, "words", SPEECH_AFTER, now_us);
	voice_await(bench, "FINISHED 6\n");
	assert_string_equal(text_string(&bench->log),
			    "FINISHED 2\nREADY: fake, 48000 Hz\nSTARTED 1\nFINISHED 1\n"
			    "STARTED 3\nFINISHED 3\nSTARTED 4\nFINISHED 4\n"
			    "STARTED 5\nFINISHED 5\nSTARTED 6\nFINISHED 6\n");
}

static void hushed(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "good");
	voice_say(bench, "one");
	speech_say(bench->speech, "two", SPEECH_AFTER, clock_steady_us());
	voice_await(bench, "STARTED 1\n");
	speech_hush(bench->speech, clock_steady_us());
	voice_run(bench, 100 * MS_US);
	assert_string_equal(text_string(&bench->log),
			    "READY: fake, 48000 Hz\nSTARTED 1\nFINISHED 2\nFINISHED 1\n");
}

/* It dies with words half said: they are said again, within a second. */
static void check_replacement(struct voice_bench *bench, const char *reason)
{
	voice_say(bench, "one");
	voice_await(bench, "BACK");
	voice_await(bench, "FINISHED 1\n");
	const char *log = text_string(&bench->log);
	const char *first = strstr(log, "STARTED 1\n");
	assert_non_null(first);
	assert_non_null(strstr(first + 1, "STARTED 1\n"));
	if (!strstr(log, reason))
		fail_msg("\"%s\" is not in\n%s", reason, log);
	assert_in_range(bench->started_us - bench->lost_us, 0, SECOND_US);
	voice_say(bench, "two");
	voice_await(bench, "FINISHED 2\n");
}

static void a_dead_speaker_is_replaced(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "die-once:");
	check_replacement(bench, "ended: signal 6 (Aborted): fake: about? to die");
}

static void a_mute_speaker_is_replaced(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "mute-once:");
	check_replacement(bench, "no sound flowed in time");
}

static void a_flooding_speaker_is_replaced(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "flood-once:");
	check_replacement(bench, "no sound flowed in time: xxx");
	assert_true(bench->dispatches < 500); /* reading the flood is no busy loop */
}

static void nonsense_is_no_speaker(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "nonsense-once:");
	check_replacement(bench, "its messages make no sense");
}

static void hanging_up_is_noticed(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "hang-up-once:");
	check_replacement(bench, "no sound flowed in time");
}

/* It beats and does not read: noticed when its socket is full. */
static void a_deaf_speaker_is_replaced(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "deaf-once:");
	voice_say(bench, "one");
	voice_await(bench, "STARTED 1\n");
	for (int i = 0; i < 10000 && !strstr(text_string(&bench->log), "LOST"); i++) {
		voice_prepare(bench, "next");
		voice_turn(bench, 0);
	}
	voice_await(bench, "LOST: it does not read its orders\n");
	voice_await(bench, "BACK");
	voice_await(bench, "FINISHED 1\n");
}

static void deadly_words_are_given_up(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "die");
	voice_say(bench, "one");
	speech_say(bench->speech, "two", SPEECH_AFTER, clock_steady_us());
	voice_await(bench, "FINISHED 1\n");
	voice_await(bench, "FINISHED 2\n");
	assert_null(strstr(text_string(&bench->log), "STARTED"));
}

static void no_device_is_said_once(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "no-device");
	voice_say(bench, "one");
	voice_run(bench, 1200 * MS_US);
	assert_string_equal(text_string(&bench->log), "NO-SOUND: there is no sound device\n");
}

static void a_device_that_appears_is_used(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "absent:");
	voice_say(bench, "one");
	voice_await(bench, "NO-SOUND");
	voice_say(bench, "two");
	fclose(fopen(bench->file, "w"));
	voice_await(bench, "FINISHED 2\n");
	assert_string_equal(text_string(&bench->log),
			    "NO-SOUND: there is no sound device\nFINISHED 1\n"
			    "READY: fake, 48000 Hz\nSTARTED 2\nFINISHED 2\n");
}

static void a_refusal_is_final(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "refuse");
	voice_run(bench, 600 * MS_US);
	assert_string_equal(text_string(&bench->log), "REFUSED: no voice \"x\"; there are: y, z\n");
	assert_true(speech_deadline_us(bench->speech) == SPEECH_NEVER);
}

static void a_program_that_is_not_there(void **state)
{
	struct voice_bench *bench = *state;
	struct speech_options options = {.program = "/nonexistent/speaker", .sound = "auto"};

	bench->speech = speech_open(&options, clock_steady_us());
	voice_await(bench, "NO-SOUND");
	assert_string_equal(
		text_string(&bench->log),
		"NO-SOUND: cannot start /nonexistent/speaker: No such file or directory\n");
}

static void in_a_rest_nothing_wakes_the_owner(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "good");
	voice_say(bench, "one");
	voice_await(bench, "STARTED 1\n");
	speech_rest(bench->speech, clock_steady_us());
	voice_await(bench, "FINISHED 1\n");
	voice_run(bench, 50 * MS_US); /* beats on the way */
	assert_true(speech_deadline_us(bench->speech) == SPEECH_NEVER);
	bench->dispatches = 0;
	voice_run(bench, 700 * MS_US);
	assert_int_equal(bench->dispatches, 1); /* the end of voice_run */
	voice_say(bench, "two");
	voice_await(bench, "FINISHED 2\n");
	assert_null(strstr(text_string(&bench->log), "LOST"));
}

static void a_fresh_speaker_is_told_all(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "echo");
	voice_say(bench, "one");
	voice_prepare(bench, "two");
	speech_rest(bench->speech, clock_steady_us());
	voice_await(bench, "TROUBLE: say one\n");
	voice_await(bench, "TROUBLE: prepare two\n");
	voice_await(bench, "TROUBLE: rest\n");
}

static void no_sound_is_the_quickest_sound(void **state)
{
	struct voice_bench *bench = *state;
	struct speech_options options = {.sound = "none"};

	bench->speech = speech_open(&options, 5);
	voice_say(bench, "one");
	assert_true(speech_deadline_us(bench->speech) <= clock_steady_us());
	voice_turn(bench, 0);
	assert_string_equal(text_string(&bench->log), "READY: sound off\nSTARTED 1\nFINISHED 1\n");
	assert_true(speech_deadline_us(bench->speech) == SPEECH_NEVER);
}

static void an_end_that_is_not_obeyed(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "mute-once:");
	voice_say(bench, "one");
	voice_await(bench, "STARTED 1\n");
	int64_t before_us = clock_steady_us();
	speech_close(bench->speech);
	bench->speech = NULL;
	assert_in_range(clock_steady_us() - before_us, 400 * MS_US, 900 * MS_US);
}

static void many_lives_leak_nothing(void **state)
{
	struct voice_bench *bench = *state;

	open_sound(bench, "good");
	voice_say(bench, "one");
	voice_await(bench, "STARTED 1\n");
	int before = count_fds();
	for (int life = 0; life < 20; life++) {
		char line[40];
		speech_close(bench->speech);
		open_sound(bench, "die-once:");
		text_clear(&bench->log);
		voice_say(bench, "words");
		snprintf(line, sizeof line, life ? "FINISHED 1\n" : "BACK");
		voice_await(bench, line);
	}
	assert_int_equal(count_fds(), before);
}

#define PROCESS_TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		PROCESS_TEST(words_are_said),
		PROCESS_TEST(a_new_call_cuts_off_the_old),
		PROCESS_TEST(what_waits_comes_after),
		PROCESS_TEST(hushed),
		PROCESS_TEST(a_dead_speaker_is_replaced),
		PROCESS_TEST(a_mute_speaker_is_replaced),
		PROCESS_TEST(a_flooding_speaker_is_replaced),
		PROCESS_TEST(nonsense_is_no_speaker),
		PROCESS_TEST(hanging_up_is_noticed),
		PROCESS_TEST(a_deaf_speaker_is_replaced),
		PROCESS_TEST(deadly_words_are_given_up),
		PROCESS_TEST(no_device_is_said_once),
		PROCESS_TEST(a_device_that_appears_is_used),
		PROCESS_TEST(a_refusal_is_final),
		PROCESS_TEST(a_program_that_is_not_there),
		PROCESS_TEST(in_a_rest_nothing_wakes_the_owner),
		PROCESS_TEST(a_fresh_speaker_is_told_all),
		PROCESS_TEST(no_sound_is_the_quickest_sound),
		PROCESS_TEST(an_end_that_is_not_obeyed),
		PROCESS_TEST(many_lives_leak_nothing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
