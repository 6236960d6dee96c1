/* The voice as the daemon sees it: say this, and what became of it.
 *
 * Synthesis and playback live in another program, pullcall-speaker (see src/speaker). This room
 * starts it, watches that its sound really flows, kills and replaces it when it does not, and says
 * the current call again. Nothing in here blocks, sleeps or starts a thread, except speech_close.
 *
 * How to use it:
 *
 *     struct speech *speech = speech_open(&options, clock_steady_us());
 *     wait for speech_fd() to be readable, or for speech_deadline_us() to come; then
 *     speech_dispatch(speech, clock_steady_us());
 *     while (speech_next(speech, &event)) ...
 *
 * Do the latter two after every other call as well: what happens at once (with sound "none", say)
 * is reported in the same way, and the deadline may have moved.
 *
 * While the job is paused, speech_rest: the daemon is then not woken until something happens.
 */
#ifndef SPEECH_SPEECH_H
#define SPEECH_SPEECH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { SPEECH_TEXT_MAX = 1000, SPEECH_QUEUE_MAX = 4, SPEECH_PREPARED_MAX = 4 };

#define SPEECH_NEVER INT64_MAX

struct speech_options {
	const char *program; /* NULL: pullcall-speaker beside this program, else on PATH */
	const char *sound;   /* "auto", "device", "device:NAME", "wav:FILE", "none" */
	const char *voice;   /* NULL, 0: the speaker's own default */
	int rate_wpm;
	int volume_percent; /* 0: the default, 100; silence is the sound "none" */
	bool tone;          /* a short tone before the words */
	int sleep_s;        /* how long a rest lasts before the device is let go; 0: 180 */
};

enum speech_urgency {
	SPEECH_NOW,   /* cuts off what is being said, and forgets what waits */
	SPEECH_AFTER, /* when what is being said has ended */
};

enum speech_kind {
	SPEECH_READY,    /* sound flows. text: where to, and the rate */
	SPEECH_STARTED,  /* generation; at_us: steady time of the first sample handed to the device.
			    Comes again for the same generation if it had to be said again */
	SPEECH_FINISHED, /* generation: all its samples were handed over, or it was cut off, hushed
			    or pushed out. Comes once for each generation */
	SPEECH_LOST,     /* the voice is gone and being replaced. text: what happened */
	SPEECH_BACK,     /* after SPEECH_LOST or SPEECH_NO_SOUND: it speaks again. text as READY */
	SPEECH_NO_SOUND, /* no sound is possible now. text: why. Once for each outage; it is tried
			     again when the machine's sound devices change, and now and then */
	SPEECH_REFUSED,  /* what the options ask for cannot work (no such voice or device). Final;
			    text: what there is instead */
	SPEECH_TROUBLE,  /* text for the log */
};

struct speech_event {
	enum speech_kind kind;
	uint64_t generation; /* STARTED, FINISHED */
	int64_t at_us;       /* steady time */
	char text[SPEECH_TEXT_MAX];
};

struct speech;

/* Copies the options. Never NULL: what goes wrong is an event. */
struct speech *speech_open(const struct speech_options *options, int64_t now_us);

/* Lets the speaker fade out, waits for its end for up to half a second, kills it if need be. Wait
 * for SPEECH_FINISHED first if the last words matter. NULL is fine. */
void speech_close(struct speech *speech);

int speech_fd(const struct speech *speech); /* an epoll: poll it for reading */
int64_t speech_deadline_us(const struct speech *speech);
void speech_dispatch(struct speech *speech, int64_t now_us);
bool speech_next(struct speech *speech, struct speech_event *event);

/* Says text (UTF-8, words: see the speaker for what is spoken of it). Returns its generation: 1, 2,
 * 3 … Also ends a rest. SPEECH_AFTER with SPEECH_QUEUE_MAX waiting pushes out the oldest of them.
 */
uint64_t speech_say(struct speech *speech, const char *text, enum speech_urgency urgency,
		    int64_t now_us);

/* What will probably be said next, the likeliest first: at most SPEECH_PREPARED_MAX texts, which
 * are made ready while nothing more urgent is to be done, and then begin at once. They replace
 * those of before; SPEECH_NOW forgets them. */
void speech_prepare(struct speech *speech, const char *const texts[], size_t count);

/* Fades out what is being said and forgets what waits. */
void speech_hush(struct speech *speech, int64_t now_us);

/* Nothing will be said for a while: what is being said is finished, then beats stop, and after some
 * minutes the sound device is let go. speech_say ends the rest, speech_wake does too, in case the
 * device should be opened in advance. */
void speech_rest(struct speech *speech, int64_t now_us);
void speech_wake(struct speech *speech, int64_t now_us);

/* Sound flows (or none is wanted). */
bool speech_sounds(const struct speech *speech);

/* The words between the daemon and its speaker: one datagram a message over a SOCK_SEQPACKET pair.
 *
 * Down go orders, up go reports. Whatever is said carries a generation, a number that only grows: a
 * report about an older one than the last order is late and means nothing. The daemon's end closed
 * is the order to fade out and exit. Both ends belong to one
 * installation; the version catches an upgrade half-way. A message that is too short, too long, of
 * another version or with text that does not end is refused whole.
 */

enum { WIRE_VERSION = 1, WIRE_TEXT_MAX = 1000 /* with its terminator */ };

enum wire_kind {
	/* orders */
	WIRE_SAY = 1, /* generation, text: fade out what is being said and say this; nothing that
			 was to be made ready is any more */
	WIRE_PREPARE, /* generation, text: make it ready; from 0, its place in the list that
			 replaces what was to be made ready */
	WIRE_HUSH,    /* fade out what is being said */
	WIRE_REST,    /* nothing will be said for a while: no beats, and sleep after some minutes */
	WIRE_WAKE,    /* be ready to speak; WIRE_SAY wakes as well */
	/* reports */
	WIRE_READY,     /* sound flows. text: where to; rate_hz; at_us: when the sound began */
	WIRE_NO_DEVICE, /* text: why no sound can flow now; it may later */
	WIRE_REFUSED,   /* text: what was asked for that will never work; an exit follows */
	WIRE_STARTED,   /* generation; at_us: steady time the first sample was handed over */
	WIRE_FINISHED,  /* generation: its last sample was handed over */
	WIRE_BEAT,      /* beats: how often the sound device has asked for samples */
	WIRE_ASLEEP,    /* the stream is closed until something is said */
	WIRE_TROUBLE,   /* text for the log: a fault that the speaker could live with */
	WIRE_KIND_END,
};

struct wire_message {
	uint16_t version; /* wire_send fills it in */
	uint16_t kind;
	uint32_t rate_hz;
	uint64_t generation;
	uint64_t beats;
	int64_t at_us;
	char text[WIRE_TEXT_MAX];
};

enum wire_result {
	WIRE_DONE,
	WIRE_LATER,  /* nothing to read, or no room to write, now */
	WIRE_CLOSED, /* the other end is gone */
	WIRE_BAD,    /* what came is not a message; it was thrown away */
};

/* A pair of sockets, closed on exec. False with errno. */
bool wire_pair(int fds[2]);

/* Neither blocks, whatever the socket's mode. Only the used part of text travels. */
enum wire_result wire_send(int fd, const struct wire_message *message);
enum wire_result wire_receive(int fd, struct wire_message *message);

/* Copies text into a message's, cut at the end of a whole UTF-8 character where it does not fit. */
void wire_set_text(struct wire_message *message, const char *text);

#endif
