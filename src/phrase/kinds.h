/* What each kind of call may, must and can say: the grammar that a phrasebook is checked against.
 *
 * Some kinds come in variants with a sentence each: a pull is of a main, of a cross or of several
 * crosses. A phrasebook may write one sentence for all variants of a kind, with the fields that all
 * of them know.
 */
#ifndef PHRASE_KINDS_H
#define PHRASE_KINDS_H

#include "phrase/field.h"
#include "sequence/sequence.h"

enum variant {
	VARIANT_MAIN,
	VARIANT_CROSS,
	VARIANT_MAINS,   /* all of them */
	VARIANT_CROSSES, /* all of them; of a pull: several at once */
	VARIANT_WHOLE,   /* a one-piece length */
	VARIANTS,
};

enum { KIND_VARIANTS_MAX = 4 };

/* Who is told such calls: a learner is told each move, a practised hand each string. */
enum hearer { ALL, LEARNER, PRACTISED };

struct kind_variant {
	enum call_kind kind;
	enum hearer hearer;
	enum variant variant;
	struct field_rule rule;
};

/* The variants of a kind, at least one; returns how many. */
int kind_variants(enum call_kind kind, const struct kind_variant **variants);

/* Whether calls of that kind are made in that detail. */
bool kind_is_called(enum call_kind kind, enum detail detail);

const char *variant_name(enum variant variant);

#endif
