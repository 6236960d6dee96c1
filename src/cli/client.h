/* The other end of the control socket. */
#ifndef CLI_CLIENT_H
#define CLI_CLIENT_H

#include "base/text.h"
#include "base/yaml.h"

#include <stdio.h>

struct client;

/* NULL with a message on standard error if no daemon is there. */
struct client *client_open(void);
void client_close(struct client *client);

/* Sends a line; false with a message if the daemon is gone. */
bool client_send(struct client *client, const char *line);

/* The next line, without its end; NULL at the end of the connection. Lives until the next call. */
const char *client_line(struct client *client);

#endif
