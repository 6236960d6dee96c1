/* The control socket with clients that vanish, do not read, or watch and steer at once. Run it with
 * a sanitizer to see what is touched after it was freed. */
#include "base/base.h"
#include "daemon/internal.h"

#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <cmocka.h>

struct rig {
	char folder[64];
	sd_event *loop;
	struct control *control;
	int news;         /* lines told to all for each request served */
	size_t news_size; /* of one of them */
	int served;
};

static void tell_news(const struct rig *rig)
{
	char *news = memory_new(rig->news_size + 1, 1);

	memset(news, 'n', rig->news_size);
	for (int i = 0; i < rig->news; i++)
		control_tell(rig->control, news);
	free(news);
}

static bool handle(void *owner, const char *line, size_t length, struct text *reply)
{
	static const char watch[] = "{\"do\": \"watch\"}";
	struct rig *rig = owner;

	rig->served++;
	tell_news(rig);
	text_add(reply, "{\"ok\": true}");
	return length == strlen(watch) && memcmp(line, watch, length) == 0;
}

static int set_up(void **state)
{
	struct rig *rig = memory_new(1, sizeof(*rig));
	char *why = NULL;

	snprintf(rig->folder, sizeof(rig->folder), "/tmp/pullcall-control-XXXXXX");
	assert_non_null(mkdtemp(rig->folder));
	setenv("XDG_RUNTIME_DIR", rig->folder, 1);
	assert_true(sd_event_new(&rig->loop) >= 0);
	rig->control = control_open(rig->loop, handle, rig, &why);
	if (!rig->control)
		fail_msg("%s", why);
	*state = rig;
	return 0;
}

static int tear_down(void **state)
{
	struct rig *rig = *state;
	char *inner = memory_format("%s/pullcall", rig->folder);

	control_close(rig->control);
	sd_event_unref(rig->loop);
	assert_int_equal(rmdir(inner), 0);
	assert_int_equal(rmdir(rig->folder), 0);
	free(inner);
	free(rig);
	return 0;
}

static void turn(const struct rig *rig)
{
	while (sd_event_run(rig->loop, 0) > 0)
		;
}

static int connect_to(const char *path)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);

	snprintf(address.sun_path, sizeof(address.sun_path), "%s", path);
	assert_true(fd >= 0);
	assert_int_equal(connect(fd, (const struct sockaddr *)&address, sizeof(address)), 0);
	return fd;
}

static int join(const struct rig *rig)
{
	char *path = control_path();
	int fd = connect_to(path);

	free(path);
	turn(rig);
	return fd;
}

static void request(int fd, const char *line)
{
	assert_int_equal(send(fd, line, strlen(line), MSG_NOSIGNAL), strlen(line));
}

static size_t read_all(int fd, char *bytes, size_t size)
{
	ssize_t count = recv(fd, bytes, size - 1, 0);

	bytes[count > 0 ? count : 0] = '\0';
	return count > 0 ? (size_t)count : 0;
}

static void is_served(struct rig *rig)
{
	int fd = join(rig);
	char answer[200];

	rig->news = 0;
	request(fd, "{\"do\": \"status\"}\n");
	turn(rig);
	read_all(fd, answer, sizeof(answer));
	assert_string_equal(answer, "{\"ok\": true}\n");
	close(fd);
	turn(rig);
}

static void no_place_is_taken(struct rig *rig)
{
	int others[CONTROL_CLIENTS_MAX - 1];

	for (int i = 0; i < CONTROL_CLIENTS_MAX - 1; i++)
		others[i] = join(rig);
	is_served(rig);
	for (int i = 0; i < CONTROL_CLIENTS_MAX - 1; i++)
		close(others[i]);
	turn(rig);
}

/* The news of its own request is what finds the client gone, or too far behind. */
static void watcher_that_steers_and_vanishes(void **state)
{
	struct rig *rig = *state;
	int fd = join(rig);

	request(fd, "{\"do\": \"watch\"}\n");
	turn(rig);
	request(fd, "{\"do\": \"next\"}\n{\"do\": \"next\"}\n");
	close(fd);
	rig->news = 1;
	rig->news_size = 10;
	turn(rig);
	assert_int_equal(rig->served, 2); /* the first request after it found the client gone */
	no_place_is_taken(rig);
}

static void watcher_that_steers_and_does_not_read(void **state)
{
	struct rig *rig = *state;
	int fd = join(rig);

	request(fd, "{\"do\": \"watch\"}\n");
	turn(rig);
	request(fd, "{\"do\": \"next\"}\n");
	rig->news = 400; /* more than the kernel keeps, even where it was told to keep much */
	rig->news_size = 50000;
	turn(rig);
	assert_int_equal(rig->served, 2);
	no_place_is_taken(rig);
	close(fd);
	is_served(rig);
}

/* Other watchers are lost in the midst of telling everybody, and the rest still hear it. */
static void some_watchers_vanish(void **state)
{
	struct rig *rig = *state;
	char heard[200];
	int fds[5];

	for (int i = 0; i < 5; i++) {
		fds[i] = join(rig);
		request(fds[i], "{\"do\": \"watch\"}\n");
		turn(rig);
		read_all(fds[i], heard, sizeof(heard));
	}
	close(fds[0]);
	close(fds[2]);
	close(fds[4]);
	rig->news = 2;
	rig->news_size = 3;
	tell_news(rig);
	for (int i = 1; i < 5; i += 2) {
		read_all(fds[i], heard, sizeof(heard));
		assert_string_equal(heard, "nnn\nnnn\n");
		close(fds[i]);
	}
	turn(rig);
	no_place_is_taken(rig);
}

/* One who is always a little behind gets every line, in order, however long that goes on. */
static void slow_reader_misses_nothing(void **state)
{
	enum { LINE = 1000, LINES = 6000, BEHIND = 100 };
	struct rig *rig = *state;
	static char bytes[LINE * 20];
	size_t got = 0, sent = 0;
	int fd = join(rig);

	request(fd, "{\"do\": \"watch\"}\n");
	turn(rig);
	assert_string_equal((read_all(fd, bytes, sizeof(bytes)), bytes), "{\"ok\": true}\n");
	for (int line = 0; line < LINES; line++) {
		char *text = memory_format("%0*d", LINE - 1, line);
		control_tell(rig->control, text);
		free(text);
		sent += LINE;
		if (sent - got < BEHIND * LINE && line < LINES - 1)
			continue;
		do {
			/* Whole lines, so that each can be compared. */
			ssize_t count = recv(fd, bytes, LINE, MSG_WAITALL);
			assert_int_equal(count, LINE);
			char *end;
			assert_int_equal(strtol(bytes, &end, 10), got / LINE);
			assert_int_equal(*end, '\n');
			got += LINE;
			turn(rig);
		} while (line == LINES - 1 && got < sent);
	}
	assert_int_equal(got, sent);
	close(fd);
	turn(rig);
}

/* One who asks no more, as a program in a pipe, still gets the whole answer. */
static void half_closed_client_gets_its_answer(void **state)
{
	enum { ASKED = 100 };
	struct rig *rig = *state;
	static char bytes[4096];
	size_t got = 0;
	ssize_t count;
	int fd = join(rig);

	for (int i = 0; i < ASKED; i++) {
		request(fd, "{\"do\": \"status\"}\n");
		turn(rig);
	}
	assert_int_equal(shutdown(fd, SHUT_WR), 0);
	turn(rig);
	while ((count = recv(fd, bytes, sizeof(bytes), 0)) > 0) {
		got += (size_t)count;
		turn(rig);
	}
	assert_int_equal(count, 0);
	assert_int_equal(got, ASKED * strlen("{\"ok\": true}\n"));
	close(fd);
	turn(rig);
	is_served(rig);
}

/* One who watches, asks no more and goes on reading gets the news until it is gone. */
static void half_closed_watcher_goes_on_watching(void **state)
{
	struct rig *rig = *state;
	char bytes[200];
	int fd = join(rig);

	request(fd, "{\"do\": \"watch\"}\n");
	turn(rig);
	assert_int_equal(shutdown(fd, SHUT_WR), 0);
	turn(rig);
	control_tell(rig->control, "news");
	turn(rig);
	read_all(fd, bytes, sizeof(bytes));
	assert_string_equal(bytes, "{\"ok\": true}\nnews\n");
	close(fd);
	turn(rig);
	no_place_is_taken(rig);
}

/* A daemon that was killed leaves its socket behind, which is nobody's. */
static void left_over_socket_is_replaced(void **state)
{
	struct rig *rig = *state;
	char *path = control_path();
	char *why = NULL;

	control_close(rig->control);
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	snprintf(address.sun_path, sizeof(address.sun_path), "%s", path);
	int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	assert_int_equal(bind(fd, (const struct sockaddr *)&address, sizeof(address)), 0);
	close(fd);
	rig->control = control_open(rig->loop, handle, rig, &why);
	assert_null(why);
	assert_non_null(rig->control);
	is_served(rig);
	free(path);
}

/* A living owner that is too busy to take connections keeps its socket. */
static void busy_owner_keeps_its_socket(void **state)
{
	struct rig *rig = *state;
	char *path = control_path();
	struct stat before, after;
	int fds[CONTROL_CLIENTS_MAX + 1];
	char *why = NULL;

	assert_int_equal(stat(path, &before), 0);
	for (int i = 0; i <= CONTROL_CLIENTS_MAX; i++)
		fds[i] = connect_to(path); /* nobody accepts: the queue is full then */
	assert_null(control_open(rig->loop, handle, rig, &why));
	assert_non_null(strstr(why, "is running"));
	assert_int_equal(stat(path, &after), 0);
	assert_int_equal(before.st_ino, after.st_ino);
	for (int i = 0; i <= CONTROL_CLIENTS_MAX; i++)
		close(fds[i]);
	turn(rig);
	free(why);
	free(path);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(watcher_that_steers_and_vanishes, set_up,
						tear_down),
		cmocka_unit_test_setup_teardown(half_closed_client_gets_its_answer, set_up,
						tear_down),
		cmocka_unit_test_setup_teardown(half_closed_watcher_goes_on_watching, set_up,
						tear_down),
		cmocka_unit_test_setup_teardown(left_over_socket_is_replaced, set_up, tear_down),
		cmocka_unit_test_setup_teardown(watcher_that_steers_and_does_not_read, set_up,
						tear_down),
		cmocka_unit_test_setup_teardown(some_watchers_vanish, set_up, tear_down),
		cmocka_unit_test_setup_teardown(slow_reader_misses_nothing, set_up, tear_down),
		cmocka_unit_test_setup_teardown(busy_owner_keeps_its_socket, set_up, tear_down),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
