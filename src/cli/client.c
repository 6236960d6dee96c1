#include "cli/cli.h"

#include "base/base.h"
#include "daemon/daemon.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>

struct client {
	FILE *stream; /* for reading */
	int fd;
	char *line;
	size_t capacity;
};

struct client *client_open(void)
{
	char *path = control_path();

	if (!path) {
		fputs("pullcall: XDG_RUNTIME_DIR is not set, so no pullcalld can be found\n",
		      stderr);
		return NULL;
	}
	int fd = control_connect(path);
	if (fd < 0)
		fprintf(stderr,
			"pullcall: no pullcalld and no \"pullcall run\" is running (%s: %s)\n",
			path, strerror(errno));
	free(path);
	if (fd < 0)
		return NULL;
	struct client *client = memory_new(1, sizeof(*client));
	client->fd = fd;
	client->stream = fdopen(fd, "r");
	return client;
}

void client_close(struct client *client)
{
	if (!client)
		return;
	fclose(client->stream);
	free(client->line);
	free(client);
}

bool client_send(struct client *client, const char *line)
{
	char *ended = memory_format("%s\n", line);
	size_t length = strlen(ended);
	ssize_t count = send(client->fd, ended, length, MSG_NOSIGNAL);

	free(ended);
	if (count == (ssize_t)length)
		return true;
	fprintf(stderr, "pullcall: the daemon is gone: %s\n", strerror(errno));
	return false;
}

const char *client_line(struct client *client)
{
	ssize_t length = getline(&client->line, &client->capacity, client->stream);

	if (length <= 0)
		return NULL;
	if (client->line[length - 1] == '\n')
		client->line[length - 1] = '\0';
	return client->line;
}
