/* What is plugged in: its description in sysfs, what it is taken for, the names of its keys. */
#include "pedal/internal.h"

#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <libevdev/libevdev.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* ---- from sysfs ---- */

/* event0 to event1023: INPUT_MAX_CHAR_DEVICES of the kernel's drivers/input/input.c. */
enum { EVENT_NODES = 1024, ATTRIBUTE_MAX = 1024 };

/* The first line of an attribute, made printable, into buffer; "" if there is none. */
static void read_attribute(const char *device_dir, const char *name,
			   char buffer[static ATTRIBUTE_MAX])
{
	char *path = memory_format("%s/%s", device_dir, name);
	FILE *file = fopen(path, "re");

	if (!file || !fgets(buffer, ATTRIBUTE_MAX, file))
		buffer[0] = '\0';
	if (file)
		fclose(file);
	free(path);
	buffer[strcspn(buffer, "\n")] = '\0';
	for (char *c = buffer; *c; c++)
		if (*c < ' ' || *c > '~')
			*c = '?';
}

static char *text_attribute(const char *device_dir, const char *name)
{
	char buffer[ATTRIBUTE_MAX];

	read_attribute(device_dir, name, buffer);
	return buffer[0] ? memory_copy(buffer) : NULL;
}

static int hex_attribute(const char *device_dir, const char *name)
{
	char buffer[ATTRIBUTE_MAX];

	read_attribute(device_dir, name, buffer);
	return (int)(strtoul(buffer, NULL, 16) & 0xffff);
}

/* Adds a bitmap as the kernel prints it: hexadecimal words of a long, the highest first. */
static void add_bits(const char *device_dir, const char *name, uint64_t *bits, size_t words)
{
	enum { LONG_BITS = 8 * sizeof(long) };
	char buffer[ATTRIBUTE_MAX];

	read_attribute(device_dir, name, buffer);
	char *end = buffer + strlen(buffer);
	for (size_t at = 0; at < words * 64 && end > buffer; at += LONG_BITS) {
		while (end > buffer && end[-1] == ' ')
			*--end = '\0';
		while (end > buffer && end[-1] != ' ')
			end--;
		bits[at / 64] |= (uint64_t)strtoul(end, NULL, 16) << (at % 64);
	}
}

/* Where it is plugged in: the physical path without the number of the interface. */
static char *port_of(const char *device_dir)
{
	char *path = text_attribute(device_dir, "phys");
	char *slash = path ? strrchr(path, '/') : NULL;

	if (slash && strncmp(slash, "/input", 6) == 0)
		*slash = '\0';
	return path;
}

bool same_text(const char *a, const char *b)
{
	return a && b ? strcmp(a, b) == 0 : a == b;
}

/* Nodes belong together when they are at one known port and carry the same ids. */
static bool same_device(const struct input_device *a, const struct input_device *b)
{
	return a->info.port && same_text(a->info.port, b->info.port) &&
	       same_text(a->info.serial, b->info.serial) && a->info.vendor == b->info.vendor &&
	       a->info.product == b->info.product && a->bus == b->bus;
}

void info_free(struct pedal_info *info)
{
	free(info->name);
	free(info->serial);
	free(info->port);
	free(info->trouble);
}

static void device_free(struct input_device *device)
{
	for (size_t i = 0; i < device->node_count; i++) {
		free(device->nodes[i].path);
		free(device->nodes[i].name);
	}
	free(device->nodes);
	info_free(&device->info);
}

static void add_node(struct input_device *device, const char *device_dir, const char *path)
{
	struct event_node node = {.path = memory_copy(path),
				  .name = text_attribute(device_dir, "name")};

	if (!node.name)
		node.name = memory_copy("unnamed device");
	device->nodes = memory_resize(device->nodes, device->node_count + 1, sizeof node);
	device->nodes[device->node_count++] = node;
	if (!device->info.name || strlen(node.name) < strlen(device->info.name))
		memory_replace(&device->info.name, node.name);
	add_bits(device_dir, "capabilities/ev", &device->types, 1);
	add_bits(device_dir, "capabilities/key", device->keys, KEY_CNT / 64);
	add_bits(device_dir, "capabilities/rel", &device->relatives, 1);
	add_bits(device_dir, "capabilities/abs", &device->absolutes, 1);
}

/* The device with these ids, or a new one; it takes `ids`. */
static struct input_device *find_or_add(struct input_device **devices, size_t *count,
					struct input_device ids)
{
	for (size_t i = 0; i < *count; i++) {
		if (same_device(&(*devices)[i], &ids)) {
			device_free(&ids);
			return &(*devices)[i];
		}
	}
	*devices = memory_resize(*devices, *count + 1, sizeof ids);
	(*devices)[*count] = ids;
	return &(*devices)[(*count)++];
}

struct input_device *inventory_take(const char *root, size_t *count)
{
	struct input_device *devices = NULL;

	*count = 0;
	for (int number = 0; number < EVENT_NODES; number++) {
		char *path = memory_format("%s/dev/input/event%d", root ? root : "", number);
		char *dir = memory_format("%s/sys/class/input/event%d/device", root ? root : "",
					  number);

		if (access(path, F_OK) == 0) {
			struct input_device ids = {
				.info = {.port = port_of(dir),
					 .serial = text_attribute(dir, "uniq"),
					 .vendor = hex_attribute(dir, "id/vendor"),
					 .product = hex_attribute(dir, "id/product")},
				.bus = hex_attribute(dir, "id/bustype"),
			};
			add_node(find_or_add(&devices, count, ids), dir, path);
		}
		free(path);
		free(dir);
	}
	for (size_t i = 0; i < *count; i++)
		describe(&devices[i]);
	return devices;
}

void inventory_free(struct input_device *devices, size_t count)
{
	for (size_t i = 0; i < count; i++)
		device_free(&devices[i]);
	free(devices);
}

/* ---- what a device is ---- */

/* A pedal has at most FEW_KEYS, or FEW_SPARE_KEYS if some are keys that no keyboard has. */
enum { FEW_KEYS = 6, FEW_SPARE_KEYS = 12, LETTERS_OF_A_KEYBOARD = 10 };

static bool has_bit(const uint64_t *bits, unsigned bit)
{
	return bits[bit / 64] >> (bit % 64) & 1;
}

static size_t keys_from_to(const struct input_device *device, unsigned first, unsigned last)
{
	size_t count = 0;

	for (unsigned code = first; code <= last; code++)
		count += has_bit(device->keys, code);
	return count;
}

static bool is_pointer(const struct input_device *device)
{
	bool moves = has_bit(&device->relatives, REL_X) && has_bit(&device->relatives, REL_Y);
	bool touches =
		has_bit(&device->absolutes, ABS_X) &&
		(has_bit(device->keys, BTN_TOUCH) || has_bit(device->keys, BTN_LEFT) ||
		 has_bit(device->keys, BTN_TOOL_PEN) || has_bit(device->keys, BTN_TOOL_FINGER));

	return moves || touches;
}

static bool is_gamepad(const struct input_device *device)
{
	return has_bit(&device->types, EV_ABS) &&
	       keys_from_to(device, BTN_JOYSTICK, BTN_THUMBR) > 0;
}

/* Pedals come by USB, by Bluetooth, or from another program. */
static bool can_be_plugged_in(const struct input_device *device)
{
	return device->bus == BUS_USB || device->bus == BUS_BLUETOOTH || device->bus == BUS_VIRTUAL;
}

/* Keys that are typed, and buttons. Power buttons, headsets, cameras, remote controls and laptops
 * have others. */
static bool has_keys_for_feet_only(const struct input_device *device, size_t keys)
{
	return keys == keys_from_to(device, KEY_ESC, KEY_DELETE) +
			       keys_from_to(device, KEY_KPEQUAL, KEY_COMPOSE) +
			       keys_from_to(device, KEY_F13, KEY_F24) +
			       keys_from_to(device, BTN_MISC, BTN_GEAR_UP);
}

static enum pedal_class class_by_keys(const struct input_device *device, size_t keys)
{
	if (keys_from_to(device, KEY_Q, KEY_M) >= LETTERS_OF_A_KEYBOARD)
		return PEDAL_CLASS_KEYBOARD;
	if (is_pointer(device))
		return PEDAL_CLASS_POINTER;
	if (is_gamepad(device))
		return PEDAL_CLASS_GAMEPAD;
	if (keys == 0 || !can_be_plugged_in(device) || has_bit(&device->types, EV_SW) ||
	    !has_keys_for_feet_only(device, keys))
		return PEDAL_CLASS_OTHER;
	size_t spare = keys_from_to(device, KEY_F13, KEY_F24) + keys_from_to(device, BTN_0, BTN_9);
	return keys <= (spare ? FEW_SPARE_KEYS : FEW_KEYS) ? PEDAL_CLASS_PEDAL : PEDAL_CLASS_OTHER;
}

/* Programmable pedals say that they have every key of a keyboard and a mouse, but many of them say
 * in their name what they are. */
static bool name_says_pedal(const struct input_device *device)
{
	for (size_t i = 0; i < device->node_count; i++)
		if (strcasestr(device->nodes[i].name, "pedal") ||
		    strcasestr(device->nodes[i].name, "footswitch") ||
		    strcasestr(device->nodes[i].name, "foot switch"))
			return true;
	return false;
}

void describe(struct input_device *device)
{
	static const enum gesture_role row[ROLES_BY_ORDER] = {
		GESTURE_ROLE_NEXT, GESTURE_ROLE_AGAIN, GESTURE_ROLE_BACK, GESTURE_ROLE_PAUSE};
	struct pedal_info *info = &device->info;
	size_t total = 0;

	for (unsigned code = 0; code < KEY_CNT; code++) {
		if (!has_bit(device->keys, code))
			continue;
		if (total < GESTURE_KEYS_MAX)
			info->keys[total] = (struct pedal_key){code, GESTURE_ROLE_STEP};
		total++;
	}
	info->key_count = total < GESTURE_KEYS_MAX ? total : GESTURE_KEYS_MAX;
	for (size_t i = 0; total > 1 && total <= ROLES_BY_ORDER && i < total; i++)
		info->keys[i].role = row[i];
	info->class = total > 0 && can_be_plugged_in(device) && name_says_pedal(device)
			      ? PEDAL_CLASS_PEDAL
			      : class_by_keys(device, total);
}

static bool id_matches(int wanted, int id)
{
	return wanted == PEDAL_ANY || wanted == id;
}

static bool text_matches(const char *wanted, const char *text)
{
	return !wanted || same_text(wanted, text);
}

static bool name_matches(const char *wanted, const struct input_device *device)
{
	for (size_t i = 0; i < device->node_count; i++)
		if (text_matches(wanted, device->nodes[i].name))
			return true;
	return false;
}

bool entry_matches(const struct pedal_entry *entry, const struct input_device *device)
{
	return id_matches(entry->vendor, device->info.vendor) &&
	       id_matches(entry->product, device->info.product) &&
	       name_matches(entry->name, device) &&
	       text_matches(entry->serial, device->info.serial) &&
	       text_matches(entry->port, device->info.port);
}

/* ---- the list for people ---- */

/* NULL, or why the device cannot be read and what to do about it. */
static char *trouble_with(const struct input_device *device)
{
	for (size_t i = 0; i < device->node_count; i++) {
		const char *path = device->nodes[i].path;
		int fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);

		if (fd >= 0) {
			close(fd);
			continue;
		}
		if (errno == EACCES || errno == EPERM)
			return memory_format(
				"no permission to read %s: 71-pullcall-pedal.rules says "
				"how to let the person at this computer in; name the "
				"device there as %04x:%04x and plug it in again",
				path, (unsigned)device->info.vendor,
				(unsigned)device->info.product);
		return memory_format("%s cannot be opened: %s", path, strerror(errno));
	}
	return NULL;
}

struct pedal_info *pedal_list(const char *root, size_t *count)
{
	size_t there;
	struct input_device *devices = inventory_take(root, &there);
	struct pedal_info *list = memory_new(there + 1, sizeof *list);

	*count = 0;
	for (int pedals = 1; pedals >= 0; pedals--)
		for (size_t i = 0; i < there; i++) {
			struct input_device *device = &devices[i];

			if (device->info.key_count == 0 ||
			    (device->info.class == PEDAL_CLASS_PEDAL) != pedals)
				continue;
			device->info.trouble = trouble_with(device);
			list[(*count)++] = device->info;
			device->info = (struct pedal_info){0}; /* it is the list's now */
		}
	inventory_free(devices, there);
	return list;
}

void pedal_list_free(struct pedal_info *list, size_t count)
{
	for (size_t i = 0; i < count; i++)
		info_free(&list[i]);
	free(list);
}

/* ---- the names of keys ---- */

static int code_from_number(const char *name)
{
	char *end;
	unsigned long number = strtoul(name, &end, name[0] == '0' && name[1] == 'x' ? 16 : 10);

	return *end == '\0' && number < KEY_CNT ? (int)number : -1;
}

int pedal_key_code(const char *name)
{
	/* "1" is the key with a 1 on it only when it is written KEY_1: a number is a code. */
	if (isdigit((unsigned char)name[0]))
		return code_from_number(name);
	char *prefixed = memory_format("KEY_%s", name);
	for (char *c = prefixed; *c; c++)
		*c = (char)toupper((unsigned char)*c);
	int code = libevdev_event_code_from_name(EV_KEY, prefixed);
	if (code < 0)
		code = libevdev_event_code_from_name(EV_KEY, prefixed + 4);
	free(prefixed);
	return code < KEY_CNT ? code : -1;
}

const char *pedal_key_name(unsigned code)
{
	static _Thread_local char number[16];
	const char *name = libevdev_event_code_get_name(EV_KEY, code);

	if (!name) {
		snprintf(number, sizeof number, "0x%x", code);
		return number;
	}
	/* The short form, unless it would read as a number: KEY_1. */
	if (strncmp(name, "KEY_", 4) == 0 && !isdigit((unsigned char)name[4]))
		return name + 4;
	return name;
}
