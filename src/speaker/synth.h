/* Words to sound: espeak-ng. It keeps global state, so there is one synthesiser in a process, and
 * one thread that uses it. There is no closing it: version 1.51 can wait for its own thread for
 * ever then, and the end of the process does all that is needed. It may be opened again, with
 * another voice or rate.
 *
 * synth_open starts a thread inside the library: block the signals of this process first.
 */
#ifndef SPEAKER_SYNTH_H
#define SPEAKER_SYNTH_H

#include "speaker/patience.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* Chosen by a recogniser (tests/speaker/understood.py): of 60 calls it had en-us+f2 right in 60 at
 * 140 to 200 words a minute, en-us+f3 in 59, en-us alone in 32, en-us+m7 in 15. */
#define SYNTH_VOICE "en-us+f2"
enum {
	SYNTH_RATE_WPM = 165,
	SYNTH_RATE_MIN_WPM = 80, /* espeak-ng's own limits */
	SYNTH_RATE_MAX_WPM = 450,
	SYNTH_SECONDS_MAX = 60,
};

/* One channel, as the synthesiser made it. A zeroed struct is empty, and asks nobody. */
struct speech_pcm {
	struct patience patience; /* asked while it, or a prompt of it, is made */
	int16_t *samples;
	size_t count;
	size_t capacity;
};

/* False: *why says what is missing; the caller frees it. */
bool synth_open(const char *voice, int rate_wpm, char **why);
uint32_t synth_rate_hz(void);

/* Replaces pcm's contents by the words. False if the synthesiser reports a fault, or patience
 * ended.
 */
bool synth_speak(const char *words, struct speech_pcm *pcm);
void speech_pcm_free(struct speech_pcm *pcm);

/* One line a voice: the name to ask for it by, its language, its description. No voice needs to be
 * open. False as for synth_open. */
bool synth_list(FILE *out, char **why);

#endif
