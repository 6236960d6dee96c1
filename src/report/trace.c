#include "report/internal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Adds a zeroed element; the array doubles when it is full. */
static void *one_more(void *things, size_t *count, size_t size)
{
	if ((*count & (*count - 1)) == 0)
		things = memory_resize(things, *count ? 2 * *count : 1, size);
	memset((char *)things + *count * size, 0, size);
	++*count;
	return things;
}

static char first_letter(sqlite3_stmt *row, int column)
{
	const char *text = (const char *)sqlite3_column_text(row, column);

	return text ? text[0] : '\0';
}

static enum journal_status read_calls(struct journal *journal, int64_t job, struct trace *trace)
{
	sqlite3_stmt *row = NULL;
	enum journal_status status =
		journal_prepare(journal,
				"SELECT phase, string, number, side, text FROM call WHERE job = ?1 "
				"ORDER BY n",
				&row);
	size_t count = 1; /* calls are numbered from 1 */
	bool more = false;

	if (status != JOURNAL_OK)
		return status;
	trace->calls = memory_new(count, sizeof *trace->calls);
	sqlite3_bind_int64(row, 1, job);
	while ((status = journal_step(journal, row, &more)) == JOURNAL_OK && more) {
		trace->calls = one_more(trace->calls, &count, sizeof *trace->calls);
		trace->calls[count - 1] = (struct trace_call){
			.phase = journal_column_copy(row, 0),
			.string = first_letter(row, 1),
			.number = sqlite3_column_int(row, 2),
			.side = first_letter(row, 3),
			.text = journal_column_copy(row, 4),
		};
		trace->call_count++;
	}
	sqlite3_finalize(row);
	return status;
}

struct event {
	int64_t run;
	enum journal_kind kind;
	int call;
	bool working;
	int64_t wall_us;
	int64_t span_us; /* until the next event of the run */
};

static struct event event_of(sqlite3_stmt *row)
{
	struct event event = {
		.run = sqlite3_column_int64(row, 0),
		.call = sqlite3_column_int(row, 2),
		.working = sqlite3_column_int(row, 3),
		.wall_us = sqlite3_column_int64(row, 4),
		.span_us = sqlite3_column_int64(row, 5),
	};
	const char *kind = (const char *)sqlite3_column_text(row, 1);

	if (!kind || !journal_kind_parse(kind, &event.kind))
		event.kind = JOURNAL_ANNOUNCED; /* a kind of a later version still takes time */
	return event;
}

static struct trace_visit *visit_now(struct trace *trace)
{
	return trace->visit_count ? &trace->visits[trace->visit_count - 1] : NULL;
}

static struct trace_mark *add_mark(struct trace *trace, enum trace_mark_kind kind,
				   const struct event *event)
{
	trace->marks = one_more(trace->marks, &trace->mark_count, sizeof *trace->marks);
	struct trace_mark *mark = &trace->marks[trace->mark_count - 1];
	*mark = (struct trace_mark){
		.kind = kind,
		.call = event->call,
		.at_us = trace->work_us,
		.wall_us = event->wall_us,
	};
	if (kind == TRACE_PAUSE || kind == TRACE_AWAY)
		mark->number = ++trace->break_count;
	return mark;
}

enum clock_state { WAITING, WORKING, PAUSED };

/* The time from an event to the next one of the same run is work, part of a pause, or neither: the
 * wait for the first press of a run, or after the last call. */
static void pass_time(struct trace *trace, const struct event *from, enum clock_state *clock)
{
	struct trace_visit *visit = visit_now(trace);
	int64_t length_us = from->span_us;

	if (from->kind == JOURNAL_STARTED)
		*clock = WAITING;
	if (from->working) {
		trace->work_us += length_us;
		if (visit)
			visit->work_us += length_us;
		*clock = WORKING;
		return;
	}
	if (*clock == WAITING || from->call > trace->call_count)
		return;
	if (*clock != PAUSED)
		add_mark(trace, TRACE_PAUSE, from);
	/* Steps made while paused have added marks after the pause's. */
	size_t i = trace->mark_count - 1;
	while (trace->marks[i].kind != TRACE_PAUSE)
		i--;
	trace->marks[i].length_us += length_us;
	if (visit)
		visit->pause_us += length_us;
	*clock = PAUSED;
}

static void pass_run(struct trace *trace, const struct event *from, const struct event *to)
{
	struct trace_visit *visit = visit_now(trace);
	int64_t length_us = to->wall_us - from->wall_us;

	add_mark(trace, TRACE_AWAY, from)->length_us = length_us;
	if (visit)
		visit->away_us += length_us;
}

static void begin_visit(struct trace *trace, const struct event *event)
{
	struct trace_visit *visit = visit_now(trace);

	if (visit && visit->call == event->call && visit->left == JOURNAL_STARTED)
		return;
	if (visit && visit->left == JOURNAL_STARTED)
		visit->left = event->kind;
	if (event->call < 1 || event->call > trace->call_count)
		return; /* past the last call */
	trace->visits = one_more(trace->visits, &trace->visit_count, sizeof *trace->visits);
	trace->visits[trace->visit_count - 1] = (struct trace_visit){
		.call = event->call,
		.begin_us = trace->work_us,
		.left = JOURNAL_STARTED,
	};
}

/* Marks what the stringer did, at the call that was current. */
static void note_step(struct trace *trace, const struct event *event)
{
	struct trace_visit *visit = visit_now(trace);
	struct event here = *event;

	if (!visit)
		return;
	here.call = visit->call;
	if (event->kind == JOURNAL_AGAIN) {
		visit->repeats++;
		add_mark(trace, TRACE_AGAIN, &here);
	} else if (event->kind == JOURNAL_BACK) {
		add_mark(trace, TRACE_BACK, &here);
	} else if (event->kind == JOURNAL_UNDO) {
		add_mark(trace, TRACE_UNDO, &here);
	}
}

static enum journal_status read_events(struct journal *journal, int64_t job, struct trace *trace)
{
	sqlite3_stmt *row = NULL;
	enum journal_status status = journal_prepare(
		journal,
		"SELECT e.run, e.kind, e.call, e.working, e.wall_us, s.span_us FROM event AS e "
		"LEFT JOIN span AS s ON s.job = e.job AND s.seq = e.seq WHERE e.job = ?1 "
		"ORDER BY e.seq",
		&row);
	struct event before = {0};
	enum clock_state clock = WAITING;
	bool more = false, any = false;

	if (status != JOURNAL_OK)
		return status;
	sqlite3_bind_int64(row, 1, job);
	while ((status = journal_step(journal, row, &more)) == JOURNAL_OK && more) {
		struct event event = event_of(row);
		if (any && event.run == before.run) {
			pass_time(trace, &before, &clock);
		} else if (any) {
			pass_run(trace, &before, &event);
		}
		note_step(trace, &event);
		begin_visit(trace, &event);
		before = event;
		any = true;
	}
	sqlite3_finalize(row);
	return status;
}

enum journal_status trace_read(struct journal *journal, int64_t job, struct trace *out)
{
	*out = (struct trace){0};
	enum journal_status status = read_calls(journal, job, out);
	if (status == JOURNAL_OK)
		status = read_events(journal, job, out);
	if (status != JOURNAL_OK)
		trace_free(out);
	return status;
}

void trace_free(struct trace *trace)
{
	for (int i = 1; i <= trace->call_count; i++) {
		free(trace->calls[i].phase);
		free(trace->calls[i].text);
	}
	free(trace->calls);
	free(trace->visits);
	free(trace->marks);
	*trace = (struct trace){0};
}

const char *trace_label(const struct trace_call *call, char buffer[static TRACE_LABEL_MAX])
{
	buffer[0] = '\0';
	if (call->string == 'm')
		snprintf(buffer, TRACE_LABEL_MAX, "%d%c", call->number,
			 call->side == 'l' ? 'L' : 'R');
	else if (call->string == 'c')
		snprintf(buffer, TRACE_LABEL_MAX, "%d", call->number);
	return buffer;
}
