#include "speaker/speaker.h"

#include "base/base.h"

#include <string.h>

enum { CHARACTER_BYTES_MAX = 4 };

static bool is_spoken(uint32_t point)
{
	return utf8_is_letter(point) || (point >= '0' && point <= '9');
}

static bool is_mark(uint32_t point)
{
	return point < 0x80 && strchr(".,;:!?'-", (int)point);
}

bool spoken_text(const char *text, char spoken[static SPOKEN_MAX])
{
	size_t length = 0;
	int letters = 0; /* of the word being written */
	bool heard = false;

	while (*text && length + CHARACTER_BYTES_MAX + 1 < SPOKEN_MAX) {
		const char *from = text;
		uint32_t point = utf8_next(&text);
		bool kept = is_spoken(point) || is_mark(point);

		if (!kept || ++letters > WORD_LETTERS_MAX) {
			if (length > 0 && spoken[length - 1] != ' ')
				spoken[length++] = ' ';
			letters = kept;
		}
		if (!kept)
			continue;
		memcpy(spoken + length, from, (size_t)(text - from));
		length += (size_t)(text - from);
		heard |= is_spoken(point);
	}
	spoken[length] = '\0';
	return heard;
}
