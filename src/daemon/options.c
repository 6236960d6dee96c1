#include "daemon/daemon.h"

#include <string.h>

bool daemon_read_pedals(const char *value, void *out)
{
	static const char *const names[] = {
		[DAEMON_PEDALS_AUTO] = "auto",
		[DAEMON_PEDALS_KEYS] = "keys",
		[DAEMON_PEDALS_EVDEV] = "evdev",
		[DAEMON_PEDALS_NONE] = "none",
	};

	for (size_t i = 0; i < sizeof(names) / sizeof(names[0]); i++) {
		if (strcmp(value, names[i]) != 0)
			continue;
		*(enum daemon_pedals *)out = (enum daemon_pedals)i;
		return true;
	}
	return false;
}

bool daemon_read_shop(const char *value, void *out)
{
	enum daemon_shop *shop = out;

	*shop = strcmp(value, "loud") == 0 ? DAEMON_SHOP_LOUD : DAEMON_SHOP_QUIET;
	return *shop == DAEMON_SHOP_LOUD || strcmp(value, "quiet") == 0;
}

bool daemon_read_sound(const char *value, void *out)
{
	*(const char **)out = value;
	return bench_is_sound(value);
}
