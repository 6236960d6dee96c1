/* The control socket: lines in, lines out. */
#include "daemon/internal.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <sys/un.h>
#include <unistd.h>

/* One connection. Its memory is part of struct control: a client that is dropped while its own
 * request is being served (it watches, and the news cannot be sent to it) is closed, not freed. */
struct client {
	struct control *control;
	int fd; /* -1: this slot is free */
	sd_event_source *source;
	bool watches;
	char line[CONTROL_LINE_MAX];
	size_t length;
};

enum { CONNECTIONS_A_SECOND = 1000 };

struct control {
	sd_event *loop;
	control_handler *handle;
	void *owner;
	int fd;
	int lock; /* see lock_folder */
	sd_event_source *source;
	char *path;
	struct client clients[CONTROL_CLIENTS_MAX];
};

char *control_path(void)
{
	char *folder = path_runtime();
	char *path = folder ? memory_format("%s/control", folder) : NULL;

	free(folder);
	return path;
}

static void drop(struct client *client)
{
	client->source = sd_event_source_disable_unref(client->source);
	close(client->fd);
	client->fd = -1;
}

/* The kernel keeps what the other end has not read. False: dropped, as gone or too far behind. */
static bool send_line(struct client *client, const char *line)
{
	char *bytes = memory_format("%s\n", line);
	ssize_t length = (ssize_t)strlen(bytes);

	if (client->fd >= 0 && send(client->fd, bytes, (size_t)length, MSG_NOSIGNAL) != length)
		drop(client);
	free(bytes);
	return client->fd >= 0;
}

/* Answers every complete line. */
static void take_lines(struct client *client)
{
	static const char too_long[] = "{\"ok\": false, \"error\": \"line too long\"}";
	const struct control *control = client->control;
	char *end;

	while ((end = memchr(client->line, '\n', client->length))) {
		size_t length = (size_t)(end - client->line);
		struct text reply = {0};
		client->watches |= control->handle(control->owner, client->line, length, &reply);
		bool there = send_line(client, text_string(&reply));
		text_free(&reply);
		if (!there)
			return;
		client->length -= length + 1;
		memmove(client->line, end + 1, client->length);
	}
	if (client->length == CONTROL_LINE_MAX && send_line(client, too_long))
		drop(client);
}

static int on_client(sd_event_source *source, int fd, uint32_t events, void *data)
{
	struct client *client = data;

	/* One buffer a turn, so that a flood holds up nobody else. */
	ssize_t count =
		recv(fd, client->line + client->length, CONTROL_LINE_MAX - client->length, 0);
	if (count > 0) {
		client->length += (size_t)count;
		take_lines(client);
	} else if (count == 0 && client->watches && !(events & EPOLLHUP)) {
		sd_event_source_set_io_events(source, 0); /* it sends no more, but still reads */
	} else if (count == 0 || (errno != EAGAIN && errno != EINTR)) {
		drop(client);
	}
	return 0;
}

static bool is_allowed(int fd)
{
	struct ucred peer;
	socklen_t length = sizeof(peer);

	return getsockopt(fd, SOL_SOCKET, SO_PEERCRED, &peer, &length) == 0 &&
	       (peer.uid == geteuid() || peer.uid == 0);
}

static struct client *free_slot(struct control *control)
{
	for (int i = 0; i < CONTROL_CLIENTS_MAX; i++)
		if (control->clients[i].fd < 0)
			return &control->clients[i];
	return NULL;
}

static int on_connection(sd_event_source *source, int fd, uint32_t events, void *data)
{
	static const int kept_bytes = 1024 * 1024; /* of some hundred lines */
	static const char refusal[] =
		"{\"ok\": false, \"error\": \"not served: another user, or too many "
		"connections\"}\n";
	struct control *control = data;
	struct client *client = free_slot(control);
	int peer = accept4(fd, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);

	(void)source;
	(void)events;
	if (peer < 0)
		return 0;
	if (!client || !is_allowed(peer)) {
		send(peer, refusal, sizeof(refusal) - 1, MSG_NOSIGNAL | MSG_DONTWAIT);
		close(peer);
		return 0;
	}
	setsockopt(peer, SOL_SOCKET, SO_SNDBUF, &kept_bytes, sizeof(kept_bytes));
	*client = (struct client){.control = control, .fd = peer};
	if (sd_event_add_io(control->loop, &client->source, peer, EPOLLIN, on_client, client) < 0)
		drop(client);
	return 0;
}

/* Locks the folder while the daemon runs: of two started at once one gets the socket. -1: *why. */
static int lock_folder(const char *folder, char **why)
{
	mkdir(folder, 0700);
	int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
	if (fd < 0) {
		*why = memory_format("no control socket in %s: %s", folder, strerror(errno));
		return -1;
	}
	if (flock(fd, LOCK_EX | LOCK_NB) == 0)
		return fd;
	*why = errno == EWOULDBLOCK
		       ? memory_copy(
				 "another pullcalld or \"pullcall run\" is running; once it is at no job, hand it a "
				 "job with \"pullcall load JOB\"")
		       : memory_format("%s cannot be locked: %s", folder, strerror(errno));
	close(fd);
	return -1;
}

/* False, with errno, if it is too long. */
static bool make_address(const char *path, struct sockaddr_un *address)
{
	*address = (struct sockaddr_un){.sun_family = AF_UNIX};
	errno = ENAMETOOLONG;
	if (strlen(path) >= sizeof(address->sun_path))
		return false;
	memcpy(address->sun_path, path, strlen(path) + 1);
	return true;
}

/* Closes fd, keeping errno. Returns -1. */
static int give_up(int fd)
{
	int error = errno;

	if (fd >= 0)
		close(fd);
	errno = error;
	return -1;
}

/* A socket that listens at path, whose folder is locked; or -1 with errno. */
static int listen_at(const char *path)
{
	struct sockaddr_un address;

	if (!make_address(path, &address))
		return -1;
	unlink(path); /* left behind by a daemon that was killed */
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
	mode_t mask = umask(0177);
	bool bound = fd >= 0 && bind(fd, (const struct sockaddr *)&address, sizeof(address)) == 0 &&
		     listen(fd, CONTROL_CLIENTS_MAX) == 0;
	umask(mask);
	return bound ? fd : give_up(fd);
}

int control_request(const char *line)
{
	static const struct timeval patience = {.tv_sec = 1};
	struct sockaddr_un address;
	char *path = control_path();
	ssize_t length = (ssize_t)strlen(line);
	bool good = path && make_address(path, &address);

	free(path);
	if (!good)
		return -1;
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	/* A daemon that hangs with a queue of clients is not waited for without end. */
	setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof(patience));
	bool sent = connect(fd, (const struct sockaddr *)&address, sizeof(address)) == 0 &&
		    send(fd, line, (size_t)length, MSG_NOSIGNAL) == length;
	return sent ? fd : give_up(fd);
}

struct control *control_open(sd_event *loop, control_handler *handle, void *owner, char **why)
{
	char *folder = path_runtime();
	char *path = control_path();

	*why = NULL;
	if (!path) {
		*why = memory_copy("XDG_RUNTIME_DIR is not set, so there is no control socket: "
				   "`pullcall tell` and `watch` will not work");
		return NULL;
	}
	struct control *control = memory_new(1, sizeof(*control));
	*control = (struct control){
		.loop = loop, .handle = handle, .owner = owner, .fd = -1, .path = path};
	for (int i = 0; i < CONTROL_CLIENTS_MAX; i++)
		control->clients[i].fd = -1;
	control->lock = lock_folder(folder, why);
	free(folder);
	int fd = control->lock >= 0 ? listen_at(path) : -1;
	control->fd = fd;
	/* Out of descriptors, a connection that waits must not keep the processor busy. */
	if (fd >= 0 &&
	    sd_event_add_io(loop, &control->source, fd, EPOLLIN, on_connection, control) >= 0 &&
	    sd_event_source_set_ratelimit(control->source, SECOND_US, CONNECTIONS_A_SECOND) >= 0)
		return control;
	if (!*why)
		*why = memory_format("no control socket at %s: %s", path, strerror(errno));
	control_close(control);
	return NULL;
}

void control_close(struct control *control)
{
	if (!control)
		return;
	for (int i = 0; i < CONTROL_CLIENTS_MAX; i++)
		if (control->clients[i].fd >= 0)
			drop(&control->clients[i]);
	sd_event_source_disable_unref(control->source);
	if (control->fd >= 0) {
		close(control->fd);
		unlink(control->path);
	}
	if (control->lock >= 0)
		close(control->lock);
	free(control->path);
	free(control);
}

void control_tell(struct control *control, const char *line)
{
	for (int i = 0; control && i < CONTROL_CLIENTS_MAX; i++)
		if (control->clients[i].watches)
			send_line(&control->clients[i], line);
}
