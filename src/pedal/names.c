/* The names of keys. */
#include "pedal/pedal.h"

#include <libevdev/libevdev.h>

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { NAME_MAX_LENGTH = 40 };

static int code_from_number(const char *name)
{
	char *end;
	unsigned long number = strtoul(name, &end, name[0] == '0' && name[1] == 'x' ? 16 : 10);

	return *end == '\0' && number < KEY_CNT ? (int)number : -1;
}

int pedal_key_code(const char *name)
{
	char upper[NAME_MAX_LENGTH + 1];
	char prefixed[sizeof upper + 4];
	size_t length = strlen(name);

	if (length == 0 || length > NAME_MAX_LENGTH)
		return -1;
	for (size_t i = 0; i <= length; i++)
		upper[i] = (char)toupper((unsigned char)name[i]);
	/* "1" is the key with a 1 on it only when it is written KEY_1: a number is a code. */
	if (isdigit((unsigned char)name[0]))
		return code_from_number(name);
	int code = libevdev_event_code_from_name(EV_KEY, upper);
	if (code < 0) {
		snprintf(prefixed, sizeof prefixed, "KEY_%s", upper);
		code = libevdev_event_code_from_name(EV_KEY, prefixed);
	}
	return code >= 0 && code < KEY_CNT ? code : -1;
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
