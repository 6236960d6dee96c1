#include "speaker/speaker.h"

#include <stddef.h>
#include <string.h>

struct writer {
	char *words;
	size_t length;
	int letters; /* of the word being written */
	bool heard;
};

/* The code point at *text, which moves on; 0 at the end, a space for a byte that is not UTF-8. */
static unsigned next_point(const unsigned char **text)
{
	unsigned first = *(*text)++;
	int more = first >= 0xF0 ? 3 : first >= 0xE0 ? 2 : first >= 0xC2 ? 1 : 0;

	if (first == 0)
		(*text)--;
	if (first < 0x80)
		return first;
	if (more == 0 || first > 0xF4)
		return ' ';
	unsigned point = first & (0x3Fu >> more);
	for (int i = 0; i < more; i++) {
		if (((*text)[i] & 0xC0) != 0x80)
			return ' ';
		point = point << 6 | ((*text)[i] & 0x3Fu);
	}
	*text += more;
	return point;
}

static bool is_spoken(unsigned point)
{
	if (point < 0x80)
		return (point >= 'a' && point <= 'z') || (point >= 'A' && point <= 'Z') ||
		       (point >= '0' && point <= '9');
	/* Latin, Greek and Cyrillic letters, without the two signs among them. */
	return point >= 0xC0 && point < 0x530 && point != 0xD7 && point != 0xF7;
}

static bool is_mark(unsigned point)
{
	return point && point < 0x80 && strchr(".,;:!?'-", (int)point);
}

static void put(struct writer *writer, unsigned point)
{
	if (point < 0x80)
		writer->words[writer->length++] = (char)point;
	else {
		writer->words[writer->length++] = (char)(0xC0 | point >> 6);
		writer->words[writer->length++] = (char)(0x80 | (point & 0x3F));
	}
}

static void put_space(struct writer *writer)
{
	if (writer->length > 0 && writer->words[writer->length - 1] != ' ')
		put(writer, ' ');
	writer->letters = 0;
}

bool words_clean(const char *text, char words[static WORDS_MAX])
{
	struct writer writer = {.words = words};
	const unsigned char *at = (const unsigned char *)text;
	unsigned point;

	/* Three at most: a space, and a letter of two bytes. */
	while ((point = next_point(&at)) != 0 && writer.length + 3 < WORDS_MAX) {
		if (!is_spoken(point) && !is_mark(point)) {
			put_space(&writer);
			continue;
		}
		if (++writer.letters > WORD_LETTERS_MAX) {
			put_space(&writer);
			writer.letters = 1;
		}
		put(&writer, point);
		writer.heard |= is_spoken(point);
	}
	words[writer.length] = '\0';
	return writer.heard;
}
