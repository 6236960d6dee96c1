/* Faults found in what a person wrote: files and values on a command line.
 *
 * One list travels through all readers of a run, so that every fault of every file is found in one
 * go and all messages have one form: FILE:LINE:COL: error: TEXT [code]. The code is permanent:
 * scripts and tests may rely on it, the text may be reworded.
 */
#ifndef BASE_FAULT_H
#define BASE_FAULT_H

#include <stdbool.h>
#include <stdio.h>

enum fault_severity {
	FAULT_ERROR,   /* the file cannot be used */
	FAULT_WARNING, /* it can, but a person should look */
};

/* A place in a file, counted from 1; a line of 0 means the file as a whole. */
struct position {
	int line;
	int column;
};

struct fault {
	char *file;
	struct position position;
	enum fault_severity severity;
	const char *code; /* static storage */
	char *text;
};

/* A zeroed struct is an empty list. At most FAULTS_MAX are kept; `errors` and `warnings` go on
 * counting. */
struct faults {
	struct fault *items;
	size_t count;
	size_t errors;
	size_t warnings;
};

enum { FAULTS_MAX = 100 };

/* Adds a fault; file is copied, code is not. The text is one line: control characters become '?'.
 */
void fault_add(struct faults *faults, enum fault_severity severity, const char *file,
	       struct position position, const char *code, const char *format, ...)
	__attribute__((format(printf, 6, 7)));

/* Prints the faults in the order of files as read and of lines within a file; says how many were
 * left out. */
void faults_print(const struct faults *faults, FILE *out);

void faults_free(struct faults *faults);

/* The name among names (ended by NULL) that `word` was probably meant to be, or NULL. */
const char *fault_did_you_mean(const char *word, const char *const *names);

#endif
