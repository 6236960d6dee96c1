#include "base/base.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

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
	if (strchr(digits, '.')) {
		size_t length = strlen(digits);
		while (digits[length - 1] == '0')
			length--;
		if (digits[length - 1] == '.')
			length--;
		digits[length] = '\0';
	}
	text_add(json->out, strcmp(digits, "-0") == 0 ? "0" : digits);
}

void json_line(struct json *json, int depth)
{
	if (json->comma)
		text_add_char(json->out, ',');
	json->comma = false;
	text_format(json->out, "\n%*s", depth, "");
}
