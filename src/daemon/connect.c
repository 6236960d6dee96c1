/* The client's end of the control socket. */
#include "daemon/daemon.h"

#include <errno.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <sys/un.h>
#include <unistd.h>

int control_connect(const char *path)
{
	static const struct timeval patience = {.tv_sec = 1};
	struct sockaddr_un address = {.sun_family = AF_UNIX};

	if (strlen(path) >= sizeof(address.sun_path)) {
		errno = ENAMETOOLONG;
		return -1;
	}
	memcpy(address.sun_path, path, strlen(path) + 1);
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	/* A daemon that hangs with a queue of clients is not waited for without end. */
	setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof(patience));
	if (fd >= 0 && connect(fd, (const struct sockaddr *)&address, sizeof(address)) == 0)
		return fd;
	int error = errno;
	if (fd >= 0)
		close(fd);
	errno = error;
	return -1;
}
