/* The speaker as the daemon's child: orders from the wire, reports back.
 *
 * One thread, one poll. It watches its own sound too, since the daemon does not while it rests: a
 * stream whose callback has stopped is past saving (see sink_stop), so the process ends and is
 * replaced.
 */
#ifndef SPEAKER_SERVICE_H
#define SPEAKER_SERVICE_H

#include "speaker/player.h"

enum { SERVICE_SLEEP_S = 180 };

/* Until the wire is closed or the sound is lost. sleep_s: how long a rest lasts before the device
 * is let go. Returns the process's exit code. */
int service_run(int wire, const struct player_options *options, int sleep_s);

#endif
