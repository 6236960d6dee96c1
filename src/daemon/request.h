/* Requests of the control socket: reading them strictly, and refusing what is none. */
#ifndef DAEMON_REQUEST_H
#define DAEMON_REQUEST_H

#include "daemon/control.h"

/* {"ok": false, "error": why} */
void request_refuse(struct text *reply, const char *why);

/* Releases what was read into the request; also after it failed. */
void request_free(struct control_request *request);

#endif
