#include "daemon/daemon.h"

#include <string.h>

const char daemon_options_help[] =
	"  --pedal PEDAL    auto (every pedal, in `pullcall run` the keys too), keys, evdev or none\n"
	"  --sound SOUND    auto, device, device:NAME, wav:FILE or none\n"
	"  --bench FILE     the bench file, instead of the usual one\n"
	"  --journal FILE   the journal, instead of $PULLCALL_JOURNAL or the usual one\n";

static bool set_pedal(struct daemon_options *options, const char *value)
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
		options->pedals = (enum daemon_pedals)i;
		return true;
	}
	return false;
}

bool daemon_option(struct daemon_options *options, int option, const char *value, const char **why)
{
	switch (option) {
	case OPTION_PEDAL:
		*why = "--pedal takes auto, keys, evdev or none";
		return set_pedal(options, value);
	case OPTION_SOUND:
		*why = "--sound takes auto, device, device:NAME, wav:FILE or none";
		options->sound = value;
		return bench_is_sound(value);
	case OPTION_BENCH:
		options->bench_file = value;
		return true;
	case OPTION_JOURNAL:
		options->journal = value;
		return true;
	default:
		*why = "unknown option";
		return false;
	}
}
