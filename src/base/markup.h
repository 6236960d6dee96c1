/* Text from outside as it may stand in XML and HTML, between tags and in quoted attributes. */
#ifndef BASE_MARKUP_H
#define BASE_MARKUP_H

#include "base/text.h"

/* Adds the text with everything escaped that means something there. What XML does not take at all
 * becomes a space: control characters, line ends too, and the noncharacters U+FFFE and U+FFFF; a
 * byte that is no UTF-8 becomes U+FFFD. */
void markup_add(struct text *out, const char *text);

#endif
