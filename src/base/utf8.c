#include "base/base.h"

/* Decoded here because mbrtowc() needs a locale, and no program of ours but `run` sets one. */
uint32_t utf8_next(const char **at)
{
	static const uint32_t least[] = {0, 0x80, 0x800, 0x10000};
	const unsigned char *bytes = (const unsigned char *)*at;
	uint32_t point = bytes[0];
	int more = 0;

	if (point == 0)
		return 0;
	++*at;
	if (point < 0x80)
		return point;
	if (point < 0xc2 || point > 0xf4)
		return UTF8_BAD;
	more = point < 0xe0 ? 1 : point < 0xf0 ? 2 : 3;
	point &= 0x3fU >> more;
	for (int i = 1; i <= more; i++) {
		if ((bytes[i] & 0xc0) != 0x80)
			return UTF8_BAD;
		point = point << 6 | (bytes[i] & 0x3fU);
	}
	bool surrogate = point >= 0xd800 && point < 0xe000;
	if (point < least[more] || surrogate || point > 0x10ffff)
		return UTF8_BAD;
	*at += more;
	return point;
}

bool utf8_is_letter(uint32_t point)
{
	static const struct {
		uint32_t first, last;
	} blocks[] = {
		{'A', 'Z'},       {'a', 'z'},       {0xc0, 0xd6},     {0xd8, 0xf6},
		{0xf8, 0x24f},    {0x300, 0x36f},   {0x386, 0x386},   {0x388, 0x3ff},
		{0x400, 0x481},   {0x48a, 0x52f},   {0x1e00, 0x1fbc}, {0x1fc2, 0x1fcc},
		{0x1fd0, 0x1fdb}, {0x1fe0, 0x1fec}, {0x1ff2, 0x1ffc},
	};

	for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++)
		if (point >= blocks[i].first && point <= blocks[i].last)
			return true;
	return false;
}

bool utf8_is_control(uint32_t point)
{
	return point < 0x20 || (point >= 0x7f && point < 0xa0);
}
