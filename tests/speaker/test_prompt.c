/* Real words through the real synthesiser: what a prompt must be like.
 *
 * Loudness is measured by libebur128, and libebur128 (with the way it is used here) is checked
 * with the tones of EBU Tech 3341.
 */
#include "speaker/speaker.h"

#include <ebur128.h>
#include <math.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>

enum { RATE_HZ = 48000 };

static const char *const phrases[] = {
	"Main four left, seven throat, pull fifty two.",
	"Cross nine from the left, twelve head, over first.",
	"Pull twenty four point five.", /* p, t and k begin with silence in espeak-ng */
	"Tie off at eight throat.",
	"Clamp main two left.",
	"Cut out the old strings, from the centre outward.",
	"Stop if the frame creaks, twists or shifts in its mounts.",
	"Again.",
	"Yes.",
	"Six.",
};

enum { PHRASES = sizeof phrases / sizeof *phrases };

static int open_synth(void **state)
{
	char *why = NULL;

	(void)state;
	if (synth_open(SYNTH_VOICE, SYNTH_RATE_WPM, &why))
		return 0;
	print_error("%s\n", why);
	return -1;
}

static struct prompt make(const char *words, uint32_t rate_hz, int volume_percent, bool with_tone)
{
	const struct prompt_style style = {
		.rate_hz = rate_hz, .volume_percent = volume_percent, .tone = with_tone};
	struct speech_pcm pcm = {0};
	struct prompt prompt = {0};

	assert_true(synth_speak(words, &pcm));
	assert_true(prompt_make(&pcm, &style, &prompt));
	free(pcm.samples);
	return prompt;
}

static struct loudness level_of(const int16_t *samples, size_t count, uint32_t rate_hz)
{
	float *floats = calloc(count, sizeof *floats);
	struct loudness level = {0};

	for (size_t i = 0; i < count; i++)
		floats[i] = samples[i] / 32768.0F;
	assert_true(loudness_measure(floats, count, rate_hz, &level));
	free(floats);
	return level;
}

static int peak_of(const struct prompt *prompt)
{
	int peak = 0;

	for (size_t i = 0; i < prompt->count; i++)
		if (abs(prompt->samples[i]) > peak)
			peak = abs(prompt->samples[i]);
	return peak;
}

static void check_edges(const struct prompt *prompt, uint32_t rate_hz)
{
	int peak = peak_of(prompt);
	size_t first = 0, last = prompt->count - 1;

	while (abs(prompt->samples[first]) * 100 < peak)
		first++;
	while (abs(prompt->samples[last]) * 100 < peak)
		last--;
	assert_true(first * 1000 <= 5 * rate_hz);                   /* it starts at once */
	assert_true((prompt->count - last) * 1000 <= 50 * rate_hz); /* and ends soon */
	assert_in_range(abs(prompt->samples[0]), 0, 300);           /* no click */
	assert_in_range(abs(prompt->samples[prompt->count - 1]), 0, 300);
}

static void words_are_heard_at_once_and_whole(void **state)
{
	const uint32_t rates_hz[] = {22050, 44100, 48000, 96000, 192000};

	(void)state;
	for (size_t rate = 0; rate < sizeof rates_hz / sizeof *rates_hz; rate++)
		for (int i = 0; i < PHRASES; i++) {
			struct prompt prompt = make(phrases[i], rates_hz[rate], 100, false);
			double seconds = (double)prompt.count / rates_hz[rate];
			double per_letter = seconds / (double)strlen(phrases[i]);
			assert_in_range(peak_of(&prompt), 3000, 32000); /* heard; never clipped */
			check_edges(&prompt, rates_hz[rate]);
			/* 165 words a minute are some 0.07 s a letter. */
			assert_true(per_letter > 0.03 && per_letter < 0.2);
			free(prompt.samples);
		}
}

static void every_prompt_is_as_loud(void **state)
{
	(void)state;
	for (int i = 0; i < PHRASES; i++) {
		struct prompt prompt = make(phrases[i], RATE_HZ, 100, false);
		struct loudness level = level_of(prompt.samples, prompt.count, RATE_HZ);
		print_message("%6.2f LUFS, %5.2f dBTP: %s\n", level.lufs, level.peak_dbtp,
			      phrases[i]);
		assert_true(fabs(level.lufs - PROMPT_LUFS) < 0.5);
		assert_true(level.peak_dbtp < -1);
		free(prompt.samples);
	}
}

/* The power of a prompt below and above a frequency, by a first-order split. */
static double share_above(const struct prompt *prompt, double hz)
{
	double pole = exp(-2 * M_PI * hz / RATE_HZ), low = 0, all = 0, above = 0;

	for (size_t i = 0; i < prompt->count; i++) {
		double sample = prompt->samples[i];
		low = pole * low + (1 - pole) * sample;
		all += sample * sample;
		above += (sample - low) * (sample - low);
	}
	return above / all;
}

/* Decibels from the mean level of what is heard to the highest sample. */
static double crest_db(const struct prompt *prompt)
{
	double power = 0;

	for (size_t i = 0; i < prompt->count; i++)
		power += (double)prompt->samples[i] * prompt->samples[i];
	return 20 * log10(peak_of(prompt) / sqrt(power / (double)prompt->count));
}

static void a_loud_shop_changes_the_sound_not_the_loudness(void **state)
{
	struct prompt_style style = {.rate_hz = RATE_HZ, .volume_percent = 100};
	struct speech_pcm pcm = {0};

	(void)state;
	for (int i = 0; i < PHRASES; i++) {
		struct prompt quiet = {0}, loud = {0};
		assert_true(synth_speak(phrases[i], &pcm));
		style.loud = false;
		assert_true(prompt_make(&pcm, &style, &quiet));
		style.loud = true;
		assert_true(prompt_make(&pcm, &style, &loud));
		struct loudness before = level_of(quiet.samples, quiet.count, RATE_HZ);
		struct loudness after = level_of(loud.samples, loud.count, RATE_HZ);
		print_message("%6.2f and %6.2f LUFS, %6.2f dBTP: %s\n", before.lufs, after.lufs,
			      after.peak_dbtp, phrases[i]);
		assert_true(fabs(after.lufs - before.lufs) < 0.5);
		assert_true(after.peak_dbtp <= -1);
		assert_in_range(peak_of(&loud), 3000, 32000); /* never clipped */
		assert_int_equal(loud.count, quiet.count);
		check_edges(&loud, RATE_HZ);
		assert_true(share_above(&loud, 1500) > 1.2 * share_above(&quiet, 1500));
		assert_true(crest_db(&loud) < crest_db(&quiet));
		free(quiet.samples);
		free(loud.samples);
	}
	free(pcm.samples);
}

static void the_volume_is_in_percent_of_that(void **state)
{
	struct prompt half = make(phrases[0], RATE_HZ, 50, false);
	struct prompt loud = make(phrases[0], RATE_HZ, 200, false);
	struct loudness half_level = level_of(half.samples, half.count, RATE_HZ);
	struct loudness loud_level = level_of(loud.samples, loud.count, RATE_HZ);

	(void)state;
	assert_true(fabs(half_level.lufs - (PROMPT_LUFS - 6.02)) < 0.5);
	assert_true(loud_level.peak_dbtp < -1); /* louder, but never clipped */
	free(half.samples);
	free(loud.samples);
}

static void the_tone_is_no_louder_than_the_words(void **state)
{
	struct prompt prompt = make(phrases[0], RATE_HZ, 100, true);
	size_t tone = RATE_HZ * PROMPT_TONE_MS / 1000, gap = RATE_HZ * PROMPT_TONE_GAP_MS / 1000;
	struct loudness tone_level = level_of(prompt.samples, tone, RATE_HZ);
	struct loudness words_level =
		level_of(prompt.samples + tone + gap, prompt.count - tone - gap, RATE_HZ);

	(void)state;
	print_message("tone %.2f LUFS, words %.2f LUFS\n", tone_level.lufs, words_level.lufs);
	assert_true(tone_level.lufs < words_level.lufs);
	assert_true(tone_level.lufs > words_level.lufs - 15); /* but heard */
	assert_true(tone_level.peak_dbtp < words_level.peak_dbtp);
	for (size_t i = tone; i < tone + gap; i++)
		assert_int_equal(prompt.samples[i], 0);
	free(prompt.samples);
}

static void silence_is_no_prompt(void **state)
{
	const struct prompt_style style = {.rate_hz = RATE_HZ, .volume_percent = 100};
	int16_t zeros[1000] = {0};
	struct speech_pcm pcm = {.samples = zeros, .count = 1000};
	struct speech_pcm nothing = {0};
	struct prompt prompt = {0};

	(void)state;
	assert_false(prompt_make(&pcm, &style, &prompt));
	assert_false(prompt_make(&nothing, &style, &prompt));
	assert_null(prompt.samples);
}

static bool twice(void *owner)
{
	int *asked = owner;

	return ++*asked <= 2;
}

static void what_was_given_up_can_be_made_anew(void **state)
{
	const struct prompt_style style = {.rate_hz = RATE_HZ, .volume_percent = 100};
	struct speech_pcm pcm = {0};
	struct prompt prompt = {0};
	int asked = 0;

	(void)state;
	struct prompt whole = make(phrases[0], RATE_HZ, 100, false);
	pcm.checkpoint = (struct checkpoint){.keep_going = twice, .owner = &asked};
	assert_false(synth_speak(phrases[0], &pcm));
	assert_int_equal(asked, 3);
	pcm.checkpoint.keep_going = NULL;
	assert_true(synth_speak(phrases[0], &pcm));
	pcm.checkpoint.keep_going = twice;
	asked = 0;
	assert_false(prompt_make(&pcm, &style, &prompt));
	assert_null(prompt.samples);
	assert_int_equal(asked, 3);
	pcm.checkpoint.keep_going = NULL;
	assert_true(prompt_make(&pcm, &style, &prompt));
	/* The synthesiser's voice trembles on from one text to the next. */
	assert_in_range(prompt.count, whole.count - RATE_HZ / 100, whole.count + RATE_HZ / 100);
	free(prompt.samples);
	free(whole.samples);
	free(pcm.samples);
}

static void the_rate_is_words_a_minute(void **state)
{
	char *why = NULL;
	size_t counts[2];
	const int rates_wpm[] = {120, 240};

	(void)state;
	for (int i = 0; i < 2; i++) {
		assert_true(synth_open(SYNTH_VOICE, rates_wpm[i], &why));
		struct prompt prompt = make(phrases[0], RATE_HZ, 100, false);
		counts[i] = prompt.count;
		free(prompt.samples);
	}
	open_synth(state);
	double ratio = (double)counts[0] / (double)counts[1];
	assert_true(ratio > 1.6 && ratio < 2.6);
}

#define LISTS ": \"pullcall voices\" lists them"

static void a_missing_voice_is_named(void **state)
{
	static const struct {
		const char *voice;
		const char *why; /* NULL: it is there */
	} cases[] = {
		{"en-us", NULL},
		{"en-US+f2", NULL},
		{"de", NULL},
		{"en-gb", "espeak-ng has no voice \"en-gb\"" LISTS}, /* 1.51 calls it "en" */
		{"nobody", "espeak-ng has no voice \"nobody\"" LISTS},
		{"", "espeak-ng has no voice \"\"" LISTS},
		{"en-us+zz", "espeak-ng has no variant \"zz\", as in the voice \"en-us+zz\""},
		{"../../../etc/passwd", "espeak-ng has no voice \"../../../etc/passwd\"" LISTS},
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		char *why = NULL;
		bool good = synth_open(cases[i].voice, SYNTH_RATE_WPM, &why);
		if (good != !cases[i].why)
			fail_msg("%s: %s", cases[i].voice, why ? why : "taken");
		if (!good)
			assert_string_equal(why, cases[i].why);
		free(why);
	}
	open_synth(state);
}

static double loudness(int channels, double seconds, double hertz, double dbfs)
{
	ebur128_state *state = ebur128_init((unsigned)channels, RATE_HZ, EBUR128_MODE_I);
	double amplitude = pow(10, dbfs / 20), result = 0;
	float frame[2];

	for (int i = 0; i < (int)(seconds * RATE_HZ); i++) {
		frame[0] = frame[1] = (float)(amplitude * sin(2 * M_PI * hertz * i / RATE_HZ));
		ebur128_add_frames_float(state, frame, 1);
	}
	ebur128_loudness_global(state, &result);
	ebur128_destroy(&state);
	return result;
}

/* EBU Tech 3341, minimum requirements test signals 1 and 2, and the rule that one channel alone
 * counts 3 dB less: 20 s of 1 kHz. */
static void the_measure_agrees_with_ebu_tech_3341(void **state)
{
	float *samples = calloc(20 * RATE_HZ, sizeof *samples);
	struct loudness level;

	(void)state;
	assert_true(fabs(loudness(2, 20, 1000, -23) - -23.0) <= 0.1);
	assert_true(fabs(loudness(2, 20, 1000, -33) - -33.0) <= 0.1);
	for (int i = 0; i < 20 * RATE_HZ; i++)
		samples[i] = (float)(0.1 * sin(2 * M_PI * 1000 * i / RATE_HZ)); /* -20 dBFS */
	assert_true(loudness_measure(samples, 20 * RATE_HZ, RATE_HZ, &level));
	assert_true(fabs(level.lufs - -23.0) <= 0.1);
	assert_true(fabs(level.peak_dbtp - -20.0) <= 0.2);
	/* Too short to be measured by itself: as if it went on. */
	assert_true(loudness_measure(samples, RATE_HZ / 20, RATE_HZ, &level));
	assert_true(fabs(level.lufs - -23.0) <= 0.1);
	free(samples);
}

/* A true peak between two samples: 12 kHz at 48 kHz, 45 degrees off (EBU Tech 3341, signal 16). */
static void the_true_peak_is_seen(void **state)
{
	float samples[RATE_HZ];
	struct loudness level;

	(void)state;
	for (int i = 0; i < RATE_HZ; i++)
		samples[i] = (float)(0.5 * sin(2 * M_PI * i / 4 + M_PI / 4));
	assert_true(loudness_measure(samples, RATE_HZ, RATE_HZ, &level));
	assert_true(level.peak_dbtp > -6.4 && level.peak_dbtp < -5.8); /* samples say -9 */
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(the_measure_agrees_with_ebu_tech_3341),
		cmocka_unit_test(the_true_peak_is_seen),
		cmocka_unit_test(words_are_heard_at_once_and_whole),
		cmocka_unit_test(every_prompt_is_as_loud),
		cmocka_unit_test(a_loud_shop_changes_the_sound_not_the_loudness),
		cmocka_unit_test(the_volume_is_in_percent_of_that),
		cmocka_unit_test(the_tone_is_no_louder_than_the_words),
		cmocka_unit_test(silence_is_no_prompt),
		cmocka_unit_test(what_was_given_up_can_be_made_anew),
		cmocka_unit_test(the_rate_is_words_a_minute),
		cmocka_unit_test(a_missing_voice_is_named),
	};

	return cmocka_run_group_tests(tests, open_synth, NULL);
}
