/* A run that is stopped, goes on, or dies: the terminal is as the shell left it meanwhile. */
#ifndef CLI_JOB_CONTROL_H
#define CLI_JOB_CONTROL_H

#include "cli/screen.h"

#include <systemd/sd-event.h>

/* From now on SIGTSTP gives keys and screen back before the program stops, and SIGCONT takes them
 * again. Signals that kill give them back too: a terminal without echo and cursor is of no use.
 * *screen may be NULL at any time. */
void job_control_start(sd_event *loop, struct screen **screen);

#endif
