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

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_setup_teardown(three_keys_are_next_again_back, set_up, tear_down),
		cmocka_unit_test_setup_teardown(one_key_has_all_gestures, set_up, tear_down),
		cmocka_unit_test_setup_teardown(a_short_press_read_late_is_no_hold, set_up,
						tear_down),
		cmocka_unit_test_setup_teardown(unplugged_twenty_times, set_up, tear_down),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
