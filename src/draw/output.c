/* The files: SVG as it is drawn, PDF and PNG as rsvg-convert makes them of it. */
#include "draw/internal.h"

#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <signal.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

/* ---- Writing ---- */

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

/* It is on the disk before it gets its name: a power cut leaves the old file or the new one. */
static int write_beside(const char *path, mode_t mode, const char *bytes, size_t length)
{
	char *copy = memory_copy(path);
	char *temporary = memory_format("%s/.pullcall-XXXXXX", dirname(copy));
	int fd = mkostemp(temporary, O_CLOEXEC | O_DSYNC); /* which keeps others out */
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

	if (strcmp(path, "-") == 0)
		return write_and_close(dup(STDOUT_FILENO), bytes, length);
	if (stat(path, &old) < 0) {
		if (errno != ENOENT)
			return errno;
		mode_t mask = umask(0);
		umask(mask);
		return write_beside(path, 0666 & ~mask, bytes, length);
	}
	if (!S_ISREG(old.st_mode))
		return write_and_close(open(path, O_WRONLY | O_CLOEXEC | O_NOCTTY), bytes, length);
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
	int error = write_whole(path, bytes, length);
	sigaction(SIGXFSZ, &before, NULL);
	if (error)
		*why = strerror(error);
	return !error;
}

/* ---- Formats ---- */

/* NULL if the path names none. */
static const char *format_of(const char *path)
{
	static const char *const formats[] = {"svg", "pdf", "png"};
	const char *suffix = strcmp(path, "-") == 0 ? ".svg" : strrchr(path, '.');

	for (size_t i = 0; suffix && i < sizeof(formats) / sizeof(formats[0]); i++)
		if (strcasecmp(suffix + 1, formats[i]) == 0)
			return formats[i];
	return NULL;
}

/* Sends the picture, which is read whole before anything comes back, and gets it in the other
 * format instead. False if it went wrong on the way. */
static bool exchange(int fd, struct text *picture)
{
	const char *bytes = text_string(picture);
	char part[65536];
	ssize_t count;

	for (size_t sent = 0; sent < picture->length; sent += (size_t)count) {
		count = send(fd, bytes + sent, picture->length - sent, MSG_NOSIGNAL);
		if (count < 0)
			return false;
	}
	shutdown(fd, SHUT_WR);
	text_clear(picture);
	while ((count = recv(fd, part, sizeof(part), 0)) > 0)
		text_add_part(picture, part, (size_t)count);
	return count == 0;
}

/* 200 dots to the inch: an A4 page comes to 1654 x 2339, sharp on a phone and in print. */
static enum exit_code convert(struct text *picture, const char *format, const char **why)
{
	char program[] = "rsvg-convert", across[] = "--dpi-x=200", down[] = "--dpi-y=200";
	char as[sizeof("--format=svg")], *arguments[] = {program, as, across, down, NULL};
	posix_spawn_file_actions_t actions;
	int ends[2], status;
	pid_t child;

	*why = "rsvg-convert failed";
	snprintf(as, sizeof(as), "--format=%s", format);
	if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) < 0)
		return EXIT_SYSTEM;
	posix_spawn_file_actions_init(&actions);
	posix_spawn_file_actions_adddup2(&actions, ends[1], STDIN_FILENO);
	posix_spawn_file_actions_adddup2(&actions, ends[1], STDOUT_FILENO);
	int error = posix_spawnp(&child, program, &actions, NULL, arguments, environ);
	posix_spawn_file_actions_destroy(&actions);
	close(ends[1]);
	bool good = !error && exchange(ends[0], picture);
	close(ends[0]);
	if (error) {
		*why = "PDF and PNG need the program rsvg-convert, which cannot be run";
		return EXIT_UNAVAILABLE;
	}
	good = waitpid(child, &status, 0) == child && status == 0 && good;
	return good ? EXIT_DONE : EXIT_SYSTEM;
}

enum exit_code picture_save(struct canvas *canvas, const char *path, struct faults *faults)
{
	const char *format = format_of(path), *code = "draw-format";
	const char *why = "the name of a picture ends in .svg, .pdf or .png";
	enum exit_code result = EXIT_USAGE;
	struct text picture = {0};

	canvas_finish(canvas, &picture);
	if (format) {
		code = "draw-picture";
		result = strcmp(format, "svg") == 0 ? EXIT_DONE : convert(&picture, format, &why);
	}
	if (result == EXIT_DONE &&
	    !output_write(path, text_string(&picture), picture.length, &why)) {
		code = "draw-write";
		result = EXIT_IO;
	}
	if (result != EXIT_DONE)
		fault_add(faults, FAULT_ERROR, path, (struct position){0, 0}, code, "%s", why);
	text_free(&picture);
	return result;
}
