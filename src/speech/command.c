#include "speech/internal.h"

#include "base/base.h"

#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

char *command_find_program(void)
{
	static const char name[] = "pullcall-speaker";
	char path[PATH_MAX];
	ssize_t length = readlink("/proc/self/exe", path, sizeof path - sizeof name);

	while (length > 0 && path[length - 1] != '/')
		length--;
	if (length > 0) {
		memcpy(path + length, name, sizeof name);
		if (access(path, X_OK) == 0)
			return memory_copy(path);
	}
	return memory_copy(name);
}

static void add(struct command *command, const char *argument)
{
	command->arguments[command->count++] = memory_copy(argument);
}

static void add_text(struct command *command, const char *option, const char *value)
{
	if (!value)
		return;
	add(command, option);
	add(command, value);
}

static void add_number(struct command *command, const char *option, int64_t value)
{
	if (value == 0)
		return;
	add(command, option);
	command->arguments[command->count++] = memory_format("%lld", (long long)value);
}

void command_build(struct command *command, const struct speech_options *options, int64_t began_us)
{
	*command = (struct command){0};
	add(command, options->program);
	add_text(command, "--sound", options->sound);
	add_text(command, "--voice", options->voice);
	add_number(command, "--rate", options->rate_wpm);
	add_number(command, "--volume", options->volume_percent);
	add_text(command, "--tone", options->tone ? "yes" : NULL);
	add_number(command, "--sleep", options->sleep_s);
	add_number(command, "--began", began_us);
}

void command_free(struct command *command)
{
	while (command->count > 0)
		free(command->arguments[--command->count]);
}
