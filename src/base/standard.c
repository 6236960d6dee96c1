#include "base/base.h"

#include <fcntl.h>
#include <sysexits.h>
#include <unistd.h>

void standard_files_open(void)
{
	for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++) {
		if (fcntl(fd, F_GETFD) >= 0)
			continue;
		/* The lowest number that is free is this one. Used the right way it fails, as it
		 * did closed: output that goes nowhere is told. */
		if (open("/dev/null", fd == STDIN_FILENO ? O_WRONLY : O_RDONLY) != fd)
			_exit(EX_OSERR);
	}
}
