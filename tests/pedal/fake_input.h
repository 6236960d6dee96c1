/* Input devices that exist only in a temporary folder: for what no real or emulated device can be
 * told to do on demand, such as being grabbed by somebody else or losing its events.
 *
 * A node is a FIFO that carries struct input_event, sysfs is a tree of files, and the ioctls that
 * libevdev makes are answered by this file instead of the kernel, as the kernel's
 * Documentation/input and drivers/input/evdev.c describe them. Time stands still until fake_wait.
 * One set of devices at a time.
 */
#ifndef TESTS_PEDAL_FAKE_INPUT_H
#define TESTS_PEDAL_FAKE_INPUT_H

#include <stdbool.h>
#include <stdint.h>

struct fake_spec {
	const char *name;
	const char *phys;
	const char *uniq;
	int bus;
	int vendor;
	int product;
	const unsigned *keys; /* ended by 0 */
	bool mouse;           /* moves in x and y */
	bool stick;           /* has axes */
	bool lid;             /* has a switch */
};

struct fake_device;

void fake_input_begin(void);
void fake_input_end(void);
const char *fake_root(void); /* the folder that dev/input and sys are in */

/* The folder of the nodes goes away and comes back, as with the first and the last device. */
void fake_remove_folder(void);

struct fake_device *fake_plug(int number, const struct fake_spec *spec);
void fake_unplug(struct fake_device *device);

/* An edge with its SYN_REPORT, at the present time. */
void fake_key(struct fake_device *device, unsigned code, int value);
/* The key changes, but the kernel had no room to say so; fake_drop says that it had none. */
void fake_key_unsaid(struct fake_device *device, unsigned code, bool down);
void fake_drop(struct fake_device *device);
/* An event of the caller's making. */
void fake_raw(struct fake_device *device, unsigned type, unsigned code, int value);

void fake_set_busy(struct fake_device *device, bool busy); /* grabbed by somebody else */
/* A foot comes down while the device is being grabbed. */
void fake_press_at_grab(struct fake_device *device, unsigned code);
void fake_set_clock_refused(struct fake_device *device, bool refused);
void fake_set_readable(struct fake_device *device, bool readable);
bool fake_is_grabbed(const struct fake_device *device);
int fake_grabs(const struct fake_device *device); /* that were granted */

int64_t fake_now_us(void);
void fake_wait(int64_t time_us);

#endif
