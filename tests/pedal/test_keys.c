/* Terminal keys: what bytes mean, which of them are only a held key, and terminals, pipes and files
 * as an event loop reads them. */
#include "words.h"

#include "base/base.h"
#include "pedal/internal.h"

#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/wait.h>
#include <sysexits.h>
#include <termios.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

static void note(void *owner, const struct pedal_event *gesture)
{
	struct text *out = owner;

	if (out->length > 0)
		text_add_char(out, ' ');
	text_add(out, event_name(gesture->kind));
	if (gesture->steps > 0)
		text_format(out, "(%d)", gesture->steps);
}

static void note_with_time(void *owner, const struct pedal_event *gesture)
{
	note(owner, gesture);
	text_format(owner, "@%" PRId64, gesture->time_us / MS_US);
}

/* ---- what bytes mean ---- */

static const struct {
	const char *bytes;
	const char *expected;
} meanings[] = {
	{" ", "next"},
	{"nNaArRbBpPwW?cCqQ",
	 "next next again again again again back back pause pause where where why choices "
	 "choices stop stop"},
	{"\x7f\x08", "back back"},
	{"\x03\x04", "stop stop"},
	{"xyzXYZ0123456789!@#$%^&*()_+-=[]{};:'\",.<>/|\\`~\t\x01\x1a\x0c", ""},
	/* Arrows as most terminals send them, as some do after an application asked, with Shift or
	 * Ctrl held, with Alt on old terminals. */
	{"\x1b[A\x1b[C\x1b[D\x1b[B", "again next back"},
	{"\x1bOA\x1bOC\x1bOD\x1bOB", "again next back"},
	{"\x1b[1;5C\x1b[1;2D\x1b[1;3A", "next back again"},
	{"\x1b\x1b[C", "next"},
	{"\x1bO5C", "next"},
	/* Keys that mean nothing and end in letters that would. */
	{"\x1b[3~\x1b[5~\x1b[6~\x1b[15~n", "next"},
	{"\x1bOP\x1bOQ\x1bOR\x1b[[A\x1b[[B\x1b[[C\x1b[[D", ""},
	{"\x1b[I\x1b[O\x1b[<0;10;10M\x1b[?62;c\x1b[10;20R", ""},
	/* Escape alone, Alt with a key, an escape that another one cuts short. */
	{"\x1bn", "next"},
	{"\x1b\x1b\x1bn", "next"},
	{"\x1b[\x1b[C", "next"},
	{"\x1b[1;\x1bOD", "back"},
	{"\x1b[12\x03", "stop"},
	{"\x1b[[\x03", "stop"},
	/* UTF-8, also with bytes that look like control characters of eight bits, and broken. */
	{"n\xc3\xa9\xe2\x82\xac\xf0\x9f\x8e\xbe\xc2\x9b"
	 "C\xff\xfe\xc3n",
	 "next choices next"},
};

static void bytes_mean_what_the_table_says(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof meanings / sizeof *meanings; i++) {
		struct text out = {0};
		struct keys *keys = keys_new(false, note, &out);

		keys_bytes(keys, meanings[i].bytes, strlen(meanings[i].bytes), 0);
		assert_string_equal(text_string(&out), meanings[i].expected);
		free(keys);
		text_free(&out);
	}
}

/* Wherever a sequence is cut in two, it means the same. */
static void sequences_may_come_in_pieces(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof meanings / sizeof *meanings; i++) {
		size_t length = strlen(meanings[i].bytes);

		for (size_t cut = 0; cut <= length; cut++) {
			struct text out = {0};
			struct keys *keys = keys_new(false, note, &out);

			keys_bytes(keys, meanings[i].bytes, cut, 0);
			keys_bytes(keys, meanings[i].bytes + cut, length - cut, 5 * SECOND_US);
			assert_string_equal(text_string(&out), meanings[i].expected);
			free(keys);
			text_free(&out);
		}
	}
}

static void line_ends_are_no_keys_in_a_pipe(void **state)
{
	(void)state;
	static const struct {
		const char *bytes;
		const char *expected;
	} rows[] = {
		{"n\nn\n", "next next"},    {"\n\n", ""}, {"n\r\n\r\n", "next"}, {"next\n", "next"},
		{"b\n\na\n", "back again"}, {"#\n", ""},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct text out = {0};
		struct keys *keys = keys_new(false, note, &out);

		keys_bytes(keys, rows[i].bytes, strlen(rows[i].bytes), 0);
		assert_string_equal(text_string(&out), rows[i].expected);
		free(keys);
		text_free(&out);
	}
}

/* From whatever state garbage leaves the parser in, Ctrl-C is heard. */
static void garbage_never_deafens(void **state)
{
	(void)state;
	uint32_t seed = 20261101;

	for (int run = 0; run < 20000; run++) {
		struct text out = {0};
		struct keys *keys = keys_new(false, note, &out);

		for (int i = 0; i < 30; i++) {
			static const char likely[] = "\x1b[O;0123456789~ACDn";

			seed = seed * 1664525 + 1013904223;
			char byte = seed & 0x80000 ? (char)(seed >> 24)
						   : likely[(seed >> 24) % (sizeof likely - 1)];
			keys_bytes(keys, &byte, 1, 0);
		}
		text_clear(&out);
		keys_bytes(keys, "\x03", 1, 0);
		assert_non_null(strstr(text_string(&out), "stop"));
		free(keys);
		text_free(&out);
	}
}

/* ---- held keys ---- */

static const struct {
	const char *name;
	const char *script; /* keys and "500ms" */
	const char *expected;
} typed[] = {
	{"presses", "n 700ms n 200ms n 2000ms", "next@0 next@700 next@900"},
	{"held: delay half a second, then 30 a second",
	 "n 500ms n 33ms n 33ms n 33ms n 33ms n 33ms n 33ms n 2000ms",
	 "next@0 next@500 undo-pause(2)@566"},
	{"held: the console's 250 ms and 11 a second", "n 250ms n 92ms n 92ms n 92ms n 2000ms",
	 "next@0 next@250 undo-pause(2)@434"},
	{"held when the program starts", "n 33ms n 33ms n 33ms n 2000ms",
	 "next@0 undo-pause(1)@66"},
	{"a press, then held", "n 700ms n 500ms n 33ms n 33ms n 33ms n 2000ms",
	 "next@0 next@700 next@1200 undo-pause(2)@1266"},
	{"a press long before is not taken back", "n 3000ms n 33ms n 33ms n 2000ms",
	 "next@0 next@3000 undo-pause(1)@3066"},
	{"held, then a press that resumes", "n 500ms n 33ms n 33ms n 500ms n 2000ms",
	 "next@0 next@500 undo-pause(2)@566 next@1066"},
	{"two quick presses", "n 60ms n 2000ms", "next@0 next@180"},
	{"two quick presses and another key", "n 60ms n 30ms b 2000ms", "next@0 next@90 back@90"},
	{"two quick presses, a slow one", "n 60ms n 200ms n 2000ms", "next@0 next@180 next@260"},
	{"back held", "b 500ms b 33ms b 33ms b 2000ms", "back@0 back@500 undo-pause(2)@566"},
	{"pause held", "p 500ms p 33ms p 33ms p 2000ms", "pause@0 pause@500 undo-pause(2)@566"},
	{"where held", "w 500ms w 33ms w 33ms w 33ms w 2000ms", "where@0 where@500"},
	{"another key between", "n 500ms b 33ms n 33ms n 33ms n 2000ms",
	 "next@0 back@500 next@533 undo-pause(1)@599"},
	{"a command between", "n 200ms forget 300ms n 33ms n 33ms n 2000ms",
	 "next@0 next@500 undo-pause(1)@566"},
	{"a command just before the run is seen", "n 500ms n 10ms forget 23ms n 33ms n 2000ms",
	 "next@0 next@500"},
	{"an arrow held", "> 500ms > 33ms > 33ms > 2000ms", "next@0 next@500 undo-pause(2)@566"},
};

static void run_typed_word(struct keys *keys, const char *word, int64_t *now_us)
{
	char *unit;
	long ms = strtol(word, &unit, 10);
	int64_t end_us = *now_us + ms * MS_US;

	if (unit == word) {
		const char *bytes = strcmp(word, ">") == 0 ? "\x1b[C" : word;

		if (strcmp(word, "forget") == 0)
			keys_forget(keys);
		else
			keys_bytes(keys, bytes, strlen(bytes), *now_us);
		return;
	}
	while (keys_deadline_us(keys) <= end_us) {
		*now_us = keys_deadline_us(keys);
		keys_tick(keys, *now_us);
		assert_true(keys_deadline_us(keys) > *now_us);
	}
	*now_us = end_us;
}

static void a_held_key_is_not_a_series_of_presses(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof typed / sizeof *typed; i++) {
		struct text out = {0};
		struct keys *keys = keys_new(true, note_with_time, &out);
		char *script = strdup(typed[i].script);
		char *rest = script;
		int64_t now_us = 0;

		for (char *word = strtok_r(script, " ", &rest); word;
		     word = strtok_r(NULL, " ", &rest))
			run_typed_word(keys, word, &now_us);
		if (strcmp(text_string(&out), typed[i].expected) != 0)
			fail_msg("%s: expected %s, got %s", typed[i].name, typed[i].expected,
				 text_string(&out));
		assert_true(keys_settled(keys));
		free(keys);
		text_free(&out);
		free(script);
	}
}

/* ---- terminals, pipes, files ---- */

static void note_event(void *owner, const struct pedal_event *event)
{
	add_event(owner, event);
}

/* Link with -Wl,--wrap=epoll_ctl: fails with this error, unless it is 0. */
static int epoll_error;

/* NOLINTBEGIN(bugprone-reserved-identifier) */
int __real_epoll_ctl(int epoll, int operation, int fd, struct epoll_event *event);
int __wrap_epoll_ctl(int epoll, int operation, int fd, struct epoll_event *event);

int __wrap_epoll_ctl(int epoll, int operation, int fd, struct epoll_event *event)
{
	if (!epoll_error)
		return __real_epoll_ctl(epoll, operation, fd, event);
	errno = epoll_error;
	return -1;
}
/* NOLINTEND(bugprone-reserved-identifier) */

static struct presses *open_keys(int fd, struct text *out)
{
	char *why = NULL;
	struct presses *keys = presses_open(NULL, note_event, out, &why);

	if (!keys || !presses_read_keys(keys, fd, &why))
		fail_msg("%s", why);
	return keys;
}

/* Dispatches until nothing is ready and nothing due, for at most a second. */
static void drain(struct presses *keys)
{
	for (int i = 0; i < 100; i++) {
		struct pollfd ready = {.fd = presses_fd(keys), .events = POLLIN};
		bool due = presses_deadline_us(keys) <= clock_steady_us();

		if (poll(&ready, 1, due ? 0 : 10) == 0 && !due)
			break;
		presses_dispatch(keys);
	}
}

static void expect(struct text *out, const char *words)
{
	assert_string_equal(text_string(out), words);
	text_clear(out);
}

/* Dispatches until that was read: what is written to a terminal takes its time on a busy machine.
 */
static void hear(struct presses *keys, struct text *out, const char *words)
{
	const int64_t patience_us = 20 * SECOND_US, began_us = clock_steady_us();

	while (strcmp(text_string(out), words) != 0 && clock_steady_us() - began_us < patience_us) {
		struct pollfd ready = {.fd = presses_fd(keys), .events = POLLIN};
		poll(&ready, 1, 10);
		presses_dispatch(keys);
	}
	expect(out, words);
}

static void keys_through_a_pipe(void **state)
{
	(void)state;
	struct text out = {0};
	int ends[2];

	assert_int_equal(pipe(ends), 0);
	struct presses *keys = open_keys(ends[0], &out);
	drain(keys);
	expect(&out, "");
	assert_int_equal(write(ends[1], "nnnb", 4), 4);
	drain(keys);
	expect(&out, "next next next back");
	assert_true(presses_settled(keys));
	assert_int_equal(write(ends[1], "p", 1), 1);
	close(ends[1]);
	drain(keys);
	expect(&out, "pause keys-ended");
	assert_true(presses_deadline_us(keys) == INT64_MAX);
	drain(keys);
	expect(&out, "");
	presses_close(keys);
	close(ends[0]);
	text_free(&out);
}

/* As in `run JOB < keys.txt` and `run JOB < /dev/null`: epoll takes neither. */
static void keys_from_a_file(void **state)
{
	(void)state;
	struct text out = {0};
	char path[] = "/tmp/pullcall-keys.XXXXXX";
	int fd = mkstemp(path);

	assert_int_equal(write(fd, "n\nn\nb\n", 6), 6);
	assert_int_equal(lseek(fd, 0, SEEK_SET), 0);
	struct presses *keys = open_keys(fd, &out);
	drain(keys);
	expect(&out, "next next back keys-ended");
	presses_close(keys);
	close(fd);
	unlink(path);
	fd = open("/dev/null", O_RDONLY | O_CLOEXEC);
	keys = open_keys(fd, &out);
	drain(keys);
	expect(&out, "keys-ended");
	presses_close(keys);
	close(fd);
	text_free(&out);
}

static void keys_from_what_is_not_open(void **state)
{
	(void)state;
	struct text out = {0};
	char *why = NULL;

	struct presses *keys = presses_open(NULL, note_event, &out, &why);
	assert_false(presses_read_keys(keys, 999, &why));
	presses_close(keys);
	assert_string_equal(why, "keys cannot be read: Bad file descriptor");
	free(why);
}

static bool same_mode(const struct termios *a, const struct termios *b)
{
	return a->c_lflag == b->c_lflag && a->c_iflag == b->c_iflag && a->c_oflag == b->c_oflag &&
	       memcmp(a->c_cc, b->c_cc, sizeof a->c_cc) == 0;
}

/* What fails before the keys are read leaves the terminal as it was. */
static void keys_that_cannot_be_waited_for(void **state)
{
	(void)state;
	struct text out = {0};
	struct termios before;
	struct termios after;
	char *why = NULL;
	int master;
	int slave;

	assert_int_equal(openpty(&master, &slave, NULL, NULL, NULL), 0);
	assert_int_equal(tcgetattr(slave, &before), 0);
	struct presses *keys = presses_open(NULL, note_event, &out, &why);
	epoll_error = ENOSPC;
	assert_false(presses_read_keys(keys, slave, &why));
	epoll_error = 0;
	assert_int_equal(tcgetattr(slave, &after), 0);
	assert_true(same_mode(&before, &after));
	assert_string_equal(why, "keys cannot be read: No space left on device");
	free(why);
	presses_close(keys);
	close(slave);
	close(master);
}

static void keys_in_a_terminal(void **state)
{
	(void)state;
	struct text out = {0};
	struct termios before;
	struct termios during;
	struct termios after;
	int master;
	int slave;

	assert_int_equal(openpty(&master, &slave, NULL, NULL, NULL), 0);
	assert_int_equal(tcgetattr(slave, &before), 0);
	struct presses *keys = open_keys(slave, &out);
	assert_int_equal(tcgetattr(slave, &during), 0);
	assert_int_equal(during.c_lflag & (ICANON | ECHO), 0);
	assert_int_equal(write(master, "n", 1), 1);
	hear(keys, &out, "next");
	assert_int_equal(write(master, "\x1b[Da\x03", 5), 5);
	hear(keys, &out, "back again stop");
	/* Nothing came back from the echo. */
	struct pollfd ready = {.fd = master, .events = POLLIN};
	assert_int_equal(poll(&ready, 1, 0), 0);
	presses_close(keys);
	assert_int_equal(tcgetattr(slave, &after), 0);
	assert_true(same_mode(&before, &after));
	close(slave);
	close(master);
	text_free(&out);
}

static void a_terminal_that_hangs_up(void **state)
{
	(void)state;
	struct text out = {0};
	int master;
	int slave;

	assert_int_equal(openpty(&master, &slave, NULL, NULL, NULL), 0);
	struct presses *keys = open_keys(slave, &out);
	assert_int_equal(write(master, "n", 1), 1);
	hear(keys, &out, "next");
	close(master);
	hear(keys, &out, "keys-ended");
	assert_true(presses_deadline_us(keys) == INT64_MAX);
	presses_close(keys);
	close(slave);
	text_free(&out);
}

static void running_out_of_memory_restores_the_terminal(void **state)
{
	(void)state;
	struct termios before;
	struct termios after;
	int status;
	int master;
	int slave;

	assert_int_equal(openpty(&master, &slave, NULL, NULL, NULL), 0);
	assert_int_equal(tcgetattr(slave, &before), 0);
	pid_t child = fork();
	if (child == 0) {
		struct text out = {0};

		open_keys(slave, &out);
		assert_int_equal(tcgetattr(slave, &after), 0);
		if (!same_mode(&before, &after))
			memory_fail();
		_exit(1);
	}
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_true(WIFEXITED(status));
	assert_int_equal(WEXITSTATUS(status), EX_OSERR);
	assert_int_equal(tcgetattr(slave, &after), 0);
	assert_true(same_mode(&before, &after));
	close(slave);
	close(master);
}

/* Still open when the program ends. */
static struct presses *presses_at_exit;

static void die_politely(int number)
{
	terminal_restore();
	signal(number, SIG_DFL);
	raise(number);
}

/* A program that is killed by a signal it can catch, or that just exits, leaves the terminal as it
 * was. */
static void a_dying_program_restores_the_terminal(void **state)
{
	(void)state;
	static const int signals[] = {SIGTERM, SIGHUP, SIGABRT, 0};

	for (size_t i = 0; i < sizeof signals / sizeof *signals; i++) {
		struct termios before;
		struct termios after;
		int status;
		int master;
		int slave;

		assert_int_equal(openpty(&master, &slave, NULL, NULL, NULL), 0);
		assert_int_equal(tcgetattr(slave, &before), 0);
		pid_t child = fork();
		if (child == 0) {
			struct text out = {0};

			atexit(terminal_restore);
			signal(SIGTERM, die_politely);
			signal(SIGHUP, die_politely);
			signal(SIGABRT, die_politely);
			presses_at_exit = open_keys(slave, &out);
			if (signals[i] == 0)
				exit(0);
			raise(signals[i]);
			_exit(1);
		}
		assert_int_equal(waitpid(child, &status, 0), child);
		assert_int_equal(WIFSIGNALED(status) ? WTERMSIG(status) : 0, signals[i]);
		assert_int_equal(tcgetattr(slave, &after), 0);
		assert_true(same_mode(&before, &after));
		close(slave);
		close(master);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(bytes_mean_what_the_table_says),
		cmocka_unit_test(sequences_may_come_in_pieces),
		cmocka_unit_test(line_ends_are_no_keys_in_a_pipe),
		cmocka_unit_test(garbage_never_deafens),
		cmocka_unit_test(a_held_key_is_not_a_series_of_presses),
		cmocka_unit_test(keys_through_a_pipe),
		cmocka_unit_test(keys_from_a_file),
		cmocka_unit_test(keys_from_what_is_not_open),
		cmocka_unit_test(keys_that_cannot_be_waited_for),
		cmocka_unit_test(keys_in_a_terminal),
		cmocka_unit_test(a_terminal_that_hangs_up),
		cmocka_unit_test(running_out_of_memory_restores_the_terminal),
		cmocka_unit_test(a_dying_program_restores_the_terminal),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
