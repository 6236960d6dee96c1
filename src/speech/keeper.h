/* Keeps a speaker running: does what the supervisor orders with a real process, and passes on what
 * the speaker says. Calls its owner back from inside keeper_open, keeper_send, keeper_rest,
 * keeper_wake and keeper_dispatch, never otherwise.
 */
#ifndef SPEECH_KEEPER_H
#define SPEECH_KEEPER_H

#include "speech/child.h"
#include "speech/speech.h"
#include "speech/supervisor.h"
#include "speech/wire.h"

#include <stdbool.h>
#include <stdint.h>

struct keeper_owner {
	/* READY, BACK, LOST, NO_SOUND, REFUSED or TROUBLE. */
	void (*tell)(void *owner, enum speech_kind kind, int64_t now_us, const char *text);
	/* WIRE_STARTED or WIRE_FINISHED. */
	void (*report)(void *owner, const struct wire_message *message, int64_t now_us);
	/* A fresh speaker knows nothing: send it what it should do. */
	void (*replay)(void *owner, int64_t now_us);
	void *owner;
};

struct keeper {
	struct speech_options options; /* with these texts: */
	char *program, *sound, *voice;
	struct keeper_owner owner;
	struct supervisor supervisor;
	struct child child;
	int epoll;
	int devices;               /* inotify, or -1 */
	int64_t began_us;          /* when the first speaker's sound began; 0: not yet */
	int64_t hung_up_us;        /* it closed the wire: its end is due then; 0: no */
	int64_t read_errors_us;    /* it prints too much: read on then; 0: no */
	int troubles;              /* told of this speaker */
	char cause[WIRE_TEXT_MAX]; /* the text of the next thing to tell */
};

/* options->program and options->sound must be there. All texts are copied. */
void keeper_open(struct keeper *keeper, const struct speech_options *options,
		 struct keeper_owner owner, int64_t now_us);

/* As speech_close. */
void keeper_close(struct keeper *keeper);

void keeper_dispatch(struct keeper *keeper, int64_t now_us);
int64_t keeper_deadline_us(const struct keeper *keeper); /* SPEECH_NEVER: none */

/* An order to the speaker; nothing happens while there is none whose sound flows. */
void keeper_send(struct keeper *keeper, enum wire_kind kind, uint64_t generation, const char *text,
		 int64_t now_us);

/* Whether beats are to be expected. */
void keeper_rest(struct keeper *keeper, int64_t now_us);
void keeper_wake(struct keeper *keeper, int64_t now_us);
bool keeper_rests(const struct keeper *keeper);

bool keeper_sounds(const struct keeper *keeper);

#endif
