/* A shop's own recordings, in place of the synthesiser: whole sentences or words. */
#include "speaker/speaker.h"

#include "base/base.h"

#include <ctype.h>
#include <dirent.h>
#include <math.h>
#include <samplerate.h>
#include <sndfile.h>
#include <stdlib.h>
#include <string.h>

/* Parts are brought to one loudness before they are joined; prompt_make sets that of the whole. */
#define PART_LUFS (-23.0)

/* Between words. */
#define MARKS " ,.?-"

enum { PAUSE_MS = 40, COMMA_MS = 180, STOP_MS = 350 };

struct recording {
	char *words; /* " main seven left " */
	char *path;
};

struct recordings {
	struct recording *items;
	int count;
};

/* Words as they are compared: small letters, one space around each. */
static char *plain_words(const char *text, size_t length)
{
	struct text plain = {0};

	text_add_char(&plain, ' ');
	for (size_t i = 0; i < length; i++) {
		bool part = (unsigned char)text[i] >= 0x80 || isalnum((unsigned char)text[i]) ||
			    text[i] == '\'';
		if (part)
			text_add_char(&plain, (char)tolower((unsigned char)text[i]));
		else if (plain.bytes[plain.length - 1] != ' ')
			text_add_char(&plain, ' ');
	}
	if (plain.bytes[plain.length - 1] != ' ')
		text_add_char(&plain, ' ');
	return text_take(&plain);
}

static int is_wav(const struct dirent *entry)
{
	size_t length = strlen(entry->d_name);

	return length > 4 && strcmp(entry->d_name + length - 4, ".wav") == 0;
}

struct recordings *recordings_open(const char *folder, char **why)
{
	struct dirent **entries;
	int count = scandir(folder, &entries, is_wav, alphasort);

	if (count < 0) {
		*why = memory_format("the folder of recordings cannot be read: %s", folder);
		return NULL;
	}
	struct recordings *recordings = memory_new(1, sizeof *recordings);
	recordings->items = memory_new((size_t)count + 1, sizeof *recordings->items);
	for (int i = 0; i < count; i++) {
		const char *name = entries[i]->d_name;
		recordings->items[recordings->count++] = (struct recording){
			plain_words(name, strlen(name) - 4), memory_format("%s/%s", folder, name)};
		free(entries[i]);
	}
	free(entries);
	return recordings;
}

void recordings_free(struct recordings *recordings)
{
	for (int i = 0; recordings && i < recordings->count; i++) {
		free(recordings->items[i].words);
		free(recordings->items[i].path);
	}
	free(recordings ? recordings->items : NULL);
	free(recordings);
}

/* Adds what can be heard of a part, at the loudness of all parts, and silence behind it. */
static void add_part(struct speech_pcm *pcm, const struct speech_pcm *part, int pause_ms)
{
	size_t first, end, silence = (size_t)synth_rate_hz() * (size_t)pause_ms / 1000;
	struct loudness loudness;

	if (!prompt_trim(part, synth_rate_hz(), &first, &end))
		return;
	float *samples = memory_new(end - first, sizeof *samples);
	src_short_to_float_array(part->samples + first, samples, (int)(end - first));
	float gain = 0;
	if (loudness_measure(samples, end - first, synth_rate_hz(), &loudness))
		gain = gain_from_db(fmin(PART_LUFS - loudness.lufs, -1 - loudness.peak_dbtp));
	for (size_t i = 0; i < end - first; i++)
		samples[i] *= gain;
	pcm->capacity = pcm->count + end - first + silence;
	pcm->samples = memory_resize(pcm->samples, pcm->capacity, sizeof *pcm->samples);
	src_float_to_short_array(samples, pcm->samples + pcm->count, (int)(end - first));
	memset(pcm->samples + pcm->capacity - silence, 0, silence * sizeof *pcm->samples);
	pcm->count = pcm->capacity;
	free(samples);
}

/* The first channel of a file, at the synthesiser's rate. */
static bool read_recording(const char *path, struct speech_pcm *out)
{
	SF_INFO info = {0};
	SNDFILE *file = sf_open(path, SFM_READ, &info);
	sf_count_t most = (sf_count_t)info.samplerate * SYNTH_SECONDS_MAX;

	if (!file)
		return false;
	size_t frames = (size_t)(info.frames < most ? info.frames : most);
	size_t channels = (size_t)info.channels;
	double ratio = (double)synth_rate_hz() / info.samplerate;
	size_t room = (size_t)ceil((double)frames * ratio) + 1;
	float *in = memory_new(frames * channels + 1, sizeof *in);
	float *resampled = memory_new(room, sizeof *resampled);
	frames = (size_t)sf_readf_float(file, in, (sf_count_t)frames);
	for (size_t i = 0; i < frames; i++)
		in[i] = in[i * channels];
	SRC_DATA data = {.data_in = in,
			 .data_out = resampled,
			 .input_frames = (long)frames,
			 .output_frames = (long)room,
			 .src_ratio = ratio};
	bool good = src_simple(&data, SRC_SINC_FASTEST, 1) == 0;
	if (good) {
		out->count = (size_t)data.output_frames_gen;
		out->capacity = room;
		out->samples = memory_resize(out->samples, room, sizeof *out->samples);
		src_float_to_short_array(resampled, out->samples, (int)out->count);
	}
	free(in);
	free(resampled);
	sf_close(file);
	return good;
}

static bool synthesise(const char *words, size_t length, struct speech_pcm *out)
{
	char *part = memory_copy_part(words, length);
	bool good = synth_speak(part, out);

	free(part);
	return good;
}

/* The recording that has the most of the words that `at` begins with; *end is behind them. */
static const struct recording *longest(const struct recordings *recordings, const char *at,
				       const char **end)
{
	const struct recording *found = NULL;

	for (const char *to = at; *to;) {
		to += strcspn(to + strspn(to, MARKS), MARKS) + strspn(to, MARKS);
		char *words = plain_words(at, (size_t)(to - at));
		for (int i = 0; i < recordings->count; i++) {
			if (strcmp(recordings->items[i].words, words) == 0) {
				found = &recordings->items[i];
				*end = to;
			}
		}
		free(words);
	}
	return found;
}

static int pause_at(const char *at)
{
	return *at == ',' ? COMMA_MS : *at == '.' || *at == '?' ? STOP_MS : PAUSE_MS;
}

bool recordings_speak(const struct recordings *recordings, const char *words,
		      struct speech_pcm *pcm)
{
	struct speech_pcm part = {.checkpoint = pcm->checkpoint};
	bool good = true;
	const char *rest = words; /* what is to be synthesised begins here */

	pcm->count = 0;
	for (const char *at = words; good && *rest;) {
		const char *end = at;
		const struct recording *recording = longest(recordings, at, &end);
		if (at > rest && (recording || !*at)) {
			good = synthesise(rest, (size_t)(at - rest), &part);
			add_part(pcm, &part, PAUSE_MS);
			rest = at;
		} else if (recording) {
			good = read_recording(recording->path, &part) ||
			       synthesise(at, (size_t)(end - at), &part);
			add_part(pcm, &part, pause_at(end));
			rest = at = end + strspn(end, MARKS);
		} else {
			at += strcspn(at, MARKS);
			at += strspn(at, MARKS);
		}
	}
	speech_pcm_free(&part);
	return good && pcm->count > 0;
}
