/* The connection to the daemon, made again whenever it is lost. */
#include "board/board.h"
#include "daemon/daemon.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* The times on the page, and the rack, which other programs change. */
static const int64_t refresh_us = 10 * SECOND_US;

/* Sends a request. A connection that is not waited on for long, or -1 if there is no daemon. */
static int request(const char *verb)
{
	static const struct timeval patience = {.tv_sec = 1};
	char *line = memory_format("{\"do\": \"%s\"}\n", verb);
	int fd = control_request(line);

	setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof(patience));
	free(line);
	return fd;
}

/* The daemon's answer, or NULL if none comes in time. */
static struct yaml_document *ask(const char *verb, struct faults *faults)
{
	struct yaml_document *answer = NULL;
	int fd = request(verb);
	FILE *stream = fd < 0 ? NULL : fdopen(fd, "r");
	char *line = NULL;
	size_t capacity = 0;

	if (!stream)
		return NULL;
	ssize_t length = getline(&line, &capacity, stream);
	if (length > 0)
		answer = yaml_read_json("answer", line, (size_t)length, faults);
	free(line);
	fclose(stream);
	return answer;
}

static void lose(struct link *link)
{
	if (link->fd >= 0)
		close(link->fd);
	link->fd = -1;
}

/* Drops what the daemon has sent: only that it has sent something matters. False if it is gone. */
static bool drain(int fd)
{
	char bytes[4096];
	ssize_t count;

	while ((count = recv(fd, bytes, sizeof(bytes), MSG_DONTWAIT)) > 0)
		;
	return count < 0 && (errno == EAGAIN || errno == EINTR);
}

/* True if the picture has changed. */
static bool update(struct link *link)
{
	struct faults faults = {0};
	struct text picture = {0};
	struct yaml_document *answer = link->fd < 0 ? NULL : ask("status", &faults);

	if (!answer)
		lose(link);
	link->asked_us = clock_steady_us();
	picture_add(&picture, link->words, answer ? answer->root : NULL);
	bool changed = strcmp(text_string(&link->picture), text_string(&picture)) != 0;
	text_free(&link->picture);
	link->picture = picture;
	yaml_free(answer);
	faults_free(&faults);
	return changed;
}

bool link_turn(struct link *link, bool readable, bool looked_at)
{
	int64_t since_us = clock_steady_us() - link->asked_us;
	bool is_old = looked_at && since_us >= refresh_us;

	if (readable && !drain(link->fd))
		lose(link);
	if (link->fd >= 0)
		return (readable || is_old) && update(link);
	if (since_us < LINK_WAIT_MS * MS_US)
		return false;
	link->fd = request("watch");
	return update(link);
}

bool link_steer(const char *verb)
{
	struct faults faults = {0};
	struct yaml_document *answer = ask(verb, &faults);
	bool done = answer && strcmp(word(answer->root, "ok"), "true") == 0;

	yaml_free(answer);
	faults_free(&faults);
	return done;
}
