#include "speaker/speaker.h"

#include "base/base.h"

#include <string.h>

enum sink_result sink_open(const char *sound, int64_t began_us, struct mixer *mixer,
			   struct sink **sink, char **why)
{
	if (strcmp(sound, "auto") == 0 || strcmp(sound, "device") == 0)
		return sink_open_device(NULL, mixer, sink, why);
	if (strncmp(sound, "device:", 7) == 0 && sound[7])
		return sink_open_device(sound + 7, mixer, sink, why);
	if (strncmp(sound, "wav:", 4) == 0 && sound[4])
		return sink_open_wav(sound + 4, began_us, mixer, sink, why);
	*why = memory_format("\"%s\" is no sound; expected auto, device, device:NAME or wav:FILE",
			     sound);
	return SINK_REFUSED;
}
