/* What the sound device is given to play: the code that runs in the audio callback.
 *
 * The owner hands over one cue at a time through one atomic pointer; the callback takes it at the
 * next period, fades out what it was playing and plays the new one. Nothing in mixer_render locks,
 * allocates, prints or enters the kernel.
 *
 * Who owns a cue: the owner, until mixer_play; the mixer, until `ended` is set or mixer_play or
 * mixer_reset gives it back. The prompt's samples live as long as the cue.
 */
#ifndef SPEAKER_MIXER_H
#define SPEAKER_MIXER_H

#include "speaker/prompt.h"

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
	MIXER_FADE_MS = 5, /* one prompt into the next: no click, and gone before it is noticed */
	MIXER_RATE_MAX_HZ = 192000,
	MIXER_FADE_MAX = MIXER_RATE_MAX_HZ * MIXER_FADE_MS / 1000,
};

struct cue {
	struct prompt prompt;       /* of no samples: silence, to cut off what is said */
	uint64_t generation;        /* the owner's */
	_Atomic int64_t started_us; /* steady time of the first sample; 0: not yet */
	atomic_bool ended;          /* played to the end, or faded out */
};

struct mixer {
	_Atomic(struct cue *) next;
	atomic_uint_fast64_t beats; /* calls of mixer_render */

	/* The callback's own. */
	struct cue *playing;
	struct cue *leaving; /* being faded out */
	size_t playing_at;
	size_t leaving_at;
	size_t fade_at;     /* of fade_frames; at the end: no fade */
	size_t hold_frames; /* silence that must be played before anything else */
	size_t fade_frames;
	float fade[MIXER_FADE_MAX]; /* from 1 down to 0 */
};

/* Before a stream is started, the first time (with the struct zeroed) or again; beats go on.
 * hold_ms: how much silence a device needs before it is awake. */
void mixer_open(struct mixer *mixer, uint32_t rate_hz, int hold_ms);

/* Gives cue to the callback. Returns a cue that it never took, or NULL. */
struct cue *mixer_play(struct mixer *mixer, struct cue *cue);

/* The callback: count frames of `channels` equal samples. now_us: steady time. */
void mixer_render(struct mixer *mixer, int16_t *frames, size_t count, int channels, int64_t now_us);

/* The stream is closed, no callback runs: marks everything that it held as ended. */
void mixer_reset(struct mixer *mixer);

#endif
