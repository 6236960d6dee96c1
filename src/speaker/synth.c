#include "speaker/speaker.h"

#include "base/base.h"

#include <espeak-ng/speak_lib.h>
#include <stdlib.h>
#include <string.h>

static uint32_t rate_hz; /* 0: the library is not open */

/* The library calls this on the thread that called espeak_Synth, which waits for it. */
static int collect(short *samples, int count, espeak_EVENT *events)
{
	struct speech_pcm *pcm = events ? events->user_data : NULL;

	if (!samples || !pcm || count <= 0)
		return 0;
	size_t needed = pcm->count + (size_t)count;
	if (needed > (size_t)rate_hz * SYNTH_SECONDS_MAX)
		return 1; /* stop */
	if (!checkpoint_passed(&pcm->checkpoint)) {
		pcm->count = 0;
		return 1;
	}
	if (needed > pcm->capacity) {
		pcm->capacity = needed + rate_hz / 2;
		pcm->samples = memory_resize(pcm->samples, pcm->capacity, sizeof *pcm->samples);
	}
	memcpy(pcm->samples + pcm->count, samples, (size_t)count * sizeof *samples);
	pcm->count = needed;
	return 0;
}

static bool open_library(char **why)
{
	if (rate_hz)
		return true;
	/* DONT_EXIT: it would end the process when its data is missing. It may also return
	 * something that is no rate, and go on. */
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

uint32_t synth_rate_hz(void)
{
	return rate_hz;
}

bool synth_speak(const char *words, struct speech_pcm *pcm)
{
	pcm->count = 0;
	/* No espeakENDPAUSE: it adds 300 ms of silence. */
	espeak_ERROR error = espeak_Synth(words, strlen(words) + 1, 0, POS_CHARACTER, 0,
					  espeakCHARS_UTF8, NULL, pcm);
	return error == EE_OK && pcm->count > 0;
}

void speech_pcm_free(struct speech_pcm *pcm)
{
	free(pcm->samples);
	*pcm = (struct speech_pcm){0};
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
