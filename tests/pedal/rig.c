#include "rig.h"

#include "words.h"

#include "base/base.h"

#include <linux/input.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

static const unsigned one_key[] = {KEY_F14, 0};
static const unsigned three_keys[] = {KEY_F14, KEY_F15, KEY_F16, 0};
const unsigned mouse_buttons[] = {BTN_LEFT, BTN_RIGHT, BTN_MIDDLE, 0};

const struct fake_spec three_pedals = {
	.name = "Three Pedal Unit",
	.phys = "usb-0000:00:14.0-2/input0",
	.bus = BUS_USB,
	.vendor = 0x05f3,
	.product = 0x00ff,
	.keys = three_keys,
};

const struct fake_spec one_pedal = {
	.name = "One Pedal",
	.phys = "usb-0000:00:14.0-3/input0",
	.bus = BUS_USB,
	.vendor = 0x1234,
	.product = 0x0001,
	.keys = one_key,
};

static void on_event(void *owner, const struct pedal_event *event)
{
	struct rig *rig = owner;

	rig->last_us = event->time_us;
	if (event->kind == PEDAL_NOTE) {
		text_format(&rig->notes, "%s\n", event->text);
		return;
	}
	add_event(&rig->out, event);
}

struct rig *begin(const struct pedal_config *config)
{
	struct rig *rig = calloc(1, sizeof *rig);
	struct pedal_config full = config ? *config : (struct pedal_config){0};
	char *why = NULL;

	full.root = fake_root();
	full.times = gesture_default_times;
	rig->presses = presses_open(&full, on_event, rig, &why);
	assert_non_null(rig->presses);
	dispatch(rig);
	return rig;
}

void add_keys(struct rig *rig, int fd)
{
	char *why = NULL;

	assert_true(presses_read_keys(rig->presses, fd, &why));
}

void end(struct rig *rig)
{
	presses_close(rig->presses);
	text_free(&rig->out);
	text_free(&rig->notes);
	free(rig);
}

void dispatch(struct rig *rig)
{
	presses_dispatch(rig->presses);
}

/* Lets time pass as an event loop would, waking at every deadline. */
void pass_ms(struct rig *rig, int64_t ms)
{
	int64_t end_us = fake_now_us() + ms * MS_US;

	dispatch(rig);
	while (presses_deadline_us(rig->presses) <= end_us) {
		int64_t deadline_us = presses_deadline_us(rig->presses);

		if (deadline_us > fake_now_us())
			fake_wait(deadline_us - fake_now_us());
		dispatch(rig);
		assert_true(presses_deadline_us(rig->presses) > fake_now_us());
	}
	fake_wait(end_us - fake_now_us());
	dispatch(rig);
}

void press(struct rig *rig, struct fake_device *device, unsigned code, int64_t down_ms,
	   int64_t up_ms)
{
	fake_key(device, code, 1);
	pass_ms(rig, down_ms);
	fake_key(device, code, 0);
	pass_ms(rig, up_ms);
}

void expect(struct rig *rig, const char *words)
{
	assert_string_equal(text_string(&rig->out), words);
	text_clear(&rig->out);
}

/* Root may read everything; these tests are about a person who may not. */
void become_nobody(void)
{
	if (getuid() == 0)
		assert_int_equal(seteuid(65534), 0);
}

void become_ourselves(void)
{
	assert_int_equal(seteuid(getuid()), 0);
}

/* The folder belongs to root, so the node is made by root. */
struct fake_device *fake_plug_unreadable(int number, const struct fake_spec *spec)
{
	uid_t user = geteuid();

	become_ourselves();
	struct fake_device *device = fake_plug(number, spec);
	fake_set_readable(device, false);
	assert_int_equal(seteuid(user), 0);
	return device;
}

const unsigned *letters(void)
{
	static unsigned codes[128];
	unsigned count = 0;

	for (unsigned code = KEY_ESC; code <= KEY_F10; code++)
		codes[count++] = code;
	codes[count] = 0;
	return codes;
}

struct fake_spec part(const char *name, const char *phys, const unsigned *keys, bool mouse)
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

struct fake_spec keyboard(void)
{
	struct fake_spec spec =
		part("Plain Keyboard", "usb-0000:00:14.0-1/input0", letters(), false);

	spec.vendor = 0x0123;
	spec.product = 0x4567;
	return spec;
}

int set_up(void **state)
{
	(void)state;
	fake_input_begin();
	return 0;
}

int tear_down(void **state)
{
	(void)state;
	fake_input_end();
	return 0;
}
