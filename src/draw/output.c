#include "draw/internal.h"

#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <limits.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static bool write_all(int fd, const char *bytes, size_t length)
{
	while (length > 0) {
		ssize_t written = write(fd, bytes, length);
		if (written < 0 && errno == EINTR)
			continue;
		if (written < 0)
			return false;
		bytes += written;
		length -= (size_t)written;
	}
	return true;
}

static bool write_straight(const char *path, const char *bytes, size_t length)
{
	int fd = strcmp(path, "-") == 0 ? dup(STDOUT_FILENO)
					: open(path, O_WRONLY | O_CLOEXEC | O_NOCTTY);

	if (fd < 0)
		return false;
	bool good = write_all(fd, bytes, length);
	int error = errno;
	if (close(fd) < 0 && good)
		return false;
	errno = error;
	return good;
}

/* As open() would have made it: mkostemp keeps others out. */
static bool allow_as_usual(int fd)
{
	mode_t mask = umask(0);

	umask(mask);
	return fchmod(fd, 0666 & ~mask) == 0;
}

/* A file that is replaced keeps its permissions. */
static bool set_mode(int fd, const struct stat *old)
{
	return old ? fchmod(fd, old->st_mode & 07777) == 0 : allow_as_usual(fd);
}

/* Not forced to the disk before it gets its name: after a power cut a picture is drawn again. */
static bool write_beside(const char *path, const struct stat *old, const char *bytes, size_t length)
{
	char *copy = memory_copy(path);
	char *temporary = memory_format("%s/.pullcall-XXXXXX", dirname(copy));
	int fd = mkostemp(temporary, O_CLOEXEC);
	bool good = fd >= 0;

	free(copy);
	if (good) {
		good = set_mode(fd, old) && write_all(fd, bytes, length);
		int error = errno;
		if (close(fd) < 0 && good)
			good = false;
		else
			errno = error;
		good = good && rename(temporary, path) == 0;
		error = errno;
		if (!good)
			unlink(temporary);
		errno = error;
	}
	free(temporary);
	return good;
}

/* A symbolic link stays one: the file that it names is replaced. */
static bool write_whole(const char *path, const char *bytes, size_t length)
{
	struct stat old;

	if (stat(path, &old) < 0)
		return errno == ENOENT && write_beside(path, NULL, bytes, length);
	if (S_ISDIR(old.st_mode)) {
		errno = EISDIR;
		return false;
	}
	if (!S_ISREG(old.st_mode))
		return write_straight(path, bytes, length);
	char *real = realpath(path, NULL);
	bool good = real && access(real, W_OK) == 0 && write_beside(real, &old, bytes, length);
	free(real);
	return good;
}

bool output_write(const char *path, const char *bytes, size_t length, char **why)
{
	/* A file grown past its limit is an error to be told, not a reason to die with a temporary
	 * file lying there. Nothing else writes while a picture is written. */
	struct sigaction ignore = {.sa_handler = SIG_IGN}, before;

	sigaction(SIGXFSZ, &ignore, &before);
	bool good = strcmp(path, "-") == 0 ? write_straight(path, bytes, length)
					   : write_whole(path, bytes, length);
	if (!good)
		*why = memory_copy(strerror(errno));
	sigaction(SIGXFSZ, &before, NULL);
	return good;
}
