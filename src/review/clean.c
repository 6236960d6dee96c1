#include "review/internal.h"

#include "base/base.h"

#include <string.h>

static const char replacement[] = "\xef\xbf\xbd"; /* U+FFFD */

static bool allowed_in_xml(const char *character, size_t length)
{
	if (length == 1)
		return (unsigned char)*character >= ' ' || strchr("\t\n\r", *character);
	return length != 3 || (memcmp(character, "\xef\xbf\xbe", 3) != 0 &&
			       memcmp(character, "\xef\xbf\xbf", 3) != 0);
}

/* The next character of *text as it may be written, and past it. Returns its length; *from is where
 * it stands: in the text, or the replacement. */
static size_t next(const char **text, bool xml, const char **from)
{
	size_t length = utf8_length((const unsigned char *)*text, strnlen(*text, 4));

	*from = *text;
	*text += length ? length : 1;
	if (length && (!xml || allowed_in_xml(*from, length)))
		return length;
	*from = replacement;
	return sizeof replacement - 1;
}

void clean_add(struct text *out, const char *text, bool xml)
{
	while (*text) {
		const char *from;
		size_t length = next(&text, xml, &from);
		text_add_part(out, from, length);
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
		size_t length = next(&text, true, &from);
		const char *escape = length == 1 ? escape_of(*from) : NULL;
		if (escape)
			text_add(out, escape);
		else
			text_add_part(out, from, length);
	}
}
