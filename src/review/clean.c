#include "review/clean.h"

#include <stdint.h>

static const char replacement[] = "\xef\xbf\xbd"; /* U+FFFD */

/* The length of the character at text, 0 if there is none that is well formed; *out is its number.
 * Overlong forms, surrogates and numbers beyond U+10FFFF are not well formed. */
static int decode(const char *text, uint32_t *out)
{
	const unsigned char *byte = (const unsigned char *)text;
	static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
	int length = byte[0] < 0x80   ? 1
		     : byte[0] < 0xc0 ? 0
		     : byte[0] < 0xe0 ? 2
		     : byte[0] < 0xf0 ? 3
		     : byte[0] < 0xf8 ? 4
				      : 0;

	if (length <= 1) {
		*out = byte[0];
		return length;
	}
	*out = byte[0] & (0x7fU >> length);
	for (int i = 1; i < length; i++) {
		if ((byte[i] & 0xc0) != 0x80)
			return 0;
		*out = *out << 6 | (byte[i] & 0x3f);
	}
	bool surrogate = *out >= 0xd800 && *out < 0xe000;
	return *out < least[length] || *out > 0x10ffff || surrogate ? 0 : length;
}

static bool allowed_in_xml(uint32_t character)
{
	return character >= 0x20 ? character != 0xfffe && character != 0xffff
				 : character == '\t' || character == '\n' || character == '\r';
}

/* The next character of *text as it may be written, and past it. Returns its length; *from is where
 * it stands: in the text, or the replacement. */
static int next(const char **text, bool xml, const char **from)
{
	uint32_t character = 0;
	int length = decode(*text, &character);

	*from = *text;
	*text += length ? length : 1;
	if (length && (!xml || allowed_in_xml(character)))
		return length;
	*from = replacement;
	return (int)sizeof replacement - 1;
}

void clean_add(struct text *out, const char *text, bool xml)
{
	while (*text) {
		const char *from;
		int length = next(&text, xml, &from);
		text_add_part(out, from, (size_t)length);
	}
}

static const char *escape_of(char character)
{
	switch (character) {
	case '&':
		return "&amp;";
	case '<':
		return "&lt;";
	case '>':
		return "&gt;";
	case '"':
		return "&quot;";
	case '\t':
		return "&#9;";
	case '\n':
		return "&#10;";
	case '\r':
		return "&#13;";
	default:
		return NULL;
	}
}

void clean_add_attribute(struct text *out, const char *text)
{
	while (*text) {
		const char *from;
		int length = next(&text, true, &from);
		const char *escape = length == 1 ? escape_of(*from) : NULL;
		if (escape)
			text_add(out, escape);
		else
			text_add_part(out, from, (size_t)length);
	}
}
