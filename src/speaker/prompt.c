/* Sound ready to be played: trimmed, at one loudness, resampled, and in a loud shop shaped. */
#include "speaker/speaker.h"

#include <ebur128.h>
#include <math.h>
#include <samplerate.h>
#include <stdlib.h>

enum {
	/* Between two checkpoints: 0.1 s of sound, some hundredths on the slowest machine. */
	PART_FRAMES = 2205,
	SILENCE_PARTS =
		100, /* sound below a hundredth of the loudest sample is no part of a word */
};

/* ---- Loudness ---- */

bool loudness_measure(const float *samples, size_t count, uint32_t rate_hz,
		      struct loudness *loudness)
{
	ebur128_state *state = ebur128_init(1, rate_hz, EBUR128_MODE_I | EBUR128_MODE_TRUE_PEAK);
	size_t times = count ? (size_t)rate_hz / count + 1 : 0;
	double peak = 0;

	if (!state)
		return false;
	bool good = count > 0;
	for (size_t i = 0; good && i < times; i++)
		good = ebur128_add_frames_float(state, samples, count) == EBUR128_SUCCESS;
	good = good && ebur128_loudness_global(state, &loudness->lufs) == EBUR128_SUCCESS &&
	       ebur128_true_peak(state, 0, &peak) == EBUR128_SUCCESS;
	ebur128_destroy(&state);
	loudness->peak_dbtp = 20 * log10(peak);
	return good && isfinite(loudness->lufs) && isfinite(loudness->peak_dbtp);
}

static float gain_from_db(double db)
{
	return (float)pow(10, db / 20);
}

bool set_loudness(float *samples, size_t count, uint32_t rate_hz, double lufs, double peak_dbtp)
{
	struct loudness loudness;

	if (!loudness_measure(samples, count, rate_hz, &loudness))
		return false;
	float gain = gain_from_db(fmin(lufs - loudness.lufs, peak_dbtp - loudness.peak_dbtp));
	for (size_t i = 0; i < count; i++)
		samples[i] *= gain;
	return true;
}

/* ---- Words that noise covers less, at the loudness that they have anyway ----
 *
 * First the spectrum: low sounds, which carry much of the level and little of the words, are turned
 * down, and the range of consonants is turned up. Then the dynamic range: soft sounds come nearer
 * to loud ones. In people, such a chain lowered the level at which speech in noise is understood by
 * about 4 dB at equal power (Schepker, Rennies & Doclo 2015, J. Acoust. Soc. Am. 138(5):2692;
 * Zorila, Kandia & Stylianou 2012, Interspeech). The settings are chosen by a recogniser
 * (tests/phrase/heard_in_noise.py), which is no proof about people. It had no more calls right with
 * 6, 7, 12 or 15 dB in the shelf, a gentler compression (3), a slower release (50, 80 ms), a
 * quicker attack (2 ms) or onsets let through, and, without noise, fewer when sounds below soft_db
 * were brought up too.
 *
 * The filters are second-order sections by the formulas of R. Bristow-Johnson's audio EQ cookbook
 * (published by the W3C as a note of its Web Audio group).
 */

static const double highpass_hz = 150, shelf_hz = 1500, shelf_db = 9, shelf_slope = 0.7;
static const double compression = 5, soft_db = -25, attack_s = 0.005, release_s = 0.03;
static const double peak_ratio = 4, limit_s = 0.002;

/* Transfer function of a section. */
struct biquad {
	double b0, b1, b2, a0, a1, a2;
};

static struct biquad highpass(double rate_hz)
{
	double w = 2 * M_PI * highpass_hz / rate_hz;
	double alpha = sin(w) * M_SQRT1_2; /* Q of 1 / sqrt 2: Butterworth */

	return (struct biquad){(1 + cos(w)) / 2, -(1 + cos(w)), (1 + cos(w)) / 2,
			       1 + alpha,        -2 * cos(w),   1 - alpha};
}

static struct biquad high_shelf(double rate_hz)
{
	double a = pow(10, shelf_db / 40);
	double w = 2 * M_PI * shelf_hz / rate_hz;
	double alpha = sin(w) / 2 * sqrt((a + 1 / a) * (1 / shelf_slope - 1) + 2);
	double slope = 2 * sqrt(a) * alpha;
	double plus = a + 1, minus = a - 1, c = cos(w);

	return (struct biquad){a * (plus + minus * c + slope), -2 * a * (minus + plus * c),
			       a * (plus + minus * c - slope), plus - minus * c + slope,
			       2 * (minus - plus * c),         plus - minus * c - slope};
}

/* Transposed direct form II. */
static void filter(struct biquad q, float *samples, size_t count)
{
	double z1 = 0, z2 = 0;

	for (size_t i = 0; i < count; i++) {
		double in = samples[i], out = (q.b0 * in + z1) / q.a0;
		z1 = q.b1 * in - q.a1 * out + z2;
		z2 = q.b2 * in - q.a2 * out;
		samples[i] = (float)out;
	}
}

/* The root mean square. */
static double mean_level(const float *samples, size_t count)
{
	double sum = 0;

	for (size_t i = 0; i < count; i++)
		sum += (double)samples[i] * samples[i];
	return sqrt(sum / (double)count);
}

/* A level L dB above or below that of the words becomes L / compression; softer than soft_db, gain
 * stays the same, so that noise does not rise. The envelope is read an attack's length ahead, so
 * that the gain is down when a loud sound begins. */
static void compress(float *samples, size_t count, double rate_hz)
{
	double words = mean_level(samples, count);
	double attack = exp(-1 / (attack_s * rate_hz)), release = exp(-1 / (release_s * rate_hz));
	size_t ahead = (size_t)(attack_s * rate_hz);
	double envelope = 0;

	if (words == 0)
		return;
	float *gains = memory_new(count + ahead, sizeof *gains);
	for (size_t i = 0; i < count + ahead; i++) {
		double level = i < count ? fabs((double)samples[i]) / words : 0;
		double kept = level > envelope ? attack : release;
		envelope = kept * envelope + (1 - kept) * level;
		double level_db = fmax(20 * log10(envelope + 1e-9), soft_db);
		gains[i] = gain_from_db(level_db / compression - level_db);
	}
	for (size_t i = 0; i < count; i++)
		samples[i] *= gains[i + ahead];
	free(gains);
}

/* Turns sound down around samples too far above the words: no peak keeps the whole prompt soft. */
static void limit(float *samples, size_t count, double rate_hz)
{
	double highest = peak_ratio * mean_level(samples, count);
	size_t around = (size_t)(limit_s * rate_hz);

	for (size_t i = 0; i < count; i++) {
		double peak = fabs((double)samples[i]);
		if (peak <= highest)
			continue;
		double depth = 1 - highest / peak;
		size_t end = i + around < count ? i + around : count - 1;
		for (size_t k = i > around ? i - around : 0; k <= end; k++) {
			double distance = ((double)k - (double)i) / (double)around;
			samples[k] *= (float)(1 - depth * (1 + cos(M_PI * distance)) / 2);
		}
	}
}

/* Changes their loudness, not their length. */
static void shape_for_noise(float *samples, size_t count, uint32_t rate_hz)
{
	filter(highpass(rate_hz), samples, count);
	filter(high_shelf(rate_hz), samples, count);
	compress(samples, count, rate_hz);
	limit(samples, count, rate_hz);
}

/* ---- Prompts ---- */

static int loudest(const struct speech_pcm *pcm)
{
	int peak = 0;

	for (size_t i = 0; i < pcm->count; i++)
		if (abs(pcm->samples[i]) > peak)
			peak = abs(pcm->samples[i]);
	return peak;
}

bool prompt_trim(const struct speech_pcm *pcm, size_t *first, size_t *end)
{
	int silence = loudest(pcm) / SILENCE_PARTS;
	size_t lead = (size_t)pcm->rate_hz * PROMPT_LEAD_MS / 1000;
	size_t tail = (size_t)pcm->rate_hz * PROMPT_TAIL_MS / 1000;
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

float *resample(const float *in, size_t count, double ratio, size_t head,
		const struct checkpoint *checkpoint, size_t *made)
{
	size_t room = (size_t)ceil((double)count * ratio) + 1;
	float *out = memory_new(head + room, sizeof *out);
	SRC_STATE *state = src_new(SRC_SINC_FASTEST, 1, &(int){0});
	SRC_DATA part = {.data_in = in,
			 .data_out = out + head,
			 .output_frames = (long)room,
			 .src_ratio = ratio};
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
	*made = (size_t)(part.data_out - out);
	if (good && *made > head)
		return out;
	free(out);
	return NULL;
}

static void make_tone(float *samples, size_t count, uint32_t rate_hz, double volume_db)
{
	const float pi = (float)M_PI;

	for (size_t i = 0; i < count; i++) {
		float seconds = (float)i / (float)rate_hz;
		samples[i] = sinf(2 * pi * PROMPT_TONE_HZ * seconds) *
			     sinf(pi * (float)i / (float)count);
	}
	set_loudness(samples, count, rate_hz, PROMPT_TONE_LUFS + volume_db, PROMPT_PEAK_DBTP);
}

bool prompt_make(const struct speech_pcm *pcm, const struct prompt_style *style,
		 struct prompt *prompt)
{
	size_t first, end, made;
	size_t tone = style->tone ? (size_t)style->rate_hz * PROMPT_TONE_MS / 1000 : 0;
	size_t gap = style->tone ? (size_t)style->rate_hz * PROMPT_TONE_GAP_MS / 1000 : 0;
	double volume_db = 20 * log10(style->volume_percent / 100.0);

	if (!prompt_trim(pcm, &first, &end))
		return false;
	size_t count = end - first;
	float *words = memory_new(count, sizeof *words), *all = NULL;
	src_short_to_float_array(pcm->samples + first, words, (int)count);
	if (style->loud)
		shape_for_noise(words, count, pcm->rate_hz);
	soften(words, count, pcm->rate_hz);
	if (set_loudness(words, count, pcm->rate_hz, PROMPT_LUFS + volume_db, PROMPT_PEAK_DBTP))
		all = resample(words, count, (double)style->rate_hz / pcm->rate_hz, tone + gap,
			       &pcm->checkpoint, &made);
	free(words);
	if (!all)
		return false;
	make_tone(all, tone, style->rate_hz, volume_db);
	*prompt = (struct prompt){memory_new(made, sizeof *prompt->samples), made};
	src_float_to_short_array(all, prompt->samples, (int)made);
	free(all);
	return true;
}
