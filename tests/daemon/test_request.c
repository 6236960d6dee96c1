/* Requests of the control socket: what is taken, and that random damage to them is refused, not
 * believed. */
#include "daemon/internal.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static bool parse(const char *line, struct request *request, struct text *reply)
{
	text_clear(reply);
	return request_read(line, strlen(line), request, reply);
}

static void what_is_a_request(void **state)
{
	(void)state;
	struct request request;
	struct text reply = {0};

	for (const struct control_word *word = control_words; word->name; word++) {
		struct text line = {0};
		text_format(&line, "{\"do\": \"%s\"", word->name);
		if (word->key && strcmp(word->key, "count") != 0)
			text_format(&line, ", \"%s\": \"x\"", word->key);
		text_add(&line, "}");
		if (!parse(text_string(&line), &request, &reply))
			fail_msg("%s: %s", text_string(&line), text_string(&reply));
		assert_ptr_equal(request.word, word);
		free(request.text);
		text_free(&line);
	}
	assert_true(parse("{\"do\": \"back\", \"count\": 3}", &request, &reply));
	assert_int_equal(request.count, 3);
	free(request.text);
	text_free(&reply);
}

static void refusals_say_what_was_expected(void **state)
{
	(void)state;
	struct request request;
	struct text reply = {0};

	assert_false(parse("{\"do\": \"nxt\"}", &request, &reply));
	assert_non_null(strstr(text_string(&reply), "expected next, again, back"));
	assert_false(parse("{\"count\": 1}", &request, &reply));
	assert_non_null(strstr(text_string(&reply), "key \\\"do\\\" is missing"));
	assert_false(parse("{\"do\": \"abandon\"}", &request, &reply));
	assert_non_null(strstr(text_string(&reply), "reason"));
	text_free(&reply);
}

static void damage_is_refused(void **state)
{
	(void)state;
	static const char good[] = "{\"do\": \"back\", \"count\": 3}";
	uint32_t seed = 20261125;
	struct text reply = {0};

	for (int round = 0; round < 20000; round++) {
		char line[sizeof(good)];
		struct request request;
		memcpy(line, good, sizeof(good));
		for (int hit = 0; hit < 2; hit++) {
			seed = seed * 1664525u + 1013904223u;
			size_t place = (seed >> 8) % (sizeof(good) - 1);
			seed = seed * 1664525u + 1013904223u;
			line[place] = (char)(seed >> 16);
		}
		text_clear(&reply);
		bool taken = request_read(line, sizeof(good) - 1, &request, &reply);
		/* What is taken is a real request all the same; what is not is answered. */
		if (taken)
			assert_in_range(request.count, 0, 10000);
		else
			assert_non_null(strstr(text_string(&reply), "\"ok\": false"));
		free(request.text);
	}
	text_free(&reply);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(what_is_a_request),
		cmocka_unit_test(refusals_say_what_was_expected),
		cmocka_unit_test(damage_is_refused),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
