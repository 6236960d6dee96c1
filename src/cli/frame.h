/* One picture of the screen of `pullcall run`, as lines of text. Pure: no terminal in here. */
#ifndef CLI_FRAME_H
#define CLI_FRAME_H

#include "base/text.h"
#include "daemon/daemon.h"

struct frame_size {
	int columns;
	int rows;
	bool blocks; /* the terminal can show UTF-8 block characters */
};

/* Fills *out with at most `rows` lines of at most `columns` columns, each ended by '\n'. From the
 * top: what job and where, the call as large as fits, the next call, mains and crosses, the clock,
 * what is wrong, the keys. On a small screen the less important lines go first. */
void frame_draw(const struct daemon_look *look, int64_t now_us, const struct frame_size *size,
		struct text *out);

#endif
