/* pullcall board, and the speaker for pullcall voices: other programs, that this one becomes. They
 * stand beside it, else on PATH. */
#include "base/base.h"
#include "cli/cli.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int become_program(const char *program, char **argv)
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
	return become_program("pullcall-board", argv);
}
