/* A sentence with fields: "Main {number} {side}[, {odd_hole}]."
 *
 * A part in brackets is left out when a field in it has nothing to say; what follows a bar in it is
 * then said in its place: "Cut the mains[, {length}|, as long as the old ones]."
 */
#ifndef PHRASE_SENTENCE_H
#define PHRASE_SENTENCE_H

#include "base/text.h"
#include "base/yaml.h"
#include "phrase/field.h"

#include <stdbool.h>

struct piece {
	enum field field; /* FIELDS: words */
	char *words;
	int bracket;  /* 0: always said; else the number of the bracket that it is in */
	bool instead; /* behind the bar of that bracket */
};

struct sentence {
	struct piece *pieces;
	int count;
	field_set fields;
};

enum { SENTENCE_BYTES_MAX = 240, WORDS_BYTES_MAX = 60 };

/* Compiles what stands at a node; `what` names it in faults, which point into the sentence. False
 * leaves *out empty. A NULL node is false and silent. */
bool sentence_compile(const struct yaml_node *node, const char *what, const struct field_rule *rule,
		      struct sentence *out);
void sentence_free(struct sentence *sentence);

/* Words for the fields of a sentence. NULL: nothing to say. */
struct field_values {
	char *words[FIELDS];
};

void field_values_free(struct field_values *values);

void sentence_fill(const struct sentence *sentence, const struct field_values *values,
		   struct text *out);

/* Words without fields; copied to *out, which the caller frees. */
bool words_read(const struct yaml_node *node, char **out);

#endif
