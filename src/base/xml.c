#include "base/base.h"

#define REPLACEMENT "\xef\xbf\xbd" /* U+FFFD */

/* What stands for the character; NULL: itself. Numbers keep a parser from turning white space in an
 * attribute into plain spaces. */
static const char *escape_of(uint32_t point)
{
	switch (point) {
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
	case '\t':
		return "&#9;";
	case '\n':
		return "&#10;";
	case '\r':
		return "&#13;";
	case 0xfffe:
	case 0xffff:
	case UTF8_BAD:
		return REPLACEMENT;
	default:
		return point < ' ' ? REPLACEMENT : NULL;
	}
}

void xml_add(struct text *out, const char *text)
{
	while (*text) {
		const char *from = text;
		const char *escape = escape_of(utf8_next(&text));
		if (escape)
			text_add(out, escape);
		else
			text_add_part(out, from, (size_t)(text - from));
	}
}
