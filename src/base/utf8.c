#include "base/base.h"

size_t utf8_length(const unsigned char *at, size_t left)
{
	static const struct {
		unsigned char lead_min, lead_max, second_min, second_max;
		size_t length;
	} forms[] = {
		{0x00, 0x7f, 0x00, 0x00, 1}, {0xc2, 0xdf, 0x80, 0xbf, 2},
		{0xe0, 0xe0, 0xa0, 0xbf, 3}, {0xe1, 0xec, 0x80, 0xbf, 3},
		{0xed, 0xed, 0x80, 0x9f, 3}, {0xee, 0xef, 0x80, 0xbf, 3},
		{0xf0, 0xf0, 0x90, 0xbf, 4}, {0xf1, 0xf3, 0x80, 0xbf, 4},
		{0xf4, 0xf4, 0x80, 0x8f, 4},
	};

	for (size_t i = 0; i < sizeof(forms) / sizeof(forms[0]); i++) {
		if (at[0] < forms[i].lead_min || at[0] > forms[i].lead_max)
			continue;
		if (forms[i].length > left)
			return 0;
		if (forms[i].length > 1 &&
		    (at[1] < forms[i].second_min || at[1] > forms[i].second_max))
			return 0;
		for (size_t k = 2; k < forms[i].length; k++)
			if ((at[k] & 0xc0) != 0x80)
				return 0;
		return forms[i].length;
	}
	return 0;
}
