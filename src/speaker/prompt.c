#include "speaker/prompt.h"

#include "base/memory.h"
#include "speaker/level.h"

#include <math.h>
#include <samplerate.h>
#include <stdlib.h>
#include <string.h>

/* Sound at a hundredth of the loudest sample is the noise of a closing mouth, and no word. */
enum { SILENCE_PARTS = 100 };

static int16_t loudest(const struct speech_pcm *pcm)
{
	int peak = 0;

	for (size_t i = 0; i < pcm->count; i++)
		if (abs(pcm->samples[i]) > peak)
			peak = abs(pcm->samples[i]);
	return (int16_t)(peak > INT16_MAX ? INT16_MAX : peak);
}

/* The part of pcm that is heard, with a little around it. False: there is none. */
static bool trim(const struct speech_pcm *pcm, uint32_t rate_hz, size_t *first, size_t *end)
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

static float *resample(const int16_t *samples, size_t count, double ratio, size_t *made)
{
	size_t room = (size_t)ceil((double)count * ratio) + 16;
	float *in = memory_new(count, sizeof *in);
	float *out = memory_new(room, sizeof *out);
	SRC_DATA data = {
		.data_in = in,
		.data_out = out,
		.input_frames = (long)count,
		.output_frames = (long)room,
		.src_ratio = ratio,
	};

	src_short_to_float_array(samples, in, (int)count);
	int error = src_simple(&data, SRC_SINC_FASTEST, 1);
	free(in);
	if (error || data.output_frames_gen <= 0) {
		free(out);
		return NULL;
	}
	*made = (size_t)data.output_frames_gen;
	return out;
}

static void add_tone(float *samples, size_t count, uint32_t rate_hz)
{
	struct level level;

	for (size_t i = 0; i < count; i++)
		samples[i] = sinf(2 * (float)M_PI * PROMPT_TONE_HZ * (float)i / (float)rate_hz) *
			     sinf((float)M_PI * (float)i / (float)count);
	if (!level_measure(samples, count, rate_hz, &level))
		level.lufs = 0;
	float gain = level_factor(PROMPT_TONE_LUFS - level.lufs);
	for (size_t i = 0; i < count; i++)
		samples[i] *= gain;
}

static float words_gain(const float *samples, size_t count, const struct prompt_style *style)
{
	struct level level;

	if (!level_measure(samples, count, style->rate_hz, &level))
		return 0;
	double wanted_db = PROMPT_LUFS - level.lufs + 20 * log10(style->volume_percent / 100.0);
	double room_db = PROMPT_PEAK_DBTP - level.peak_dbtp;
	return level_factor(wanted_db < room_db ? wanted_db : room_db);
}

bool prompt_make(const struct speech_pcm *pcm, uint32_t pcm_rate_hz,
		 const struct prompt_style *style, struct prompt *prompt)
{
	size_t first, end, made = 0;
	size_t tone = style->tone ? (size_t)style->rate_hz * PROMPT_TONE_MS / 1000 : 0;
	size_t gap = style->tone ? (size_t)style->rate_hz * PROMPT_TONE_GAP_MS / 1000 : 0;

	if (!trim(pcm, pcm_rate_hz, &first, &end))
		return false;
	float *words = resample(pcm->samples + first, end - first,
				(double)style->rate_hz / pcm_rate_hz, &made);
	if (!words)
		return false;
	soften(words, made, style->rate_hz);
	float gain = words_gain(words, made, style);
	float *all = memory_new(tone + gap + made, sizeof *all);
	add_tone(all, tone, style->rate_hz);
	for (size_t i = 0; i < tone; i++)
		all[i] *= (float)style->volume_percent / 100.0F;
	for (size_t i = 0; i < made; i++)
		all[tone + gap + i] = words[i] * gain;
	prompt->count = tone + gap + made;
	prompt->samples = memory_new(prompt->count, sizeof *prompt->samples);
	src_float_to_short_array(all, prompt->samples, (int)prompt->count);
	free(words);
	free(all);
	return gain > 0;
}

void prompt_free(struct prompt *prompt)
{
	free(prompt->samples);
	*prompt = (struct prompt){0};
}
