#include "base/base.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void reserve(struct text *text, size_t more)
{
	size_t needed = text->length + more + 1;

	if (needed <= text->capacity)
		return;
	size_t capacity = text->capacity ? text->capacity : 64;
	while (capacity < needed)
		capacity *= 2;
	text->bytes = memory_resize(text->bytes, capacity, 1);
	text->capacity = capacity;
}

void text_add_part(struct text *text, const char *bytes, size_t length)
{
	reserve(text, length);
	memcpy(text->bytes + text->length, bytes, length);
	text->length += length;
	text->bytes[text->length] = '\0';
}

void text_add(struct text *text, const char *bytes)
{
	text_add_part(text, bytes, strlen(bytes));
}

void text_add_char(struct text *text, char byte)
{
	text_add_part(text, &byte, 1);
}

void text_format(struct text *text, const char *format, ...)
{
	va_list values, again;

	va_start(values, format);
	va_copy(again, values);
	reserve(text, 0);
	size_t room = text->capacity - text->length;
	int length = vsnprintf(text->bytes + text->length, room, format, values);
	if (length > 0 && (size_t)length >= room) {
		reserve(text, (size_t)length);
		vsnprintf(text->bytes + text->length, (size_t)length + 1, format, again);
	}
	text->length += length > 0 ? (size_t)length : 0;
	va_end(values);
	va_end(again);
}

const char *text_string(const struct text *text)
{
	return text->bytes ? text->bytes : "";
}

char *text_take(struct text *text)
{
	char *bytes = text->bytes ? text->bytes : memory_copy("");

	*text = (struct text){0};
	return bytes;
}

void text_cut(struct text *text, size_t length)
{
	text->length = length;
	if (text->bytes)
		text->bytes[length] = '\0';
}

void text_clear(struct text *text)
{
	text_cut(text, 0);
}

void text_remove_start(struct text *text, size_t length)
{
	if (length == 0)
		return;
	text->length -= length;
	memmove(text->bytes, text->bytes + length, text->length + 1);
}

void text_free(struct text *text)
{
	free(text->bytes);
	*text = (struct text){0};
}

static int width_of(const char *word, size_t bytes)
{
	int width = 0;

	for (size_t i = 0; i < bytes; i++)
		width += (word[i] & 0xc0) != 0x80;
	return width;
}

void text_add_wrapped(struct text *text, const char *words, int indent, int columns)
{
	int column = indent;

	while (*words) {
		size_t bytes = strcspn(words, " \n");
		int width = width_of(words, bytes);
		bool first = column == indent;
		if (!first && column + 1 + width > columns) {
			text_format(text, "\n%*s", indent, "");
			column = indent;
		} else if (!first) {
			text_add_char(text, ' ');
			column++;
		}
		text_add_part(text, words, bytes);
		column += width;
		words += bytes;
		words += strspn(words, " ");
		if (*words == '\n' && words[1]) {
			/* A blank line stays blank. */
			text_format(text, "\n%*s", words[1] == '\n' ? 0 : indent, "");
			column = indent;
		}
		words += *words == '\n';
	}
	text_add_char(text, '\n');
}

char *text_choice(const char *const *names)
{
	struct text text = {0};

	for (size_t i = 0; names[i]; i++)
		text_format(&text, "%s%s", i == 0 ? "" : names[i + 1] ? ", " : " or ", names[i]);
	return text_take(&text);
}
