#include "speaker/speaker.h"

#include "base/base.h"

#include <math.h>
#include <samplerate.h>
#include <stdlib.h>
#include <string.h>

/* Frames resampled between two checkpoints: a tenth of a second of sound, which takes the slowest
 * machine a few hundredths. */
enum { PART_FRAMES = 2205 };

/* Sound below a hundredth of the loudest sample is not part of a word. */
enum { SILENCE_PARTS = 100 };

static int loudest(const struct speech_pcm *pcm)
{
	int peak = 0;

	for (size_t i = 0; i < pcm->count; i++)
		if (abs(pcm->samples[i]) > peak)
			peak = abs(pcm->samples[i]);
	return peak;
}

bool prompt_trim(const struct speech_pcm *pcm, uint32_t rate_hz, size_t *first, size_t *end)
{
	int silence = loudest(pcm) / SILENCE_PARTS;
	size_t lead = (size_t)rate_hz * PROMPT_LEAD_MS / 1000;
	size_t tail = (size_t)rate_hz * PROMPT_TAIL_MS / 1000;
	size_t from = 0, to = pcm->count;

	while (from < to && abs(pcm->samples[from]) <= silence)
		from++;
	while (to > from && abs(pcm->samples[to - 1]) <= silence)
		to--;
	*first = from > lead ? from - lead : 0;
	*end = to + tail < pcm->count ? to + tail : pcm->count;
	return from < to;
}

/* Rises or falls over a few samples, so that an edge is no click. */
static void soften(float *samples, size_t count, uint32_t rate_hz)
{
	size_t edge = (size_t)rate_hz * PROMPT_LEAD_MS / 1000;

	if (edge > count / 2)
		edge = count / 2;
	for (size_t i = 0; i < edge; i++) {
		float gain = 0.5F - 0.5F * cosf((float)M_PI * (float)i / (float)edge);
		samples[i] *= gain;
		samples[count - 1 - i] *= gain;
	}
}

/* What brings the words to the loudness wanted; 0: they cannot be heard. */
static float words_gain(const float *samples, size_t count, uint32_t rate_hz, int volume_percent)
{
	struct loudness loudness;

	if (!loudness_measure(samples, count, rate_hz, &loudness))
		return 0;
	double wanted_db = PROMPT_LUFS - loudness.lufs + 20 * log10(volume_percent / 100.0);
	double room_db = PROMPT_PEAK_DBTP - loudness.peak_dbtp;
	return gain_from_db(wanted_db < room_db ? wanted_db : room_db);
}

/* The part of pcm between first and end at the loudness wanted. NULL: it cannot be heard. */
static float *make_words(const struct speech_pcm *pcm, size_t first, size_t end, uint32_t rate_hz,
			 const struct prompt_style *style)
{
	size_t count = end - first;
	float *words = memory_new(count, sizeof *words);

	src_short_to_float_array(pcm->samples + first, words, (int)count);
	if (style->loud)
		shape_for_noise(words, count, rate_hz);
	soften(words, count, rate_hz);
	float gain = words_gain(words, count, rate_hz, style->volume_percent);
	for (size_t i = 0; i < count; i++)
		words[i] *= gain;
	if (gain > 0)
		return words;
	free(words);
	return NULL;
}

/* Returns how many frames went into out; 0 after a fault, or if the checkpoint gave up. */
static size_t resample(const float *in, size_t count, double ratio, float *out, size_t room,
		       const struct checkpoint *checkpoint)
{
	int error;
	SRC_STATE *state = src_new(SRC_SINC_FASTEST, 1, &error);
	SRC_DATA part = {
		.data_in = in, .data_out = out, .output_frames = (long)room, .src_ratio = ratio};
	bool good = state, more = good;

	while (good && more) {
		long left = (long)count - (part.data_in - in);
		part.input_frames = left < PART_FRAMES ? left : PART_FRAMES;
		part.end_of_input = part.input_frames == left;
		good = src_process(state, &part) == 0;
		more = part.input_frames_used > 0 || part.output_frames_gen > 0;
		part.data_in += part.input_frames_used;
		part.data_out += part.output_frames_gen;
		part.output_frames -= part.output_frames_gen;
		if (good && more)
			good = checkpoint_passed(checkpoint);
	}
	src_delete(state);
	return good ? (size_t)(part.data_out - out) : 0;
}

static void make_tone(float *samples, size_t count, const struct prompt_style *style)
{
	const float pi = (float)M_PI;
	struct loudness loudness;

	if (count == 0)
		return;
	for (size_t i = 0; i < count; i++) {
		float seconds = (float)i / (float)style->rate_hz;
		samples[i] = sinf(2 * pi * PROMPT_TONE_HZ * seconds) *
			     sinf(pi * (float)i / (float)count);
	}
	float gain = (float)style->volume_percent / 100;
	if (loudness_measure(samples, count, style->rate_hz, &loudness))
		gain *= gain_from_db(PROMPT_TONE_LUFS - loudness.lufs);
	for (size_t i = 0; i < count; i++)
		samples[i] *= gain;
}

bool prompt_make(const struct speech_pcm *pcm, uint32_t pcm_rate_hz,
		 const struct prompt_style *style, struct prompt *prompt)
{
	size_t first, end;
	size_t tone = style->tone ? (size_t)style->rate_hz * PROMPT_TONE_MS / 1000 : 0;
	size_t gap = style->tone ? (size_t)style->rate_hz * PROMPT_TONE_GAP_MS / 1000 : 0;
	double ratio = (double)style->rate_hz / pcm_rate_hz;

	if (!prompt_trim(pcm, pcm_rate_hz, &first, &end))
		return false;
	float *words = make_words(pcm, first, end, pcm_rate_hz, style);
	if (!words)
		return false;
	size_t room = (size_t)ceil((double)(end - first) * ratio) + 1;
	float *all = memory_new(tone + gap + room, sizeof *all);
	make_tone(all, tone, style);
	size_t made = resample(words, end - first, ratio, all + tone + gap, room, &pcm->checkpoint);
	free(words);
	if (made > 0) {
		prompt->count = tone + gap + made;
		prompt->samples = memory_new(prompt->count, sizeof *prompt->samples);
		src_float_to_short_array(all, prompt->samples, (int)prompt->count);
	}
	free(all);
	return made > 0;
}

void prompt_free(struct prompt *prompt)
{
	free(prompt->samples);
	*prompt = (struct prompt){0};
}
