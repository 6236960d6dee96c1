#include "fake_input.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/input.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <setjmp.h>

#include <cmocka.h>

enum { DEVICES_MAX = 16, LONG_BITS = 8 * sizeof(long), KEY_WORDS = KEY_CNT / LONG_BITS };

struct fake_device {
	bool used;
	char node[256];
	char sysfs[256];
	ino_t inode;
	int fd; /* open for both, so that opening it never waits */
	struct fake_spec spec;
	unsigned long has[KEY_WORDS];
	unsigned long down[KEY_WORDS];
	bool busy;
	bool clock_refused;
	unsigned press_at_grab; /* a key, or 0 */
	int grabbed_fd;         /* -1: not grabbed */
	int grabs;
};

static struct {
	char root[64];
	char input_dir[96];
	char sysfs_dir[96];
	int64_t now_us;
	struct fake_device devices[DEVICES_MAX];
} world;

int64_t __wrap_clock_steady_us(void); /* NOLINT(bugprone-reserved-identifier) */

int64_t __wrap_clock_steady_us(void)
{
	return world.now_us;
}

int64_t fake_now_us(void)
{
	return world.now_us;
}

void fake_wait(int64_t time_us)
{
	world.now_us += time_us;
}

static void set_bit(unsigned long *bits, unsigned bit, bool on)
{
	unsigned long mask = 1UL << bit % LONG_BITS;

	bits[bit / LONG_BITS] = (bits[bit / LONG_BITS] & ~mask) | (on ? mask : 0);
}

/* ---- what the kernel would answer ---- */

static struct fake_device *device_of(int fd)
{
	struct stat status;

	if (fstat(fd, &status) != 0 || !S_ISFIFO(status.st_mode))
		return NULL;
	for (int i = 0; i < DEVICES_MAX; i++)
		if (world.devices[i].used && world.devices[i].inode == status.st_ino)
			return &world.devices[i];
	return NULL;
}

static int answer(void *out, size_t room, const void *data, size_t size)
{
	size_t length = size < room ? size : room;

	memset(out, 0, room);
	memcpy(out, data, length);
	return (int)length;
}

static int answer_text(void *out, size_t room, const char *text)
{
	if (text)
		return answer(out, room, text, strlen(text) + 1);
	errno = ENOENT;
	return -1;
}

static unsigned long types_of(const struct fake_spec *spec)
{
	return 1UL << EV_SYN | (spec->keys ? 1UL << EV_KEY : 0) |
	       (spec->mouse ? 1UL << EV_REL : 0) | (spec->stick ? 1UL << EV_ABS : 0) |
	       (spec->lid ? 1UL << EV_SW : 0);
}

static int answer_bits(const struct fake_device *device, unsigned type, void *out, size_t room)
{
	unsigned long bits = 0;

	if (type == EV_KEY)
		return answer(out, room, device->has, sizeof device->has);
	if (type == 0)
		bits = types_of(&device->spec);
	if (type == EV_REL && device->spec.mouse)
		bits = 1UL << REL_X | 1UL << REL_Y;
	if (type == EV_ABS && device->spec.stick)
		bits = 1UL << ABS_X | 1UL << ABS_Y;
	if (type == EV_SW && device->spec.lid)
		bits = 1UL << SW_LID;
	return answer(out, room, &bits, sizeof bits);
}

static int grab(struct fake_device *device, int fd, bool wanted)
{
	if (wanted && (device->busy || device->grabbed_fd >= 0)) {
		errno = EBUSY;
		return -1;
	}
	if (!wanted && device->grabbed_fd != fd) {
		errno = EINVAL;
		return -1;
	}
	device->grabbed_fd = wanted ? fd : -1;
	device->grabs += wanted;
	if (wanted && device->press_at_grab) {
		set_bit(device->down, device->press_at_grab, true);
		device->press_at_grab = 0;
	}
	return 0;
}

static int answer_ids(const struct fake_device *device, void *out)
{
	struct input_id id = {
		.bustype = (__u16)device->spec.bus,
		.vendor = (__u16)device->spec.vendor,
		.product = (__u16)device->spec.product,
		.version = 0x100,
	};

	memcpy(out, &id, sizeof id);
	return 0;
}

static int evdev_ioctl(struct fake_device *device, int fd, unsigned long request, void *out)
{
	size_t room = _IOC_SIZE(request);
	unsigned number = _IOC_NR(request);
	static const int version = 0x010001;
	static const unsigned char nothing[KEY_CNT / 8];

	if (request == EVIOCGRAB)
		return grab(device, fd, out != NULL);
	if (request == EVIOCSCLOCKID) {
		errno = EINVAL;
		return device->clock_refused ? -1 : 0;
	}
	if (request == EVIOCGVERSION)
		return answer(out, room, &version, sizeof version) < 0;
	if (request == EVIOCGID)
		return answer_ids(device, out);
	if (number == _IOC_NR(EVIOCGNAME(0)))
		return answer_text(out, room, device->spec.name);
	if (number == _IOC_NR(EVIOCGPHYS(0)))
		return answer_text(out, room, device->spec.phys);
	if (number == _IOC_NR(EVIOCGUNIQ(0)))
		return answer_text(out, room, device->spec.uniq);
	if (number == _IOC_NR(EVIOCGKEY(0)))
		return answer(out, room, device->down, sizeof device->down);
	if (number >= 0x20 && number < 0x40)
		return answer_bits(device, number - 0x20, out, room);
	if (number >= 0x40 && number < 0x80) {
		struct input_absinfo axis = {.minimum = -127, .maximum = 127};
		memcpy(out, &axis, sizeof axis);
		return 0;
	}
	return answer(out, room, nothing, sizeof nothing); /* LEDs, sounds, switches, properties */
}

/* Takes the place of the C library's, for libevdev as well. */
int ioctl(int fd, unsigned long request, ...)
{
	va_list values;

	va_start(values, request);
	void *argument = va_arg(values, void *);
	va_end(values);
	struct fake_device *device = _IOC_TYPE(request) == 'E' ? device_of(fd) : NULL;
	if (device)
		return evdev_ioctl(device, fd, request, argument);
	return (int)syscall(SYS_ioctl, fd, request, argument);
}

/* ---- the folders ---- */

static void make_dir(const char *path)
{
	if (mkdir(path, 0755) != 0 && errno != EEXIST)
		fail_msg("%s: %s", path, strerror(errno));
}

static void write_attribute(const struct fake_device *device, const char *name, const char *text)
{
	char path[320];

	snprintf(path, sizeof path, "%s/device/%s", device->sysfs, name);
	FILE *file = fopen(path, "we");
	assert_non_null(file);
	fprintf(file, "%s\n", text ? text : "");
	fclose(file);
}

static void write_hex(const struct fake_device *device, const char *name, unsigned long value)
{
	char text[32];

	snprintf(text, sizeof text, "%04lx", value);
	write_attribute(device, name, text);
}

static void write_keys(const struct fake_device *device)
{
	char text[512] = "";
	size_t length = 0;

	for (int word = KEY_WORDS - 1; word >= 0; word--)
		if (device->has[word] || length > 0 || word == 0)
			length += (size_t)snprintf(text + length, sizeof text - length, "%s%lx",
						   length > 0 ? " " : "", device->has[word]);
	write_attribute(device, "capabilities/key", text);
}

static void write_sysfs(const struct fake_device *device)
{
	char path[320];

	make_dir(device->sysfs);
	static const char *const dirs[] = {"device", "device/id", "device/capabilities"};
	for (int i = 0; i < 3; i++) {
		snprintf(path, sizeof path, "%s/%s", device->sysfs, dirs[i]);
		make_dir(path);
	}
	write_attribute(device, "name", device->spec.name);
	write_attribute(device, "phys", device->spec.phys);
	write_attribute(device, "uniq", device->spec.uniq);
	write_hex(device, "id/bustype", (unsigned long)device->spec.bus);
	write_hex(device, "id/vendor", (unsigned long)device->spec.vendor);
	write_hex(device, "id/product", (unsigned long)device->spec.product);
	write_hex(device, "capabilities/ev", types_of(&device->spec));
	write_hex(device, "capabilities/rel", device->spec.mouse ? 1 << REL_X | 1 << REL_Y : 0);
	write_hex(device, "capabilities/abs", device->spec.stick ? 1 << ABS_X | 1 << ABS_Y : 0);
	write_keys(device);
}

struct fake_device *fake_plug(int number, const struct fake_spec *spec)
{
	struct fake_device *device = world.devices;
	struct stat status;

	while (device->used)
		device++;
	assert_true(device < world.devices + DEVICES_MAX);
	*device = (struct fake_device){.used = true, .spec = *spec, .grabbed_fd = -1};
	snprintf(device->node, sizeof device->node, "%s/event%d", world.input_dir, number);
	snprintf(device->sysfs, sizeof device->sysfs, "%s/class/input/event%d", world.sysfs_dir,
		 number);
	for (const unsigned *key = spec->keys; key && *key; key++)
		set_bit(device->has, *key, true);
	make_dir(world.input_dir);
	write_sysfs(device);
	assert_int_equal(mkfifo(device->node, 0644), 0);
	device->fd = open(device->node, O_RDWR | O_NONBLOCK | O_CLOEXEC);
	assert_true(device->fd >= 0);
	assert_int_equal(fstat(device->fd, &status), 0);
	device->inode = status.st_ino;
	return device;
}

static void remove_tree(const char *path)
{
	char command[320];

	snprintf(command, sizeof command, "rm -rf '%s'", path);
	assert_int_equal(system(command), 0); /* NOLINT(cert-env33-c) */
}

void fake_unplug(struct fake_device *device)
{
	assert_true(device->used);
	unlink(device->node);
	remove_tree(device->sysfs);
	close(device->fd);
	device->used = false;
}

void fake_input_begin(void)
{
	memset(&world, 0, sizeof world);
	world.now_us = 1000000000;
	snprintf(world.root, sizeof world.root, "/tmp/pullcall-input.XXXXXX");
	assert_non_null(mkdtemp(world.root));
	assert_int_equal(chmod(world.root, 0755), 0);
	snprintf(world.input_dir, sizeof world.input_dir, "%s/dev/input", world.root);
	snprintf(world.sysfs_dir, sizeof world.sysfs_dir, "%s/sys", world.root);
	char path[128];
	snprintf(path, sizeof path, "%s/dev", world.root);
	make_dir(path);
	make_dir(world.input_dir);
	make_dir(world.sysfs_dir);
	snprintf(path, sizeof path, "%s/class", world.sysfs_dir);
	make_dir(path);
	snprintf(path, sizeof path, "%s/class/input", world.sysfs_dir);
	make_dir(path);
}

void fake_input_end(void)
{
	for (int i = 0; i < DEVICES_MAX; i++)
		if (world.devices[i].used)
			fake_unplug(&world.devices[i]);
	remove_tree(world.root);
}

void fake_remove_folder(void)
{
	assert_int_equal(rmdir(world.input_dir), 0);
}

const char *fake_root(void)
{
	return world.root;
}

/* ---- what happens to a device ---- */

void fake_raw(struct fake_device *device, unsigned type, unsigned code, int value)
{
	struct input_event event = {
		.input_event_sec = world.now_us / 1000000,
		.input_event_usec = world.now_us % 1000000,
		.type = (__u16)type,
		.code = (__u16)code,
		.value = value,
	};

	assert_int_equal(write(device->fd, &event, sizeof event), sizeof event);
}

void fake_key(struct fake_device *device, unsigned code, int value)
{
	if (value != 2)
		set_bit(device->down, code, value == 1);
	/* Somebody who grabs a device is the only one who hears it. */
	if (device->busy)
		return;
	fake_raw(device, EV_MSC, MSC_SCAN, 0x90001);
	fake_raw(device, EV_KEY, code, value);
	fake_raw(device, EV_SYN, SYN_REPORT, 0);
}

void fake_key_unsaid(struct fake_device *device, unsigned code, bool down)
{
	set_bit(device->down, code, down);
}

void fake_drop(struct fake_device *device)
{
	fake_raw(device, EV_SYN, SYN_DROPPED, 0);
	fake_raw(device, EV_SYN, SYN_REPORT, 0);
}

void fake_set_busy(struct fake_device *device, bool busy)
{
	device->busy = busy;
}

void fake_press_at_grab(struct fake_device *device, unsigned code)
{
	device->press_at_grab = code;
}

void fake_set_clock_refused(struct fake_device *device, bool refused)
{
	device->clock_refused = refused;
}

void fake_set_readable(struct fake_device *device, bool readable)
{
	uid_t user = geteuid();

	assert_int_equal(seteuid(getuid()), 0);
	assert_int_equal(chmod(device->node, readable ? 0644 : 0000), 0);
	assert_int_equal(seteuid(user), 0);
}

bool fake_is_grabbed(const struct fake_device *device)
{
	return device->grabbed_fd >= 0;
}

int fake_grabs(const struct fake_device *device)
{
	return device->grabs;
}
