/* Pedals that come and go, that look like another, and that may not be read. */
#include "rig.h"

#include <linux/input.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

static void plugged_in_later(void **state)
{
	(void)state;
	struct rig *rig = begin(NULL);

	pass_ms(rig, 1000);
	expect(rig, "");
	struct fake_device *device = fake_plug(5, &one_pedal);
	pass_ms(rig, 150);
	expect(rig, "found");
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "next");
	end(rig);
}

/* /dev/input comes with the first input device and goes with the last. */
static void the_folder_comes_and_goes(void **state)
{
	(void)state;
	fake_remove_folder();
	struct rig *rig = begin(NULL);

	for (int i = 0; i < 3; i++) {
		pass_ms(rig, 500);
		struct fake_device *device = fake_plug(5, &one_pedal);
		pass_ms(rig, 500);
		press(rig, device, KEY_F14, 100, 500);
		fake_unplug(device);
		fake_remove_folder();
		pass_ms(rig, 500);
		expect(rig, i == 0 ? "found next gone" : "back-again next gone");
	}
	end(rig);
}

/* Out and in again before anybody looked, under the same event number. */
static void replugged_between_two_looks(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	struct rig *rig = begin(NULL);

	fake_unplug(device);
	device = fake_plug(5, &one_pedal);
	pass_ms(rig, 500);
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "found gone back-again next");
	end(rig);
}

static void unplugged_twenty_times(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &three_pedals);
	struct rig *rig = begin(NULL);

	expect(rig, "found");
	for (int i = 0; i < 20; i++) {
		fake_key(device, KEY_F14, 1);
		pass_ms(rig, 50);
		fake_unplug(device);
		pass_ms(rig, 2000);
		expect(rig, "next gone");
		assert_true(presses_deadline_us(rig->presses) == INT64_MAX);
		device = fake_plug(6 + i, &three_pedals);
		pass_ms(rig, 500);
		expect(rig, "back-again");
		press(rig, device, KEY_F14, 50, 500);
		expect(rig, "next");
	}
	end(rig);
}

static void all_nodes_of_one_device(void **state)
{
	(void)state;
	struct fake_spec specs[] = {
		part("Workshop FootSwitch Keyboard", "usb-0000:00:14.0-4/input0", letters(), false),
		part("Workshop FootSwitch Mouse", "usb-0000:00:14.0-4/input0", mouse_buttons, true),
		part("Workshop FootSwitch", "usb-0000:00:14.0-4/input1", NULL, false),
	};
	struct fake_device *devices[3];
	for (int i = 0; i < 3; i++)
		devices[i] = fake_plug(5 + i, &specs[i]);
	struct rig *rig = begin(NULL);

	expect(rig, "found");
	for (int i = 0; i < 3; i++)
		assert_true(fake_is_grabbed(devices[i]));
	press(rig, devices[0], KEY_B, 100, 500);
	press(rig, devices[1], BTN_LEFT, 100, 500);
	expect(rig, "next next");
	for (int i = 0; i < 3; i++)
		fake_unplug(devices[i]);
	pass_ms(rig, 500);
	expect(rig, "gone");
	for (int i = 0; i < 3; i++) {
		devices[i] = fake_plug(8 + i, &specs[i]);
		pass_ms(rig, 60);
	}
	pass_ms(rig, 500);
	expect(rig, "back-again");
	press(rig, devices[0], KEY_B, 100, 500);
	expect(rig, "next");
	for (int i = 0; i < 3; i++)
		assert_true(fake_is_grabbed(devices[i]));
	end(rig);
}

/* A node with few keys comes first, and then it turns out to be the side of a keyboard. */
static void what_turns_out_to_be_a_keyboard_is_let_go(void **state)
{
	(void)state;
	static const unsigned few[] = {KEY_F13, KEY_F14, 0};
	struct fake_spec first =
		part("Plain Keyboard Keys", "usb-0000:00:14.0-1/input1", few, false);
	struct fake_spec second = keyboard();
	struct rig *rig = begin(NULL);

	first.vendor = second.vendor;
	first.product = second.product;
	struct fake_device *device = fake_plug(4, &first);
	pass_ms(rig, 300);
	expect(rig, "found");
	fake_plug(5, &second);
	pass_ms(rig, 300);
	expect(rig, "gone");
	assert_false(fake_is_grabbed(device));
	end(rig);
}

/* Another program takes the pedal the moment it is plugged in: it is back when we have it. */
static void replugged_into_the_hands_of_another_program(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	struct rig *rig = begin(NULL);

	fake_unplug(device);
	pass_ms(rig, 500);
	device = fake_plug(6, &one_pedal);
	fake_set_busy(device, true);
	pass_ms(rig, 60000);
	expect(rig, "found gone busy");
	fake_set_busy(device, false);
	pass_ms(rig, 6000);
	expect(rig, "back-again");
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "next");
	fake_unplug(device);
	pass_ms(rig, 500);
	expect(rig, "gone");
	end(rig);
}

/* Nobody could press it, so nothing is lost with it. */
static void unplugged_while_another_program_holds_it(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	fake_set_busy(device, true);
	struct rig *rig = begin(NULL);

	fake_unplug(device);
	pass_ms(rig, 500);
	expect(rig, "busy");
	device = fake_plug(6, &one_pedal);
	pass_ms(rig, 500);
	expect(rig, "found");
	end(rig);
}

/* A foot is on it, so that it cannot be grabbed yet, and the other program lets it go first. */
static void replugged_with_a_key_down(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	struct rig *rig = begin(NULL);

	fake_unplug(device);
	pass_ms(rig, 500);
	device = fake_plug(6, &one_pedal);
	fake_key_unsaid(device, KEY_F14, true);
	fake_set_busy(device, true);
	pass_ms(rig, 1000);
	expect(rig, "found gone back-again");
	/* The release goes to the other program alone. */
	fake_key_unsaid(device, KEY_F14, false);
	pass_ms(rig, 6000);
	expect(rig, "busy");
	fake_set_busy(device, false);
	pass_ms(rig, 6000);
	expect(rig, "back-again");
	end(rig);
}

static void two_equal_pedals_are_told_apart_by_their_ports(void **state)
{
	(void)state;
	static const struct pedal_key next[] = {{KEY_F14, GESTURE_ROLE_NEXT}};
	static const struct pedal_key back[] = {{KEY_F14, GESTURE_ROLE_BACK}};
	struct pedal_entry entries[] = {
		{.vendor = 0x1234, .product = 1, .port = "usb-0000:00:14.0-3", .keys = next},
		{.vendor = 0x1234, .product = 1, .port = "usb-0000:00:14.0-7", .keys = back},
	};
	struct pedal_config config = {.entries = entries, .entry_count = 2};
	struct fake_spec other = one_pedal;

	for (int i = 0; i < 2; i++) {
		entries[i].key_count = 1;
		entries[i].times = gesture_default_times;
	}
	other.phys = "usb-0000:00:14.0-7/input0";
	struct fake_device *a = fake_plug(5, &one_pedal);
	struct fake_device *b = fake_plug(6, &other);
	struct rig *rig = begin(&config);
	expect(rig, "found found");
	press(rig, b, KEY_F14, 100, 500);
	press(rig, a, KEY_F14, 100, 500);
	expect(rig, "back next");

	/* Both out; the second comes back first. */
	fake_unplug(a);
	fake_unplug(b);
	pass_ms(rig, 500);
	b = fake_plug(6, &other);
	pass_ms(rig, 500);
	press(rig, b, KEY_F14, 100, 500);
	a = fake_plug(7, &one_pedal);
	pass_ms(rig, 500);
	press(rig, a, KEY_F14, 100, 500);
	expect(rig, "gone gone back-again back back-again next");

	/* Out, and into a port that no entry names: only one is missing, so this is it. */
	fake_unplug(b);
	pass_ms(rig, 500);
	other.phys = "usb-0000:00:14.0-9/input0";
	b = fake_plug(8, &other);
	pass_ms(rig, 500);
	press(rig, b, KEY_F14, 100, 500);
	press(rig, a, KEY_F14, 100, 500);
	expect(rig, "gone back-again back next");
	end(rig);
}

/* A hub moved to another port takes two pedals with it. */
static void two_equal_pedals_moved_together(void **state)
{
	(void)state;
	struct fake_spec specs[2] = {one_pedal, one_pedal};
	struct fake_device *devices[2];
	static const char *const ports[2][2] = {
		{"usb-0000:00:14.0-1.1/input0", "usb-0000:00:14.0-1.2/input0"},
		{"usb-0000:00:14.0-2.1/input0", "usb-0000:00:14.0-2.2/input0"},
	};
	struct rig *rig = begin(NULL);

	for (int move = 0; move < 6; move++) {
		for (int i = 0; i < 2; i++) {
			specs[i].phys = ports[move % 2][i];
			devices[i] = fake_plug(5 + i, &specs[i]);
		}
		pass_ms(rig, 500);
		press(rig, devices[1], KEY_F14, 100, 500);
		expect(rig, move == 0 ? "found found next" : "back-again back-again next");
		fake_unplug(devices[0]);
		fake_unplug(devices[1]);
		pass_ms(rig, 500);
		expect(rig, "gone gone");
	}
	end(rig);
}

static void equal_pedals_with_serial_numbers(void **state)
{
	(void)state;
	static const struct pedal_key back[] = {{KEY_F14, GESTURE_ROLE_BACK}};
	struct pedal_entry entry = {
		.vendor = PEDAL_ANY,
		.product = PEDAL_ANY,
		.serial = "B2",
		.keys = back,
		.key_count = 1,
		.times = gesture_default_times,
	};
	struct pedal_config config = {.entries = &entry, .entry_count = 1};
	struct fake_spec a = one_pedal;
	struct fake_spec b = one_pedal;

	a.uniq = "A1";
	b.uniq = "B2";
	b.phys = "usb-0000:00:14.0-8/input0";
	struct fake_device *device_a = fake_plug(5, &a);
	struct fake_device *device_b = fake_plug(6, &b);
	struct rig *rig = begin(&config);
	press(rig, device_a, KEY_F14, 100, 500);
	press(rig, device_b, KEY_F14, 100, 500);
	expect(rig, "found back");
	end(rig);
}

/* udev gives the node to the person a moment after it appeared. */
static void permission_that_comes_late(void **state)
{
	(void)state;
	struct rig *rig = begin(NULL);

	become_nobody();
	struct fake_device *device = fake_plug_unreadable(5, &one_pedal);
	pass_ms(rig, 600);
	expect(rig, "");
	fake_set_readable(device, true);
	pass_ms(rig, 200);
	expect(rig, "found");
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "next");
	end(rig);
	become_ourselves();
}

static void permission_that_does_not_come(void **state)
{
	(void)state;
	struct rig *rig = begin(NULL);

	become_nobody();
	struct fake_device *device = fake_plug_unreadable(5, &one_pedal);
	pass_ms(rig, 60000);
	expect(rig, "denied");
	assert_true(presses_deadline_us(rig->presses) == INT64_MAX);
	size_t count;
	struct pedal_info *list = pedal_list(fake_root(), &count);
	assert_int_equal(count, 1);
	assert_string_equal(list->name, "One Pedal");
	assert_non_null(strstr(list->trouble, "no permission"));
	pedal_list_free(list, count);
	/* Later somebody sees to it after all. */
	fake_set_readable(device, true);
	pass_ms(rig, 500);
	expect(rig, "found");
	end(rig);
	become_ourselves();
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		WITH_DEVICES(plugged_in_later),
		WITH_DEVICES(the_folder_comes_and_goes),
		WITH_DEVICES(replugged_between_two_looks),
		WITH_DEVICES(unplugged_twenty_times),
		WITH_DEVICES(all_nodes_of_one_device),
		WITH_DEVICES(what_turns_out_to_be_a_keyboard_is_let_go),
		WITH_DEVICES(replugged_into_the_hands_of_another_program),
		WITH_DEVICES(unplugged_while_another_program_holds_it),
		WITH_DEVICES(replugged_with_a_key_down),
		WITH_DEVICES(two_equal_pedals_are_told_apart_by_their_ports),
		WITH_DEVICES(two_equal_pedals_moved_together),
		WITH_DEVICES(equal_pedals_with_serial_numbers),
		WITH_DEVICES(permission_that_comes_late),
		WITH_DEVICES(permission_that_does_not_come),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
