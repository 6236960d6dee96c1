/* The command line that `pullcall run` and `pullcalld` have in common. */
#ifndef DAEMON_OPTIONS_H
#define DAEMON_OPTIONS_H

#include "daemon/daemon.h"

#include <getopt.h>

/* Entries for a getopt_long table; the values are taken by daemon_option. */
enum { OPTION_PEDAL = 0x100, OPTION_SOUND, OPTION_BENCH, OPTION_JOURNAL };

#define DAEMON_LONG_OPTIONS                                                                        \
	{"pedal", required_argument, NULL, OPTION_PEDAL},                                          \
		{"sound", required_argument, NULL, OPTION_SOUND},                                  \
		{"bench", required_argument, NULL, OPTION_BENCH},                                  \
	{                                                                                          \
		"journal", required_argument, NULL, OPTION_JOURNAL                                 \
	}

extern const char daemon_options_help[];

/* Takes one option. False if the value is wrong; *why says what was expected (static text). */
bool daemon_option(struct daemon_options *options, int option, const char *value, const char **why);

#endif
