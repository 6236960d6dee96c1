/* The program pullcall-speaker: words in, sound out.
 *
 *   player.c   says texts
 *   synth.c    words to sound: what is spoken, espeak-ng, a shop's own recordings
 *   prompt.c   sound ready to be played: trimmed, shaped for noise, at one loudness, resampled
 *   sink.c     where it goes: a sound device or a WAV file
 *   mixer.c    what the sound device is given: runs in the audio callback
 *
 * Each calls only files further down. One thread does everything but the audio callback, which a
 * library (or the WAV file's sink) calls from its own. A text *why that a function returns is freed
 * by the caller.
 */
#ifndef SPEAKER_SPEAKER_H
#define SPEAKER_SPEAKER_H

#include "speech/speech.h"

#include <stdatomic.h>

/* ---- Checkpoints: making a prompt takes a slow machine long ----
 *
 * Whoever makes one calls keep_going every few milliseconds, and gives up if it returns false. The
 * other side uses the call for signs of life.
 */

struct checkpoint {
	bool (*keep_going)(void *owner); /* NULL: always true */
	void *owner;
};

static inline bool checkpoint_passed(const struct checkpoint *checkpoint)
{
	return !checkpoint->keep_going || checkpoint->keep_going(checkpoint->owner);
}

/* ---- synth: what is spoken ----
 *
 * Letters, digits and the marks that shape a sentence; any other character becomes a space, and no
 * word is longer than a real one. espeak-ng 1.51 also reads phonemes in brackets, markup and
 * symbols, and overflows that were found in that reading are mended only in later versions. A
 * phrasebook writes numbers out; digits are kept for `pullcall say`.
 */

enum { SPOKEN_MAX = 800 /* bytes, with the terminator */, WORD_LETTERS_MAX = 40 };

/* False: nothing is left that could be heard. */
bool spoken_text(const char *text, char spoken[static SPOKEN_MAX]);

/* ---- synth: espeak-ng ----
 *
 * It has global state, so there is one in a process and one thread that uses it. It is never
 * closed: version 1.51 may then wait for its own thread for ever, and the end of the process does
 * all that is needed. It may be opened again with another voice or rate.
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

/* One channel, as the synthesiser made it. A zeroed struct is empty and has no checkpoint. */
struct speech_pcm {
	struct checkpoint checkpoint; /* while it, or a prompt of it, is made */
	uint32_t rate_hz;
	int16_t *samples; /* freed with free() */
	size_t count;
	size_t capacity;
};

/* Starts a thread inside the library. False: *why says what is missing. */
bool synth_open(const char *voice, int rate_wpm, char **why);

/* Replaces pcm's samples. False if the synthesiser reports a fault, or the checkpoint gave up. */
bool synth_speak(const char *words, struct speech_pcm *pcm);

/* One line a voice: name, language, description. Needs no synth_open. False as for that. */
bool synth_list(FILE *out, char **why);

/* ---- synth: a shop's own voice ----
 *
 * A folder of WAV files, each named by its words: "main.wav", "leave a loop.wav". Where a text has
 * them, the longest such file is heard, and what is not recorded is synthesised. All parts are
 * brought to one loudness.
 */

struct recording;

/* NULL with *why if the folder cannot be read. It is read once. */
struct recording *recordings_open(const char *folder, char **why);
void recordings_free(struct recording *recordings); /* NULL is fine */

/* As synth_speak. */
bool recordings_speak(const struct recording *recordings, const char *words,
		      struct speech_pcm *pcm);

/* ---- prompt: loudness as people hear it, ITU-R BS.1770 / EBU R 128, by libebur128 ---- */

struct loudness {
	double lufs;      /* integrated, gated */
	double peak_dbtp; /* true peak */
};

/* One channel. Under a second it is measured as if repeated. False: silence, or no memory. */
bool loudness_measure(const float *samples, size_t count, uint32_t rate_hz,
		      struct loudness *loudness);

/* Brings samples to a loudness, or to one softer by as much as the peak would be too high. */
bool set_loudness(float *samples, size_t count, uint32_t rate_hz, double lufs, double peak_dbtp);

/* ---- prompt: words ready to be played, at the device's rate and at one loudness ----
 *
 * The silence around the words is trimmed, the edges are softened so that they do not click. The
 * tone, where it is wanted, is part of the prompt.
 */

/* EBU R 128 asks broadcasters for -23; a shop is noisy, and speech has few peaks. */
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
	int16_t *samples; /* one channel; freed with free() */
	size_t count;
};

struct prompt_style {
	uint32_t rate_hz;   /* of the device */
	int volume_percent; /* 100: PROMPT_LUFS */
	bool tone;
	bool loud; /* the shop: the words are shaped for noise */
};

/* False: nothing in pcm can be heard, it cannot be resampled, or its checkpoint gave up. */
bool prompt_make(const struct speech_pcm *pcm, const struct prompt_style *style,
		 struct prompt *prompt);

/* The part of pcm that is heard, with a little around it. False: there is none. */
bool prompt_trim(const struct speech_pcm *pcm, size_t *first, size_t *end);

/* New samples behind room for `head` others, *made with those. NULL: a fault, or it gave up. */
float *resample(const float *in, size_t count, double ratio, size_t head,
		const struct checkpoint *checkpoint, size_t *made);

/* ---- mixer: the code that runs in the audio callback ----
 *
 * The owner hands over one cue at a time through one atomic pointer; the callback takes it at the
 * next period, fades out what it was playing and plays the new one. Nothing in mixer_render locks,
 * allocates, prints or enters the kernel.
 *
 * A cue is the owner's until mixer_play, then the mixer's until `ended` is set or mixer_play or
 * mixer_reset gives it back. The prompt's samples must live as long.
 */

enum { MIXER_FADE_MS = 5 }; /* from one prompt into the next: no click, and hardly noticed */

struct cue {
	struct prompt prompt; /* without samples: silence, to cut off what is being said */
	uint64_t generation;
	_Atomic int64_t started_us; /* steady time of the first sample; 0: not yet */
	atomic_bool ended;          /* played to the end, or faded out */
};

struct mixer {
	_Atomic(struct cue *) next;
	atomic_uint_fast64_t beats; /* calls of mixer_render */

	/* Used by the callback alone. */
	struct cue *playing;
	struct cue *leaving; /* being faded out */
	size_t playing_at;
	size_t leaving_at;
	size_t fade_at;     /* of fade_frames; at the end: no fade */
	size_t hold_frames; /* silence to play before anything else */
	size_t fade_frames;
};

/* Before a stream is started, the first time (with the struct zeroed) or again; beats go on.
 * hold_ms: how much silence a device needs before it is awake. */
void mixer_open(struct mixer *mixer, uint32_t rate_hz, int hold_ms);

/* Gives cue to the callback. Returns the previous cue if it was never taken, or NULL. */
struct cue *mixer_play(struct mixer *mixer, struct cue *cue);

/* The callback: count frames of `channels` equal samples. now_us: steady time. */
void mixer_render(struct mixer *mixer, int16_t *frames, size_t count, int channels, int64_t now_us);

/* After the stream is closed: marks every cue that the mixer holds as ended. */
void mixer_reset(struct mixer *mixer);

/* ---- sink: a sound device, or a WAV file that fills as time passes ----
 *
 * A started sink calls mixer_render from a thread of its own, one period at a time, in real time.
 * Both kinds run the same mixer, so the file holds what a person would have heard.
 */

/* A period: 5.3 ms at 48 kHz. Smaller ones crackle on real hardware. */
enum { SINK_PERIOD_FRAMES = 256, SINK_NAME_MAX = 200 };

enum sink_result {
	SINK_OPEN,
	SINK_NO_DEVICE, /* not now */
	SINK_REFUSED,   /* never: no such name, no such file */
};

struct sink {
	/* The mixer must have been opened at rate_hz. False: *why. */
	bool (*start)(struct sink *sink, char **why);
	/* Returns once no callback runs; may hang on a lost device. Harmless if not started. */
	void (*stop)(struct sink *sink);
	void (*close)(struct sink *sink); /* stop it first */

	char name[SINK_NAME_MAX]; /* for people */
	uint32_t rate_hz;
	int hold_ms;      /* silence it needs before words, when just started */
	int latency_ms;   /* roughly, from here to the ear; known once started */
	int64_t began_us; /* steady time of the file's first frame; 0: a device */
	atomic_int error; /* errno of a write that failed; the sound goes on without it */
	struct mixer *mixer;
};

/* Not started yet. Any other result than SINK_OPEN comes with *why. sound: "auto" or "device", the
 * default device; "device:NAME", a device's name or a part of just one device's name; "wav:FILE".
 * began_us: 0, or that of a file to go on with. */
enum sink_result sink_open(const char *sound, int64_t began_us, struct mixer *mixer,
			   struct sink **sink, char **why);

/* One line a device that can play. Returns their number. */
int sink_list_devices(FILE *out);

/* ---- player: the parts put together ----
 *
 * It keeps the last few prompts by their words, so that words that were prepared, or said not long
 * ago, start at once.
 */

struct player_options {
	const char *sound; /* as for sink_open, like began_us */
	const char *voice;
	const char *recorded; /* a folder; NULL: none */
	int rate_wpm;
	struct prompt_style style; /* its rate is the sink's */
	int64_t began_us;
	/* While a prompt is made. What is being said is made even if it says to give up. */
	struct checkpoint checkpoint;
};

enum {
	PLAYER_KEPT = 8, /* prompts: the current one, those prepared, those of the press before */
	PLAYER_CUES = 4, /* the callback holds two, one waits for it, one is being filled */
};

/* A prompt by its words and style. */
struct kept {
	char *words;
	struct prompt_style style;
	struct prompt prompt;
	uint64_t used; /* the count of uses when it was used last; 0: it is empty */
};

/* Only the functions below write, but for loud and volume in the style: for later prompts. */
struct player {
	struct prompt_style style;
	struct speech_pcm pcm;
	struct recording *recordings; /* NULL: all is synthesised */
	struct sink *sink;
	struct mixer mixer;
	struct kept kept[PLAYER_KEPT];
	uint64_t uses;
	char *ahead[SPEECH_PREPARED_MAX]; /* to be made ready, in this order */
	size_t ahead_count;
	struct checkpoint checkpoint;
	bool may_give_up;
	bool gave_up;
	struct cue cues[PLAYER_CUES];
	struct cue *said; /* the last one, until both its reports are made */
	bool told_start;  /* the first of them is */
};

/* Not started yet. Results as of a sink. */
enum sink_result player_open(const struct player_options *options, struct player **opened,
			     char **why);
void player_close(struct player *player);

/* Opens the stream, and closes it. */
bool player_start(struct player *player, char **why);
void player_stop(struct player *player);

/* Cuts off what is being said, and drops what was to be made ready. False: nothing in text can be
 * said; silence starts and ends in its place. */
bool player_say(struct player *player, const char *text, uint64_t generation);
void player_hush(struct player *player);

/* Text will probably be said. player_make_ready makes the first such text ready; one that it gives
 * up it begins anew the next time. */
void player_prepare(struct player *player, const char *text);
void player_forget_prepared(struct player *player);
void player_make_ready(struct player *player);

/* Whether the last thing said has started, has ended: each true just once. */
bool player_started(struct player *player, int64_t *at_us);
bool player_finished(struct player *player);

#endif
