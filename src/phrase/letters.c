#include "phrase/internal.h"

#include "base/base.h"

#include <stddef.h>
#include <string.h>

enum { NOT_UTF8 = 0xfffd };

uint32_t letters_next(const char **at)
{
	const unsigned char *bytes = (const unsigned char *)*at;
	size_t length = bytes[0] ? utf8_length(bytes, strnlen(*at, 4)) : 0;

	*at += length ? length : bytes[0] != 0;
	if (length == 0)
		return bytes[0] ? NOT_UTF8 : 0;
	if (length == 1)
		return bytes[0];
	uint32_t point = bytes[0] & 0x7fu >> length;
	for (size_t i = 1; i < length; i++)
		point = point << 6 | (bytes[i] & 0x3fu);
	return point;
}

bool letters_is_letter(uint32_t point)
{
	static const struct {
		uint32_t first, last;
	} blocks[] = {
		{'A', 'Z'},       {'a', 'z'},       {0xc0, 0xd6},     {0xd8, 0xf6},
		{0xf8, 0x24f},    {0x300, 0x36f},   {0x386, 0x386},   {0x388, 0x3ff},
		{0x400, 0x481},   {0x48a, 0x52f},   {0x1e00, 0x1fbc}, {0x1fc2, 0x1fcc},
		{0x1fd0, 0x1fdb}, {0x1fe0, 0x1fec}, {0x1ff2, 0x1ffc},
	};

	for (size_t i = 0; i < sizeof(blocks) / sizeof(blocks[0]); i++)
		if (point >= blocks[i].first && point <= blocks[i].last)
			return true;
	return false;
}

bool letters_is_sayable(uint32_t point)
{
	return letters_is_letter(point) || point == ' ' || point == '\'' || point == ',' ||
	       point == '.' || point == '-';
}
