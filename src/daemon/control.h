/* The control socket: others steer a running job through it, and follow it.
 *
 * A stream socket in $XDG_RUNTIME_DIR/pullcall/, mode 0600; the peer must be the same user or root.
 * One JSON object a line, both ways, lines of at most CONTROL_LINE_MAX bytes. A request names what
 * to do:
 *
 *     {"do": "next"}   again, back (with "count"), pause, resume, where, stop, abandon (with
 * "reason"), load (with "file", an absolute path), watch, status
 *
 * and is answered by one line, {"ok": true, ...} or {"ok": false, "error": "..."}. After watch the
 * connection gets a line for every event until it is closed. What is not a request is answered with
 * an error and does nothing else. A client that does not read is dropped when its buffer is full:
 * it can hold up nobody.
 */
#ifndef DAEMON_CONTROL_H
#define DAEMON_CONTROL_H

#include "base/text.h"

#include <stdbool.h>
#include <systemd/sd-event.h>

enum { CONTROL_LINE_MAX = 4096, CONTROL_CLIENTS_MAX = 16, CONTROL_BUFFER_MAX = 1024 * 1024 };

enum control_verb {
	CONTROL_NEXT,
	CONTROL_AGAIN,
	CONTROL_BACK,
	CONTROL_PAUSE,
	CONTROL_RESUME,
	CONTROL_WHERE,
	CONTROL_STOP,
	CONTROL_ABANDON,
	CONTROL_LOAD,
	CONTROL_WATCH,
	CONTROL_STATUS,
	CONTROL_VERBS,
};

struct control_request {
	enum control_verb verb;
	int count;  /* back */
	char *text; /* load: the file; abandon: the reason; else NULL */
};

/* Answers a request into *reply, one line of JSON without its end. */
typedef void control_handler(void *owner, const struct control_request *request,
			     struct text *reply);

struct control;

/* NULL when the socket cannot be had; *why then says why, the caller frees it. A socket whose owner
 * is dead is replaced; with a living one, *why says so. */
struct control *control_open(sd_event *loop, control_handler *handle, void *owner, char **why);
void control_close(struct control *control); /* NULL is fine */

/* A line for everybody who watches, without its end. */
void control_tell(struct control *control, const char *line);
bool control_is_watched(const struct control *control);

/* Reads a request; false with an error in *reply. */
bool control_parse(const char *line, size_t length, struct control_request *request,
		   struct text *reply);

const char *control_verb_name(enum control_verb verb);

/* Where the socket is; the caller frees it. NULL if $XDG_RUNTIME_DIR is not set. */
char *control_path(void);

#endif
