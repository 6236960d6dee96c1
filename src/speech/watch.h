/* Notices that the machine's sound devices may have changed, without looking at a clock.
 *
 * Kernel devices come and go under /dev/snd; a sound server makes its socket in the user's runtime
 * folder. A change says only that trying again is worth while.
 */
#ifndef SPEECH_WATCH_H
#define SPEECH_WATCH_H

#include <stdbool.h>

/* An inotify to be polled for reading, or -1. `devices` is the folder of the kernel's devices
 * ("/dev"), `runtime` the user's runtime folder or NULL; both are opened by watch_open and looked
 * at again by every watch_changed, since the folders in them may be new. */
int watch_open(const char *devices, const char *runtime);

/* Empties it. True: something about sound was among what happened. */
bool watch_changed(int fd, const char *devices, const char *runtime);

#endif
