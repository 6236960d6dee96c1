/* The voice as the daemon sees it: say this, and report what became of it.
 *
 * Synthesis and playback are in another program, pullcall-speaker (src/speaker), because their
 * libraries may end their process or hang for ever. This room starts it, watches that its sound
 * flows, kills and replaces it when it does not, and has it say the current call again. Nothing in
 * here blocks or starts a thread, except speech_close.
 *
 *     struct speech *speech = speech_open(&options, clock_steady_us());
 *     wait until speech_fd() is readable or speech_deadline_us() has come, then
 *     speech_dispatch(speech, clock_steady_us());
 *     while (speech_next(speech, &event)) ...
 *
 * Read events and deadline after every other call as well: with the sound "none", say, things
 * happen at once. While the job is paused, speech_rest lets the daemon sleep undisturbed.
 */
#ifndef SPEECH_SPEECH_H
#define SPEECH_SPEECH_H

#include "base/base.h"

enum {
	SPEECH_TEXT_MAX = 1000,  /* bytes, with the terminator */
	SPEECH_QUEUE_MAX = 4,    /* texts that wait */
	SPEECH_PREPARED_MAX = 4, /* texts */
	SPEECH_VOLUME_MAX = 200, /* percent */
};

#define SPEECH_NEVER INT64_MAX /* a deadline */

struct speech_options {
	const char *program;  /* as for path_become; NULL: pullcall-speaker */
	const char *sound;    /* "auto", "device", "device:NAME", "wav:FILE", "none" */
	const char *voice;    /* NULL: the speaker's default */
	const char *recorded; /* folder of a shop's own recordings; NULL: none */
	int rate_wpm;         /* words a minute; 0: the speaker's default */
	int volume_percent;   /* at most SPEECH_VOLUME_MAX; 0: 100 */
	bool tone;            /* a short tone before the words */
	bool loud;            /* the shop: the words are shaped to be heard in noise */
	int sleep_s;          /* rest after which the device is closed; 0: 180 */
};

enum speech_urgency {
	SPEECH_NOW,   /* cuts off what is being said, and drops what waits */
	SPEECH_NEXT,  /* drops what waits, and waits until what is being said has ended */
	SPEECH_AFTER, /* waits until all that is being said or waits has ended */
};

enum speech_kind {
	SPEECH_READY,    /* sound flows. text: the device or file, and the rate */
	SPEECH_STARTED,  /* generation; at_us: when the device got the first sample. Comes again if
			    the words had to be said again */
	SPEECH_FINISHED, /* generation: all is said, or it was cut off, hushed or dropped. Comes
			    once for each generation */
	SPEECH_LOST,     /* the voice is gone and being replaced. text: what happened */
	SPEECH_BACK,     /* after SPEECH_LOST or SPEECH_NO_SOUND it speaks again. text as READY */
	SPEECH_NO_SOUND, /* no sound is possible now. text: why. Once for each outage; tried again
			     when the machine's sound devices change, and now and then */
	SPEECH_REFUSED,  /* there is no such voice or device. Final. text: what there is instead */
	SPEECH_TROUBLE,  /* text for the log */
};

struct speech_event {
	enum speech_kind kind;
	uint64_t generation; /* STARTED, FINISHED: what speech_say returned */
	int64_t at_us;       /* steady time */
	char text[SPEECH_TEXT_MAX];
};

struct speech;

/* Copies the options. Never NULL: failures are events. */
struct speech *speech_open(const struct speech_options *options, int64_t now_us);

/* Lets the speaker fade out, waits up to half a second for its end, then kills it. Wait for
 * SPEECH_FINISHED first if the last words matter. NULL is fine. */
void speech_close(struct speech *speech);

/* The sound is "none": nothing that is said is heard. */
bool speech_is_silent(const struct speech *speech);

int speech_fd(const struct speech *speech); /* an epoll */
int64_t speech_deadline_us(const struct speech *speech);

/* Does what is due. All times are steady. */
void speech_dispatch(struct speech *speech, int64_t now_us);

/* Takes the oldest event; false: there is none. */
bool speech_next(struct speech *speech, struct speech_event *event);

/* Says text (UTF-8; the speaker says letters, digits and marks). Returns its generation: 1, 2, 3 …
 * Ends a rest. If SPEECH_QUEUE_MAX texts wait, SPEECH_AFTER drops the oldest of them. */
uint64_t speech_say(struct speech *speech, const char *text, enum speech_urgency urgency,
		    int64_t now_us);

/* What will probably be said next, the likeliest first: synthesised when nothing is more urgent,
 * these texts begin at once when said. They replace the previous ones; SPEECH_NOW drops them. */
void speech_prepare(struct speech *speech, const char *const texts[], size_t count);

/* The shop has become loud, or quiet: what is said from now on is made for that. */
void speech_set_loud(struct speech *speech, bool loud, int64_t now_us);

/* The volume of what is said from now on, 1 to SPEECH_VOLUME_MAX. */
void speech_set_volume(struct speech *speech, int percent, int64_t now_us);

/* Fades out what is being said, and drops what waits. */
void speech_hush(struct speech *speech, int64_t now_us);

/* Nothing will be said for a while: what is being said is finished, then the speaker stops
 * reporting, and after some minutes closes the sound device. speech_say ends the rest; so does
 * speech_wake, to open the device in advance. */
void speech_rest(struct speech *speech, int64_t now_us);
void speech_wake(struct speech *speech, int64_t now_us);

/* ---- The wire between daemon and speaker ----
 *
 * One datagram a message, over a SOCK_SEQPACKET pair; orders go down, reports come up. Each order
 * to say something has a generation, a number that only grows; a report about an older one is late
 * and is ignored. Closing the daemon's end is the order to fade out and exit. Both ends are of one
 * installation; the version catches an upgrade half-way. A message that is too short, too long, of
 * another version, or whose text does not end is refused whole.
 */

enum { WIRE_VERSION = 5, WIRE_TEXT_MAX = 1000 /* with its terminator */ };

enum wire_kind {
	/* orders */
	WIRE_SAY = 1, /* generation, text: fade out what is being said, drop what was to be made
			 ready, say this */
	WIRE_PREPARE, /* text: make it ready; generation: its index in a list that replaces the
			 previous one at index 0 */
	WIRE_HUSH,    /* fade out what is being said */
	WIRE_SHOP, /* generation: 1, make prompts for a loud shop from now on; 0, for a quiet one */
	WIRE_VOLUME, /* generation: the volume in percent, from now on */
	WIRE_REST,   /* nothing will be said for a while: no beats, and sleep after some minutes */
	WIRE_WAKE,   /* be ready to speak; WIRE_SAY wakes as well */
	/* reports */
	WIRE_READY,     /* sound flows. text: where to, and the rate; at_us: when the sound began */
	WIRE_NO_DEVICE, /* text: why no sound can flow now; it may later */
	WIRE_REFUSED,   /* text: what was asked for that will never work; an exit follows */
	WIRE_STARTED,   /* generation; at_us: steady time the first sample was handed over */
	WIRE_FINISHED,  /* generation: its last sample was handed over */
	WIRE_BEAT,      /* the sound device has asked for samples since the last one */
	WIRE_TROUBLE,   /* text for the log: a fault that the speaker survived */
	WIRE_KIND_END,
};

struct wire_message {
	uint16_t version; /* filled in by wire_send */
	uint16_t kind;
	uint64_t generation;
	int64_t at_us;
	char text[WIRE_TEXT_MAX];
};

enum wire_result {
	WIRE_DONE,
	WIRE_LATER,  /* nothing to read, or no room to write, now */
	WIRE_CLOSED, /* the other end is gone */
	WIRE_BAD,    /* what came was not a message, and was dropped */
};

/* A pair of sockets, closed on exec. False with errno. */
bool wire_pair(int fds[2]);

/* Neither blocks, whatever the socket's mode. Only the used part of text travels. */
enum wire_result wire_send(int fd, const struct wire_message *message);
enum wire_result wire_receive(int fd, struct wire_message *message);

/* Copies text into a message, cut between characters if it is too long. */
void wire_set_text(struct wire_message *message, const char *text);

#endif
