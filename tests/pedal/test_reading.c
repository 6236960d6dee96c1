/* Pedals that are there: presses in, gestures and trouble out; grabbed when they may be. What comes
 * out is written down as one line of words a test. */
#include "rig.h"

#include <linux/input.h>
#include <poll.h>
#include <pty.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

static void three_keys_are_next_again_back(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &three_pedals);
	struct rig *rig = begin(NULL);

	expect(rig, "found");
	assert_true(fake_is_grabbed(device));
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

	fake_key(device, KEY_F14, 1);
	pass_ms(rig, 100);
	assert_false(presses_settled(rig->presses));
	fake_key(device, KEY_F14, 0);
	pass_ms(rig, 250);
	assert_false(presses_settled(rig->presses));
	pass_ms(rig, 750);
	assert_true(presses_settled(rig->presses));
	/* Nothing to wake up for while nothing happens. */
	assert_true(presses_deadline_us(rig->presses) == INT64_MAX);
	press(rig, device, KEY_F14, 100, 100);
	assert_false(presses_settled(rig->presses));
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

	int64_t pressed_us = fake_now_us();
	fake_key(device, KEY_F14, 1);
	fake_wait(100 * MS_US);
	fake_key(device, KEY_F14, 0);
	fake_wait(900 * MS_US);
	pass_ms(rig, 1000);
	expect(rig, "found next");
	assert_true(rig->last_us == pressed_us);
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
	assert_int_equal(fake_grabs(device), 0);
	fake_key(device, KEY_F14, 0);
	pass_ms(rig, 100);
	assert_true(fake_is_grabbed(device));
	expect(rig, "");
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "next");
	end(rig);
}

static void something_lies_on_the_pedal_from_the_start(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &one_pedal);
	fake_key_unsaid(device, KEY_F14, true);
	struct rig *rig = begin(NULL);

	pass_ms(rig, 60000);
	expect(rig, "found stuck");
	fake_key(device, KEY_F14, 0);
	pass_ms(rig, 100);
	expect(rig, "freed");
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
	expect(rig, "busy");
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "");
	fake_set_busy(device, false);
	pass_ms(rig, 6000);
	expect(rig, "found");
	assert_true(fake_is_grabbed(device));
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "next");
	end(rig);
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
	struct pedal_config config = {.entries = &entry, .entry_count = 1};
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
	expect(rig, "found again choices stuck freed");
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
	presses_forget(rig->presses);
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

static void keys_and_a_pedal_together(void **state)
{
	(void)state;
	int ends[2];
	assert_int_equal(pipe(ends), 0);
	struct fake_device *device = fake_plug(5, &one_pedal);
	struct rig *rig = begin(NULL);
	add_keys(rig, ends[0]);

	fake_key(device, KEY_F14, 1);
	pass_ms(rig, 100);
	assert_int_equal(write(ends[1], "b", 1), 1);
	pass_ms(rig, 900);
	fake_key(device, KEY_F14, 0);
	pass_ms(rig, 500);
	expect(rig, "found next back");
	close(ends[1]);
	pass_ms(rig, 100);
	press(rig, device, KEY_F14, 100, 500);
	expect(rig, "keys-ended next");
	end(rig);
	close(ends[0]);
}

/* The kernel carries a byte through a terminal in its own time. */
static void type_n(int master, int slave)
{
	struct pollfd ready = {.fd = slave, .events = POLLIN};

	assert_int_equal(write(master, "n", 1), 1);
	assert_int_equal(poll(&ready, 1, 5000), 1);
}

/* The pedal moved the place after the first byte: only what came later is taken back. */
static void a_pedal_between_the_bytes_of_a_held_key(void **state)
{
	(void)state;
	struct fake_device *device = fake_plug(5, &three_pedals);
	int master;
	int slave;

	assert_int_equal(openpty(&master, &slave, NULL, NULL, NULL), 0);
	struct rig *rig = begin(NULL);
	add_keys(rig, slave);
	type_n(master, slave);
	pass_ms(rig, 200);
	press(rig, device, KEY_F16, 100, 200);
	for (int i = 0; i < 4; i++) {
		type_n(master, slave);
		pass_ms(rig, 33);
	}
	pass_ms(rig, 2000);
	expect(rig, "found next back next undo-pause");
	type_n(master, slave);
	pass_ms(rig, 500);
	for (int i = 0; i < 4; i++) {
		type_n(master, slave);
		pass_ms(rig, 33);
	}
	expect(rig, "next next undo-pause(2)");
	end(rig);
	close(master);
	close(slave);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		WITH_DEVICES(three_keys_are_next_again_back),
		WITH_DEVICES(one_key_has_all_gestures),
		WITH_DEVICES(a_short_press_read_late_is_no_hold),
		WITH_DEVICES(a_key_found_down_is_no_press_and_delays_the_grab),
		WITH_DEVICES(something_lies_on_the_pedal_from_the_start),
		WITH_DEVICES(a_key_pressed_while_grabbing_delays_the_grab),
		WITH_DEVICES(grabbed_by_somebody_else),
		WITH_DEVICES(a_keyboard_is_left_alone),
		WITH_DEVICES(a_named_keyboard_is_read_but_grabbed_only_when_asked),
		WITH_DEVICES(a_press_that_was_dropped),
		WITH_DEVICES(a_release_that_was_dropped),
		WITH_DEVICES(a_flood_of_drops),
		WITH_DEVICES(senseless_events_do_nothing),
		WITH_DEVICES(a_clock_that_is_refused),
		WITH_DEVICES(stuck_and_chattering_contacts),
		WITH_DEVICES(a_command_in_between_is_not_taken_back),
		WITH_DEVICES(another_pedal_in_between_is_not_taken_back),
		WITH_DEVICES(keys_and_a_pedal_together),
		WITH_DEVICES(a_pedal_between_the_bytes_of_a_held_key),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
