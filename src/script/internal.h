/* Shared by the files of this room only. */
#ifndef SCRIPT_INTERNAL_H
#define SCRIPT_INTERNAL_H

#include "script/script.h"

/* The texts of a script and of a line, by their offsets, in the order in which they are packed. */
enum { SCRIPT_FACTS = 22, SCRIPT_LINE_TEXTS = 13 };
extern const size_t script_facts[SCRIPT_FACTS];
extern const size_t script_line_texts[SCRIPT_LINE_TEXTS];

/* The text of a script or a line at that offset. */
const char **script_text_at(void *item, size_t offset);

/* "redo", "slipped", "broke", and NULL. */
extern const char *const script_mishap_kinds[];

/* Adds it at the end. */
void script_add_mishap(struct script *script, const struct script_mishap *mishap);

#endif
