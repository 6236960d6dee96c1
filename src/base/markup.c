#include "base/base.h"

#include <string.h>

/* U+FFFE and U+FFFF. */
static int is_noncharacter(const char *at)
{
	return memcmp(at, "\xEF\xBF\xBE", 3) == 0 || memcmp(at, "\xEF\xBF\xBF", 3) == 0;
}

static const char *escape_of(char byte)
{
	switch (byte) {
	case '&':
		return "&amp;";
	case '<':
		return "&lt;";
	case '>':
		return "&gt;";
	case '"':
		return "&quot;";
	case '\'':
		return "&#39;";
	default:
		return (unsigned char)byte < ' ' || byte == 0x7F ? " " : NULL;
	}
}

void markup_add(struct text *out, const char *text)
{
	size_t left = strlen(text);

	while (left > 0) {
		size_t length = utf8_length((const unsigned char *)text, left);
		const char *instead = length == 0                            ? "\xEF\xBF\xBD"
				      : length == 3 && is_noncharacter(text) ? " "
									     : escape_of(*text);
		if (length == 0)
			length = 1;
		if (instead)
			text_add(out, instead);
		else
			text_add_part(out, text, length);
		text += length;
		left -= length;
	}
}
