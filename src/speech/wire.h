/* The words between the daemon and its speaker: one datagram a message over a SOCK_SEQPACKET pair.
 *
 * Down go orders, up go reports. Whatever is said carries a generation, a number that only grows: a
 * report about an older one than the last order is late and means nothing. The daemon's end closed
 * is the order to fade out and exit. Both ends belong to one
 * installation; the version catches an upgrade half-way. A message that is too short, too long, of
 * another version or with text that does not end is refused whole.
 */
#ifndef SPEECH_WIRE_H
#define SPEECH_WIRE_H

#include <stdbool.h>
#include <stdint.h>

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
