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

/* Closes the file in any case. Like all of these: 0 or an error number. */
static int write_and_close(int fd, const char *bytes, size_t length)
{
	FILE *file = fd < 0 ? NULL : fdopen(fd, "w");

	if (!file)
		return errno;
	int error = fwrite(bytes, 1, length, file) == length ? 0 : errno;
	if (fclose(file) != 0 && !error)
		error = errno;
	return error;
}

static int write_straight(const char *path, const char *bytes, size_t length)
{
	int fd = strcmp(path, "-") == 0 ? dup(STDOUT_FILENO)
					: open(path, O_WRONLY | O_CLOEXEC | O_NOCTTY);

	return write_and_close(fd, bytes, length);
}

/* Not forced to the disk before it gets its name: after a power cut a picture is drawn again. */
static int write_beside(const char *path, mode_t mode, const char *bytes, size_t length)
{
	char *copy = memory_copy(path);
	char *temporary = memory_format("%s/.pullcall-XXXXXX", dirname(copy));
	int fd = mkostemp(temporary, O_CLOEXEC); /* which keeps others out */
	int refused = fd >= 0 && fchmod(fd, mode) < 0 ? errno : 0;
	int error = write_and_close(fd, bytes, length);

	if (!error)
		error = refused;
	if (!error && rename(temporary, path) != 0)
		error = errno;
	if (error && fd >= 0)
		unlink(temporary);
	free(copy);
	free(temporary);
	return error;
}

/* A symbolic link stays one: the file that it names is replaced, and keeps its permissions. A new
 * file gets those that open() would give it. */
static int write_whole(const char *path, const char *bytes, size_t length)
{
	struct stat old;

	if (stat(path, &old) < 0) {
		if (errno != ENOENT)
			return errno;
		mode_t mask = umask(0);
		umask(mask);
		return write_beside(path, 0666 & ~mask, bytes, length);
	}
	if (S_ISDIR(old.st_mode))
		return EISDIR;
	if (!S_ISREG(old.st_mode))
		return write_straight(path, bytes, length);
	char *real = realpath(path, NULL);
	int error = !real || access(real, W_OK) != 0
			    ? errno
			    : write_beside(real, old.st_mode & 07777, bytes, length);
	free(real);
	return error;
}

bool output_write(const char *path, const char *bytes, size_t length, const char **why)
{
	/* A file grown past its limit is an error to be told, not a reason to die with a temporary
	 * file lying there. Nothing else writes while a picture is written. */
	struct sigaction ignore = {.sa_handler = SIG_IGN}, before;

	sigaction(SIGXFSZ, &ignore, &before);
	int error = strcmp(path, "-") == 0 ? write_straight(path, bytes, length)
					   : write_whole(path, bytes, length);
	sigaction(SIGXFSZ, &before, NULL);
	if (error)
		*why = strerror(error);
	return !error;
}
