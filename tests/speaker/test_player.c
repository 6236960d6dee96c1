/* Which words wait to be synthesised when they are said, and which were made ready before. The
 * synthesiser is the real one; it is counted on the way. */
#include "speaker/speaker.h"

#include "speech/speech.h"

#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

static int made;

/* NOLINTBEGIN(bugprone-reserved-identifier): the linker asks for these names */
bool __real_synth_speak(const char *words, struct speech_pcm *pcm);
bool __wrap_synth_speak(const char *words, struct speech_pcm *pcm);

bool __wrap_synth_speak(const char *words, struct speech_pcm *pcm)
{
	made++;
	return __real_synth_speak(words, pcm);
}
/* NOLINTEND(bugprone-reserved-identifier) */

/* The owner's checkpoint: passed so many times, for ever if negative. */
static int asked, lasts;

static bool go_on(void *owner)
{
	(void)owner;
	asked++;
	return lasts < 0 || asked <= lasts;
}

struct booth {
	char folder[40];
	char sound[60];
	struct player *player;
	uint64_t generation;
};

static int setup(void **state)
{
	struct booth *booth = calloc(1, sizeof *booth);
	char *why = NULL;

	snprintf(booth->folder, sizeof booth->folder, "/tmp/pullcall-player-XXXXXX");
	assert_non_null(mkdtemp(booth->folder));
	snprintf(booth->sound, sizeof booth->sound, "wav:%s/heard", booth->folder);
	const struct player_options options = {.sound = booth->sound,
					       .voice = SYNTH_VOICE,
					       .rate_wpm = SYNTH_RATE_MAX_WPM,
					       .style.volume_percent = 100,
					       .checkpoint = {.keep_going = go_on}};
	assert_int_equal(player_open(&options, &booth->player, &why), SINK_OPEN);
	assert_true(player_start(booth->player, &why));
	made = asked = 0;
	lasts = -1;
	*state = booth;
	return 0;
}

static int teardown(void **state)
{
	struct booth *booth = *state;

	player_close(booth->player);
	unlink(booth->sound + sizeof "wav:" - 1);
	rmdir(booth->folder);
	free(booth);
	return 0;
}

/* How many prompts had to be made for it. */
static int say(struct booth *booth, const char *text)
{
	int before = made;

	assert_true(player_say(booth->player, text, ++booth->generation));
	return made - before;
}

static void make_all_ready(struct booth *booth)
{
	while (booth->player->ahead_count > 0)
		player_make_ready(booth->player);
}

static void prepared_words_are_ready(void **state)
{
	struct booth *booth = *state;

	assert_int_equal(say(booth, "one"), 1);
	player_prepare(booth->player, "two");
	player_prepare(booth->player, "three");
	assert_int_equal(made, 1); /* nothing is made until there is time */
	player_make_ready(booth->player);
	assert_int_equal(made, 2);
	assert_true(booth->player->ahead_count > 0);
	player_make_ready(booth->player);
	assert_false(booth->player->ahead_count > 0);
	assert_int_equal(made, 3);
	assert_int_equal(say(booth, "three") + say(booth, "two") + say(booth, "one"), 0);
}

static void what_is_said_comes_before_what_is_prepared(void **state)
{
	struct booth *booth = *state;

	player_prepare(booth->player, "two");
	player_prepare(booth->player, "three");
	assert_int_equal(say(booth, "one"), 1);
	assert_false(booth->player->ahead_count > 0);
	player_make_ready(booth->player);
	assert_int_equal(made, 1);
}

static void more_than_there_is_room_for_is_left_out(void **state)
{
	struct booth *booth = *state;
	static const char *const words[] = {"one", "two", "three", "four", "five", "six"};

	for (size_t i = 0; i < sizeof words / sizeof *words; i++)
		player_prepare(booth->player, words[i]);
	make_all_ready(booth);
	assert_int_equal(made, SPEECH_PREPARED_MAX);
	player_prepare(booth->player, "- - -"); /* no word in it */
	make_all_ready(booth);
	assert_int_equal(made, SPEECH_PREPARED_MAX);
	player_prepare(booth->player, "seven");
	player_forget_prepared(booth->player);
	make_all_ready(booth);
	assert_int_equal(made, SPEECH_PREPARED_MAX);
}

/* However many others are made meanwhile. The sanitizers see to it that nobody frees it. */
static void what_is_playing_is_kept(void **state)
{
	struct booth *booth = *state;
	char text[SPOKEN_MAX / 2] = "", other[20];
	int64_t at_us = 0;

	/* Long enough for a busy machine. */
	while (strlen(text) + 60 < sizeof text)
		strcat(text, "Paused at getting ready, step three of nine, and so on. ");
	say(booth, text);
	while (!player_started(booth->player, &at_us))
		usleep(1000);
	for (int i = 0; i < 20; i++) {
		snprintf(other, sizeof other, "%d", i);
		player_prepare(booth->player, other);
		make_all_ready(booth);
	}
	assert_true(booth->player->said);
	assert_int_equal(say(booth, text), 0);
}

static void a_loud_shop_has_prompts_of_its_own(void **state)
{
	struct booth *booth = *state;

	assert_int_equal(say(booth, "one"), 1);
	booth->player->style.loud = true;
	assert_int_equal(say(booth, "one"), 1);
	assert_int_equal(say(booth, "one"), 0);
	booth->player->style.loud = false;
	assert_int_equal(say(booth, "one"), 0);
}

/* A slow machine, too, shows signs of life at least ten times for each second of words. */
static void a_checkpoint_is_often(void **state)
{
	struct booth *booth = *state;

	say(booth, "Paused at getting ready, step three of nine. One, two, three, four, five, six, "
		   "seven, eight, nine, ten, eleven, twelve, thirteen, fourteen, fifteen.");
	assert_true(asked >= 40); /* four seconds */
}

static void what_is_prepared_makes_way(void **state)
{
	struct booth *booth = *state;

	player_prepare(booth->player, "Cross nine from the left, twelve head.");
	player_prepare(booth->player, "two");
	for (lasts = 0; lasts < 12; lasts += 3) {
		asked = 0;
		player_make_ready(booth->player);
		assert_int_equal(asked, lasts + 1); /* nothing went on after it ended */
	}
	assert_int_equal(made, 4);
	lasts = -1;
	make_all_ready(booth);
	assert_int_equal(made, 6);
	assert_int_equal(say(booth, "Cross nine from the left, twelve head.") + say(booth, "two"),
			 0);
}

static void what_is_said_does_not_make_way(void **state)
{
	struct booth *booth = *state;

	lasts = 0;
	assert_int_equal(say(booth, "Cross nine from the left, twelve head."), 1);
	assert_true(asked > 1);
	assert_int_equal(say(booth, "Cross nine from the left, twelve head."), 0);
}

static void prepare_at(struct booth *booth, int call, int ready)
{
	char text[40];

	for (int step = 1; step >= -1; step--) {
		snprintf(text, sizeof text, step > 0 ? "call %d" : "again, call %d", call + step);
		player_prepare(booth->player, text);
	}
	for (int i = 0; i < ready; i++)
		player_make_ready(booth->player);
}

/* Presses as they come, with the words that the daemon prepares: the next call, this one again and
 * the one before it again. None but the first waits. */
static void no_press_of_a_job_waits(void **state)
{
	struct booth *booth = *state;
	char call[40];
	int at = 1;

	assert_int_equal(say(booth, "call 1"), 1);
	for (const char *press = "nnrbnbrnnnbbbnrnnrrbnbnbnnnn";; press++) {
		prepare_at(booth, at, 0);
		make_all_ready(booth);
		if (!*press)
			break;
		at += *press == 'n' ? 1 : *press == 'b' ? -1 : 0;
		snprintf(call, sizeof call, *press == 'n' ? "call %d" : "again, call %d", at);
		assert_int_equal(say(booth, call), 0);
	}
}

/* Four quick presses: the first of two says the next call, the second takes it back and says the
 * call again; after the other two it is the call before. There is hardly time between them, but all
 * was made ready before. */
static void double_presses_do_not_wait(void **state)
{
	struct booth *booth = *state;

	say(booth, "call 5");
	prepare_at(booth, 5, 3);
	assert_int_equal(say(booth, "call 6"), 0);
	prepare_at(booth, 6, 2);
	assert_int_equal(say(booth, "again, call 5"), 0);
	prepare_at(booth, 5, 0);
	assert_int_equal(say(booth, "call 6"), 0);
	prepare_at(booth, 6, 0);
	assert_int_equal(say(booth, "again, call 4"), 0);
}

#define PLAYER_TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		PLAYER_TEST(prepared_words_are_ready),
		PLAYER_TEST(what_is_said_comes_before_what_is_prepared),
		PLAYER_TEST(more_than_there_is_room_for_is_left_out),
		PLAYER_TEST(what_is_playing_is_kept),
		PLAYER_TEST(a_loud_shop_has_prompts_of_its_own),
		PLAYER_TEST(a_checkpoint_is_often),
		PLAYER_TEST(what_is_prepared_makes_way),
		PLAYER_TEST(what_is_said_does_not_make_way),
		PLAYER_TEST(no_press_of_a_job_waits),
		PLAYER_TEST(double_presses_do_not_wait),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
