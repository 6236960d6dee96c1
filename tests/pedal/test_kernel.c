/* Pedals made in the running kernel with uinput: its own events, times, grabs, overflows and
 * disappearances instead of anybody's imitation. Needs /dev/uinput and the right to use it;
 * tests/rig/pedal_test.py runs this program in a machine of its own. Time is real. */
#include "words.h"

#include "base/base.h"
#include "pedal/pedal.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/uinput.h>
#include <poll.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

struct rig {
	struct presses *presses;
	struct text out;
	struct text notes;
	int64_t last_us; /* of the last gesture */
};

static void on_event(void *owner, const struct pedal_event *event)
{
	struct rig *rig = owner;

	if (event->kind != PEDAL_NOTE) {
		add_event(&rig->out, event);
	} else {
		text_add(&rig->notes, event->text);
		text_add_char(&rig->notes, '\n');
	}
	rig->last_us = event->time_us;
}

static void run_ms(struct rig *rig, int64_t ms)
{
	int64_t end_us = clock_steady_us() + ms * MS_US;
	int64_t now_us;

	while ((now_us = clock_steady_us()) < end_us) {
		int64_t until_us = presses_deadline_us(rig->presses);
		struct pollfd ready = {.fd = presses_fd(rig->presses), .events = POLLIN};

		if (until_us > end_us)
			until_us = end_us;
		poll(&ready, 1, until_us <= now_us ? 0 : (int)((until_us - now_us) / MS_US + 1));
		presses_dispatch(rig->presses);
	}
}

static void begin(struct rig *rig)
{
	struct pedal_config config = {.times = gesture_default_times};
	char *why = NULL;

	*rig = (struct rig){0};
	rig->presses = presses_open(&config, on_event, rig, &why);
	assert_non_null(rig->presses);
	run_ms(rig, 50);
}

static void end(struct rig *rig)
{
	presses_close(rig->presses);
	text_free(&rig->out);
	text_free(&rig->notes);
}

static void expect(struct rig *rig, const char *words)
{
	assert_string_equal(text_string(&rig->out), words);
	text_clear(&rig->out);
}

/* ---- devices ---- */

static int plug_with_id(int product, const char *name, const char *phys, const unsigned *keys,
			bool mouse)
{
	struct uinput_setup setup = {
		.id = {.bustype = BUS_USB,
		       .vendor = 0x05f3,
		       .product = (__u16)product,
		       .version = 0x100},
	};
	int fd = open("/dev/uinput", O_WRONLY | O_NONBLOCK | O_CLOEXEC);

	if (fd < 0)
		fail_msg("/dev/uinput: %s; run tests/rig/pedal_test.py", strerror(errno));
	snprintf(setup.name, sizeof setup.name, "%s", name);
	assert_int_equal(ioctl(fd, UI_SET_EVBIT, EV_KEY), 0);
	for (; *keys; keys++)
		assert_int_equal(ioctl(fd, UI_SET_KEYBIT, *keys), 0);
	if (mouse) {
		assert_int_equal(ioctl(fd, UI_SET_EVBIT, EV_REL), 0);
		assert_int_equal(ioctl(fd, UI_SET_RELBIT, REL_X), 0);
		assert_int_equal(ioctl(fd, UI_SET_RELBIT, REL_Y), 0);
	}
	assert_int_equal(ioctl(fd, UI_SET_PHYS, phys), 0);
	assert_int_equal(ioctl(fd, UI_DEV_SETUP, &setup), 0);
	assert_int_equal(ioctl(fd, UI_DEV_CREATE), 0);
	return fd;
}

static int plug(const char *name, const char *phys, const unsigned *keys, bool mouse)
{
	return plug_with_id(0x00ff, name, phys, keys, mouse);
}

static const unsigned three_keys[] = {KEY_F14, KEY_F15, KEY_F16, 0};
static const unsigned one_key[] = {KEY_F14, 0};
static const unsigned buttons[] = {BTN_LEFT, BTN_RIGHT, 0};

static int plug_three(void)
{
	return plug("Three Pedal Unit", "usb-test-2/input0", three_keys, false);
}

static int plug_one(void)
{
	return plug("One Pedal", "usb-test-3/input0", one_key, false);
}

static void unplug(int fd)
{
	ioctl(fd, UI_DEV_DESTROY);
	close(fd);
}

static void send(int fd, unsigned type, unsigned code, int value)
{
	struct input_event event = {.type = (__u16)type, .code = (__u16)code, .value = value};

	assert_int_equal(write(fd, &event, sizeof event), sizeof event);
}

static void key(int fd, unsigned code, int value)
{
	send(fd, EV_KEY, code, value);
	send(fd, EV_SYN, SYN_REPORT, 0);
}

static void press(struct rig *rig, int fd, unsigned code, int64_t down_ms, int64_t up_ms)
{
	key(fd, code, 1);
	run_ms(rig, down_ms);
	key(fd, code, 0);
	run_ms(rig, up_ms);
}

/* Somebody else who listens to the device: its only node, the newest. */
static int open_as_another(int uinput_fd)
{
	char name[64];
	char path[128];

	assert_true(ioctl(uinput_fd, UI_GET_SYSNAME(sizeof name), name) >= 0);
	for (int number = 0; number < 64; number++) {
		snprintf(path, sizeof path, "/sys/class/input/%s/event%d", name, number);
		if (access(path, F_OK) != 0)
			continue;
		snprintf(path, sizeof path, "/dev/input/event%d", number);
		int fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
		assert_true(fd >= 0);
		return fd;
	}
	fail_msg("no node of %s", name);
	return -1;
}

/* What the other one gets to read: key events. */
static int heard_by(int fd)
{
	struct input_event events[64];
	ssize_t length;
	int count = 0;

	while ((length = read(fd, events, sizeof events)) > 0)
		for (size_t i = 0; i < (size_t)length / sizeof *events; i++)
			count += events[i].type == EV_KEY;
	return count;
}

/* ---- tests ---- */

static void presses_arrive_with_the_kernels_time(void **state)
{
	(void)state;
	struct rig rig;
	int fd = plug_three();

	begin(&rig);
	run_ms(&rig, 200);
	expect(&rig, "found");
	int64_t before_us = clock_steady_us();
	key(fd, KEY_F14, 1);
	int64_t after_us = clock_steady_us();
	/* Read much later, it still is the time of the press. */
	usleep(150000);
	run_ms(&rig, 50);
	expect(&rig, "next");
	assert_in_range(rig.last_us, before_us, after_us);
	key(fd, KEY_F14, 0);
	run_ms(&rig, 400);
	press(&rig, fd, KEY_F15, 60, 100);
	press(&rig, fd, KEY_F16, 60, 100);
	expect(&rig, "again back");
	assert_string_equal(text_string(&rig.notes), "");
	end(&rig);
	unplug(fd);
}

static void taps_and_holds(void **state)
{
	(void)state;
	struct rig rig;
	int fd = plug_one();

	begin(&rig);
	run_ms(&rig, 200);
	press(&rig, fd, KEY_F14, 60, 100);
	press(&rig, fd, KEY_F14, 60, 1500);
	press(&rig, fd, KEY_F14, 800, 100);
	expect(&rig, "found next undo-again next undo-pause");
	end(&rig);
	unplug(fd);
}

static void a_grabbed_pedal_types_nowhere_else(void **state)
{
	(void)state;
	struct rig rig;
	int fd = plug_one();

	begin(&rig);
	run_ms(&rig, 200);
	int other = open_as_another(fd);
	press(&rig, fd, KEY_F14, 60, 400);
	expect(&rig, "found next");
	assert_int_equal(heard_by(other), 0);
	assert_int_equal(ioctl(other, EVIOCGRAB, 1), -1);
	assert_int_equal(errno, EBUSY);
	end(&rig);
	/* Let go at the end. */
	key(fd, KEY_F14, 1);
	key(fd, KEY_F14, 0);
	assert_int_equal(heard_by(other), 2);
	close(other);
	unplug(fd);
}

static void a_pedal_that_another_program_holds(void **state)
{
	(void)state;
	struct rig rig;
	int fd = plug_one();
	int other = open_as_another(fd);

	assert_int_equal(ioctl(other, EVIOCGRAB, 1), 0);
	begin(&rig);
	run_ms(&rig, 200);
	press(&rig, fd, KEY_F14, 60, 400);
	expect(&rig, "busy");
	assert_int_equal(ioctl(other, EVIOCGRAB, 0), 0);
	run_ms(&rig, 5500);
	press(&rig, fd, KEY_F14, 60, 400);
	expect(&rig, "found next");
	assert_int_equal(ioctl(other, EVIOCGRAB, 1), -1);
	end(&rig);
	close(other);
	unplug(fd);
}

static void a_pedal_that_another_program_takes_when_it_comes_back(void **state)
{
	(void)state;
	struct rig rig;
	int fd = plug_one();

	begin(&rig);
	run_ms(&rig, 200);
	unplug(fd);
	run_ms(&rig, 200);
	expect(&rig, "found gone");
	fd = plug_one();
	int other = open_as_another(fd);
	assert_int_equal(ioctl(other, EVIOCGRAB, 1), 0);
	run_ms(&rig, 400);
	press(&rig, fd, KEY_F14, 60, 400);
	expect(&rig, "busy");
	assert_int_equal(ioctl(other, EVIOCGRAB, 0), 0);
	run_ms(&rig, 5500);
	press(&rig, fd, KEY_F14, 60, 400);
	expect(&rig, "back-again next");
	end(&rig);
	close(other);
	unplug(fd);
}

static void a_key_that_is_down_at_the_start(void **state)
{
	(void)state;
	struct rig rig;
	int fd = plug_one();
	int other = open_as_another(fd);

	key(fd, KEY_F14, 1);
	begin(&rig);
	run_ms(&rig, 800);
	expect(&rig, "found");
	key(fd, KEY_F14, 0);
	run_ms(&rig, 100);
	/* The other one saw the press, so it had to see the release, but nothing after it. */
	assert_int_equal(heard_by(other), 2);
	press(&rig, fd, KEY_F14, 60, 400);
	expect(&rig, "next");
	assert_int_equal(heard_by(other), 0);
	end(&rig);
	close(other);
	unplug(fd);
}

/* The reader sleeps while the device sends more than the kernel keeps for it. */
static void a_flood_that_overflows_the_kernels_buffer(void **state)
{
	(void)state;
	struct rig rig;
	int fd = plug_three();

	begin(&rig);
	run_ms(&rig, 200);
	expect(&rig, "found");
	for (int i = 0; i < 2000; i++)
		key(fd, KEY_F15, i % 2);
	key(fd, KEY_F14, 1);
	for (int i = 0; i < 2000; i++)
		key(fd, KEY_F16, i % 2);
	run_ms(&rig, 200);
	/* Nobody knows what the flood was, but the pedal that is still down was pressed once. */
	const char *next = strstr(text_string(&rig.out), "next");
	assert_non_null(next);
	assert_null(strstr(next + 1, "next"));
	text_clear(&rig.out);
	key(fd, KEY_F16, 0);
	key(fd, KEY_F15, 0);
	key(fd, KEY_F14, 0);
	run_ms(&rig, 2500);
	text_clear(&rig.out);
	press(&rig, fd, KEY_F14, 60, 400);
	expect(&rig, "next");
	end(&rig);
	unplug(fd);
}

static void unplugged_twenty_times(void **state)
{
	(void)state;
	struct rig rig;
	int fd = plug_three();

	begin(&rig);
	run_ms(&rig, 200);
	expect(&rig, "found");
	for (int i = 0; i < 20; i++) {
		key(fd, KEY_F14, 1);
		run_ms(&rig, 20);
		unplug(fd);
		run_ms(&rig, 20);
		expect(&rig, "next gone");
		fd = plug_three();
		run_ms(&rig, 250);
		expect(&rig, "back-again");
		press(&rig, fd, KEY_F14, 30, 350);
		expect(&rig, "next");
	}
	end(&rig);
	unplug(fd);
}

static void all_nodes_of_a_device_are_one_pedal(void **state)
{
	(void)state;
	struct rig rig;
	int keys = plug("Unit FootSwitch Keyboard", "usb-test-4/input0", three_keys, false);
	int mouse = plug("Unit FootSwitch Mouse", "usb-test-4/input1", buttons, true);

	begin(&rig);
	run_ms(&rig, 200);
	expect(&rig, "found");
	int other = open_as_another(mouse);
	assert_int_equal(ioctl(other, EVIOCGRAB, 1), -1);
	press(&rig, keys, KEY_F14, 60, 400);
	press(&rig, mouse, BTN_LEFT, 60, 400);
	expect(&rig, "next next");
	unplug(keys);
	unplug(mouse);
	run_ms(&rig, 300);
	expect(&rig, "gone");
	end(&rig);
	close(other);
}

static void key_repeat_of_the_kernel(void **state)
{
	(void)state;
	struct rig rig;
	int fd = plug_three();

	begin(&rig);
	run_ms(&rig, 200);
	key(fd, KEY_F15, 1);
	for (int i = 0; i < 20; i++) {
		send(fd, EV_KEY, KEY_F15, 2);
		send(fd, EV_SYN, SYN_REPORT, 0);
		run_ms(&rig, 10);
	}
	key(fd, KEY_F15, 0);
	run_ms(&rig, 200);
	expect(&rig, "found again");
	end(&rig);
	unplug(fd);
}

static void f16_is_learned(void *owner, const struct pedal_event *event)
{
	(void)owner;
	assert_int_equal(event->key, KEY_F16);
	assert_string_equal(event->pedal->name, "Three Pedal Unit");
	assert_string_equal(event->pedal->port, "usb-test-2");
	assert_int_equal(event->pedal->class, PEDAL_CLASS_PEDAL);
}

static void a_key_is_learned(void **state)
{
	(void)state;
	char *why = NULL;
	int fd = plug_three();
	pid_t child = fork();

	if (child == 0) {
		usleep(300000);
		key(fd, KEY_F16, 1);
		usleep(50000);
		key(fd, KEY_F16, 0);
		_exit(0);
	}
	assert_true(pedal_learn(NULL, f16_is_learned, NULL, &why));
	unplug(fd);
}

/* What the udev on this machine makes of a device with our rule in place: is the person at the seat
 * let in? */
static bool lets_in(int fd)
{
	char name[64];
	char command[160];
	char line[512];
	bool tagged = false;

	assert_true(ioctl(fd, UI_GET_SYSNAME(sizeof name), name) >= 0);
	snprintf(command, sizeof command,
		 "udevadm test --action=add /sys/class/input/%s/event* 2>&1", name);
	FILE *report = popen(command, "r");
	assert_non_null(report);
	bool heard = false;
	while (fgets(line, sizeof line, report)) {
		heard |= strstr(line, "71-pullcall-pedal.rules") != NULL;
		tagged |= strncmp(line, "CURRENT_TAGS=", 13) == 0 && strstr(line, ":uaccess:");
	}
	assert_int_equal(pclose(report), 0);
	/* Without the rule in place the answer would mean nothing. */
	assert_true(heard);
	return tagged;
}

static void the_udev_rule_lets_in_pedals_and_no_keyboards(void **state)
{
	(void)state;
	static const unsigned f13[] = {KEY_F13, 0};
	static const unsigned f24[] = {KEY_F24, 0};
	static const unsigned plain[] = {BTN_0, BTN_1, BTN_2, 0};
	static const unsigned letter[] = {KEY_B, 0};
	static const unsigned volume[] = {KEY_VOLUMEUP, KEY_VOLUMEDOWN, 0};
	unsigned pad[] = {KEY_KP0, KEY_KP1, KEY_KP2, KEY_KP3, KEY_KP4, KEY_KP5, KEY_KP6, 0};
	unsigned board[KEY_F12 + 1] = {0};
	for (unsigned code = KEY_ESC; code <= KEY_F12; code++)
		board[code - 1] = code;
	const struct {
		const char *name;
		int product;
		const unsigned *keys;
		bool mouse;
		bool let_in;
	} rows[] = {
		{"Three Pedal Unit", 0x00ff, plain, false, true},
		{"Unnamed Unit", 0x00ff, three_keys, false, true},
		{"Unnamed Unit", 0x0001, three_keys, false, true},
		{"Unnamed Unit", 0x0001, f13, false, true},
		{"Unnamed Unit", 0x0001, f24, false, true},
		{"Unnamed Unit", 0x0001, plain, false, true},
		{"Workshop FootSwitch Keyboard", 0x0001, board, false, true},
		{"Workshop foot pedal", 0x0001, letter, false, true},
		{"Workshop FootSwitch Mouse", 0x0001, buttons, true, true},
		{"Unnamed Unit", 0x0001, letter, false, false},
		{"Volume Keys", 0x0001, volume, false, false},
		{"Number Pad", 0x0001, pad, false, false},
		{"Keyboard", 0x0001, board, false, false},
		{"Mouse", 0x0001, buttons, true, false},
	};

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		int fd = plug_with_id(rows[i].product, rows[i].name, "usb-test-5/input0",
				      rows[i].keys, rows[i].mouse);
		if (lets_in(fd) != rows[i].let_in)
			fail_msg("%s (row %zu) must %sbe let in", rows[i].name, i,
				 rows[i].let_in ? "" : "not ");
		unplug(fd);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(presses_arrive_with_the_kernels_time),
		cmocka_unit_test(taps_and_holds),
		cmocka_unit_test(a_grabbed_pedal_types_nowhere_else),
		cmocka_unit_test(a_pedal_that_another_program_holds),
		cmocka_unit_test(a_pedal_that_another_program_takes_when_it_comes_back),
		cmocka_unit_test(a_key_that_is_down_at_the_start),
		cmocka_unit_test(a_flood_that_overflows_the_kernels_buffer),
		cmocka_unit_test(unplugged_twenty_times),
		cmocka_unit_test(all_nodes_of_a_device_are_one_pedal),
		cmocka_unit_test(key_repeat_of_the_kernel),
		cmocka_unit_test(a_key_is_learned),
		cmocka_unit_test(the_udev_rule_lets_in_pedals_and_no_keyboards),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
