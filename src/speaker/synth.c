/* From a text to sound: what of it is spoken, the synthesiser, and a shop's own recordings. */
#include "speaker/speaker.h"

#include <ctype.h>
#include <dirent.h>
#include <espeak-ng/speak_lib.h>
#include <samplerate.h>
#include <sndfile.h>
#include <stdlib.h>
#include <string.h>

/* ---- What is spoken ---- */

enum { CHARACTER_BYTES_MAX = 4 };

static bool is_spoken(uint32_t point)
{
	return utf8_is_letter(point) || (point >= '0' && point <= '9');
}

bool spoken_text(const char *text, char spoken[static SPOKEN_MAX])
{
	size_t length = 0;
	int letters = 0; /* of the word being written */
	bool heard = false;

	while (*text && length + CHARACTER_BYTES_MAX + 1 < SPOKEN_MAX) {
		const char *from = text;
		uint32_t point = utf8_next(&text);
		bool mark = point < 0x80 && strchr(".,;:!?'-", (int)point);
		bool kept = mark || is_spoken(point);

		if (!kept || ++letters > WORD_LETTERS_MAX) {
			if (length > 0 && spoken[length - 1] != ' ')
				spoken[length++] = ' ';
			letters = kept;
		}
		if (!kept)
			continue;
		memcpy(spoken + length, from, (size_t)(text - from));
		length += (size_t)(text - from);
		heard |= is_spoken(point);
	}
	spoken[length] = '\0';
	return heard;
}

/* ---- The synthesiser ---- */

static uint32_t rate_hz; /* 0: the library is not open */

/* Adds room for count samples, which the caller fills in. */
static int16_t *add_samples(struct speech_pcm *pcm, size_t count)
{
	pcm->count += count;
	if (pcm->count > pcm->capacity) {
		pcm->capacity = pcm->count + rate_hz / 2;
		pcm->samples = memory_resize(pcm->samples, pcm->capacity, sizeof *pcm->samples);
	}
	return pcm->samples + pcm->count - count;
}

/* The library calls this on the thread that called espeak_Synth, which waits for it. */
static int collect(short *samples, int count, espeak_EVENT *events)
{
	struct speech_pcm *pcm = events ? events->user_data : NULL;

	if (!samples || !pcm || count <= 0)
		return 0;
	if (pcm->count + (size_t)count > (size_t)rate_hz * SYNTH_SECONDS_MAX)
		return 1; /* stop */
	if (!checkpoint_passed(&pcm->checkpoint)) {
		pcm->count = 0;
		return 1;
	}
	memcpy(add_samples(pcm, (size_t)count), samples, (size_t)count * sizeof *samples);
	return 0;
}

static bool open_library(char **why)
{
	if (rate_hz)
		return true;
	/* DONT_EXIT: it would end the process without its data. It may also return no rate. */
	int rate = espeak_Initialize(AUDIO_OUTPUT_SYNCHRONOUS, 0, NULL, espeakINITIALIZE_DONT_EXIT);

	if (rate < 8000 || rate > 192000) {
		*why = memory_format("the data of espeak-ng cannot be read (espeak_Initialize: %d)",
				     rate);
		return false;
	}
	rate_hz = (uint32_t)rate;
	espeak_SetSynthCallback(collect);
	return true;
}

/* The last part of a voice's path: the name its file has, which always works as a name. */
static const char *stem(const char *identifier)
{
	const char *slash = strrchr(identifier, '/');

	return slash ? slash + 1 : identifier;
}

static const espeak_VOICE **list_variants(void)
{
	espeak_VOICE wanted = {.languages = "variant"};

	return espeak_ListVoices(&wanted);
}

/* The library takes a variant it does not know for none, without a word. */
static bool variant_exists(const char *name)
{
	const espeak_VOICE **voices = list_variants();

	for (size_t i = 0; voices && voices[i]; i++)
		if (strcmp(stem(voices[i]->identifier), name) == 0)
			return true;
	return false;
}

static bool set_voice(const char *voice, char **why)
{
	const char *plus = strchr(voice, '+');

	if (plus && !variant_exists(plus + 1)) {
		*why = memory_format("espeak-ng has no variant \"%s\", as in the voice \"%s\"",
				     plus + 1, voice);
		return false;
	}
	espeak_ERROR error = espeak_SetVoiceByName(voice);
	if (error != EE_OK)
		*why = memory_format("espeak-ng has no voice \"%s\": \"pullcall voices\" lists "
				     "them",
				     voice);
	return error == EE_OK;
}

bool synth_open(const char *voice, int rate_wpm, char **why)
{
	if (!open_library(why) || !set_voice(voice, why))
		return false;
	espeak_ERROR error = espeak_SetParameter(espeakRATE, rate_wpm, 0);
	if (error != EE_OK)
		*why = memory_format("espeak-ng refuses %d words a minute", rate_wpm);
	return error == EE_OK;
}

bool synth_speak(const char *words, struct speech_pcm *pcm)
{
	pcm->rate_hz = rate_hz;
	pcm->count = 0;
	/* No espeakENDPAUSE: it adds 300 ms of silence. */
	espeak_ERROR error = espeak_Synth(words, strlen(words) + 1, 0, POS_CHARACTER, 0,
					  espeakCHARS_UTF8, NULL, pcm);
	return error == EE_OK && pcm->count > 0;
}

bool synth_list(FILE *out, char **why)
{
	if (!open_library(why))
		return false;
	const espeak_VOICE **voices = espeak_ListVoices(NULL);
	for (size_t i = 0; voices && voices[i]; i++)
		/* The first byte of languages is a priority. */
		fprintf(out, "%-20s %-16s %s\n", stem(voices[i]->identifier),
			voices[i]->languages + 1, voices[i]->name);
	voices = list_variants();
	fprintf(out, "\nWith a voice, as in %s, any of:", SYNTH_VOICE);
	for (size_t i = 0; voices && voices[i]; i++)
		fprintf(out, "%s+%s", i % 10 ? " " : "\n", stem(voices[i]->identifier));
	fputc('\n', out);
	return true;
}

/* ---- A shop's own recordings: whole sentences or words ---- */

/* Parts are brought to one loudness before they are joined; prompt_make sets that of the whole. */
#define PART_LUFS      (-23.0)
#define PART_PEAK_DBTP (-1.0)

/* Between words. */
#define MARKS " ,.?-"

enum { PAUSE_MS = 40, COMMA_MS = 180, STOP_MS = 350 };

struct recording {
	char *words; /* " main seven left " */
	char *path;
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

struct recording *recordings_open(const char *folder, char **why)
{
	struct dirent **entries;
	int count = scandir(folder, &entries, is_wav, alphasort);

	if (count < 0) {
		*why = memory_format("the folder of recordings cannot be read: %s", folder);
		return NULL;
	}
	struct recording *recordings = memory_new((size_t)count + 1, sizeof *recordings);
	for (int i = 0; i < count; i++) {
		const char *name = entries[i]->d_name;
		recordings[i].words = plain_words(name, strlen(name) - 4);
		recordings[i].path = memory_format("%s/%s", folder, name);
		free(entries[i]);
	}
	free(entries);
	return recordings;
}

void recordings_free(struct recording *recordings)
{
	for (struct recording *at = recordings; at && at->words; at++) {
		free(at->words);
		free(at->path);
	}
	free(recordings);
}

/* Adds what can be heard of a part, at the loudness of all parts, and silence behind it. */
static void add_part(struct speech_pcm *pcm, const struct speech_pcm *part, int pause_ms)
{
	size_t first, end, silence = (size_t)rate_hz * (size_t)pause_ms / 1000;

	if (!prompt_trim(part, &first, &end))
		return;
	size_t count = end - first;
	float *samples = memory_new(count, sizeof *samples);
	src_short_to_float_array(part->samples + first, samples, (int)count);
	set_loudness(samples, count, rate_hz, PART_LUFS, PART_PEAK_DBTP);
	src_float_to_short_array(samples, add_samples(pcm, count), (int)count);
	memset(add_samples(pcm, silence), 0, silence * sizeof *pcm->samples);
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
	size_t frames = (size_t)(info.frames < most ? info.frames : most), made;
	size_t channels = (size_t)info.channels;
	float *in = memory_new(frames * channels + 1, sizeof *in);
	frames = (size_t)sf_readf_float(file, in, (sf_count_t)frames);
	sf_close(file);
	for (size_t i = 0; i < frames; i++)
		in[i] = in[i * channels];
	float *resampled =
		resample(in, frames, (double)rate_hz / info.samplerate, 0, &out->checkpoint, &made);
	free(in);
	if (!resampled)
		return false;
	out->rate_hz = rate_hz;
	out->count = 0;
	src_float_to_short_array(resampled, add_samples(out, made), (int)made);
	free(resampled);
	return true;
}

static bool synthesise(const char *words, size_t length, struct speech_pcm *out)
{
	char *part = memory_copy_part(words, length);
	bool good = synth_speak(part, out);

	free(part);
	return good;
}

/* The recording that has the most of the words that `at` begins with; *end is behind them. */
static const struct recording *longest(const struct recording *recordings, const char *at,
				       const char **end)
{
	const struct recording *found = NULL;

	for (const char *to = at; *to;) {
		to += strcspn(to + strspn(to, MARKS), MARKS) + strspn(to, MARKS);
		char *words = plain_words(at, (size_t)(to - at));
		for (const struct recording *one = recordings; one->words; one++) {
			if (strcmp(one->words, words) == 0) {
				found = one;
				*end = to;
			}
		}
		free(words);
	}
	return found;
}

bool recordings_speak(const struct recording *recordings, const char *words, struct speech_pcm *pcm)
{
	struct speech_pcm part = {.checkpoint = pcm->checkpoint};
	bool good = true;
	const char *rest = words; /* what is to be synthesised begins here */

	pcm->rate_hz = rate_hz;
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
			bool stops = *end == '.' || *end == '?';
			add_part(pcm, &part, *end == ',' ? COMMA_MS : stops ? STOP_MS : PAUSE_MS);
			rest = at = end + strspn(end, MARKS);
		} else {
			at += strcspn(at, MARKS);
			at += strspn(at, MARKS);
		}
	}
	free(part.samples);
	return good && pcm->count > 0;
}
