/* The screen of `pullcall run` in a terminal: the call in words large enough to read at arm's
 * length, the next one, how far mains and crosses have got, the clock, the pace and the time left.
 */
#ifndef CLI_SCREEN_H
#define CLI_SCREEN_H

#include "daemon/daemon.h"

struct screen;

/* Takes the terminal on `fd` over until screen_close. */
struct screen *screen_open(struct daemon *daemon, int fd);
void screen_close(struct screen *screen);

/* Draws what there is now. */
void screen_draw(struct screen *screen);

/* Puts the terminal back; async-signal-safe. */
void screen_restore(void);

/* One frame as text, `columns` by `rows`, for tests: what screen_draw writes, without the codes
 * that move the cursor. Lines end with '\n'. */
struct text;
void screen_frame(const struct daemon_look *look, int64_t now_us, int columns, int rows,
		  struct text *out);

#endif
