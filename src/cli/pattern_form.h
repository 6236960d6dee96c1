/* A pattern being written down: what was answered so far, and the file that comes of it.
 *
 * Every answer is checked by the reader of pattern files itself, on a file made of this answer and
 * those before it: there is one set of rules, and what is written can be read.
 */
#ifndef CLI_PATTERN_FORM_H
#define CLI_PATTERN_FORM_H

#include "frame/pattern.h"

#include <stdbool.h>

/* In the order in which they are asked and written. */
enum question {
	ASK_NAME,
	ASK_TITLE,
	ASK_SPORT,
	ASK_MAINS,
	ASK_CROSSES,
	ASK_HOLES_HEAD,
	ASK_HOLES_THROAT,
	ASK_BRIDGE,
	ASK_SKIP,
	ASK_SHARED,
	ASK_UNUSED, /* after this one the hole map is known */
	ASK_CROSSES_START,
	ASK_TIE_MAINS,
	ASK_TIE_CROSS_START,
	ASK_TIE_CROSS_END,
	ASK_LENGTH,
	ASK_WIDTH,
	ASK_AREA,
	ASK_BEAM,
	ASK_SPACING_MAINS,
	ASK_SPACING_CROSSES,
	ASK_TENSION_MIN,
	ASK_TENSION_MAX,
	QUESTIONS,
};

enum { ANSWER_MAX = 400 };

struct form {
	char answer[QUESTIONS][ANSWER_MAX]; /* as typed, trimmed; "": not answered, or left out */
};

/* What is asked, and what may help to answer it. */
const char *question_text(enum question question);
const char *question_help(enum question question);

/* What an empty answer means: a value, "" for leaving it out, NULL if an answer is needed. */
const char *question_default(enum question question);

/* False if it makes no sense after the answers so far: the width of a head without a length. */
bool question_applies(enum question question, const struct form *form);

/* The file of the answers up to and including `last`; the caller frees it. */
char *form_file(const struct form *form, enum question last);

/* What is wrong with an answer, given those before it, as one line; NULL: nothing. The caller frees
 * it. */
char *form_fault(const struct form *form, enum question question);

/* The pattern of the answers up to and including `last`; NULL with faults. */
struct pattern *form_pattern(const struct form *form, enum question last, struct faults *faults);

#endif
