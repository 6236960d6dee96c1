/* The bench file: what it can say, what it may not, and the bench without one. */
#include "base/base.h"
#include "bench/bench.h"
#include "job/job.h"

#include <linux/input-event-codes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void a_bench_without_a_file_has_every_default(void **state)
{
	(void)state;
	struct faults faults = {0};

	setenv("XDG_CONFIG_HOME", "/nowhere", 1);
	struct bench *bench = bench_find(NULL, &faults);
	assert_non_null(bench);
	assert_int_equal(faults.errors, 0);
	assert_int_equal(bench->pedal_count, 0);
	assert_string_equal(bench->language, "en");
	assert_string_equal(bench->sound, "auto");
	assert_null(bench->voice);
	assert_int_equal(bench->rate_wpm, 165);
	assert_int_equal(bench->volume_percent, 100);
	assert_false(bench->phrases.unit_chosen);
	assert_true(bench->machine->reach_mm == REACH_DEFAULT_MM);
	assert_true(bench->machine->margin_mm == MARGIN_DEFAULT_MM);
	assert_int_equal(bench->machine->head, HEAD_LOCK_OUT);
	assert_memory_equal(&bench->times, &gesture_default_times, sizeof(bench->times));
	bench_free(bench);
	faults_free(&faults);
}

static void every_key_is_read(void **state)
{
	(void)state;
	static const char file[] =
		"pedals:\n"
		"  - device: \"05f3:00ff\"\n"
		"    port: usb-0000:00:14.0-2\n"
		"    keys: { F14: next, KEY_F15: again, BTN_0: back }\n"
		"    grab: yes\n"
		"  - name: Long Pedal\n"
		"gestures: { double_tap: 350 ms, hold: 0.6 s }\n"
		"voice: { name: en-us+f2, rate: 180, volume: 80 %, tone: yes, shop: loud }\n"
		"sound: device:Desk\n"
		"speak: { unit: kg, left: tape side, right: plain side }\n"
		"reach: 40 cm\n"
		"margin: 0 mm\n"
		"machine: { tension: drop-weight }\n";
	struct faults faults = {0};
	struct bench *bench = bench_read(yaml_read_text("bench.yaml", file, &faults));

	faults_print(&faults, stderr);
	assert_non_null(bench);
	assert_int_equal(bench->pedal_count, 2);
	const struct pedal_entry *pedal = &bench->pedals[0];
	assert_int_equal(pedal->vendor, 0x05f3);
	assert_int_equal(pedal->product, 0x00ff);
	assert_string_equal(pedal->port, "usb-0000:00:14.0-2");
	assert_null(pedal->name);
	assert_int_equal(pedal->grab, PEDAL_GRAB_YES);
	assert_int_equal(pedal->key_count, 3);
	assert_int_equal(pedal->keys[0].code, KEY_F14);
	assert_int_equal(pedal->keys[0].role, GESTURE_ROLE_NEXT);
	assert_int_equal(pedal->keys[1].code, KEY_F15);
	assert_int_equal(pedal->keys[1].role, GESTURE_ROLE_AGAIN);
	assert_int_equal(pedal->keys[2].code, BTN_0);
	assert_int_equal(pedal->times.double_tap_us, 350 * MS_US);
	assert_int_equal(pedal->times.hold_us, 600 * MS_US);
	assert_int_equal(bench->pedals[1].vendor, PEDAL_ANY);
	assert_string_equal(bench->pedals[1].name, "Long Pedal");
	assert_string_equal(bench->voice, "en-us+f2");
	assert_int_equal(bench->rate_wpm, 180);
	assert_int_equal(bench->volume_percent, 80);
	assert_true(bench->tone);
	assert_true(bench->phrases.clear);
	assert_string_equal(bench->sound, "device:Desk");
	assert_true(bench->phrases.unit_chosen);
	assert_int_equal(bench->phrases.unit, UNIT_KG);
	assert_string_equal(bench->phrases.side_words[SIDE_LEFT], "tape side");
	assert_true(bench->machine->reach_mm == 400);
	assert_true(bench->machine->margin_mm == 0);
	assert_int_equal(bench->machine->head, HEAD_DROP_WEIGHT);
	bench_free(bench);
	faults_free(&faults);
}

static void what_is_wrong_is_said_in_its_place(void **state)
{
	(void)state;
	static const struct {
		const char *file;
		struct position position;
		const char *code;
	} cases[] = {
		{"voise: { rate: 100 }\n", {1, 1}, "key-unknown"},
		{"voice: { rate: 20 }\n", {1, 16}, "value-number"},
		{"voice: { volume: 300 % }\n", {1, 18}, "value-range"},
		{"voice: { shop: noisy }\n", {1, 16}, "value-choice"},
		{"voice: { language: ../en }\n", {1, 20}, "voice-language"},
		{"pedals: [ { keys: { F14: next } } ]\n", {1, 11}, "pedal-device"},
		{"pedals: [ { device: 5f3 } ]\n", {1, 21}, "pedal-device"},
		{"pedals: [ { name: x, keys: { F99: next } } ]\n", {1, 30}, "pedal-key"},
		{"pedals: [ { name: x, keys: { F14: jump } } ]\n", {1, 35}, "value-choice"},
		{"pedals: [ { name: x, keys: F14 } ]\n", {1, 28}, "value-kind"},
		{"gestures: { hold: 5 }\n", {1, 19}, "value-quantity"},
		{"gestures: { double_tap: 10 ms, debounce: 20 ms }\n", {1, 11}, "gesture-times"},
		{"speak: { unit: stone }\n", {1, 16}, "value-choice"},
		{"speak: { left: near, right: near }\n", {1, 29}, "speak-sides"},
		{"sound: speakers\n", {1, 8}, "bench-sound"},
		{"sound: \"wav:\"\n", {1, 8}, "bench-sound"},
		{"sound: [none]\n", {1, 8}, "value-kind"},
		{"reach: 5 m\n", {1, 8}, "value-range"},
		{"reach: 5 kg\n", {1, 8}, "value-quantity"},
		{"margin: 5 m\n", {1, 9}, "value-range"},
		{"margin: 30\n", {1, 9}, "value-quantity"},
		{"machine: { tension: gravity }\n", {1, 21}, "value-choice"},
		{"machine: { tensions: constant }\n", {1, 12}, "key-unknown"},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct faults faults = {0};
		assert_null(bench_read(yaml_read_text("bench.yaml", cases[i].file, &faults)));
		const struct fault *fault = &faults.items[0];
		if (faults.errors != 1 || strcmp(fault->code, cases[i].code) != 0 ||
		    fault->position.line != cases[i].position.line ||
		    fault->position.column != cases[i].position.column)
			fail_msg("%s: %zu errors, %d:%d %s: %s", cases[i].file, faults.errors,
				 fault->position.line, fault->position.column, fault->code,
				 fault->text);
		faults_free(&faults);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_bench_without_a_file_has_every_default),
		cmocka_unit_test(every_key_is_read),
		cmocka_unit_test(what_is_wrong_is_said_in_its_place),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
