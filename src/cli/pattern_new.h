/* Writing a pattern by answering questions, with the frame in hand. */
#ifndef CLI_PATTERN_NEW_H
#define CLI_PATTERN_NEW_H

#include "base/fault.h"
#include "base/text.h"

#include <stdbool.h>
#include <stdio.h>

struct pattern_new {
	FILE *in;         /* answers, one a line */
	FILE *show;       /* questions, and what comes of the answers */
	bool person;      /* somebody is there to be asked again; else questions are not shown */
	const char *file; /* as `in` is called in faults */
	double reach_mm;  /* of the machine's tension head, for the lengths */
};

/* Asks, and writes the pattern file to *out and its name to *name (the caller frees both). False if
 * it was not finished: the person gave up, or an answer of a file is at fault, and then faults says
 * where. In a file of answers empty lines stand for what is left out, and lines that begin with #
 * are comments. */
bool pattern_new(const struct pattern_new *asker, struct text *out, char **name,
		 struct faults *faults);

#endif
