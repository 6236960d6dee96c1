/* Where the sound goes: a sound device, or a WAV file that is filled as time passes.
 *
 * A sink pulls: while it is started, it calls mixer_render from a thread of its own, one period at
 * a time, in real time. Both kinds run the same mixer code, so what the file holds is what a
 * person would have heard.
 */
#ifndef SPEAKER_SINK_H
#define SPEAKER_SINK_H

#include "speaker/mixer.h"

#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

/* The size of a period: 5.3 ms at 48 kHz. Smaller ones crackle on real hardware. */
enum { SINK_PERIOD_FRAMES = 256, SINK_NAME_MAX = 200 };

enum sink_result {
	SINK_OPEN,
	SINK_NO_DEVICE, /* not now */
	SINK_REFUSED,   /* never: no such name, no such file */
};

struct sink;

struct sink_kind {
	bool (*start)(struct sink *sink, char **why);
	void (*stop)(struct sink *sink);
	void (*close)(struct sink *sink);
};

struct sink {
	const struct sink_kind *kind;
	char name[SINK_NAME_MAX]; /* for people */
	uint32_t rate_hz;
	int hold_ms;      /* silence it needs before words, when just started */
	int latency_ms;   /* from here to the ear, about; known once started */
	int64_t began_us; /* the file's time zero; 0: a device */
	atomic_int error; /* errno of a write that failed; the sound goes on without */
	struct mixer *mixer;
};

/* sound: "auto", "device", "device:NAME" or "wav:FILE". NAME is a device's name or a part of just
 * one device's name. began_us: 0, or the time zero of a file that is to be gone on with. Anything
 * but SINK_OPEN comes with *why; the caller frees it. The sink is stopped at first. */
enum sink_result sink_open(const char *sound, int64_t began_us, struct mixer *mixer,
			   struct sink **sink, char **why);

/* False: it cannot; *why, the caller frees it. The mixer must have been opened at the rate. */
bool sink_start(struct sink *sink, char **why);

/* No callback runs any more when this returns; it may hang on a device that is lost. */
void sink_stop(struct sink *sink);
void sink_close(struct sink *sink);

/* One line a device that can play: name, rate. Returns their number. */
int sink_list_devices(FILE *out);

/* The kinds. */
enum sink_result sink_open_device(const char *name, struct mixer *mixer, struct sink **sink,
				  char **why);
enum sink_result sink_open_wav(const char *path, int64_t began_us, struct mixer *mixer,
			       struct sink **sink, char **why);

#endif
