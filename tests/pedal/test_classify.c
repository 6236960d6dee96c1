/* What devices are taken for, what their keys would do, and the names of keys. */
#include "pedal/internal.h"

#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>

enum { KEYS_MAX = 12 };

struct row {
	const char *name;
	enum pedal_class class;
	int bus;
	unsigned keys[KEYS_MAX]; /* ended by 0 */
	bool letters;
	uint64_t relatives;
	uint64_t absolutes;
	bool has_switch;
};

#define MOVES (1u << REL_X | 1u << REL_Y)
#define AXES  (1u << ABS_X | 1u << ABS_Y)

/* Names are made up; the keys are those of real kinds of devices, mostly from memory, that of the
 * three-pedal unit from a published listing (CHECKS.md). */
static const struct row rows[] = {
	{.name = "Three Pedal Unit", PEDAL_CLASS_PEDAL, BUS_USB, {KEY_F14, KEY_F15, KEY_F16}},
	{.name = "The same without a key map", PEDAL_CLASS_PEDAL, BUS_USB, {BTN_0, BTN_1, BTN_2}},
	{.name = "One Key", PEDAL_CLASS_PEDAL, BUS_USB, {KEY_B}},
	{.name = "Page Turner", PEDAL_CLASS_PEDAL, BUS_BLUETOOTH, {KEY_PAGEUP, KEY_PAGEDOWN}},
	{.name = "Home-made Buttons", PEDAL_CLASS_PEDAL, BUS_USB, {BTN_TRIGGER, BTN_THUMB}},
	{.name = "Remapper", PEDAL_CLASS_PEDAL, BUS_VIRTUAL, {KEY_F13}},
	{.name = "Bench FootSwitch", PEDAL_CLASS_PEDAL, BUS_USB, {BTN_LEFT}, true, MOVES},
	{.name = "PEDAL BOARD", PEDAL_CLASS_PEDAL, BUS_USB, {0}, true},
	{.name = "Keyboard", PEDAL_CLASS_KEYBOARD, BUS_USB, {KEY_F14}, true},
	{.name = "Keyboard With Mouse", PEDAL_CLASS_KEYBOARD, BUS_USB, {BTN_LEFT}, true, MOVES},
	{.name = "Mouse", PEDAL_CLASS_POINTER, BUS_USB, {BTN_LEFT, BTN_RIGHT}, false, MOVES},
	{.name = "Touchpad", PEDAL_CLASS_POINTER, BUS_I2C, {BTN_LEFT, BTN_TOUCH}, false, 0, AXES},
	{.name = "Pen Tablet", PEDAL_CLASS_POINTER, BUS_USB, {BTN_TOOL_PEN}, false, 0, AXES},
	{.name = "Gamepad", PEDAL_CLASS_GAMEPAD, BUS_USB, {BTN_SOUTH, BTN_EAST}, false, 0, AXES},
	{.name = "Power Button", PEDAL_CLASS_OTHER, BUS_HOST, {KEY_POWER}},
	{.name = "Power Key Of A Dock", PEDAL_CLASS_OTHER, BUS_USB, {KEY_POWER}},
	{.name = "Lid Switch", PEDAL_CLASS_OTHER, BUS_HOST, {0}, .has_switch = true},
	{.name = "Headset Jack", PEDAL_CLASS_OTHER, BUS_USB, {KEY_B}, .has_switch = true},
	{.name = "Headset", PEDAL_CLASS_OTHER, BUS_USB, {KEY_VOLUMEUP, KEY_VOLUMEDOWN, BTN_0}},
	{.name = "Camera", PEDAL_CLASS_OTHER, BUS_USB, {KEY_CAMERA}},
	{.name = "Video Bus", PEDAL_CLASS_OTHER, BUS_HOST, {KEY_BRIGHTNESSUP, KEY_F13}},
	{.name = "Laptop Keys", PEDAL_CLASS_OTHER, BUS_I8042, {KEY_F13, KEY_F14}},
	{.name = "Remote Control",
	 PEDAL_CLASS_OTHER,
	 BUS_USB,
	 {KEY_OK, KEY_UP, KEY_DOWN, KEY_1, KEY_2}},
	{.name = "Key Pad",
	 PEDAL_CLASS_OTHER,
	 BUS_USB,
	 {KEY_KP0, KEY_KP1, KEY_KP2, KEY_KP3, KEY_KP4, KEY_KP5, KEY_KP6, KEY_KP7}},
	{.name = "Nothing", PEDAL_CLASS_OTHER, BUS_USB, {0}},
};

static struct event_node node_of(const char *name)
{
	return (struct event_node){.name = (char *)(uintptr_t)name};
}

static struct input_device device_of(const struct row *row, struct event_node *node)
{
	*node = node_of(row->name);
	struct input_device device = {
		.info.name = node->name,
		.bus = row->bus,
		.types = 1u << EV_SYN | (row->absolutes ? 1u << EV_ABS : 0) |
			 (row->has_switch ? 1u << EV_SW : 0),
		.relatives = row->relatives,
		.absolutes = row->absolutes,
		.nodes = node,
		.node_count = 1,
	};

	for (const unsigned *key = row->keys; *key; key++)
		device.keys[*key / 64] |= (uint64_t)1 << *key % 64;
	for (unsigned code = KEY_ESC; row->letters && code <= KEY_F12; code++)
		device.keys[code / 64] |= (uint64_t)1 << code % 64;
	return device;
}

static void devices_are_classified(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct event_node node;
		struct input_device device = device_of(&rows[i], &node);

		describe(&device);
		if (device.info.class != rows[i].class)
			fail_msg("%s: %d, not %d", rows[i].name, device.info.class, rows[i].class);
	}
}

static void roles_go_by_the_number_of_keys(void **state)
{
	(void)state;
	static const struct {
		unsigned keys[KEYS_MAX];
		const char *roles;
		bool any;
	} cases[] = {
		{{KEY_F14}, "step", false},
		{{KEY_F15, KEY_F14}, "next again", false},
		{{KEY_F16, KEY_F14, KEY_F15}, "next again back", false},
		{{BTN_0, BTN_1, BTN_2, BTN_3}, "next again back pause", false},
		{{KEY_F13, KEY_F14, KEY_F15, KEY_F16, KEY_F17}, "step step step step step", true},
	};

	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		struct row row = {.name = "Pedal"};
		struct event_node node;
		char roles[100] = "";

		memcpy(row.keys, cases[i].keys, sizeof row.keys);
		struct input_device device = device_of(&row, &node);
		describe(&device);
		const struct pedal_key *keys = device.info.keys;
		size_t count = device.info.key_count;
		for (size_t k = 0; k < count; k++) {
			strcat(roles, k > 0 ? " " : "");
			strcat(roles, gesture_role_names[keys[k].role]);
			assert_true(k == 0 || keys[k].code > keys[k - 1].code);
		}
		assert_string_equal(roles, cases[i].roles);
		assert_int_equal(count > ROLES_BY_ORDER, cases[i].any);
	}
}

static void a_keyboard_has_more_keys_than_we_name(void **state)
{
	(void)state;
	struct row row = {.name = "Foot Pedal", .letters = true};
	struct event_node node;
	struct input_device device = device_of(&row, &node);

	describe(&device);
	assert_int_equal(device.info.key_count, GESTURE_KEYS_MAX);
}

static void entries_match_what_they_name(void **state)
{
	(void)state;
	struct event_node nodes[2] = {
		node_of("Unit Keyboard"),
		node_of("Unit"),
	};
	struct input_device device = {
		.info = {.port = (char[]){"usb-1"},
			 .serial = (char[]){"S1"},
			 .vendor = 0x1234,
			 .product = 0x5678},
		.nodes = nodes,
		.node_count = 2,
	};
	static const struct {
		struct pedal_entry entry;
		bool matches;
	} cases[] = {
		{{.vendor = PEDAL_ANY, .product = PEDAL_ANY}, true},
		{{.vendor = 0x1234, .product = 0x5678}, true},
		{{.vendor = 0x1234, .product = 0x5679}, false},
		{{.vendor = 0x1235, .product = PEDAL_ANY}, false},
		{{.vendor = 0, .product = 0}, false},
		{{.vendor = 0x1234, .product = PEDAL_ANY, .name = "Unit"}, true},
		{{.vendor = 0x1234, .product = PEDAL_ANY, .name = "Unit Keyboard"}, true},
		{{.vendor = 0x1234, .product = PEDAL_ANY, .name = "Unit Mouse"}, false},
		{{.vendor = 0x1234, .product = PEDAL_ANY, .serial = "S1"}, true},
		{{.vendor = 0x1234, .product = PEDAL_ANY, .serial = "S2"}, false},
		{{.vendor = 0x1234, .product = PEDAL_ANY, .port = "usb-1"}, true},
		{{.vendor = 0x1234, .product = PEDAL_ANY, .port = "usb-1.2"}, false},
	};

	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
		assert_int_equal(entry_matches(&cases[i].entry, &device), cases[i].matches);
	device.info.serial = NULL;
	assert_false(entry_matches(&cases[8].entry, &device));
}

/* Values: linux/input-event-codes.h (CHECKS.md). */
static void keys_have_names(void **state)
{
	(void)state;
	static const struct {
		const char *name;
		int code;
	} names[] = {
		{"F14", 184},
		{"KEY_F14", 184},
		{"f14", 184},
		{"key_f14", 184},
		{"F13", 183},
		{"F24", 194},
		{"B", 48},
		{"SPACE", 57},
		{"BTN_0", 0x100},
		{"BTN_LEFT", 0x110},
		{"btn_left", 0x110},
		{"184", 184},
		{"0x100", 0x100},
		{"KEY_1", 2},
		{"1", 1},
		{"", -1},
		{"F99", -1},
		{"REL_X", -1},
		{"99999", -1},
		{"0x", -1},
		{"12three", -1},
		{"-1", -1},
		{"KEY_KEY_F14", -1},
		{"a name that is far too long to be the name of a key", -1},
	};

	for (size_t i = 0; i < sizeof names / sizeof *names; i++)
		if (pedal_key_code(names[i].name) != names[i].code)
			fail_msg("%s: %d, not %d", names[i].name, pedal_key_code(names[i].name),
				 names[i].code);
	assert_string_equal(pedal_key_name(184), "F14");
	assert_string_equal(pedal_key_name(2), "KEY_1");
	assert_string_equal(pedal_key_name(BTN_LEFT), "BTN_LEFT");
	for (unsigned code = 1; code < KEY_MAX; code++)
		assert_int_equal(pedal_key_code(pedal_key_name(code)), code);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(devices_are_classified),
		cmocka_unit_test(roles_go_by_the_number_of_keys),
		cmocka_unit_test(a_keyboard_has_more_keys_than_we_name),
		cmocka_unit_test(entries_match_what_they_name),
		cmocka_unit_test(keys_have_names),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
