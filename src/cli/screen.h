/* The screen of `pullcall run` in a terminal: the call in words large enough to read at arm's
 * length, the next one, how far mains and crosses have got, the clock, the pace and the time left
 * (frame.h).
 *
 * It redraws when something changes, when the terminal is resized, and every second while the clock
 * of work runs; paused, it lets the machine sleep.
 */
#ifndef CLI_SCREEN_H
#define CLI_SCREEN_H

#include "daemon/daemon.h"

struct screen;

/* Takes the terminal on `fd` over until screen_close, or the end of the program. */
struct screen *screen_open(struct daemon *daemon, int fd);
void screen_close(struct screen *screen); /* NULL is fine */

/* Draws what there is now; nothing while the terminal is given back. */
void screen_draw(struct screen *screen);

/* Gives the terminal back, as for a program that stops or dies. Async-signal-safe; does nothing if
 * it is not taken. screen_retake_terminal takes it again, unless others are in the foreground. */
void screen_restore_terminal(void);
void screen_retake_terminal(struct screen *screen);

#endif
