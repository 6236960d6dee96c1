/* The daemon's end of the voice with real processes: a fake speaker that dies, hangs, floods. */
#include "base/clock.h"
#include "base/text.h"
#include "speech/speech.h"

#include <dirent.h>
#include <inttypes.h>
#include <poll.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

#define FAKE BINARY_DIR "/tests/speech/fake_speaker"

enum { PATIENCE_MS = 5000 };

struct bench {
	struct speech *speech;
	struct text log; /* events: "READY", "STARTED 1" ..., each ended by a newline */
	char folder[40]; /* for what the fake remembers from life to life */
	int dispatches;
	int64_t lost_us, back_us, restarted_us;
};

static void note(struct bench *bench, const struct speech_event *event)
{
	static const char *const names[] = {
		[SPEECH_READY] = "READY",       [SPEECH_STARTED] = "STARTED",
		[SPEECH_FINISHED] = "FINISHED", [SPEECH_LOST] = "LOST",
		[SPEECH_BACK] = "BACK",         [SPEECH_NO_SOUND] = "NO-SOUND",
		[SPEECH_REFUSED] = "REFUSED",   [SPEECH_TROUBLE] = "TROUBLE",
	};

	text_add(&bench->log, names[event->kind]);
	if (event->generation)
		text_format(&bench->log, " %" PRIu64, event->generation);
	if (event->text[0])
		text_format(&bench->log, ": %s", event->text);
	text_add_char(&bench->log, '\n');
	if (event->kind == SPEECH_LOST)
		bench->lost_us = event->at_us;
	if (event->kind == SPEECH_BACK)
		bench->back_us = event->at_us;
	if (event->kind == SPEECH_STARTED)
		bench->restarted_us = event->at_us;
}

static void turn(struct bench *bench, int64_t until_us)
{
	struct pollfd in = {.fd = speech_fd(bench->speech), .events = POLLIN};
	int64_t deadline_us = speech_deadline_us(bench->speech);
	int64_t wait_us = (deadline_us < until_us ? deadline_us : until_us) - clock_steady_us();
	struct speech_event event;

	poll(&in, 1, wait_us > 0 ? (int)(wait_us / 1000) + 1 : 0);
	int64_t before_us = clock_steady_us();
	speech_dispatch(bench->speech, before_us);
	bench->dispatches++;
	assert_true(clock_steady_us() - before_us < 100 * MS_US); /* it never blocks */
	while (speech_next(bench->speech, &event))
		note(bench, &event);
}

/* Runs the loop until the log ends with this line, or says what it holds instead. */
static void await(struct bench *bench, const char *line)
{
	int64_t until_us = clock_steady_us() + PATIENCE_MS * MS_US;
	const char *found;

	do {
		found = strstr(text_string(&bench->log), line);
		if (!found)
			turn(bench, until_us);
	} while (!found && clock_steady_us() < until_us);
	if (!found)
		fail_msg("waited in vain for \"%s\"; there was:\n%s", line,
			 text_string(&bench->log));
}

static void run_for(struct bench *bench, int64_t time_us)
{
	int64_t until_us = clock_steady_us() + time_us;

	while (clock_steady_us() < until_us)
		turn(bench, until_us);
}

static void open_sound(struct bench *bench, const char *sound)
{
	char full[80];
	struct speech_options options = {.program = FAKE, .sound = full};

	snprintf(full, sizeof full, "%s%s%s", sound, strchr(sound, ':') ? bench->folder : "",
		 strchr(sound, ':') ? "/once" : "");
	bench->speech = speech_open(&options, clock_steady_us());
}

static void say(struct bench *bench, const char *text)
{
	speech_say(bench->speech, text, SPEECH_NOW, clock_steady_us());
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
	struct bench *bench = calloc(1, sizeof *bench);

	snprintf(bench->folder, sizeof bench->folder, "/tmp/pullcall-speech-XXXXXX");
	*state = bench;
	return mkdtemp(bench->folder) ? 0 : -1;
}

static int teardown(void **state)
{
	struct bench *bench = *state;
	char path[60];

	speech_close(bench->speech);
	snprintf(path, sizeof path, "%s/once", bench->folder);
	unlink(path);
	rmdir(bench->folder);
	text_free(&bench->log);
	free(bench);
	/* Every speaker was reaped. */
	return waitpid(-1, NULL, WNOHANG) == -1 ? 0 : -1;
}

static void words_are_said(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "good");
	say(bench, "one"); /* before it is ready: not lost */
	await(bench, "FINISHED 1\n");
	assert_true(speech_sounds(bench->speech));
	say(bench, "two");
	await(bench, "FINISHED 2\n");
	assert_string_equal(text_string(&bench->log), "READY: fake, 48000 Hz\nSTARTED 1\n"
						      "FINISHED 1\nSTARTED 2\nFINISHED 2\n");
}

static void a_new_call_cuts_off_the_old(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "good");
	say(bench, "one");
	await(bench, "STARTED 1\n");
	say(bench, "two");
	say(bench, "three");
	await(bench, "FINISHED 3\n");
	/* Each is finished once, in order; late reports about 2 mean nothing. */
	assert_string_equal(text_string(&bench->log),
			    "READY: fake, 48000 Hz\nSTARTED 1\nFINISHED 1\nFINISHED 2\n"
			    "STARTED 3\nFINISHED 3\n");
}

static void what_waits_comes_after(void **state)
{
	struct bench *bench = *state;
	int64_t now_us = clock_steady_us();

	open_sound(bench, "good");
	for (int i = 0; i < SPEECH_QUEUE_MAX + 2; i++) /* one is said, one too many waits */
		speech_say(bench->speech, "words", SPEECH_AFTER, now_us);
	await(bench, "FINISHED 6\n");
	assert_string_equal(text_string(&bench->log),
			    "FINISHED 2\nREADY: fake, 48000 Hz\nSTARTED 1\nFINISHED 1\n"
			    "STARTED 3\nFINISHED 3\nSTARTED 4\nFINISHED 4\n"
			    "STARTED 5\nFINISHED 5\nSTARTED 6\nFINISHED 6\n");
}

static void hushed(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "good");
	say(bench, "one");
	speech_say(bench->speech, "two", SPEECH_AFTER, clock_steady_us());
	await(bench, "STARTED 1\n");
	speech_hush(bench->speech, clock_steady_us());
	run_for(bench, 100 * MS_US);
	assert_string_equal(text_string(&bench->log),
			    "READY: fake, 48000 Hz\nSTARTED 1\nFINISHED 2\nFINISHED 1\n");
}

/* It dies with words half said: they are said again, within a second. */
static void check_replacement(struct bench *bench, const char *reason)
{
	say(bench, "one");
	await(bench, "BACK");
	await(bench, "FINISHED 1\n");
	const char *log = text_string(&bench->log);
	const char *first = strstr(log, "STARTED 1\n");
	assert_non_null(first);
	assert_non_null(strstr(first + 1, "STARTED 1\n"));
	if (!strstr(log, reason))
		fail_msg("\"%s\" is not in\n%s", reason, log);
	assert_in_range(bench->restarted_us - bench->lost_us, 0, SECOND_US);
	say(bench, "two");
	await(bench, "FINISHED 2\n");
}

static void a_dead_speaker_is_replaced(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "die-once:");
	check_replacement(bench, "ended: signal 6 (Aborted): fake: about to die");
}

static void a_stalled_speaker_is_replaced(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "stall-once:");
	check_replacement(bench, "no sound flowed in time");
}

static void a_mute_speaker_is_replaced(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "mute-once:");
	check_replacement(bench, "no sound flowed in time");
}

static void a_flooding_speaker_is_replaced(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "flood-once:");
	check_replacement(bench, "no sound flowed in time: xxx");
	assert_true(bench->dispatches < 500); /* reading the flood is no busy loop */
}

static void nonsense_is_no_speaker(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "nonsense-once:");
	check_replacement(bench, "its messages make no sense");
}

static void hanging_up_is_noticed(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "hang-up-once:");
	check_replacement(bench, "it hung up");
}

/* It beats and does not read: noticed when its socket is full. */
static void a_deaf_speaker_is_replaced(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "deaf-once:");
	say(bench, "one");
	await(bench, "STARTED 1\n");
	for (int i = 0; i < 10000 && !strstr(text_string(&bench->log), "LOST"); i++) {
		speech_prepare(bench->speech, "next");
		turn(bench, 0);
	}
	await(bench, "LOST: it does not read its orders\n");
	await(bench, "BACK");
	await(bench, "FINISHED 1\n");
}

static void deadly_words_are_given_up(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "die");
	say(bench, "one");
	speech_say(bench->speech, "two", SPEECH_AFTER, clock_steady_us());
	await(bench, "FINISHED 1\n");
	await(bench, "STARTED 2\n");
}

static void no_device_is_said_once(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "no-device");
	say(bench, "one");
	run_for(bench, 1200 * MS_US);
	assert_string_equal(text_string(&bench->log), "NO-SOUND: there is no sound device\n");
	assert_false(speech_sounds(bench->speech));
}

static void a_device_that_appears_is_used(void **state)
{
	struct bench *bench = *state;
	char path[60];

	open_sound(bench, "absent:");
	say(bench, "one");
	await(bench, "NO-SOUND");
	say(bench, "two");
	snprintf(path, sizeof path, "%s/once", bench->folder);
	fclose(fopen(path, "w"));
	await(bench, "FINISHED 2\n");
	assert_string_equal(text_string(&bench->log),
			    "NO-SOUND: there is no sound device\nFINISHED 1\n"
			    "READY: fake, 48000 Hz\nSTARTED 2\nFINISHED 2\n");
}

static void a_refusal_is_final(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "refuse");
	run_for(bench, 600 * MS_US);
	assert_string_equal(text_string(&bench->log), "REFUSED: no voice \"x\"; there are: y, z\n");
	assert_true(speech_deadline_us(bench->speech) == SPEECH_NEVER);
}

static void a_program_that_is_not_there(void **state)
{
	struct bench *bench = *state;
	struct speech_options options = {.program = "/nonexistent/speaker", .sound = "auto"};

	bench->speech = speech_open(&options, clock_steady_us());
	run_for(bench, 100 * MS_US);
	assert_string_equal(
		text_string(&bench->log),
		"NO-SOUND: cannot start /nonexistent/speaker: No such file or directory\n");
}

static void in_a_rest_nothing_wakes_the_owner(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "good");
	say(bench, "one");
	await(bench, "STARTED 1\n");
	speech_rest(bench->speech, clock_steady_us());
	await(bench, "FINISHED 1\n");
	run_for(bench, 50 * MS_US); /* beats on the way */
	assert_true(speech_deadline_us(bench->speech) == SPEECH_NEVER);
	bench->dispatches = 0;
	run_for(bench, 700 * MS_US);
	assert_int_equal(bench->dispatches, 1); /* the end of run_for */
	say(bench, "two");
	await(bench, "FINISHED 2\n");
	assert_null(strstr(text_string(&bench->log), "LOST"));
}

static void a_fresh_speaker_is_told_all(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "echo");
	say(bench, "one");
	speech_prepare(bench->speech, "two");
	speech_rest(bench->speech, clock_steady_us());
	await(bench, "TROUBLE: say one\n");
	await(bench, "TROUBLE: prepare two\n");
	await(bench, "TROUBLE: rest\n");
}

static void no_sound_is_the_quickest_sound(void **state)
{
	struct bench *bench = *state;
	struct speech_options options = {.sound = "none"};

	bench->speech = speech_open(&options, 5);
	say(bench, "one");
	assert_true(speech_deadline_us(bench->speech) <= clock_steady_us());
	turn(bench, 0);
	assert_string_equal(text_string(&bench->log),
			    "READY: no sound, as asked\nSTARTED 1\nFINISHED 1\n");
	assert_true(speech_deadline_us(bench->speech) == SPEECH_NEVER);
}

static void an_end_that_is_not_obeyed(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "mute-once:");
	say(bench, "one");
	await(bench, "STARTED 1\n");
	int64_t before_us = clock_steady_us();
	speech_close(bench->speech);
	bench->speech = NULL;
	assert_in_range(clock_steady_us() - before_us, 400 * MS_US, 900 * MS_US);
}

static void many_lives_leak_nothing(void **state)
{
	struct bench *bench = *state;

	open_sound(bench, "good");
	say(bench, "one");
	await(bench, "STARTED 1\n");
	int before = count_fds();
	for (int life = 0; life < 20; life++) {
		char line[40];
		speech_close(bench->speech);
		open_sound(bench, "die-once:");
		text_clear(&bench->log);
		say(bench, "words");
		snprintf(line, sizeof line, life ? "FINISHED 1\n" : "BACK");
		await(bench, line);
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
		PROCESS_TEST(a_stalled_speaker_is_replaced),
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
