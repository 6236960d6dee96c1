/* What `pullcall pedals` says of a device. */
#include "cli/cli.h"

#include "pedal/pedal.h"

#include <linux/input-event-codes.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>

#include <setjmp.h>

#include <cmocka.h>

static void expect(struct pedal_info info, const char *expected)
{
	char *told = NULL;
	size_t length = 0;
	FILE *out = open_memstream(&told, &length);

	assert_non_null(out);
	pedal_print(&info, out);
	fclose(out);
	assert_string_equal(told, expected);
	free(told);
}

static char name[] = "Page Turner";

static const struct pedal_info browser_keys = {
	.name = name,
	.class = PEDAL_CLASS_OTHER,
	.vendor = 0x1209,
	.product = 0x0001,
	.keys = {{KEY_BACK, GESTURE_ROLE_NEXT}, {KEY_FORWARD, GESTURE_ROLE_AGAIN}},
	.key_count = 2,
};

static void a_pedal_has_roles(void **state)
{
	(void)state;
	struct pedal_info pedal = browser_keys;

	pedal.class = PEDAL_CLASS_PEDAL;
	expect(pedal, "Page Turner  1209:0001  looks like a pedal\n"
		      "  BACK: next\n"
		      "  FORWARD: again\n");
}

static void a_device_of_few_other_keys_may_be_learned(void **state)
{
	(void)state;
	expect(browser_keys, "Page Turner  1209:0001  looks like no pedal\n"
			     "  BACK\n"
			     "  FORWARD\n"
			     "  if it is your pedal: \"pullcall pedals learn\", then press it\n");
}

static void other_devices_are_only_named(void **state)
{
	(void)state;
	struct pedal_info power = browser_keys, keyboard = browser_keys, many = browser_keys;

	power.vendor = 0; /* a button of the computer itself */
	expect(power, "Page Turner  0000:0001  looks like no pedal\n");
	keyboard.class = PEDAL_CLASS_KEYBOARD;
	expect(keyboard, "Page Turner  1209:0001  looks like a keyboard\n");
	many.key_count = 7;
	expect(many, "Page Turner  1209:0001  looks like no pedal\n");
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_pedal_has_roles),
		cmocka_unit_test(a_device_of_few_other_keys_may_be_learned),
		cmocka_unit_test(other_devices_are_only_named),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
