#include "pedal/internal.h"

#include "base/base.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

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
	return a->port && same_text(a->port, b->port) && same_text(a->serial, b->serial) &&
	       a->vendor == b->vendor && a->product == b->product && a->bus == b->bus;
}

static void device_free(struct input_device *device)
{
	for (size_t i = 0; i < device->node_count; i++) {
		free(device->nodes[i].path);
		free(device->nodes[i].name);
	}
	free(device->nodes);
	free(device->name);
	free(device->port);
	free(device->serial);
}

static void add_node(struct input_device *device, const char *device_dir, const char *path)
{
	struct event_node node = {.path = memory_copy(path),
				  .name = text_attribute(device_dir, "name")};

	if (!node.name)
		node.name = memory_copy("unnamed device");
	device->nodes = memory_resize(device->nodes, device->node_count + 1, sizeof node);
	device->nodes[device->node_count++] = node;
	if (!device->name || strlen(node.name) < strlen(device->name))
		memory_replace(&device->name, node.name);
	add_bits(device_dir, "capabilities/ev", &device->types, 1);
	add_bits(device_dir, "capabilities/key", device->keys, KEY_CNT / 64);
	add_bits(device_dir, "capabilities/rel", &device->relatives, 1);
	add_bits(device_dir, "capabilities/abs", &device->absolutes, 1);
}

/* The device with these ids, or a new one; `ids` is used up. */
static struct input_device *find_or_add(struct inventory *inventory, struct input_device ids)
{
	for (size_t i = 0; i < inventory->count; i++) {
		if (same_device(&inventory->devices[i], &ids)) {
			device_free(&ids);
			return &inventory->devices[i];
		}
	}
	inventory->devices = memory_resize(inventory->devices, inventory->count + 1, sizeof ids);
	inventory->devices[inventory->count] = ids;
	return &inventory->devices[inventory->count++];
}

static void add(struct inventory *inventory, const char *device_dir, const char *path)
{
	struct input_device ids = {
		.port = port_of(device_dir),
		.serial = text_attribute(device_dir, "uniq"),
		.bus = hex_attribute(device_dir, "id/bustype"),
		.vendor = hex_attribute(device_dir, "id/vendor"),
		.product = hex_attribute(device_dir, "id/product"),
	};

	add_node(find_or_add(inventory, ids), device_dir, path);
}

struct inventory inventory_take(const char *input_dir, const char *sysfs_dir)
{
	struct inventory inventory = {0};

	for (int number = 0; number < EVENT_NODES; number++) {
		char *path = memory_format("%s/event%d", input_dir ? input_dir : INPUT_DIR, number);
		char *device_dir = memory_format("%s/class/input/event%d/device",
						 sysfs_dir ? sysfs_dir : SYSFS_DIR, number);

		if (access(path, F_OK) == 0)
			add(&inventory, device_dir, path);
		free(path);
		free(device_dir);
	}
	return inventory;
}

void inventory_free(struct inventory *inventory)
{
	for (size_t i = 0; i < inventory->count; i++)
		device_free(&inventory->devices[i]);
	free(inventory->devices);
	*inventory = (struct inventory){0};
}

bool device_has_key(const struct input_device *device, unsigned code)
{
	return device->keys[code / 64] >> (code % 64) & 1;
}

size_t device_keys(const struct input_device *device, unsigned *codes, size_t max)
{
	size_t count = 0;

	for (unsigned code = 0; code < KEY_CNT; code++) {
		if (!device_has_key(device, code))
			continue;
		if (count < max)
			codes[count] = code;
		count++;
	}
	return count;
}
