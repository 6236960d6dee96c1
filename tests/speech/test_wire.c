/* The wire between daemon and speaker. */
#include "speech/speech.h"

#include <stdarg.h>
#include <stddef.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

static int open_pair(void **state)
{
	static int fds[2];

	*state = fds;
	return wire_pair(fds) ? 0 : -1;
}

static int close_pair(void **state)
{
	int *fds = *state;

	close(fds[0]);
	close(fds[1]);
	return 0;
}

static void a_message_arrives_whole(void **state)
{
	int *fds = *state;
	struct wire_message sent = {.kind = WIRE_STARTED, .generation = 7, .at_us = -5};
	struct wire_message got;

	wire_set_text(&sent, "main four left");
	assert_int_equal(wire_send(fds[0], &sent), WIRE_DONE);
	assert_int_equal(wire_receive(fds[1], &got), WIRE_DONE);
	assert_int_equal(got.version, WIRE_VERSION);
	assert_int_equal(got.kind, WIRE_STARTED);
	assert_int_equal(got.generation, 7);
	assert_int_equal(got.at_us, -5);
	assert_string_equal(got.text, "main four left");
	assert_int_equal(wire_receive(fds[1], &got), WIRE_LATER);
}

static void a_full_wire_does_not_block(void **state)
{
	int *fds = *state;
	struct wire_message message = {.kind = WIRE_SAY};
	enum wire_result result = WIRE_DONE;
	int sent = 0;

	for (; result == WIRE_DONE && sent < 100000; sent++)
		result = wire_send(fds[0], &message);
	assert_int_equal(result, WIRE_LATER);
	assert_true(sent > 10);
}

static void a_closed_end_is_told(void **state)
{
	int *fds = *state;
	struct wire_message message = {.kind = WIRE_HUSH};

	wire_send(fds[0], &message);
	close(fds[0]);
	fds[0] = -1;
	assert_int_equal(wire_receive(fds[1], &message), WIRE_DONE); /* what was sent is not lost */
	assert_int_equal(wire_receive(fds[1], &message), WIRE_CLOSED);
	assert_int_equal(wire_send(fds[1], &message), WIRE_CLOSED); /* and no SIGPIPE */
}

static void nonsense_is_refused_whole(void **state)
{
	int *fds = *state;
	const size_t head = offsetof(struct wire_message, text);
	struct wire_message good = {.version = WIRE_VERSION, .kind = WIRE_SAY, .text = "abc"};
	struct wire_message other_version = good, kind_0 = good, kind_9999 = good, endless = good;
	char too_long[sizeof good + 1] = {0};
	struct wire_message got;

	other_version.version++;
	kind_0.kind = 0;
	kind_9999.kind = 9999;
	memset(endless.text, 'x', sizeof endless.text);
	memcpy(too_long, &good, sizeof good);
	const struct {
		const void *bytes;
		size_t length;
		enum wire_result expected;
	} cases[] = {
		{&good, head + 4, WIRE_DONE},
		{&good, head + 3, WIRE_BAD},
		{&good, head + 5, WIRE_BAD},
		{&good, head, WIRE_BAD},
		{&good, 1, WIRE_BAD},
		{&other_version, head + 4, WIRE_BAD},
		{&kind_0, head + 4, WIRE_BAD},
		{&kind_9999, head + 4, WIRE_BAD},
		{&endless, sizeof endless, WIRE_BAD},
		{too_long, sizeof too_long, WIRE_BAD},
	};

	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		send(fds[0], cases[i].bytes, cases[i].length, 0);
		assert_int_equal(wire_receive(fds[1], &got), cases[i].expected);
		assert_int_equal(wire_receive(fds[1], &got), WIRE_LATER);
	}
}

static void a_long_text_is_cut_between_characters(void **state)
{
	struct wire_message message = {.kind = WIRE_SAY};
	char text[2 * WIRE_TEXT_MAX];

	(void)state;
	for (size_t i = 0; i + 2 < sizeof text; i += 2)
		memcpy(text + i, "\xC3\xA9", 3);
	wire_set_text(&message, text);
	assert_int_equal(strlen(message.text), WIRE_TEXT_MAX - 2); /* 999 would be half an é */
	text[WIRE_TEXT_MAX - 2] = 'x';
	text[WIRE_TEXT_MAX - 1] = '\0';
	wire_set_text(&message, text);
	assert_string_equal(message.text, text);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(a_message_arrives_whole, open_pair, close_pair),
		cmocka_unit_test_setup_teardown(a_full_wire_does_not_block, open_pair, close_pair),
		cmocka_unit_test_setup_teardown(a_closed_end_is_told, open_pair, close_pair),
		cmocka_unit_test_setup_teardown(nonsense_is_refused_whole, open_pair, close_pair),
		cmocka_unit_test(a_long_text_is_cut_between_characters),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
