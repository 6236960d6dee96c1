#include "review/internal.h"

#include "base/base.h"

void clean_add(struct text *out, const char *text)
{
	while (*text) {
		const char *from = text;
		if (utf8_next(&text) == UTF8_BAD)
			text_add(out, "\xef\xbf\xbd"); /* U+FFFD */
		else
			text_add_part(out, from, (size_t)(text - from));
	}
}
