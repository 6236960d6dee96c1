/* One byte at a time, from what a terminal sends to keys that mean something. Never reads ahead,
 * keeps a fixed state, and comes back from any garbage at the next escape or the next plain key. */
#ifndef PEDAL_KEY_PARSER_H
#define PEDAL_KEY_PARSER_H

#include "pedal/gesture.h"

enum key_parser_state {
	KEY_PARSER_GROUND,
	KEY_PARSER_ESCAPE,  /* after ESC */
	KEY_PARSER_CONTROL, /* after ESC [ : parameters, then one final byte */
	KEY_PARSER_SINGLE,  /* after ESC O : one final byte, perhaps with digits before it */
	KEY_PARSER_CONSOLE, /* after ESC [ [ : the Linux console's function keys, one more byte */
};

struct key_parser {
	enum key_parser_state state;
	int parameter; /* the first one of a control sequence */
	bool parameter_done;
	bool pasting;
};

/* True when the byte completes a key that means something; *kind is what. */
bool key_parser_feed(struct key_parser *parser, unsigned char byte, enum gesture_kind *kind);

#endif
