/* Pedals as a whole: found, read, grabbed, unplugged and back, on devices that are told what to do
 * (fake_input.h). What comes out is written down as one line of words a test. */
#include "fake_input.h"

#include "base/clock.h"
#include "base/text.h"
#include "pedal/pedal.h"

#include <fcntl.h>
#include <linux/input.h>
#include <poll.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

static const unsigned one_key[] = {KEY_F14, 0};
static const unsigned three_keys[] = {KEY_F14, KEY_F15, KEY_F16, 0};

static const struct fake_spec three_pedals = {
	.name = "Three Pedal Unit",
	.phys = "usb-0000:00:14.0-2/input0",
	.bus = BUS_USB,
	.vendor = 0x05f3,
	.product = 0x00ff,
	.keys = three_keys,
};

static const struct fake_spec one_pedal = {
	.name = "One Pedal",
	.phys = "usb-0000:00:14.0-3/input0",
	.bus = BUS_USB,
	.vendor = 0x1234,
	.product = 0x0001,
	.keys = one_key,
};

struct rig {
	struct pedals *pedals;
	struct text out;
	struct text notes;
};

static void on_event(void *owner, const struct pedal_event *event)
{
	struct rig *rig = owner;

	if (event->kind == PEDAL_NOTE) {
		text_format(&rig->notes, "%s\n", event->text);
		return;
	}
	if (rig->out.length > 0)
		text_add_char(&rig->out, ' ');
	if (event->kind == PEDAL_GESTURE)
		text_add(&rig->out, gesture_name(event->gesture.kind));
	else
		text_add(&rig->out, pedal_event_name(event->kind));
}

static struct rig *begin(const struct pedal_config *config)
{
	struct rig *rig = calloc(1, sizeof *rig);
	struct pedal_config full = config ? *config : (struct pedal_config){.devices = true};
	char *why = NULL;

	full.input_dir = fake_input_dir();
	full.sysfs_dir = fake_sysfs_dir();
	full.times = gesture_default_times;
	rig->pedals = pedals_open(&full, on_event, rig, &why);
	assert_non_null(rig->pedals);
	pedals_dispatch(rig->pedals);
	return rig;
}

static void end(struct rig *rig)
{
	pedals_close(rig->pedals);
	text_free(&rig->out);
	text_free(&rig->notes);
	free(rig);
}

/* Lets time pass as an event loop would, waking at every deadline. */
static void pass_ms(struct rig *rig, int64_t ms)
{
	int64_t end_us = fake_now_us() + ms * MS_US;

	pedals_dispatch(rig->pedals);
	while (pedals_deadline_us(rig->pedals) <= end_us) {
		int64_t deadline_us = pedals_deadline_us(rig->pedals);

		if (deadline_us > fake_now_us())
			fake_wait(deadline_us - fake_now_us());
		pedals_dispatch(rig->pedals);
		assert_true(pedals_deadline_us(rig->pedals) > fake_now_us());
	}
	fake_wait(end_us - fake_now_us());
	pedals_dispatch(rig->pedals);
}

static void press(struct rig *rig, struct fake_device *device, unsigned code, int64_t down_ms,
		  int64_t up_ms)
{
	fake_key(device, code, 1);
	pass_ms(rig, down_ms);
	fake_key(device, code, 0);
	pass_ms(rig, up_ms);
}

static void expect(struct rig *rig, const char *words)
{
	assert_string_equal(text_string(&rig->out), words);
	text_clear(&rig->out);
}

/* Root may read everything; these tests are about a person who may not. */
static void become_nobody(void)
{
	if (getuid() == 0)
		assert_int_equal(seteuid(65534), 0);
}

static void become_ourselves(void)
{
	assert_int_equal(seteuid(getuid()), 0);
}

/* The folder belongs to root, so the node is made by root. */
static struct fake_device *fake_plug_unreadable(int number, const struct fake_spec *spec)
{
	uid_t user = geteuid();

	become_ourselves();
	struct fake_device *device = fake_plug(number, spec);
	fake_set_readable(device, false);
	assert_int_equal(seteuid(user), 0);
	return device;
}

static int set_up(void **state)
{
	(void)state;
	fake_input_begin();
	return 0;
}

static int tear_down(void **state)
{
	(void)state;
	fake_input_end();
	return 0;
}

#define WITH_DEVICES(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

static void three_keys_are_next_again_back(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &three_pedals);
	struct rig *rig = begin(NULL);

	expect(rig, "found");
	assert_true(fake_is_grabbed(device));
	assert_int_equal(pedals_present(rig->pedals), 1);
	press(rig, device, KEY_F14, 232, 300);
	press(rig, device, KEY_F15, 100, 100);
	press(rig, device, KEY_F16, 100, 1000);
	expect(rig, "next again back");
	end(rig);
	assert_false(fake_is_grabbed(device));
}

static void one_key_has_all_gestures(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	struct rig *rig = begin(NULL);

	press(rig, device, KEY_F14, 100, 1000);
	assert_true(pedals_settled(rig->pedals));
	press(rig, device, KEY_F14, 100, 100);
	assert_false(pedals_settled(rig->pedals));
	press(rig, device, KEY_F14, 100, 2000);
	press(rig, device, KEY_F14, 700, 1000);
	expect(rig, "found next next undo-again next undo-pause");
	end(rig);
}

/* The loop was busy for a second: what was queued meanwhile is judged by its own times. */
static void a_short_press_read_late_is_no_hold(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	struct rig *rig = begin(NULL);

	fake_key(device, KEY_F14, 1);
	fake_wait(100 * MS_US);
	fake_key(device, KEY_F14, 0);
	fake_wait(900 * MS_US);
	pass_ms(rig, 1000);
	expect(rig, "found next");
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
		assert_int_equal(pedals_present(rig->pedals), 0);
		assert_true(pedals_deadline_us(rig->pedals) == INT64_MAX);
		device = fake_plug(6 + i, &three_pedals);
		pass_ms(rig, 500);
		expect(rig, "back-again");
		press(rig, device, KEY_F14, 50, 500);
		expect(rig, "next");
	}
	end(rig);
}

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

static void a_key_found_down_is_no_press_and_delays_the_grab(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	fake_key_unsaid(device, KEY_F14, true);
	struct rig *rig = begin(NULL);

	expect(rig, "found");
	pass_ms(rig, 1000);
	assert_false(fake_is_grabbed(device));
	fake_key(device, KEY_F14, 0);
	pass_ms(rig, 100);
	assert_true(fake_is_grabbed(device));
	expect(rig, "");
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "next");
	end(rig);
}

/* Whoever saw the press has to see the release. */
static void a_key_pressed_while_grabbing_delays_the_grab(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	fake_press_at_grab(device, KEY_F14);
	struct rig *rig = begin(NULL);

	assert_false(fake_is_grabbed(device));
	fake_key(device, KEY_F14, 1);
	pass_ms(rig, 100);
	assert_false(fake_is_grabbed(device));
	fake_key(device, KEY_F14, 0);
	pass_ms(rig, 500);
	assert_true(fake_is_grabbed(device));
	expect(rig, "found next");
	end(rig);
}

static void grabbed_by_somebody_else(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	fake_set_busy(device, true);
	struct rig *rig = begin(NULL);

	pass_ms(rig, 60000);
	expect(rig, "found busy");
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "");
	fake_set_busy(device, false);
	pass_ms(rig, 6000);
	expect(rig, "freed");
	assert_true(fake_is_grabbed(device));
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "next");
	end(rig);
}

/* A programmable pedal: it claims to be a keyboard, a mouse and something else, and says in its
 * name what it is. */
static unsigned all_letters[128];

static const unsigned *letters(void)
{
	unsigned count = 0;

	for (unsigned code = KEY_ESC; code <= KEY_F10; code++)
		all_letters[count++] = code;
	all_letters[count] = 0;
	return all_letters;
}

static const unsigned mouse_buttons[] = {BTN_LEFT, BTN_RIGHT, BTN_MIDDLE, 0};

static struct fake_spec part(const char *name, const char *phys, const unsigned *keys, bool mouse)
{
	return (struct fake_spec){
		.name = name,
		.phys = phys,
		.bus = BUS_USB,
		.vendor = 0x3553,
		.product = 0xb001,
		.keys = keys,
		.mouse = mouse,
	};
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
	assert_int_equal(pedals_present(rig->pedals), 1);
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

static struct fake_spec keyboard(void)
{
	struct fake_spec spec =
		part("Plain Keyboard", "usb-0000:00:14.0-1/input0", letters(), false);

	spec.vendor = 0x0123;
	spec.product = 0x4567;
	return spec;
}

static void a_keyboard_is_left_alone(void **state)
{
	(void)state;
	struct fake_spec spec = keyboard();
	struct fake_device *device = fake_plug(3, &spec);
	struct rig *rig = begin(NULL);

	press(rig, device, KEY_B, 100, 500);
	expect(rig, "");
	assert_false(fake_is_grabbed(device));
	end(rig);
}

static void a_named_keyboard_is_read_but_grabbed_only_when_asked(void **state)
{
	(void)state;
	static const struct pedal_key keys[] = {{KEY_B, GESTURE_ROLE_NEXT}};
	struct pedal_entry entry = {
		.vendor = 0x0123,
		.product = 0x4567,
		.keys = keys,
		.key_count = 1,
		.times = gesture_default_times,
	};
	struct pedal_config config = {.devices = true, .entries = &entry, .entry_count = 1};
	static const struct {
		enum pedal_grab wish;
		bool grabbed;
		bool noted;
	} rows[] = {
		{PEDAL_GRAB_SAFE, false, true},
		{PEDAL_GRAB_YES, true, false},
		{PEDAL_GRAB_NO, false, false},
	};
	struct fake_spec spec = keyboard();
	struct fake_device *device = fake_plug(3, &spec);

	for (size_t i = 0; i < 3; i++) {
		entry.grab = rows[i].wish;
		struct rig *rig = begin(&config);
		press(rig, device, KEY_B, 100, 500);
		press(rig, device, KEY_A, 100, 500);
		expect(rig, "found next");
		assert_int_equal(fake_is_grabbed(device), rows[i].grabbed);
		assert_int_equal(strstr(text_string(&rig->notes), "grab: yes") != NULL,
				 rows[i].noted);
		end(rig);
	}
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

static void two_equal_pedals_are_told_apart_by_their_ports(void **state)
{
	(void)state;
	static const struct pedal_key next[] = {{KEY_F14, GESTURE_ROLE_NEXT}};
	static const struct pedal_key back[] = {{KEY_F14, GESTURE_ROLE_BACK}};
	struct pedal_entry entries[] = {
		{.vendor = 0x1234, .product = 1, .port = "usb-0000:00:14.0-3", .keys = next},
		{.vendor = 0x1234, .product = 1, .port = "usb-0000:00:14.0-7", .keys = back},
	};
	struct pedal_config config = {.devices = true, .entries = entries, .entry_count = 2};
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

	/* Out, and into a port that no entry names: only one is missing, so this is it. */
	fake_unplug(b);
	pass_ms(rig, 500);
	other.phys = "usb-0000:00:14.0-9/input0";
	b = fake_plug(7, &other);
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
	struct pedal_config config = {.devices = true, .entries = &entry, .entry_count = 1};
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

/* The kernel had no room for the press: it is found by looking at the keys. */
static void a_press_that_was_dropped(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	struct rig *rig = begin(NULL);

	fake_key_unsaid(device, KEY_F14, true);
	fake_drop(device);
	pass_ms(rig, 100);
	expect(rig, "found next");
	fake_key(device, KEY_F14, 0);
	pass_ms(rig, 1000);
	press(rig, device, KEY_F14, 100, 1000);
	expect(rig, "next");
	assert_non_null(strstr(text_string(&rig->notes), "looked at again"));
	end(rig);
}

static void a_release_that_was_dropped(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	struct rig *rig = begin(NULL);

	fake_key(device, KEY_F14, 1);
	pass_ms(rig, 100);
	fake_key_unsaid(device, KEY_F14, false);
	fake_drop(device);
	pass_ms(rig, 60000);
	expect(rig, "found next");
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "next");
	end(rig);
}

/* Two thousand drops are one line in the log. */
static void a_flood_of_drops(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	struct rig *rig = begin(NULL);

	for (int i = 0; i < 2000; i++) {
		fake_drop(device);
		pass_ms(rig, 1);
	}
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "found next");
	assert_int_equal(
		strlen(text_string(&rig->notes)),
		(size_t)(strchr(text_string(&rig->notes), '\n') + 1 - text_string(&rig->notes)));
	end(rig);
}

static void senseless_events_do_nothing(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	struct rig *rig = begin(NULL);
	static const struct {
		unsigned type;
		unsigned code;
		int value;
	} events[] = {
		{EV_KEY, KEY_F14, 3},       {EV_KEY, KEY_F14, -1},
		{EV_KEY, KEY_F14, 2000000}, {EV_KEY, 0xffff, 1},
		{EV_REL, REL_X, 5},         {EV_ABS, ABS_X, 5},
		{EV_LED, LED_CAPSL, 1},     {EV_MAX, 1, 1},
		{0xffff, 0xffff, -1},       {EV_SYN, SYN_CONFIG, 1},
		{EV_SYN, SYN_MT_REPORT, 1},
	};

	for (size_t i = 0; i < sizeof events / sizeof *events; i++) {
		fake_raw(device, events[i].type, events[i].code, events[i].value);
		fake_raw(device, EV_SYN, SYN_REPORT, 0);
		pass_ms(rig, 1000);
	}
	expect(rig, "found");
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "next");
	end(rig);
}

static void a_clock_that_is_refused(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	fake_set_clock_refused(device, true);
	struct rig *rig = begin(NULL);

	assert_non_null(strstr(text_string(&rig->notes), "steady clock"));
	press(rig, device, KEY_F14, 100, 100);
	press(rig, device, KEY_F14, 100, 100);
	expect(rig, "found next undo-again");
	end(rig);
}

static void stuck_and_chattering_contacts(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &three_pedals);
	struct rig *rig = begin(NULL);

	press(rig, device, KEY_F15, 15000, 1000);
	expect(rig, "found again stuck freed");
	/* Twenty makes a second for two seconds, then peace. */
	for (int i = 0; i < 40; i++)
		press(rig, device, KEY_F16, 25, 25);
	pass_ms(rig, 3000);
	expect(rig, "back back back back back back back back back back chatter freed");
	/* It starts again at once: once was enough to hear about. */
	for (int i = 0; i < 40; i++)
		press(rig, device, KEY_F16, 5, 5);
	pass_ms(rig, 3000);
	expect(rig, "back");
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "next");
	end(rig);
}

static void a_command_in_between_is_not_taken_back(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	struct rig *rig = begin(NULL);

	press(rig, device, KEY_F14, 100, 100);
	pedals_forget(rig->pedals);
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "found next next");
	end(rig);
}

static void another_pedal_in_between_is_not_taken_back(void **state)
{
	(void)state;
	struct fake_device *one = fake_plug(5, &one_pedal);
	struct fake_device *three = fake_plug(6, &three_pedals);
	struct rig *rig = begin(NULL);

	fake_key(one, KEY_F14, 1);
	pass_ms(rig, 100);
	press(rig, three, KEY_F16, 50, 800);
	fake_key(one, KEY_F14, 0);
	pass_ms(rig, 500);
	expect(rig, "found found next back");
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
	assert_true(pedals_deadline_us(rig->pedals) == INT64_MAX);
	size_t count;
	struct pedal_info *list = pedal_list(fake_input_dir(), fake_sysfs_dir(), &count);
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
		WITH_DEVICES(three_keys_are_next_again_back),
		WITH_DEVICES(one_key_has_all_gestures),
		WITH_DEVICES(a_short_press_read_late_is_no_hold),
		WITH_DEVICES(unplugged_twenty_times),
		WITH_DEVICES(plugged_in_later),
		WITH_DEVICES(the_folder_comes_and_goes),
		WITH_DEVICES(replugged_between_two_looks),
		WITH_DEVICES(a_key_found_down_is_no_press_and_delays_the_grab),
		WITH_DEVICES(a_key_pressed_while_grabbing_delays_the_grab),
		WITH_DEVICES(grabbed_by_somebody_else),
		WITH_DEVICES(all_nodes_of_one_device),
		WITH_DEVICES(a_keyboard_is_left_alone),
		WITH_DEVICES(a_named_keyboard_is_read_but_grabbed_only_when_asked),
		WITH_DEVICES(what_turns_out_to_be_a_keyboard_is_let_go),
		WITH_DEVICES(two_equal_pedals_are_told_apart_by_their_ports),
		WITH_DEVICES(two_equal_pedals_moved_together),
		WITH_DEVICES(equal_pedals_with_serial_numbers),
		WITH_DEVICES(a_press_that_was_dropped),
		WITH_DEVICES(a_release_that_was_dropped),
		WITH_DEVICES(a_flood_of_drops),
		WITH_DEVICES(senseless_events_do_nothing),
		WITH_DEVICES(a_clock_that_is_refused),
		WITH_DEVICES(stuck_and_chattering_contacts),
		WITH_DEVICES(a_command_in_between_is_not_taken_back),
		WITH_DEVICES(another_pedal_in_between_is_not_taken_back),
		WITH_DEVICES(permission_that_comes_late),
		WITH_DEVICES(permission_that_does_not_come),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
