/* A job as a trace of IEEE 1849 (XES). */
#ifndef REVIEW_XES_H
#define REVIEW_XES_H

#include "journal/query.h"

#include <stdio.h>

/* The rows of one job (?1) that xes_trace takes. */
extern const char xes_sql[];

void xes_begin(FILE *out);
enum journal_status xes_trace(struct journal *journal, sqlite3_stmt *rows, FILE *out);
void xes_end(FILE *out);

#endif
