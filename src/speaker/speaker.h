/* The speaker as the daemon's child: orders from the wire, reports back.
 *
 * One thread, one poll. It watches its own sound too, since the daemon does not while it rests: a
 * stream whose callback has stopped is past saving (see sink_stop), so the process ends and is
 * replaced.
 */
#ifndef SPEAKER_SPEAKER_H
#define SPEAKER_SPEAKER_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* A turn on a busy machine, in time for sound. Asked of the kernel, which grants it to root and to
 * users with a limit for it (RLIMIT_RTPRIO, RLIMIT_NICE); without it all works the same, if nothing
 * else keeps the processors busy. Measured with two processors and eight busy processes: callbacks
 * at most 430 ms apart without, 35 ms with it.
 */

/* For threads started between the two: real time, but never 0.2 s without a pause: the kernel ends
 * the process then. A callback that spins on a lost device must not take a processor with it. */
void hurry_begin(void);
void hurry_end(void);

/* For this thread and those it starts: before others of the ordinary kind. */
void hurry_thread(void);

/* Loudness as people hear it: ITU-R BS.1770 / EBU R 128, measured by libebur128. */

struct level {
	double lufs;      /* integrated, gated */
	double peak_dbtp; /* true peak */
};

/* One channel. Sound too short to be measured (a block is 400 ms) is measured as if it were
 * repeated. False: silence, or no memory. */
bool level_measure(const float *samples, size_t count, uint32_t rate_hz, struct level *level);

/* A factor for amplitudes from decibels. */
float level_factor(double db);

/* Making a prompt takes a slow machine long. Whoever makes one asks every few milliseconds whether
 * to go on; who waits uses the moment for signs of life.
 */

struct patience {
	bool (*go_on)(void *owner); /* false: give it up. NULL: never asked */
	void *owner;
};

static inline bool patience_lasts(const struct patience *patience)
{
	return !patience->go_on || patience->go_on(patience->owner);
}

/* Words to sound: espeak-ng. It keeps global state, so there is one synthesiser in a process, and
 * one thread that uses it. There is no closing it: version 1.51 can wait for its own thread for
 * ever then, and the end of the process does all that is needed. It may be opened again, with
 * another voice or rate.
 *
 * synth_open starts a thread inside the library: block the signals of this process first.
 */

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

/* A prompt: words ready to be played, at the device's rate and at one loudness.
 *
 * What the synthesiser made is trimmed of the silence around it, resampled, brought to PROMPT_LUFS
 * and given edges that do not click. The ready tone, where it is wanted, is part of the prompt.
 */

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

/* What the sound device is given to play: the code that runs in the audio callback.
 *
 * The owner hands over one cue at a time through one atomic pointer; the callback takes it at the
 * next period, fades out what it was playing and plays the new one. Nothing in mixer_render locks,
 * allocates, prints or enters the kernel.
 *
 * Who owns a cue: the owner, until mixer_play; the mixer, until `ended` is set or mixer_play or
 * mixer_reset gives it back. The prompt's samples live as long as the cue.
 */

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

/* Where the sound goes: a sound device, or a WAV file that is filled as time passes.
 *
 * A sink pulls: while it is started, it calls mixer_render from a thread of its own, one period at
 * a time, in real time. Both kinds run the same mixer code, so what the file holds is what a
 * person would have heard.
 */

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

/* Says words: synthesiser, prompts made ahead, mixer and sink put together. One thread uses it.
 *
 * Prompts are kept by their words, the last few of them, so that words that were prepared, or said
 * not long ago, start at once.
 */

struct player_options {
	const char *sound;
	const char *voice;
	int rate_wpm;
	int volume_percent;
	bool tone;
	int64_t began_us;         /* as for sink_open */
	struct patience patience; /* asked while a prompt is made; what is being said is made in any
				     case */
};

struct player;

/* Not started yet. The threads of the libraries take no signals. Anything but SINK_OPEN comes with
 * *why; the caller frees it. */
enum sink_result player_open(const struct player_options *options, struct player **player,
			     char **why);
void player_close(struct player *player);

/* Opens the stream, or closes it. */
bool player_start(struct player *player, char **why);
void player_stop(struct player *player);

/* Cuts off what is being said, and forgets what is not yet ready. False: there is nothing in text
 * that can be said. */
bool player_say(struct player *player, const char *text, uint64_t generation);
void player_hush(struct player *player);

/* Text will probably be said; player_make_ready makes one of them ready, in their order. What it
 * gives up it begins anew the next time. */
void player_prepare(struct player *player, const char *text);
void player_forget_prepared(struct player *player);
bool player_has_work(const struct player *player);
void player_make_ready(struct player *player);

/* What became of the last that was said, and asked just once. */
bool player_started(struct player *player, int64_t *at_us);
bool player_finished(struct player *player);

bool player_is_busy(const struct player *player);    /* one of the two is to come */
bool player_is_started(const struct player *player); /* it was reported */

uint64_t player_generation(const struct player *player);
uint64_t player_beats(struct player *player);
const struct sink *player_sink(const struct player *player);

enum { SERVICE_SLEEP_S = 180 };

/* Until the wire is closed or the sound is lost. sleep_s: how long a rest lasts before the device
 * is let go. Returns the process's exit code. */
int service_run(int wire, const struct player_options *options, int sleep_s);

/* --- What reaches the synthesiser ---
 *
 * Letters, digits and the marks that shape a sentence; any other character becomes a space, and no
 * word is longer than a real one. espeak-ng 1.51 also reads phonemes in brackets, markup and
 * symbols, and overflows that were found in that reading are mended only in later versions. A
 * phrasebook writes numbers out; digits are kept for `pullcall say`.
 */

enum { SPOKEN_MAX = 800 /* bytes, with the terminator */, WORD_LETTERS_MAX = 40 };

/* False: nothing is left that could be heard. */
bool spoken_text(const char *text, char spoken[static SPOKEN_MAX]);

#endif
