/* The code of the audio callback, run without a device. */
#include "speaker/speaker.h"

#include "base/base.h"

#include <math.h>
#include <pthread.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <setjmp.h>

#include <cmocka.h>

enum { RATE_HZ = 48000, BLOCK = 256, TONE_FRAMES = RATE_HZ, HEARD = 30 /* of 32767 */ };

struct bench {
	struct mixer mixer;
	struct cue cues[8];
	int16_t out[4 * TONE_FRAMES];
	size_t count;
	int64_t now_us;
};

static struct prompt tone(double hertz, double amplitude)
{
	struct prompt prompt = {.samples = calloc(TONE_FRAMES, sizeof(int16_t)),
				.count = TONE_FRAMES};

	for (size_t i = 0; i < TONE_FRAMES; i++)
		prompt.samples[i] = (int16_t)lrint(amplitude * 32767 *
						   sin(2 * M_PI * hertz * (double)i / RATE_HZ));
	return prompt;
}

static int setup(void **state)
{
	struct bench *bench = calloc(1, sizeof *bench);

	mixer_open(&bench->mixer, RATE_HZ, 0);
	bench->cues[1].prompt = tone(200, 0.5);
	bench->cues[2].prompt = tone(300, 0.5);
	bench->cues[3].prompt = tone(440, 0.9);
	*state = bench;
	return 0;
}

static int teardown(void **state)
{
	struct bench *bench = *state;

	for (int i = 0; i < 8; i++)
		free(bench->cues[i].prompt.samples);
	free(bench);
	return 0;
}

static void render(struct bench *bench, int blocks)
{
	for (int i = 0; i < blocks; i++) {
		bench->now_us += BLOCK * SECOND_US / RATE_HZ;
		mixer_render(&bench->mixer, bench->out + bench->count, BLOCK, 1, bench->now_us);
		bench->count += BLOCK;
	}
}

static bool silent(const struct bench *bench, size_t from, size_t to)
{
	for (size_t i = from; i < to; i++)
		if (bench->out[i])
			return false;
	return true;
}

static int steepest(const struct bench *bench, size_t from, size_t to)
{
	int steepest = 0;

	for (size_t i = from + 1; i < to; i++)
		if (abs(bench->out[i] - bench->out[i - 1]) > steepest)
			steepest = abs(bench->out[i] - bench->out[i - 1]);
	return steepest;
}

static void plays_what_it_is_given(void **state)
{
	struct bench *bench = *state;
	struct cue *cue = &bench->cues[1];

	render(bench, 2);
	assert_true(silent(bench, 0, bench->count));
	assert_null(mixer_play(&bench->mixer, cue));
	assert_int_equal(cue->started_us, 0);
	render(bench, TONE_FRAMES / BLOCK);
	assert_int_equal(cue->started_us, 3 * (BLOCK * SECOND_US / RATE_HZ));
	assert_false(cue->ended);
	render(bench, 2);
	assert_true(cue->ended);
	assert_memory_equal(bench->out + 2 * BLOCK, cue->prompt.samples, TONE_FRAMES * 2);
	assert_true(silent(bench, 2 * BLOCK + TONE_FRAMES, bench->count));
	assert_int_equal(bench->mixer.beats, 4 + TONE_FRAMES / BLOCK);
}

static void fades_out_within_10_ms(void **state)
{
	struct bench *bench = *state;
	struct cue *silence = &bench->cues[0];

	mixer_play(&bench->mixer, &bench->cues[1]);
	render(bench, 20);
	size_t cut = bench->count;
	mixer_play(&bench->mixer, silence);
	render(bench, 20);
	assert_true(silent(bench, cut + RATE_HZ / 100, bench->count));
	assert_false(silent(bench, cut + RATE_HZ / 500, cut + RATE_HZ / 200)); /* no hard cut */
	assert_true(bench->cues[1].ended);
	assert_true(silence->ended);
	/* A fade is no click: no step steeper than the tone's own and the fade's together. */
	int own = steepest(bench, 0, cut);
	assert_in_range(steepest(bench, cut - 1, bench->count), 0, own + 16384 * M_PI / 240 + 1);
}

static void one_prompt_into_the_next(void **state)
{
	struct bench *bench = *state;

	mixer_play(&bench->mixer, &bench->cues[1]);
	render(bench, 20);
	size_t cut = bench->count;
	mixer_play(&bench->mixer, &bench->cues[2]);
	render(bench, 20);
	/* The new one is there from the first sample on, and alone after the fade. */
	size_t alone = RATE_HZ * MIXER_FADE_MS / 1000;
	assert_memory_equal(bench->out + cut + alone, bench->cues[2].prompt.samples + alone, 1000);
	assert_true(bench->cues[1].ended);
	assert_false(bench->cues[2].ended);
}

static void two_loud_prompts_never_clip(void **state)
{
	struct bench *bench = *state;
	int peak = 0;

	bench->cues[4].prompt = tone(440, 0.9);
	for (int shift = 0; shift < 40; shift++) {
		bench->count = 0;
		mixer_reset(&bench->mixer);
		mixer_play(&bench->mixer, &bench->cues[3]);
		render(bench, 2 + shift);
		mixer_play(&bench->mixer, &bench->cues[4]);
		render(bench, 4);
		for (size_t i = 0; i < bench->count; i++)
			if (abs(bench->out[i]) > peak)
				peak = abs(bench->out[i]);
	}
	assert_in_range(peak, 0.89 * 32767, 0.9 * 32767 + 1);
}

static void the_last_of_many_is_played(void **state)
{
	struct bench *bench = *state;

	mixer_play(&bench->mixer, &bench->cues[1]);
	render(bench, 10);
	assert_null(mixer_play(&bench->mixer, &bench->cues[2]));
	assert_ptr_equal(mixer_play(&bench->mixer, &bench->cues[3]), &bench->cues[2]);
	render(bench, 10);
	assert_int_equal(bench->cues[2].started_us, 0);
	assert_true(bench->cues[3].started_us > 0);
}

/* Periods may be shorter than a fade; a call that comes during one waits for its end. */
static void a_call_during_a_fade(void **state)
{
	struct bench *bench = *state;
	int16_t *out = bench->out;

	mixer_play(&bench->mixer, &bench->cues[1]);
	for (int i = 0; i < 100; i++, out += 32)
		mixer_render(&bench->mixer, out, 32, 1, 1);
	size_t cut = (size_t)(out - bench->out);
	for (int cue = 2; cue < 4; cue++) {
		assert_null(mixer_play(&bench->mixer, &bench->cues[cue]));
		mixer_render(&bench->mixer, out, 32, 1, 1 + cue);
		out += 32;
	}
	assert_int_equal(bench->cues[3].started_us, 0);
	for (int i = 0; i < 40; i++, out += 32)
		mixer_render(&bench->mixer, out, 32, 1, 10);
	assert_true(bench->cues[2].ended);
	assert_int_equal(bench->cues[3].started_us, 10);
	assert_in_range(steepest(bench, cut - 1, cut + 40 * 32), 0,
			0.9 * 32767 * 2 * M_PI * 440 / RATE_HZ + 32767 * M_PI / 240);
}

static void a_device_is_given_time_to_wake(void **state)
{
	struct bench *bench = *state;

	mixer_open(&bench->mixer, RATE_HZ, 100);
	mixer_play(&bench->mixer, &bench->cues[1]);
	render(bench, 40);
	assert_true(silent(bench, 0, RATE_HZ / 10));
	assert_false(silent(bench, RATE_HZ / 10, RATE_HZ / 10 + 2 * BLOCK));
}

static void every_channel_gets_the_same(void **state)
{
	struct bench *bench = *state;

	mixer_play(&bench->mixer, &bench->cues[1]);
	mixer_render(&bench->mixer, bench->out, BLOCK, 2, 1);
	for (int i = 0; i < BLOCK; i++) {
		assert_int_equal(bench->out[2 * i], bench->cues[1].prompt.samples[i]);
		assert_int_equal(bench->out[2 * i + 1], bench->out[2 * i]);
	}
}

static void a_closed_stream_gives_all_back(void **state)
{
	struct bench *bench = *state;

	mixer_play(&bench->mixer, &bench->cues[1]);
	render(bench, 10);
	mixer_play(&bench->mixer, &bench->cues[2]);
	mixer_render(&bench->mixer, bench->out, 32, 1, 1); /* in the middle of a fade */
	mixer_play(&bench->mixer, &bench->cues[3]);
	mixer_reset(&bench->mixer);
	for (int i = 1; i < 4; i++)
		assert_true(bench->cues[i].ended);
	render(bench, 10);
	assert_true(silent(bench, bench->count - 10 * BLOCK, bench->count));
}

static void *callback_thread(void *context)
{
	struct bench *bench = context;
	int16_t out[64];

	for (int i = 0; i < 60000; i++)
		mixer_render(&bench->mixer, out, 64, 1, i + 1);
	return NULL;
}

static struct cue *free_cue(struct bench *bench)
{
	for (int i = 0; i < 4; i++)
		if (atomic_load(&bench->cues[i].ended))
			return &bench->cues[i];
	return NULL;
}

/* Owner and callback on two threads, as fast as they can; what is free is really free: the owner
 * takes its memory away at once (a sanitizer would see the callback touch it). */
static void hammered_from_two_threads(void **state)
{
	struct bench *bench = *state;
	pthread_t thread;
	int played = 0;

	for (int i = 0; i < 4; i++)
		atomic_store(&bench->cues[i].ended, true);
	pthread_create(&thread, NULL, callback_thread, bench);
	for (; played < 5000; played++) {
		struct cue *cue = free_cue(bench);
		assert_non_null(cue); /* four are enough */
		free(cue->prompt.samples);
		cue->prompt =
			(struct prompt){.samples = calloc(500, 2), .count = (size_t)(played % 500)};
		cue->started_us = 0;
		cue->ended = false;
		struct cue *untaken = mixer_play(&bench->mixer, cue);
		if (untaken)
			untaken->ended = true;
		if (played % 3 == 0)
			nanosleep(&(struct timespec){.tv_nsec = 20000}, NULL);
	}
	pthread_join(thread, NULL);
	mixer_reset(&bench->mixer);
	for (int i = 0; i < 4; i++)
		assert_true(bench->cues[i].ended);
}

#define MIXER_TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
	const struct CMUnitTest tests[] = {
		MIXER_TEST(plays_what_it_is_given),         MIXER_TEST(fades_out_within_10_ms),
		MIXER_TEST(one_prompt_into_the_next),       MIXER_TEST(two_loud_prompts_never_clip),
		MIXER_TEST(the_last_of_many_is_played),     MIXER_TEST(a_call_during_a_fade),
		MIXER_TEST(a_device_is_given_time_to_wake), MIXER_TEST(every_channel_gets_the_same),
		MIXER_TEST(a_closed_stream_gives_all_back), MIXER_TEST(hammered_from_two_threads),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
