#include "daemon/daemon.h"

#include "base/base.h"
#include "daemon/internal.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

struct client {
	struct control *control;
	int fd;
	sd_event_source *source;
	bool watches;
	bool closing; /* nothing more is read; gone when all is written */
	bool mute;    /* it watches, and asks no more */
	bool gone;    /* dropped while its request was being served: see drop */
	char line[CONTROL_LINE_MAX];
	size_t length;
	struct text out; /* what the socket has not taken yet */
};

struct control {
	sd_event *loop;
	control_handler *handle;
	void *owner;
	int fd;
	int lock; /* see lock_folder */
	sd_event_source *source;
	char *path;
	struct client *clients[CONTROL_CLIENTS_MAX];
	struct client *served; /* whose events are being handled; NULL: nobody's */
};

char *control_path(void)
{
	char *folder = place_runtime();
	char *path = folder ? memory_format("%s/control", folder) : NULL;

	free(folder);
	return path;
}

static void client_free(struct client *client)
{
	sd_event_source_disable_unref(client->source);
	close(client->fd);
	text_free(&client->out);
	free(client);
}

/* The client whose request is being served is still needed by those who serve it: a client that
 * watches can be lost by its own request, when the news of it cannot be written. */
static void drop(struct client *client)
{
	struct control *control = client->control;

	for (int i = 0; i < CONTROL_CLIENTS_MAX; i++)
		if (control->clients[i] == client)
			control->clients[i] = NULL;
	if (client == control->served)
		client->gone = true;
	else
		client_free(client);
}

/* Hands over what the socket takes now. False when nobody is at the other end any more. */
static bool hand_over(struct client *client)
{
	struct text *out = &client->out;
	size_t sent = 0;

	while (sent < out->length) {
		ssize_t count =
			send(client->fd, out->bytes + sent, out->length - sent, MSG_NOSIGNAL);
		if (count < 0 && (errno == EAGAIN || errno == EINTR))
			break;
		if (count < 0)
			return false;
		sent += (size_t)count;
	}
	text_remove_start(out, sent);
	return true;
}

/* Writes what the socket takes. False when the client is gone or hopeless; it is dropped then. */
static bool flush(struct client *client)
{
	if (client->gone)
		return false;
	bool there = hand_over(client);
	bool done = client->out.length == 0;
	if (!there || (done && client->closing) || client->out.length > CONTROL_BUFFER_MAX) {
		drop(client);
		return false;
	}
	sd_event_source_set_io_events(client->source,
				      (client->closing || client->mute ? 0 : EPOLLIN) |
					      (done ? 0 : EPOLLOUT));
	return true;
}

static bool send_line(struct client *client, const char *line)
{
	text_add(&client->out, line);
	text_add_char(&client->out, '\n');
	return flush(client);
}

/* False when the client is gone. */
static bool answer(struct client *client, const char *line, size_t length)
{
	struct control_request request;
	struct text reply = {0};

	if (control_parse(line, length, &request, &reply)) {
		client->control->handle(client->control->owner, &request, &reply);
		client->watches = client->watches || request.verb == CONTROL_WATCH;
	}
	request_free(&request);
	bool there = send_line(client, text_string(&reply));
	text_free(&reply);
	return there;
}

/* Answers the whole lines that have come. */
static bool take_lines(struct client *client)
{
	char *end;

	while ((end = memchr(client->line, '\n', client->length))) {
		size_t length = (size_t)(end - client->line);
		if (!answer(client, client->line, length))
			return false;
		client->length -= length + 1;
		memmove(client->line, end + 1, client->length);
	}
	if (client->length < CONTROL_LINE_MAX)
		return true;
	struct text reply = {0};
	request_refuse(&reply, "line too long");
	client->closing = true;
	bool there = send_line(client, text_string(&reply));
	text_free(&reply);
	return there;
}

static void serve(struct client *client, uint32_t events)
{
	if ((events & EPOLLOUT) && !flush(client))
		return;
	if (!(events & (EPOLLIN | EPOLLHUP | EPOLLERR)))
		return;
	/* One buffer a turn: a flood waits its turn like everybody else. */
	ssize_t count = recv(client->fd, client->line + client->length,
			     CONTROL_LINE_MAX - client->length, 0);
	if (count < 0 && (errno == EAGAIN || errno == EINTR))
		return;
	if (count == 0) { /* it asks no more, but may still read */
		client->mute = client->watches && !(events & EPOLLHUP);
		client->closing = !client->mute;
		flush(client);
		return;
	}
	if (count < 0) {
		drop(client);
		return;
	}
	client->length += (size_t)count;
	take_lines(client);
}

static int on_client(sd_event_source *source, int fd, uint32_t events, void *data)
{
	struct client *client = data;
	struct control *control = client->control;

	(void)source;
	(void)fd;
	control->served = client;
	serve(client, events);
	control->served = NULL;
	if (client->gone)
		client_free(client);
	return 0;
}

static bool is_friend(int fd)
{
	struct ucred peer;
	socklen_t length = sizeof(peer);

	return getsockopt(fd, SOL_SOCKET, SO_PEERCRED, &peer, &length) == 0 &&
	       (peer.uid == geteuid() || peer.uid == 0);
}

static int on_connection(sd_event_source *source, int fd, uint32_t events, void *data)
{
	struct control *control = data;
	int place = 0;

	(void)source;
	(void)events;
	int peer = accept4(fd, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);
	if (peer < 0)
		return 0;
	while (place < CONTROL_CLIENTS_MAX && control->clients[place])
		place++;
	if (place == CONTROL_CLIENTS_MAX || !is_friend(peer)) {
		static const char refusal[] =
			"{\"ok\": false, \"error\": \"not served: another user, or too many "
			"connections\"}\n";
		send(peer, refusal, sizeof(refusal) - 1, MSG_NOSIGNAL | MSG_DONTWAIT);
		close(peer);
		return 0;
	}
	struct client *client = memory_new(1, sizeof(*client));
	client->control = control;
	client->fd = peer;
	if (sd_event_add_io(control->loop, &client->source, peer, EPOLLIN, on_client, client) < 0) {
		close(peer);
		free(client);
		return 0;
	}
	control->clients[place] = client;
	return 0;
}

/* Held as long as the socket in the folder is there, so that of two daemons that start in one
 * instant only one begins. -1 with *why. */
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
		       ? memory_copy("another pullcalld or \"pullcall run\" is running")
		       : memory_format("%s cannot be locked: %s", folder, strerror(errno));
	close(fd);
	return -1;
}

/* A listening socket at path, in a folder that is locked; or -1 with *why. */
static int listen_at(const char *path, char **why)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};

	if (strlen(path) >= sizeof(address.sun_path)) {
		*why = memory_format("the path of the control socket is too long: %s", path);
		return -1;
	}
	memcpy(address.sun_path, path, strlen(path) + 1);
	unlink(path); /* of a daemon that was killed */
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
	mode_t mask = umask(0177);
	bool bound = fd >= 0 && bind(fd, (const struct sockaddr *)&address, sizeof(address)) == 0 &&
		     listen(fd, CONTROL_CLIENTS_MAX) == 0;
	umask(mask);
	if (bound)
		return fd;
	*why = memory_format("no control socket at %s: %s", path, strerror(errno));
	if (fd >= 0)
		close(fd);
	return -1;
}

struct control *control_open(sd_event *loop, control_handler *handle, void *owner, char **why)
{
	char *folder = place_runtime();
	char *path = control_path();

	*why = NULL;
	if (!path) {
		*why = memory_copy("XDG_RUNTIME_DIR is not set, so there is no control socket: "
				   "`pullcall tell` and `watch` will not work");
		return NULL;
	}
	int lock = lock_folder(folder, why);
	free(folder);
	int fd = lock < 0 ? -1 : listen_at(path, why);
	if (fd < 0) {
		if (lock >= 0)
			close(lock);
		free(path);
		return NULL;
	}
	struct control *control = memory_new(1, sizeof(*control));
	*control = (struct control){
		.loop = loop,
		.handle = handle,
		.owner = owner,
		.fd = fd,
		.lock = lock,
		.path = path,
	};
	int error = sd_event_add_io(loop, &control->source, fd, EPOLLIN, on_connection, control);
	if (error < 0) {
		*why = memory_format("no control socket at %s: %s", path, strerror(-error));
		control_close(control);
		return NULL;
	}
	return control;
}

void control_close(struct control *control)
{
	if (!control)
		return;
	for (int i = 0; i < CONTROL_CLIENTS_MAX; i++)
		if (control->clients[i])
			drop(control->clients[i]);
	sd_event_source_disable_unref(control->source);
	close(control->fd);
	unlink(control->path);
	close(control->lock);
	free(control->path);
	free(control);
}

void control_tell(struct control *control, const char *line)
{
	if (!control)
		return;
	for (int i = 0; i < CONTROL_CLIENTS_MAX; i++)
		if (control->clients[i] && control->clients[i]->watches)
			send_line(control->clients[i], line);
}

bool control_is_watched(const struct control *control)
{
	if (!control)
		return false;
	for (int i = 0; i < CONTROL_CLIENTS_MAX; i++)
		if (control->clients[i] && control->clients[i]->watches)
			return true;
	return false;
}
