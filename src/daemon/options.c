#include "daemon/daemon.h"

const char *const daemon_pedal_names[] = {
	[DAEMON_PEDALS_AUTO] = "auto",
	[DAEMON_PEDALS_KEYS] = "keys",
	[DAEMON_PEDALS_EVDEV] = "evdev",
	[DAEMON_PEDALS_NONE] = "none",
	NULL,
};

const char *const daemon_shop_names[] = {"quiet", "loud", NULL};

bool daemon_read_sound(const char *value, void *out)
{
	*(const char **)out = value;
	return bench_is_sound(value);
}
