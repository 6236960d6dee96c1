/* pullcall voices and say: the speaker knows, so it is asked. */
#include "base/base.h"
#include "cli/cli.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sysexits.h>
#include <unistd.h>

static const char voices_help[] = "Usage: pullcall voices\n"
				  "\n"
				  "Lists the voices that the synthesiser has.\n"
				  "\n"
				  "Exit: 0 done, 1 it cannot say, 2 wrong usage, 69 it cannot be "
				  "started.\n";

static const char say_help[] =
	"Usage: pullcall say TEXT [--voice VOICE] [--rate WPM] [--volume PERCENT] [--sound SOUND]\n"
	"\n"
	"Says a text, to try a voice. SOUND is auto, device, device:NAME or wav:FILE.\n"
	"\n"
	"Exit: 0 done, 1 no such voice, device or file, 2 wrong usage, 69 no sound device.\n";

/* Becomes the speaker: beside this program, else on PATH. */
static int become_speaker(char **argv)
{
	char *path = path_beside_program("pullcall-speaker");

	if (path)
		execv(path, argv);
	execvp("pullcall-speaker", argv);
	fprintf(stderr, "pullcall: pullcall-speaker cannot be started: %s\n", strerror(errno));
	free(path);
	return EX_UNAVAILABLE;
}

int command_voices(int argc, char **argv)
{
	static const struct option table[] = {OPTION_TABLE_END};
	char name[] = "pullcall-speaker", list[] = "--list-voices";
	int code = 0;

	if (command_option(argc, argv, table, voices_help, &code) == OPTION_LEAVE)
		return code;
	if (optind != argc)
		return command_usage("voices", "unexpected \"%s\"", argv[optind]);
	return become_speaker((char *[]){name, list, NULL});
}

int command_say(int argc, char **argv)
{
	static const struct option table[] = {
		{"voice", required_argument, NULL, 'v'},
		{"rate", required_argument, NULL, 'r'},
		{"volume", required_argument, NULL, 'l'},
		{"sound", required_argument, NULL, 's'},
		OPTION_TABLE_END,
	};
	static char names[][10] = {"--voice", "--rate", "--volume", "--sound", "--say"};
	char name[] = "pullcall-speaker";
	char *passed[2 * 5 + 2] = {name};
	int count = 1, option, code = 0;

	while ((option = command_option(argc, argv, table, say_help, &code)) != -1) {
		if (option == OPTION_LEAVE)
			return code;
		if (count > 2 * 4)
			return command_usage("say", "an option stands twice");
		static const char letters[] = "vrls";
		passed[count++] = names[strchr(letters, option) - letters];
		passed[count++] = optarg;
	}
	if (optind + 1 != argc)
		return command_usage("say", "expected one text, in quotes");
	passed[count++] = names[4];
	passed[count] = argv[optind];
	return become_speaker(passed);
}
