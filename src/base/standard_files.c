#include "base/base.h"

#include <fcntl.h>
#include <sysexits.h>
#include <unistd.h>

void standard_files_open(void)
{
	for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++) {
		if (fcntl(fd, F_GETFD) >= 0)
			continue;
		/* open() takes the lowest free number, which is this one. Opened the wrong way
		 * round, so that using it fails as on a closed file and lost output is reported. */
		if (open("/dev/null", fd == STDIN_FILENO ? O_WRONLY : O_RDONLY) != fd)
			_exit(EX_OSERR);
	}
}
