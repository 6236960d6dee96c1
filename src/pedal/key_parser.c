#include "pedal/internal.h"

#include <ctype.h>
#include <string.h>

enum {
	CTRL_C = 0x03,
	ESCAPE = 0x1b,
	PASTE_BEGINS = 200,
	PASTE_ENDS = 201,
	PARAMETER_MAX = 9999,
};

/* The bytes for each meaning. */
enum { MEANINGS = GESTURE_STOP + 1 };
static const char *const plain_keys[MEANINGS] = {
	[GESTURE_NEXT] = " \n\rn",    [GESTURE_AGAIN] = "ar",
	[GESTURE_BACK] = "b\b\x7f", /* Backspace sends one or the other */
	[GESTURE_PAUSE] = "p",        [GESTURE_WHERE] = "w",
	[GESTURE_WHY] = "?",          [GESTURE_CHOICES] = "c",
	[GESTURE_STOP] = "q\x03\x04", /* Ctrl-C, Ctrl-D */
};

/* The last bytes of the sequences for Right, Up and Left. */
static const char *const arrow_keys[MEANINGS] = {
	[GESTURE_NEXT] = "C",
	[GESTURE_AGAIN] = "A",
	[GESTURE_BACK] = "D",
};

static bool find(const char *const keys[static MEANINGS], int byte, enum gesture_kind *kind)
{
	for (int i = 0; i < MEANINGS; i++) {
		if (byte == '\0' || !keys[i] || !strchr(keys[i], byte))
			continue;
		*kind = (enum gesture_kind)i;
		return true;
	}
	return false;
}

static bool ground(struct key_parser *parser, unsigned char byte, enum gesture_kind *kind)
{
	parser->state = KEY_PARSER_GROUND;
	if (byte == CTRL_C)
		parser->pasting = false;
	return !parser->pasting && find(plain_keys, tolower(byte), kind);
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
	return !parser->pasting && find(arrow_keys, byte, kind);
}

static bool in_single(struct key_parser *parser, unsigned char byte, enum gesture_kind *kind)
{
	if (isdigit(byte))
		return false;
	if (byte < 0x20 || byte > 0x7e)
		return ground(parser, byte, kind);
	parser->state = KEY_PARSER_GROUND;
	return !parser->pasting && find(arrow_keys, byte, kind);
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
