#include "board/board.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

bool address_parse(const char *text, struct sockaddr_in *out)
{
	const char *colon = strchr(text, ':');
	char *end = NULL;

	if (!colon || colon[1] < '0' || colon[1] > '9')
		return false;
	char *host = memory_copy_part(text, (size_t)(colon - text));
	unsigned long port = strtoul(colon + 1, &end, 10);
	*out = (struct sockaddr_in){.sin_family = AF_INET, .sin_port = htons((uint16_t)port)};
	bool good = inet_pton(AF_INET, host, &out->sin_addr) == 1 && !*end && port <= UINT16_MAX;
	free(host);
	return good;
}

bool address_is_loopback(const struct sockaddr_in *address)
{
	return ntohl(address->sin_addr.s_addr) >> IN_CLASSA_NSHIFT == IN_LOOPBACKNET;
}

char *authority(const char *host, const struct sockaddr_in *address)
{
	int port = ntohs(address->sin_port);
	char numeric[INET_ADDRSTRLEN];

	if (!host)
		host = inet_ntop(AF_INET, &address->sin_addr, numeric, sizeof(numeric));
	return port == 80 ? memory_copy(host) : memory_format("%s:%d", host, port);
}

static bool is_authority(const char *given, const char *host, const struct sockaddr_in *address)
{
	char *right = authority(host, address);
	bool same = strcasecmp(given, right) == 0;

	free(right);
	return same;
}

bool host_is_ours(int fd, const char *host)
{
	struct sockaddr_in here = {0};
	socklen_t length = sizeof(here);

	return getsockname(fd, (struct sockaddr *)&here, &length) == 0 &&
	       (is_authority(host, NULL, &here) ||
		(address_is_loopback(&here) && is_authority(host, "localhost", &here)));
}

bool origin_is_ours(const char *origin, const char *host)
{
	static const char scheme[] = "http://";
	size_t length = sizeof(scheme) - 1;

	return strncmp(origin, scheme, length) == 0 && strcasecmp(origin + length, host) == 0;
}

bool token_read(const char *path, char token[static TOKEN_MAX + 1], const char **why)
{
	static const char allowed[] =
		"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
	char line[TOKEN_MAX + 2] = "";
	struct stat file = {0};
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);

	*why = NULL;
	if (fd < 0 || fstat(fd, &file) < 0 || read(fd, line, sizeof(line) - 1) < 0)
		*why = strerror(errno);
	if (fd >= 0)
		close(fd);
	size_t length = strspn(line, allowed);
	if (!*why && file.st_mode & (S_IRWXG | S_IRWXO))
		*why = "others can read it: make it yours alone (chmod 600)";
	else if (!*why && (length < TOKEN_MIN || length > TOKEN_MAX || line[length] != '\n'))
		*why = "expected one line of 16 to 128 letters, digits, - and _";
	memcpy(token, line, *why ? 0 : length);
	return !*why;
}

bool token_is(const char *token, const char *given)
{
	size_t length = strlen(token);
	unsigned differs = 0;

	if (strlen(given) != length)
		return false;
	for (size_t i = 0; i < length; i++)
		differs |= (unsigned char)token[i] ^ (unsigned char)given[i];
	return differs == 0;
}
