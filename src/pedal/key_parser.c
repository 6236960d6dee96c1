#include "pedal/internal.h"

#include <ctype.h>

enum {
	CTRL_C = 0x03,
	CTRL_D = 0x04,
	BACKSPACE = 0x08,
	ESCAPE = 0x1b,
	DELETE = 0x7f,
	PASTE_BEGINS = 200,
	PASTE_ENDS = 201,
	PARAMETER_MAX = 9999,
};

struct binding {
	unsigned char byte;
	enum gesture_kind kind;
};

static const struct binding plain_keys[] = {
	{' ', GESTURE_NEXT},    {'\n', GESTURE_NEXT},      {'\r', GESTURE_NEXT},
	{'n', GESTURE_NEXT},    {'a', GESTURE_AGAIN},      {'r', GESTURE_AGAIN},
	{'b', GESTURE_BACK},    {BACKSPACE, GESTURE_BACK}, {DELETE, GESTURE_BACK},
	{'p', GESTURE_PAUSE},   {'w', GESTURE_WHERE},      {'?', GESTURE_WHY},
	{'c', GESTURE_CHOICES}, {'q', GESTURE_STOP},       {CTRL_C, GESTURE_STOP},
	{CTRL_D, GESTURE_STOP},
};

/* The last bytes of the sequences for Up, Right and Left. */
static const struct binding arrow_keys[] = {
	{'A', GESTURE_AGAIN},
	{'C', GESTURE_NEXT},
	{'D', GESTURE_BACK},
};

static bool find(const struct binding *table, size_t count, int byte, enum gesture_kind *kind)
{
	for (size_t i = 0; i < count; i++) {
		if (table[i].byte != byte)
			continue;
		*kind = table[i].kind;
		return true;
	}
	return false;
}

static bool plain_key(unsigned char byte, enum gesture_kind *kind)
{
	return find(plain_keys, sizeof plain_keys / sizeof *plain_keys, tolower(byte), kind);
}

static bool arrow_key(unsigned char byte, enum gesture_kind *kind)
{
	return find(arrow_keys, sizeof arrow_keys / sizeof *arrow_keys, byte, kind);
}

static bool ground(struct key_parser *parser, unsigned char byte, enum gesture_kind *kind)
{
	parser->state = KEY_PARSER_GROUND;
	if (byte == CTRL_C)
		parser->pasting = false;
	return !parser->pasting && plain_key(byte, kind);
}

/* ESC, then a key: the Alt key was held, or Escape was pressed before. The key counts either way.
 */
static bool after_escape(struct key_parser *parser, unsigned char byte, enum gesture_kind *kind)
{
	if (byte == '[') {
		*parser = (struct key_parser){.state = KEY_PARSER_CONTROL,
					      .pasting = parser->pasting};
		return false;
	}
	if (byte == 'O') {
		parser->state = KEY_PARSER_SINGLE;
		return false;
	}
	return ground(parser, byte, kind);
}

static void take_parameter(struct key_parser *parser, unsigned char byte)
{
	if (!isdigit(byte))
		parser->parameter_done = true;
	else if (!parser->parameter_done && parser->parameter < PARAMETER_MAX)
		parser->parameter = parser->parameter * 10 + (byte - '0');
}

static bool in_control(struct key_parser *parser, unsigned char byte, enum gesture_kind *kind)
{
	if (byte >= 0x20 && byte <= 0x3f) {
		take_parameter(parser, byte);
		return false;
	}
	if (byte < 0x20 || byte > 0x7e)
		return ground(parser, byte, kind);
	parser->state = byte == '[' ? KEY_PARSER_CONSOLE : KEY_PARSER_GROUND;
	if (byte == '~' && parser->parameter == PASTE_BEGINS)
		parser->pasting = true;
	if (byte == '~' && parser->parameter == PASTE_ENDS)
		parser->pasting = false;
	return !parser->pasting && arrow_key(byte, kind);
}

static bool in_single(struct key_parser *parser, unsigned char byte, enum gesture_kind *kind)
{
	if (isdigit(byte))
		return false;
	if (byte < 0x20 || byte > 0x7e)
		return ground(parser, byte, kind);
	parser->state = KEY_PARSER_GROUND;
	return !parser->pasting && arrow_key(byte, kind);
}

bool key_parser_feed(struct key_parser *parser, unsigned char byte, enum gesture_kind *kind)
{
	if (byte == ESCAPE) {
		parser->state = KEY_PARSER_ESCAPE;
		return false;
	}
	switch (parser->state) {
	case KEY_PARSER_GROUND:
		return ground(parser, byte, kind);
	case KEY_PARSER_ESCAPE:
		return after_escape(parser, byte, kind);
	case KEY_PARSER_CONTROL:
		return in_control(parser, byte, kind);
	case KEY_PARSER_SINGLE:
		return in_single(parser, byte, kind);
	case KEY_PARSER_CONSOLE:
		parser->state = KEY_PARSER_GROUND;
		return byte < ' ' && ground(parser, byte, kind);
	}
	return false;
}
