/* JSON writing (RFC 8259), straight to a text: no tree in between, nothing to free but the text.
 *
 * A writer puts the commas; the caller opens and closes. Objects are written on one line unless a
 * line break is asked for, so that output of one object a line (JSON Lines) needs nothing special.
 */
#ifndef BASE_JSON_H
#define BASE_JSON_H

#include "base/text.h"

#include <stdbool.h>
#include <stdint.h>

struct json {
	struct text *out;
	bool comma; /* the next value or key needs one before it */
};

void json_open(struct json *json, const char *key,
	       char bracket); /* '{' or '['; key NULL in a list */
void json_close(struct json *json, char bracket);
void json_string(struct json *json, const char *key, const char *value); /* NULL is null */
void json_int(struct json *json, const char *key, int64_t value);
void json_bool(struct json *json, const char *key, bool value);

/* At most `decimals` decimals, no trailing zeros; a value that is not finite is null. */
void json_number(struct json *json, const char *key, double value, int decimals);

/* A line break and indentation before the next key or value. */
void json_line(struct json *json, int depth);

#endif
