/* pullcall voices and board: other programs, that this one becomes. They stand beside it, else on
 * PATH. */
#include "base/base.h"
#include "cli/cli.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static int become(const char *program, char **argv)
{
	char *path = path_beside_program(program);

	if (path)
		execv(path, argv);
	execvp(program, argv);
	fprintf(stderr, "pullcall: %s cannot be started: %s\n", program, strerror(errno));
	free(path);
	return EXIT_UNAVAILABLE;
}

int command_board(int argc, char **argv)
{
	(void)argc;
	return become("pullcall-board", argv);
}

int command_voices(int argc, char **argv)
{
	static char speaker[] = "pullcall-speaker", list[] = "--list-voices", say[] = "--say";
	static char names[][10] = {"--voice", "--rate", "--volume", "--sound"};
	const char *values[4] = {0};
	const struct option_row options[] = {
		{"voice", 0, "VOICE", "a name from the list", .text = &values[0]},
		{"rate", 0, "WPM", "words a minute, 80 to 450", .text = &values[1]},
		{"volume", 0, "PERCENT", "1 to 200", .text = &values[2]},
		{"sound", 0, "SOUND", "auto, device, device:NAME or wav:FILE", .text = &values[3]},
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall voices",
		.usage = "[list]\ntry TEXT [OPTION...]",
		.about = "Lists the voices of the synthesiser, or says a text to try one.",
		.end = "Exit: 0 done, 1 no such voice, device or file, 2 wrong usage, 69 no sound device, or "
		       "pullcall-speaker cannot be started.",
		.operand = "a text",
		.most = 2,
		.options = options,
	};
	char *arguments[2 * 4 + 4] = {speaker};
	int count = 1;

	command_line_read(&line, argc, argv);
	bool try = optind < argc && strcmp(argv[optind], "try") == 0;
	if (optind < argc && !try && strcmp(argv[optind], "list") != 0)
		command_line_wrong(&line, "unknown voices command \"%s\"", argv[optind]);
	if (!try && argc - optind > 1)
		command_line_wrong(&line, "unexpected \"%s\"", argv[optind + 1]);
	if (try && argc - optind != 2)
		command_line_wrong(&line, "the text to say is missing, in quotes");
	for (int i = 0; i < 4; i++) {
		if (!values[i])
			continue;
		if (!try)
			command_line_wrong(&line, "%s is for try", names[i]);
		arguments[count++] = names[i];
		arguments[count++] = memory_copy(values[i]); /* the process becomes another */
	}
	arguments[count++] = try ? say : list;
	if (try)
		arguments[count] = argv[optind + 1];
	return become("pullcall-speaker", arguments);
}
