/* A prompt: words ready to be played, at the device's rate and at one loudness.
 *
 * What the synthesiser made is trimmed of the silence around it, resampled, brought to PROMPT_LUFS
 * and given edges that do not click. The ready tone, where it is wanted, is part of the prompt.
 */
#ifndef SPEAKER_PROMPT_H
#define SPEAKER_PROMPT_H

#include "speaker/synth.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* EBU R 128 asks broadcasters for -23; a bench has noise, and speech has few peaks. A prompt whose
 * true peak would go above PROMPT_PEAK_DBTP stays that much softer. */
#define PROMPT_LUFS      (-20.5)
#define PROMPT_PEAK_DBTP (-1.5)
#define PROMPT_TONE_LUFS (-26.5)

enum {
	PROMPT_LEAD_MS = 1, /* kept before the first sound */
	PROMPT_TAIL_MS = 20,
	PROMPT_TONE_MS = 60,
	PROMPT_TONE_HZ = 880,
	PROMPT_TONE_GAP_MS = 40,
};

struct prompt {
	int16_t *samples; /* one channel */
	size_t count;
};

struct prompt_style {
	uint32_t rate_hz;   /* of the device */
	int volume_percent; /* 100: PROMPT_LUFS */
	bool tone;
};

/* False: there is nothing to be heard in pcm, it cannot be resampled, or its patience ended. */
bool prompt_make(const struct speech_pcm *pcm, uint32_t pcm_rate_hz,
		 const struct prompt_style *style, struct prompt *prompt);
void prompt_free(struct prompt *prompt);

#endif
