/* The journal for other programs.
 *
 *   CSV         RFC 4180, UTF-8, a line of names first. Null is an empty field, an empty text is
 * "", which is how PostgreSQL's COPY ... (FORMAT csv, HEADER) reads them. JSON Lines  one object a
 * line, the same names. XES         IEEE 1849: one trace a job, one activity a call, for process
 * mining. A call starts, is suspended and resumed by pauses, and is completed by "next"; leaving it
 * by a step back aborts it. "Again" and faults are in it with the transition "unknown".
 *
 * What is no UTF-8 or may not stand in XML comes out as U+FFFD. The caller looks at ferror(out).
 */
#ifndef REVIEW_EXPORT_H
#define REVIEW_EXPORT_H

#include "review/review.h"

enum review_format { REVIEW_CSV, REVIEW_JSON_LINES, REVIEW_XES };

/* What a line of CSV or JSON Lines is. */
enum review_table { REVIEW_JOBS, REVIEW_CALLS, REVIEW_EVENTS };

/* csv, json, xes; jobs, calls, events. */
bool review_format_parse(const char *name, enum review_format *out);
bool review_table_parse(const char *name, enum review_table *out);

/* Writes the jobs that pass the filter, the oldest first. XES has events only and ignores the
 * table.
 */
enum journal_status review_export(struct journal *journal, const struct review_filter *filter,
				  enum review_table table, enum review_format format, FILE *out);

#endif
