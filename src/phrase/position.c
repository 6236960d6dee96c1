#include "phrase/internal.h"

/* A character of the file and its position. */
struct cursor {
	const char *at;
	struct position position;
};

static void advance(struct cursor *cursor)
{
	cursor->position.column++;
	if (utf8_next(&cursor->at) == '\n')
		cursor->position = (struct position){cursor->position.line + 1, 1};
}

/* A line break and the blanks around it are one space of the text. */
static bool skip_fold(struct cursor *cursor)
{
	struct cursor ahead = *cursor;
	bool breaks = false;

	while (*ahead.at == ' ' || *ahead.at == '\n' || *ahead.at == '\r') {
		breaks |= *ahead.at == '\n';
		advance(&ahead);
	}
	if (breaks)
		*cursor = ahead;
	return breaks;
}

struct position position_in(const struct yaml_node *node, size_t offset)
{
	struct cursor cursor = {node->document->bytes, {1, 1}};
	const char *end = node->text + offset;
	char quote = '\0';

	while (*cursor.at && (cursor.position.line < node->position.line ||
			      (cursor.position.line == node->position.line &&
			       cursor.position.column < node->position.column)))
		advance(&cursor);
	if (!node->plain && (*cursor.at == '\'' || *cursor.at == '"')) {
		quote = *cursor.at;
		advance(&cursor);
	}
	for (const char *text = node->text; text < end && *cursor.at; utf8_next(&text)) {
		if (*text == ' ' && skip_fold(&cursor))
			continue;
		if (*cursor.at != *text)
			break;
		if (quote == '\'' && *text == '\'')
			advance(&cursor); /* it is written twice */
		advance(&cursor);
	}
	return cursor.position;
}
