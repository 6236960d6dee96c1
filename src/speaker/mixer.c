/* What runs in the audio callback: one cue played while the one before it fades out. */
#include "speaker/speaker.h"

#include <math.h>

void mixer_open(struct mixer *mixer, uint32_t rate_hz, int hold_ms)
{
	mixer->hold_frames = (size_t)rate_hz * (size_t)hold_ms / 1000;
	mixer->fade_frames = (size_t)rate_hz * MIXER_FADE_MS / 1000;
	mixer->fade_at = mixer->fade_frames;
}

struct cue *mixer_play(struct mixer *mixer, struct cue *cue)
{
	return atomic_exchange_explicit(&mixer->next, cue, memory_order_acq_rel);
}

static void end(struct cue **cue)
{
	if (*cue)
		atomic_store_explicit(&(*cue)->ended, true, memory_order_release);
	*cue = NULL;
}

/* A fade is always let to its end: a cue that comes during one waits for those milliseconds. */
static void take_next(struct mixer *mixer, int64_t now_us)
{
	if (mixer->hold_frames > 0 || mixer->fade_at < mixer->fade_frames)
		return;
	struct cue *next = atomic_exchange_explicit(&mixer->next, NULL, memory_order_acq_rel);
	if (!next)
		return;
	if (mixer->playing) {
		mixer->leaving = mixer->playing;
		mixer->leaving_at = mixer->playing_at;
		mixer->fade_at = 0;
	}
	mixer->playing = next;
	mixer->playing_at = 0;
	atomic_store_explicit(&next->started_us, now_us, memory_order_release);
}

static float next_sample(struct cue **cue, size_t *at)
{
	if (!*cue)
		return 0;
	float sample = *at < (*cue)->prompt.count ? (*cue)->prompt.samples[*at] : 0;
	if (++*at >= (*cue)->prompt.count)
		end(cue);
	return sample;
}

/* The two gains add up to one: two prompts together are never louder than the louder of them. */
static float mixed_sample(struct mixer *mixer)
{
	if (mixer->fade_at >= mixer->fade_frames)
		return next_sample(&mixer->playing, &mixer->playing_at);
	float gain = 1 - (float)++mixer->fade_at / (float)mixer->fade_frames;
	float old = next_sample(&mixer->leaving, &mixer->leaving_at);
	float next = next_sample(&mixer->playing, &mixer->playing_at);
	if (mixer->fade_at == mixer->fade_frames)
		end(&mixer->leaving);
	return old * gain + next * (1 - gain);
}

void mixer_render(struct mixer *mixer, int16_t *frames, size_t count, int channels, int64_t now_us)
{
	atomic_fetch_add_explicit(&mixer->beats, 1, memory_order_relaxed);
	take_next(mixer, now_us);
	for (size_t i = 0; i < count; i++) {
		int16_t sample = (int16_t)lrintf(mixed_sample(mixer));
		for (int channel = 0; channel < channels; channel++)
			*frames++ = sample;
	}
	mixer->hold_frames -= mixer->hold_frames < count ? mixer->hold_frames : count;
}

void mixer_reset(struct mixer *mixer)
{
	struct cue *next = atomic_exchange_explicit(&mixer->next, NULL, memory_order_acq_rel);

	end(&next);
	end(&mixer->playing);
	end(&mixer->leaving);
	mixer->fade_at = mixer->fade_frames;
}
