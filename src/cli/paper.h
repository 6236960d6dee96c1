/* The whole job on paper: a table that a person can follow, and the JSON of the contract. */
#ifndef CLI_PAPER_H
#define CLI_PAPER_H

#include "base/text.h"
#include "phrase/phrasebook.h"
#include "sequence/sequence.h"

void paper_table(const struct sequence *sequence, const struct phrasebook *book,
		 const struct phrase_options *options, struct text *out);
void paper_json(const struct sequence *sequence, const struct phrasebook *book,
		const struct phrase_options *options, struct text *out);

#endif
