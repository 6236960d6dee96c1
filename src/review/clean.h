/* Text from a journal, fit for a file that other programs read. */
#ifndef REVIEW_CLEAN_H
#define REVIEW_CLEAN_H

#include "base/text.h"

#include <stdbool.h>

/* Adds the text with every byte that is not part of well-formed UTF-8 (RFC 3629) replaced by
 * U+FFFD; with `xml` also every character that XML 1.0 does not allow. */
void clean_add(struct text *out, const char *text, bool xml);

/* The same as the value of an XML attribute: markup and white space escaped. */
void clean_add_attribute(struct text *out, const char *text);

#endif
