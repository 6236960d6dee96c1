/* Text that grows, and its encodings: UTF-8, JSON, XML. */
#include "base/base.h"

#include <ctype.h>
#include <inttypes.h>
#include <math.h>
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
	va_list values;

	va_start(values, format);
	char *more = memory_format_list(format, values);
	va_end(values);
	text_add(text, more);
	free(more);
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

void text_free(struct text *text)
{
	free(text->bytes);
	*text = (struct text){0};
}

int text_columns(const char *text, size_t length)
{
	const char *const end = text + length;
	int columns = 0;

	for (; text < end && *text; columns++)
		utf8_next(&text);
	return columns;
}

bool text_may_break(const char *at)
{
	return at[0] == ' ' && !(isdigit((unsigned char)at[-1]) && isalpha((unsigned char)at[1]));
}

/* Up to where it may break. */
static size_t word_length(const char *words)
{
	size_t length = strcspn(words, " \n");

	while (length > 0 && words[length] == ' ' && !text_may_break(words + length))
		length += 1 + strcspn(words + length + 1, " \n");
	return length;
}

void text_add_wrapped(struct text *text, const char *words, int indent, int columns)
{
	int column = indent;

	while (*words) {
		size_t bytes = word_length(words);
		int width = text_columns(words, bytes);
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

/* ---- UTF-8 ---- */

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

/* ---- JSON ---- */

static void quote(struct text *out, const char *value)
{
	text_add_char(out, '"');
	for (; *value; value++) {
		unsigned char byte = (unsigned char)*value;
		if (byte == '"' || byte == '\\') {
			text_add_char(out, '\\');
			text_add_char(out, *value);
		} else if (byte == '\n') {
			text_add(out, "\\n");
		} else if (byte < 0x20 || byte == 0x7f) {
			text_format(out, "\\u%04x", byte);
		} else {
			text_add_char(out, *value);
		}
	}
	text_add_char(out, '"');
}

static void begin(struct json *json, const char *key)
{
	if (json->comma)
		text_add(json->out, ", ");
	json->comma = true;
	if (key) {
		quote(json->out, key);
		text_add(json->out, ": ");
	}
}

void json_open(struct json *json, const char *key, char bracket)
{
	begin(json, key);
	text_add_char(json->out, bracket);
	json->comma = false;
}

void json_close(struct json *json, char bracket)
{
	text_add_char(json->out, bracket);
	json->comma = true;
}

void json_string(struct json *json, const char *key, const char *value)
{
	begin(json, key);
	if (value)
		quote(json->out, value);
	else
		text_add(json->out, "null");
}

void json_int(struct json *json, const char *key, int64_t value)
{
	begin(json, key);
	text_format(json->out, "%" PRId64, value);
}

void json_bool(struct json *json, const char *key, bool value)
{
	begin(json, key);
	text_add(json->out, value ? "true" : "false");
}

void json_number(struct json *json, const char *key, double value, int decimals)
{
	begin(json, key);
	if (!isfinite(value)) {
		text_add(json->out, "null");
		return;
	}
	char digits[400];
	snprintf(digits, sizeof(digits), "%.*f", decimals, value);
	number_trim(digits);
	text_add(json->out, strcmp(digits, "-0") == 0 ? "0" : digits);
}

void json_line(struct json *json, int depth)
{
	if (json->comma)
		text_add_char(json->out, ',');
	json->comma = false;
	text_format(json->out, "\n%*s", depth, "");
}

/* ---- XML and HTML ---- */

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
	const char *plain = text;

	while (*text) {
		const char *at = text;
		const char *escape = escape_of(utf8_next(&text));
		if (!escape)
			continue;
		text_add_part(out, plain, (size_t)(at - plain));
		text_add(out, escape);
		plain = text;
	}
	text_add(out, plain);
}

char *text_shell_word(const char *text)
{
	static const char plain[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
				    "0123456789_-./,:+@%=";
	struct text word = {0};

	if (*text && text[strspn(text, plain)] == '\0')
		return memory_copy(text);
	text_add_char(&word, '\'');
	for (; *text; text++)
		if (*text == '\'')
			text_add(&word, "'\\''");
		else
			text_add_char(&word, *text);
	text_add_char(&word, '\'');
	return text_take(&word);
}
