#include "base/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static char *printed(const struct faults *faults)
{
	char *text = NULL;
	size_t length = 0;
	FILE *out = open_memstream(&text, &length);

	faults_print(faults, out);
	fclose(out);
	return text;
}

static void faults_come_in_the_order_of_the_file(void **state)
{
	(void)state;
	struct faults faults = {0};

	fault_add(&faults, FAULT_ERROR, "b", (struct position){9, 2}, "x", "third");
	fault_add(&faults, FAULT_WARNING, "b", (struct position){3, 7}, "x", "second");
	fault_add(&faults, FAULT_ERROR, "b", (struct position){3, 1}, "x", "first");
	fault_add(&faults, FAULT_ERROR, "a", (struct position){0}, "y",
		  "ctrl \x1b[1m \xc2\x9b\x31m \xc2\xa0");
	char *text = printed(&faults);
	assert_string_equal(text,
			    "b:3:1: error: first [x]\nb:3:7: warning: second [x]\n"
			    "b:9:2: error: third [x]\na: error: ctrl ?[1m ??1m \xc2\xa0 [y]\n");
	assert_int_equal(faults.errors, 3);
	assert_int_equal(faults.warnings, 1);
	free(text);
	faults_free(&faults);
}

static void a_flood_is_cut_and_counted(void **state)
{
	(void)state;
	struct faults faults = {0};

	for (int i = 0; i < 250; i++)
		fault_add(&faults, FAULT_ERROR, "f", (struct position){i + 1, 1}, "x", "n %d", i);
	char *text = printed(&faults);
	assert_int_equal(faults.count, FAULTS_MAX);
	assert_non_null(strstr(text, "pullcall: 150 more faults are not shown"));
	free(text);
	faults_free(&faults);
}

static void the_nearest_word_is_found(void **state)
{
	(void)state;
	static const char *const names[] = {"mains", "crosses", "bridge", "lead", NULL};

	assert_string_equal(fault_did_you_mean("main", names), "mains");
	assert_string_equal(fault_did_you_mean("corsses", names), "crosses");
	assert_string_equal(fault_did_you_mean("bridges", names), "bridge");
	assert_string_equal(fault_did_you_mean("bri", names), "bridge"); /* how it begins */
	assert_null(fault_did_you_mean("br", names));
	assert_null(fault_did_you_mean("xyz", names));
	assert_null(
		fault_did_you_mean("a-very-long-word-that-nobody-would-write-in-a-file", names));
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(faults_come_in_the_order_of_the_file),
		cmocka_unit_test(a_flood_is_cut_and_counted),
		cmocka_unit_test(the_nearest_word_is_found),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
