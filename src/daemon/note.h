/* What happened, for those who look on: the screen of `pullcall run`, and everybody who watches
 * through the control socket. One note is one line, of JSON or for people. */
#ifndef DAEMON_NOTE_H
#define DAEMON_NOTE_H

#include "base/text.h"

#include <stdbool.h>
#include <stdint.h>

enum note_kind {
	NOTE_JOB,    /* a job was begun or reopened: name, text (its title) */
	NOTE_CALL,   /* a call is being said: text */
	NOTE_SAID,   /* something else is being said: name (of the notice), text */
	NOTE_RECORD, /* name: what went into the journal */
	NOTE_LOG,    /* text: for the log */
	NOTES,
};

struct note {
	enum note_kind kind;
	const char *name;
	const char *text;
	int call; /* from 1; 0: no job */
	int calls;
	const char *phase; /* of that call, or NULL */
	const char *state; /* of the session, or NULL */
	int64_t wall_us;
	int64_t response_us; /* RECORD of an announcement: -1 if no press was answered */
};

void note_json(const struct note *note, struct text *out);
void note_line(const struct note *note, struct text *out);

#endif
