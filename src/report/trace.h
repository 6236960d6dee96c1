/* The course of a job: which call was under way when, by the clock of work. */
#ifndef REPORT_TRACE_H
#define REPORT_TRACE_H

#include "journal/journal.h"

#include <stddef.h>

struct trace_call {
	char *phase;
	char string; /* 'm' main, 'c' cross, 0 none */
	int number;
	char side; /* 'l', 'r', 0 */
	char *text;
};

/* From when a call became the current one until another did. */
struct trace_visit {
	int call;
	int64_t begin_us; /* of work, since the job was begun */
	int64_t work_us;
	int repeats;            /* asked for again */
	int64_t pause_us;       /* the clock stood still meanwhile */
	int64_t away_us;        /* between runs */
	enum journal_kind left; /* by next, back, undo, ...; JOURNAL_STARTED: not yet */
};

enum trace_mark_kind { TRACE_AGAIN, TRACE_BACK, TRACE_UNDO, TRACE_PAUSE, TRACE_AWAY, TRACE_MARKS };

struct trace_mark {
	enum trace_mark_kind kind;
	int number; /* of pauses and times away together, from 1; else 0 */
	int call;
	int64_t at_us; /* of work */
	int64_t wall_us;
	int64_t length_us; /* pause, away */
};

struct trace {
	struct trace_call *calls; /* by number, from 1 */
	int call_count;
	struct trace_visit *visits;
	size_t visit_count;
	struct trace_mark *marks;
	size_t mark_count;
	int break_count; /* pauses and times away */
	int64_t work_us;
};

enum journal_status trace_read(struct journal *journal, int64_t job, struct trace *out);
void trace_free(struct trace *trace);

/* "12", "4L": a string in a word that fits into a picture; "" for a call about none. */
enum { TRACE_LABEL_MAX = 16 };
const char *trace_label(const struct trace_call *call, char buffer[static TRACE_LABEL_MAX]);

#endif
