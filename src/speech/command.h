/* The command line that starts the speaker. */
#ifndef SPEECH_COMMAND_H
#define SPEECH_COMMAND_H

#include "speech/speech.h"

enum { COMMAND_MAX = 20 /* with room for what child_start adds */ };

struct command {
	char *arguments[COMMAND_MAX]; /* ended by NULL */
	int count;
};

/* began_us: 0, or when the sound of the first speaker began. */
void command_build(struct command *command, const struct speech_options *options, int64_t began_us);
void command_free(struct command *command);

/* pullcall-speaker beside this program, so that a build tree and an installed tree each find their
 * own; else the bare name, for PATH. The caller frees it. */
char *command_find_program(void);

#endif
