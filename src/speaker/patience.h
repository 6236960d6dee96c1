/* Making a prompt takes a slow machine long. Whoever makes one asks every few milliseconds whether
 * to go on; who waits uses the moment for signs of life.
 */
#ifndef SPEAKER_PATIENCE_H
#define SPEAKER_PATIENCE_H

#include <stdbool.h>

struct patience {
	bool (*go_on)(void *owner); /* false: give it up. NULL: never asked */
	void *owner;
};

static inline bool patience_lasts(const struct patience *patience)
{
	return !patience->go_on || patience->go_on(patience->owner);
}

#endif
