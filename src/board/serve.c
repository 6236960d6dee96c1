/* The daemon's news to browsers over HTTP: the few paths there are, who may have them, and the
 * stream of events.
 *
 * One thread, libmicrohttpd within our own loop. A browser that follows is suspended while there is
 * nothing new; however slowly it reads, it is only ever sent the newest picture.
 */
#include "board/board.h"
#include "daemon/daemon.h"

#include <arpa/inet.h>
#include <errno.h>
#include <microhttpd.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

enum {
	CONNECTIONS_MAX = 256,
	WATCHERS_MAX = 64,
	CONNECTION_BYTES = 24 * 1024, /* a request's headers, and what is on its way out */
	IDLE_SECONDS = 10,            /* then a client that neither sends nor reads is dropped */
	LINK_WAIT_MS = 500,           /* between two attempts to find the daemon */
	BEAT_MS = 10 * 1000,          /* see turn */
	FORM_BYTES_MAX = 200,
};

/* A browser that follows the events. */
struct watcher {
	struct server *server;
	struct MHD_Connection *connection; /* NULL: this place is free */
	uint64_t seen;                     /* the number of the picture that it was sent last */
};

struct server {
	const char *token; /* "": everybody may look */
	bool steer;
	const struct board_words *words;
	int watch;           /* readable when the daemon has news; -1: no daemon */
	int64_t asked_us;    /* when it was asked last */
	struct text picture; /* what it said then */
	uint64_t number;     /* of the picture, from 1 */
	struct watcher watchers[WATCHERS_MAX];
	int watcher_count;
};

/* The body of a request, as far as there is room. */
struct request {
	char body[FORM_BYTES_MAX + 1];
	size_t length;
};

/* ---- the daemon ---- */

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

static void lose(struct server *server)
{
	if (server->watch >= 0)
		close(server->watch);
	server->watch = -1;
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

/* ---- who may ask ---- */

bool address_is_loopback(const struct sockaddr_in *address)
{
	return ntohl(address->sin_addr.s_addr) >> IN_CLASSA_NSHIFT == IN_LOOPBACKNET;
}

/* HOST:PORT as a browser writes it, without HTTP's own port; host NULL: the address in numbers. The
 * caller frees it. */
static char *authority(const char *host, const struct sockaddr_in *address)
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

/* Whether a request on the connected socket names this server as its host. */
static bool host_is_ours(int fd, const char *host)
{
	struct sockaddr_in here = {0};
	socklen_t length = sizeof(here);

	return getsockname(fd, (struct sockaddr *)&here, &length) == 0 &&
	       (is_authority(host, NULL, &here) ||
		(address_is_loopback(&here) && is_authority(host, "localhost", &here)));
}

/* Whether the page that sent it is one of ours. */
static bool origin_is_ours(const char *origin, const char *host)
{
	static const char scheme[] = "http://";
	size_t length = sizeof(scheme) - 1;

	return strncmp(origin, scheme, length) == 0 && strcasecmp(origin + length, host) == 0;
}

/* Compares in constant time. */
static bool token_is(const char *token, const char *given)
{
	size_t length = strlen(token);
	unsigned differs = 0;

	if (strlen(given) != length)
		return false;
	for (size_t i = 0; i < length; i++)
		differs |= (unsigned char)token[i] ^ (unsigned char)given[i];
	return differs == 0;
}

/* ---- answers ---- */

static const char html[] = "text/html; charset=utf-8", plain[] = "text/plain; charset=utf-8";

static enum MHD_Result queue(struct MHD_Connection *connection, unsigned status,
			     struct MHD_Response *response)
{
	static const char *const headers[][2] = {
		{"Content-Security-Policy",
		 "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
		 "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"},
		{"X-Content-Type-Options", "nosniff"},
		{"Referrer-Policy", "same-origin"},
		{"Cross-Origin-Resource-Policy", "same-origin"},
		{"Cache-Control", "no-store"},
	};

	for (size_t i = 0; i < sizeof(headers) / sizeof(headers[0]); i++)
		MHD_add_response_header(response, headers[i][0], headers[i][1]);
	enum MHD_Result result = MHD_queue_response(connection, status, response);
	MHD_destroy_response(response);
	return result;
}

static enum MHD_Result answer(struct MHD_Connection *connection, unsigned status, const char *type,
			      const char *body)
{
	union {
		const char *text;
		void *bytes; /* copied, not changed */
	} content = {.text = body};
	struct MHD_Response *response =
		MHD_create_response_from_buffer(strlen(body), content.bytes, MHD_RESPMEM_MUST_COPY);

	MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, type);
	return queue(connection, status, response);
}

/* A page of this folder, in the language of the bench. */
static enum MHD_Result answer_page(const struct server *server, struct MHD_Connection *connection,
				   unsigned status, const char *file)
{
	struct text page = {0};

	page_add(&page, file, server->words);
	if (file == page_html)
		text_add(&page, text_string(&server->picture));
	if (file == page_html && server->steer)
		page_add(&page, steer_html, server->words);
	enum MHD_Result result = answer(connection, status, html, text_string(&page));
	text_free(&page);
	return result;
}

/* A form is done with: sends the browser back to the page. */
static enum MHD_Result go_to_page(struct MHD_Connection *connection, const char *cookie)
{
	struct MHD_Response *response =
		MHD_create_response_from_buffer(0, NULL, MHD_RESPMEM_PERSISTENT);

	MHD_add_response_header(response, MHD_HTTP_HEADER_LOCATION, "/");
	if (cookie)
		MHD_add_response_header(response, MHD_HTTP_HEADER_SET_COOKIE, cookie);
	return queue(connection, MHD_HTTP_SEE_OTHER, response);
}

/* ---- the stream of events ---- */

static void wake(struct watcher *watcher)
{
	const union MHD_ConnectionInfo *info = MHD_get_connection_info(
		watcher->connection, MHD_CONNECTION_INFO_CONNECTION_SUSPENDED);

	if (info->suspended)
		MHD_resume_connection(watcher->connection);
}

/* A whole event at a time: libmicrohttpd sends it in parts to a slow reader. */
static ssize_t read_stream(void *data, uint64_t position, char *buffer, size_t size)
{
	struct watcher *watcher = data;
	const struct server *server = watcher->server;

	(void)position;
	if (watcher->seen == server->number) {
		MHD_suspend_connection(watcher->connection);
		return 0;
	}
	int length = snprintf(buffer, size, "data: %s\n\n", text_string(&server->picture));
	if (length < 0 || (size_t)length >= size)
		return MHD_CONTENT_READER_END_WITH_ERROR;
	watcher->seen = server->number;
	return length;
}

static void end_stream(void *data)
{
	struct watcher *watcher = data;

	watcher->connection = NULL;
	watcher->server->watcher_count--;
}

static enum MHD_Result begin_stream(struct server *server, struct MHD_Connection *connection)
{
	if (server->watcher_count == WATCHERS_MAX)
		return answer(connection, MHD_HTTP_SERVICE_UNAVAILABLE, plain,
			      "Too many browsers follow this board already.");
	struct watcher *watcher = server->watchers;
	while (watcher->connection)
		watcher++;
	*watcher = (struct watcher){.server = server, .connection = connection};
	server->watcher_count++;
	struct MHD_Response *response = MHD_create_response_from_callback(
		MHD_SIZE_UNKNOWN, 4096, read_stream, watcher, end_stream);
	MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, "text/event-stream");
	return queue(connection, MHD_HTTP_OK, response);
}

/* ---- requests ---- */

static bool has_token(const struct server *server, struct MHD_Connection *connection)
{
	const char *given = MHD_lookup_connection_value(connection, MHD_COOKIE_KIND, "pullcall");

	return !*server->token || (given && token_is(server->token, given));
}

static enum MHD_Result answer_get(struct server *server, struct MHD_Connection *connection,
				  const char *path)
{
	bool page = strcmp(path, "/") == 0;

	if (strcmp(path, "/board.css") == 0)
		return answer(connection, MHD_HTTP_OK, "text/css", board_css);
	if (strcmp(path, "/board.js") == 0)
		return answer(connection, MHD_HTTP_OK, "text/javascript", board_js);
	if (!page && strcmp(path, "/events") != 0)
		return answer(connection, MHD_HTTP_NOT_FOUND, plain, "Not found.");
	if (!has_token(server, connection))
		return answer_page(server, connection, MHD_HTTP_UNAUTHORIZED, entrance_html);
	return page ? answer_page(server, connection, MHD_HTTP_OK, page_html)
		    : begin_stream(server, connection);
}

/* The form of entrance.html: "token=TOKEN". A cookie keeps it. */
static enum MHD_Result enter(const struct server *server, struct MHD_Connection *connection,
			     const struct request *request)
{
	static const char field[] = "token=";
	size_t length = sizeof(field) - 1;

	if (strncmp(request->body, field, length) != 0 ||
	    !token_is(server->token, request->body + length))
		return answer_page(server, connection, MHD_HTTP_UNAUTHORIZED, entrance_html);
	char *cookie = memory_format("pullcall=%s; Path=/; HttpOnly; SameSite=Strict; "
				     "Max-Age=31536000",
				     server->token);
	enum MHD_Result result = go_to_page(connection, cookie);
	free(cookie);
	return result;
}

/* Has the daemon do it. */
static bool is_done(const char *verb)
{
	struct faults faults = {0};
	struct yaml_document *answer = ask(verb, &faults);
	bool done = answer && strcmp(word(answer->root, "ok"), "true") == 0;

	yaml_free(answer);
	faults_free(&faults);
	return done;
}

static enum MHD_Result answer_post(const struct server *server, struct MHD_Connection *connection,
				   const char *path, const struct request *request)
{
	static const char *const verbs[] = {"/next", "/again", "/back", "/pause"};

	if (*server->token && strcmp(path, "/enter") == 0)
		return enter(server, connection, request);
	if (!server->steer)
		return answer(connection, MHD_HTTP_FORBIDDEN, plain,
			      "This board only shows the job: it was started without --steer.");
	if (!has_token(server, connection))
		return answer(connection, MHD_HTTP_UNAUTHORIZED, plain,
			      "The token is missing or wrong.");
	for (size_t i = 0; i < sizeof(verbs) / sizeof(verbs[0]); i++) {
		if (strcmp(path, verbs[i]) != 0)
			continue;
		if (is_done(verbs[i] + 1))
			return go_to_page(connection, NULL);
		return answer(connection, MHD_HTTP_CONFLICT, plain,
			      phrasebook_shown(server->words->book, "not_now"));
	}
	return answer(connection, MHD_HTTP_NOT_FOUND, plain, "Not found.");
}

/* A POST must say where it comes from, as browsers do. */
static bool is_ours(struct MHD_Connection *connection, bool post)
{
	const union MHD_ConnectionInfo *info =
		MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
	const char *host = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "Host");
	const char *origin = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "Origin");

	return host && host_is_ours(info->connect_fd, host) &&
	       (origin ? origin_is_ours(origin, host) : !post);
}

/* Called with the headers, with every part of the body, and once more at the end. */
static enum MHD_Result on_request(void *data, struct MHD_Connection *connection, const char *path,
				  const char *method, const char *version, const char *bytes,
				  size_t *size, void **state)
{
	struct request *request = *state;
	bool post = strcmp(method, MHD_HTTP_METHOD_POST) == 0;

	(void)version;
	if (!request) {
		if (!is_ours(connection, post))
			return answer(connection, MHD_HTTP_FORBIDDEN, plain,
				      "This board answers only at its own address.");
		if (!post && strcmp(method, MHD_HTTP_METHOD_GET) != 0 &&
		    strcmp(method, MHD_HTTP_METHOD_HEAD) != 0)
			return answer(connection, MHD_HTTP_METHOD_NOT_ALLOWED, plain,
				      "GET or POST.");
		*state = memory_new(1, sizeof(*request));
		return MHD_YES;
	}
	if (*size > 0) {
		size_t room = FORM_BYTES_MAX - request->length;
		size_t count = *size < room ? *size : room;
		memcpy(request->body + request->length, bytes, count);
		request->length += count;
		*size = 0;
		return MHD_YES;
	}
	return post ? answer_post(data, connection, path, request)
		    : answer_get(data, connection, path);
}

static void on_end(void *data, struct MHD_Connection *connection, void **state,
		   enum MHD_RequestTerminationCode code)
{
	(void)data, (void)connection, (void)code;
	free(*state);
	*state = NULL;
}

/* ---- the loop ---- */

static struct MHD_Daemon *start(struct server *server, int fd)
{
	return MHD_start_daemon(MHD_USE_EPOLL | MHD_ALLOW_SUSPEND_RESUME, 0, NULL, NULL, on_request,
				server, MHD_OPTION_LISTEN_SOCKET, fd, MHD_OPTION_CONNECTION_LIMIT,
				CONNECTIONS_MAX, MHD_OPTION_CONNECTION_MEMORY_LIMIT,
				(size_t)CONNECTION_BYTES, MHD_OPTION_CONNECTION_TIMEOUT,
				IDLE_SECONDS, MHD_OPTION_NOTIFY_COMPLETED, on_end, NULL,
				MHD_OPTION_END);
}

/* -1 with errno. The port may be left to the system: then *address becomes the one it is. */
static int listen_at(struct sockaddr_in *address)
{
	static const int yes = 1;
	struct sockaddr *generic = (struct sockaddr *)address;
	socklen_t length = sizeof(*address);
	int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);

	if (fd < 0 || setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof(yes)) < 0 ||
	    bind(fd, generic, length) < 0 || listen(fd, SOMAXCONN) < 0 ||
	    getsockname(fd, generic, &length) < 0)
		return -1;
	return fd;
}

static int wait_ms(const struct server *server, struct MHD_Daemon *http)
{
	int most_ms = server->watch < 0 ? LINK_WAIT_MS : server->watcher_count ? BEAT_MS : -1;
	MHD_UNSIGNED_LONG_LONG http_ms;

	if (MHD_get_timeout(http, &http_ms) == MHD_YES &&
	    (most_ms < 0 || http_ms < (unsigned)most_ms))
		return (int)http_ms;
	return most_ms;
}

/* At its limit libmicrohttpd stops listening, and it notices only when it runs that there is room
 * again: so the loop waits for new connections too. */
static bool has_room(struct MHD_Daemon *http)
{
	const union MHD_DaemonInfo *info =
		MHD_get_daemon_info(http, MHD_DAEMON_INFO_CURRENT_CONNECTIONS);

	return info->num_connections < CONNECTIONS_MAX;
}

/* Asks the daemon, and shows what has changed. */
static void update(struct server *server, bool always)
{
	struct faults faults = {0};
	struct text picture = {0};
	struct yaml_document *answer = server->watch < 0 ? NULL : ask("status", &faults);

	server->asked_us = clock_steady_us();
	picture_add(&picture, server->words, answer ? answer->root : NULL);
	if (always || strcmp(text_string(&server->picture), text_string(&picture)) != 0) {
		server->number++;
		for (int i = 0; i < WATCHERS_MAX; i++)
			if (server->watchers[i].connection)
				wake(&server->watchers[i]);
	}
	text_free(&server->picture);
	server->picture = picture;
	if (!answer)
		lose(server);
	yaml_free(answer);
	faults_free(&faults);
}

/* Asks the daemon when it has news; while it is lost, every LINK_WAIT_MS. While somebody is
 * watching, the picture goes out every BEAT_MS in any case: for the times on it, and the rack,
 * which other programs change; and to find out which browsers are still there. */
static void turn(struct server *server, bool has_news)
{
	int64_t since_us = clock_steady_us() - server->asked_us;
	bool beat = server->watcher_count > 0 && since_us >= BEAT_MS * MS_US;

	if (has_news && !drain(server->watch))
		lose(server);
	if (server->watch < 0 ? since_us < LINK_WAIT_MS * MS_US : !has_news && !beat)
		return;
	if (server->watch < 0)
		server->watch = request("watch");
	update(server, beat);
}

void serve(const struct sockaddr_in *address, const char *token, bool steer,
	   const struct board_words *words)
{
	struct server server = {.token = token, .steer = steer, .words = words, .watch = -1};
	struct sockaddr_in here = *address;
	int fd = listen_at(&here);
	struct MHD_Daemon *http = fd < 0 ? NULL : start(&server, fd);

	if (!http)
		return;
	int http_fd = MHD_get_daemon_info(http, MHD_DAEMON_INFO_EPOLL_FD)->epoll_fd;
	char *text = authority(NULL, &here);
	printf("http://%s/\n", text);
	fflush(stdout);
	free(text);
	turn(&server, false);
	for (;;) {
		struct pollfd ready[] = {{.fd = http_fd, .events = POLLIN},
					 {.fd = server.watch, .events = POLLIN},
					 {.fd = has_room(http) ? fd : -1, .events = POLLIN}};
		poll(ready, 3, wait_ms(&server, http));
		turn(&server, ready[1].revents != 0);
		MHD_run(http);
	}
}
