/* Shared by the files of this room only. */
#ifndef DAEMON_INTERNAL_H
#define DAEMON_INTERNAL_H

#include "daemon/daemon.h"
#include "pedal/pedal.h"
#include "speech/speech.h"

/* The daemon's insides, shared by its files and by nobody else. */

struct daemon {
	struct daemon_options options;
	sd_event *loop;
	sd_event_source *timer;
	sd_event_source *watchdog; /* NULL: the service manager wants none */
	struct bench *bench;
	struct phrasebook *book;
	struct speech *speech;
	struct pedals *pedals;
	sd_event_source *speech_source;
	sd_event_source *pedal_source;
	struct journal *journal;
	struct control *control;
	struct work *work; /* NULL: no job */

	/* The last call that was said, to know what a report of the speaker is about. */
	uint64_t said_generation;
	int said_call;
	int64_t said_press_us; /* the press that it answers; 0: none */
	uint64_t
		last_generation; /* of whatever was said last: when it has ended, the run may end */
	bool talking;
	/* By notice: its generation, if it is to be heard after other words and was not yet; or 0.
	 */
	uint64_t owed[NOTICES];

	int64_t recorded_us; /* steady time of the last record */

	char *said; /* see daemon_look */
	char *voice;
	bool voice_good;
	bool voice_lost; /* being replaced */
	char *pedal;
	bool pedal_missing; /* unplugged, and neither it nor another one came since */
	char *journal_fault;
	char *journal_aside; /* the new name of a damaged journal, until there is a job to say it in
			      */
	bool journal_news;   /* journal_fault has changed and the session does not know yet */
	bool ready;          /* the service manager has been told */
	bool leaving;        /* the loop ends when the last words are said */
};

/* A step of the session, its effects carried out. False: the answer is no, or there is no job. */
bool daemon_step(struct daemon *daemon, const struct session_event *event);

/* To be called after whatever happened: takes in what the speaker reports, ends what is over, sets
 * the timer. */
void daemon_after(struct daemon *daemon);

void daemon_note(struct daemon *daemon, struct note note);
void daemon_log(struct daemon *daemon, const char *format, ...)
	__attribute__((format(printf, 2, 3)));

/* What was said last is being heard. */
void daemon_heard(struct daemon *daemon, uint64_t generation);

void daemon_say_notice(struct daemon *daemon, enum notice notice, enum speech_urgency urgency);

/* devices.c */
bool daemon_open_devices(struct daemon *daemon, char **why);
void daemon_close_devices(struct daemon *daemon);
void daemon_take_speech(struct daemon *daemon);

/* command.c */
void daemon_command(void *owner, const struct control_request *request, struct text *reply);

/* Requests of the control socket: reading them strictly, and refusing what is none. */

/* {"ok": false, "error": why} */
void request_refuse(struct text *reply, const char *why);

/* Releases what was read into the request; also after it failed. */
void request_free(struct control_request *request);

#endif
