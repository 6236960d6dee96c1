/* A recorded press of a real pedal, through umockdev and libevdev, as an ordinary user of the usual
 * folders. Time is real here: a replay takes a third of a second. */
#include "words.h"

#include "base/base.h"
#include "pedal/pedal.h"

#include <poll.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <umockdev.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

#define RECORDINGS SOURCE_DIR "/tests/pedal/recordings/"
#define UNIT_SYSFS                                                                                 \
	"/sys/devices/pci0000:00/0000:00:14.0/usb1/1-2/1-2:1.0/0003:05F3:00FF.0001/input/input20"

struct rig {
	UMockdevTestbed *testbed;
	struct presses *presses;
	struct text out;
	struct text notes;
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
}

static void check(gboolean done, GError *error)
{
	if (!done)
		fail_msg("umockdev: %s", error ? error->message : "failed");
}

/* The recorded unit as event number `number`: a device seldom gets its old number back. */
static void plug(struct rig *rig, int number)
{
	GError *error = NULL;
	gchar *recorded = NULL;
	gchar *node = g_strdup_printf("event%d", number);
	gchar *path = g_strdup_printf("/dev/input/event%d", number);

	check(g_file_get_contents(RECORDINGS "three-pedals.umockdev", &recorded, NULL, &error),
	      error);
	gchar **parts = g_strsplit(recorded, "event5", -1);
	gchar *description = g_strjoinv(node, parts);
	check(umockdev_testbed_add_from_string(rig->testbed, description, &error), error);
	check(umockdev_testbed_load_ioctl(rig->testbed, path, RECORDINGS "three-pedals.ioctl",
					  &error),
	      error);
	check(umockdev_testbed_load_evemu_events(rig->testbed, path, RECORDINGS "press-f14.events",
						 &error),
	      error);
	g_free(description);
	g_strfreev(parts);
	g_free(recorded);
	g_free(path);
	g_free(node);
}

static UMockdevTestbed *new_testbed(void)
{
	UMockdevTestbed *testbed = umockdev_testbed_new();

	/* Without it the test would look at the machine's own devices. */
	assert_true(umockdev_in_mock_environment());
	return testbed;
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

static void expect(struct rig *rig, const char *words)
{
	assert_string_equal(text_string(&rig->out), words);
	text_clear(&rig->out);
}

static void begin(struct rig *rig, const struct pedal_config *config)
{
	char *why = NULL;

	*rig = (struct rig){.testbed = new_testbed()};
	plug(rig, 5);
	rig->presses = presses_open(config, on_event, rig, &why);
	assert_non_null(rig->presses);
}

static void end(struct rig *rig)
{
	presses_close(rig->presses);
	g_object_unref(rig->testbed);
	text_free(&rig->out);
	text_free(&rig->notes);
}

static void a_recorded_press_is_one_step(void **state)
{
	(void)state;
	struct pedal_config config = {.times = gesture_default_times};
	struct rig rig;

	begin(&rig, &config);
	run_ms(&rig, 900);
	expect(&rig, "found next");
	end(&rig);
}

/* The press lasts 0.232 s: with a hold time below that it is a hold, above it is none. */
static void the_length_of_the_press_comes_through(void **state)
{
	(void)state;
	static const struct pedal_key keys[] = {{184, GESTURE_ROLE_STEP}};
	struct pedal_entry entry = {
		.vendor = 0x05f3,
		.product = 0x00ff,
		.keys = keys,
		.key_count = 1,
		.times = gesture_default_times,
	};
	struct pedal_config config = {.entries = &entry, .entry_count = 1};
	struct rig rig;

	entry.times.hold_us = 150 * MS_US;
	begin(&rig, &config);
	run_ms(&rig, 700);
	expect(&rig, "found next undo-pause");
	end(&rig);
	entry.times.hold_us = 450 * MS_US;
	begin(&rig, &config);
	run_ms(&rig, 700);
	expect(&rig, "found next");
	end(&rig);
}

static void unplugged_and_plugged_in_again(void **state)
{
	(void)state;
	struct pedal_config config = {.times = gesture_default_times};
	struct rig rig;

	begin(&rig, &config);
	run_ms(&rig, 500);
	expect(&rig, "found next");
	umockdev_testbed_remove_device(rig.testbed, UNIT_SYSFS "/event5");
	umockdev_testbed_remove_device(rig.testbed, UNIT_SYSFS);
	run_ms(&rig, 300);
	expect(&rig, "gone");
	plug(&rig, 6);
	run_ms(&rig, 700);
	expect(&rig, "back-again next");
	end(&rig);
}

static void it_is_listed_with_its_keys(void **state)
{
	(void)state;
	UMockdevTestbed *testbed = new_testbed();
	struct rig rig = {.testbed = testbed};
	size_t count;

	plug(&rig, 5);
	struct pedal_info *list = pedal_list(NULL, &count);
	assert_int_equal(count, 1);
	assert_string_equal(list->name, "Three Pedal Unit");
	assert_string_equal(list->port, "usb-0000:00:14.0-2");
	assert_null(list->serial);
	assert_int_equal(list->vendor, 0x05f3);
	assert_int_equal(list->class, PEDAL_CLASS_PEDAL);
	assert_int_equal(list->key_count, 3);
	assert_int_equal(list->keys[2].code, 186);
	assert_int_equal(list->keys[2].role, GESTURE_ROLE_BACK);
	assert_null(list->trouble);
	pedal_list_free(list, count);
	g_object_unref(testbed);
}

static void f14_is_learned(void *owner, const struct pedal_event *event)
{
	(void)owner;
	assert_int_equal(event->key, 184);
	assert_string_equal(event->pedal->name, "Three Pedal Unit");
}

static void a_press_is_learned(void **state)
{
	(void)state;
	UMockdevTestbed *testbed = new_testbed();
	struct rig rig = {.testbed = testbed};
	char *why = NULL;

	plug(&rig, 5);
	assert_true(pedal_learn(NULL, f14_is_learned, NULL, &why));
	g_object_unref(testbed);
}

/* umockdev has to be loaded before the C library: start again with it. */
static void preload_umockdev(char **arguments)
{
	const char *loaded = getenv("LD_PRELOAD");
	const char *options = getenv("ASAN_OPTIONS");
	char *more = NULL;

	if (loaded && strstr(loaded, "umockdev"))
		return;
	if (asprintf(&more, "%s:verify_asan_link_order=0", options ? options : "") < 0)
		exit(1);
	setenv("ASAN_OPTIONS", more, 1);
	setenv("LD_PRELOAD", "libumockdev-preload.so.0", 1);
	execv("/proc/self/exe", arguments);
	perror("/proc/self/exe");
	exit(1);
}

int main(int count, char **arguments)
{
	(void)count;
	preload_umockdev(arguments);
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(it_is_listed_with_its_keys),
		cmocka_unit_test(a_recorded_press_is_one_step),
		cmocka_unit_test(the_length_of_the_press_comes_through),
		cmocka_unit_test(unplugged_and_plugged_in_again),
		cmocka_unit_test(a_press_is_learned),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
