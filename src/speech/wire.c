/* The wire: one datagram a message, checked at the end that reads it. */
#include "speech/speech.h"

#include <errno.h>
#include <string.h>
#include <sys/socket.h>

enum { HEAD = offsetof(struct wire_message, text) };

bool wire_pair(int fds[2])
{
	return socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, fds) == 0;
}

enum wire_result wire_send(int fd, const struct wire_message *message)
{
	struct wire_message copy = *message;
	size_t length = HEAD + strnlen(copy.text, WIRE_TEXT_MAX - 1) + 1;

	copy.version = WIRE_VERSION;
	copy.text[WIRE_TEXT_MAX - 1] = '\0';
	for (;;) {
		if (send(fd, &copy, length, MSG_DONTWAIT | MSG_NOSIGNAL) >= 0)
			return WIRE_DONE;
		if (errno == EAGAIN)
			return WIRE_LATER;
		if (errno != EINTR)
			return WIRE_CLOSED;
	}
}

static bool is_message(const struct wire_message *message, size_t length)
{
	return length > HEAD && length <= sizeof *message && message->version == WIRE_VERSION &&
	       message->kind >= WIRE_SAY && message->kind < WIRE_KIND_END &&
	       memchr(message->text, '\0', length - HEAD) == &message->text[length - HEAD - 1];
}

enum wire_result wire_receive(int fd, struct wire_message *message)
{
	ssize_t length;

	do
		/* MSG_TRUNC: the true length, even of a message that is too long. */
		length = recv(fd, message, sizeof *message, MSG_DONTWAIT | MSG_TRUNC);
	while (length < 0 && errno == EINTR);
	if (length < 0)
		return errno == EAGAIN ? WIRE_LATER : WIRE_CLOSED;
	if (length == 0)
		return WIRE_CLOSED;
	return is_message(message, (size_t)length) ? WIRE_DONE : WIRE_BAD;
}

void wire_set_text(struct wire_message *message, const char *text)
{
	const char *end = text;

	for (const char *next = text; utf8_next(&next) && next - text < WIRE_TEXT_MAX;)
		end = next;
	memcpy(message->text, text, (size_t)(end - text));
	message->text[end - text] = '\0';
}
