/* The list of what is plugged in, and learning a key. */
#include "rig.h"

#include <linux/input.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

static void the_list_has_pedals_first(void **state)
{
	(void)state;
	struct fake_spec spec = keyboard();
	size_t count;

	fake_plug(1, &spec);
	fake_plug(2, &three_pedals);
	struct pedal_info *list = pedal_list(fake_root(), &count);
	assert_int_equal(count, 2);
	assert_string_equal(list[0].name, "Three Pedal Unit");
	assert_int_equal(list[0].class, PEDAL_CLASS_PEDAL);
	assert_int_equal(list[0].key_count, 3);
	assert_null(list[0].trouble);
	assert_int_equal(list[1].class, PEDAL_CLASS_KEYBOARD);
	assert_int_equal(list[1].key_count, GESTURE_KEYS_MAX);
	pedal_list_free(list, count);
}

/* All nodes of a device count together: the consumer keys of a keyboard are no pedal. */
static void a_device_is_all_its_nodes(void **state)
{
	static const unsigned consumer_keys[] = {KEY_F13, 0};
	struct fake_spec spec = keyboard();
	struct fake_spec consumer = spec;
	size_t count;

	(void)state;
	consumer.phys = "usb-0000:00:14.0-1/input1";
	consumer.keys = consumer_keys;
	fake_plug(1, &consumer);
	struct pedal_info *list = pedal_list(fake_root(), &count);
	assert_int_equal(count, 1);
	assert_int_equal(list->class, PEDAL_CLASS_PEDAL);
	pedal_list_free(list, count);
	fake_plug(2, &spec);
	list = pedal_list(fake_root(), &count);
	assert_int_equal(count, 1);
	assert_int_equal(list->class, PEDAL_CLASS_KEYBOARD);
	pedal_list_free(list, count);
}

/* A device's name comes from outside and ends up in terminals. */
static void names_are_made_printable(void **state)
{
	(void)state;
	struct fake_spec spec = one_pedal;
	size_t count;

	spec.name = "Evil\x1b[2JPedal\x07\xc3";
	fake_plug(5, &spec);
	struct pedal_info *list = pedal_list(fake_root(), &count);
	assert_int_equal(count, 1);
	assert_string_equal(list->name, "Evil?[2JPedal??");
	pedal_list_free(list, count);
}

static void q_is_learned(void *owner, const struct pedal_event *event)
{
	(void)owner;
	assert_string_equal(event->pedal->name, "Plain Keyboard");
	assert_int_equal(event->pedal->vendor, 0x0123);
	assert_int_equal(event->key, KEY_Q);
}

static void a_key_is_learned_whatever_it_is_on(void **state)
{
	(void)state;
	struct fake_spec spec = keyboard();
	struct fake_device *device = fake_plug(1, &spec);
	char *why = NULL;

	fake_plug(2, &three_pedals);
	/* Enter, which started the program, is still down. */
	fake_key(device, KEY_ENTER, 2);
	fake_key(device, KEY_ENTER, 0);
	fake_key(device, KEY_Q, 1);
	assert_true(pedal_learn(fake_root(), q_is_learned, NULL, &why));
	assert_false(fake_is_grabbed(device));
}

static void nothing_may_be_read(void **state)
{
	(void)state;
	char *why = NULL;

	become_nobody();
	fake_plug_unreadable(5, &one_pedal);
	assert_false(pedal_learn(fake_root(), q_is_learned, NULL, &why));
	assert_non_null(strstr(why, "no permission"));
	free(why);
	become_ourselves();
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		WITH_DEVICES(the_list_has_pedals_first),
		WITH_DEVICES(a_device_is_all_its_nodes),
		WITH_DEVICES(names_are_made_printable),
		WITH_DEVICES(a_key_is_learned_whatever_it_is_on),
		WITH_DEVICES(nothing_may_be_read),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
