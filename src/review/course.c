/* The course of a job: its events, read in order, as visits to calls and marks. */
#include "review/internal.h"

#include <stdlib.h>
#include <string.h>

void *review_one_more(void *things, size_t *count, size_t size)
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

static enum journal_status read_calls(struct journal *journal, struct review *review)
{
	const struct journal_field fields[] = {field_number("job", review->job.number), {0}};
	sqlite3_stmt *row = NULL;
	enum journal_status status =
		journal_query(journal,
			      "SELECT n, phase, string, number, side, text, coalesce(place, n) "
			      "FROM call WHERE job = :job AND n BETWEEN 1 AND 1000000 ORDER BY n",
			      fields, &row);
	size_t count = 1; /* calls are numbered from 1 */
	bool more = false;

	review->calls = memory_new(count, sizeof *review->calls);
	while (status == JOURNAL_OK && (status = journal_step(journal, row, &more)) == JOURNAL_OK &&
	       more) {
		while ((int)count <= sqlite3_column_int(row, 0)) /* a way back leaves one free */
			review->calls =
				review_one_more(review->calls, &count, sizeof *review->calls);
		review->calls[count - 1] = (struct review_call){
			.phase = journal_column_copy(row, 1),
			.string = first_letter(row, 2),
			.number = sqlite3_column_int(row, 3),
			.side = first_letter(row, 4),
			.text = journal_column_copy(row, 5),
			.place = sqlite3_column_int(row, 6),
		};
	}
	review->call_count = (int)count - 1;
	sqlite3_finalize(row);
	return status;
}

static enum journal_status read_strings(struct journal *journal, struct review *review)
{
	const struct journal_field fields[] = {field_number("job", review->job.number), {0}};
	sqlite3_stmt *row = NULL;
	bool more = false;
	enum journal_status status = journal_query(
		journal, "SELECT string, number, side, work_us FROM string_time WHERE job = :job",
		fields, &row);

	while (status == JOURNAL_OK && (status = journal_step(journal, row, &more)) == JOURNAL_OK &&
	       more) {
		review->strings = review_one_more(review->strings, &review->string_count,
						  sizeof *review->strings);
		review->strings[review->string_count - 1] = (struct review_string){
			.is_main = first_letter(row, 0) == 'm',
			.number = sqlite3_column_int(row, 1),
			.side = first_letter(row, 2),
			.work_us = sqlite3_column_int64(row, 3),
		};
	}
	sqlite3_finalize(row);
	return status;
}

/* Half of the responses, and 95 %, are as long as these or shorter. */
static enum journal_status read_sums(struct journal *journal, struct review *review)
{
	static const char sql[] =
		"WITH r AS (SELECT response_us, row_number() OVER (ORDER BY response_us) AS i, "
		"count(*) OVER () AS most FROM event WHERE job = :job AND response_us NOT NULL) "
		"SELECT count(*), coalesce(sum(undone), 0), (SELECT coalesce(sum(work_us), 0) "
		"FROM call_time WHERE job = :job AND mishap NOT NULL), "
		"(SELECT min(response_us) FROM r WHERE 2 * i >= most), "
		"(SELECT min(response_us) FROM r WHERE 20 * i >= 19 * most) "
		"FROM mishap WHERE job = :job";
	const struct journal_field fields[] = {field_number("job", review->job.number), {0}};
	sqlite3_stmt *row = NULL;
	bool more = false;
	enum journal_status status = journal_query(journal, sql, fields, &row);

	if (status == JOURNAL_OK)
		status = journal_step(journal, row, &more);
	if (more) {
		review->lost = (struct review_lost){
			.mishaps = sqlite3_column_int(row, 0),
			.undone = sqlite3_column_int(row, 1),
			.work_us = sqlite3_column_double(row, 2),
		};
		review->response_us = sqlite3_column_int64(row, 3);
		review->slow_response_us = sqlite3_column_int64(row, 4);
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

static struct review_visit *visit_now(struct review *review)
{
	return review->visit_count ? &review->visits[review->visit_count - 1] : NULL;
}

static struct review_mark *add_mark(struct review *review, enum review_mark_kind kind, int call,
				    int64_t wall_us)
{
	review->marks = review_one_more(review->marks, &review->mark_count, sizeof *review->marks);
	struct review_mark *mark = &review->marks[review->mark_count - 1];
	*mark = (struct review_mark){
		.kind = kind,
		.place = call <= review->call_count ? review->calls[call].place
						    : review->job.places + 1,
		.at_us = review->work_us,
		.wall_us = wall_us,
	};
	if (kind == REVIEW_PAUSE || kind == REVIEW_AWAY)
		mark->number = ++review->break_count;
	return mark;
}

enum clock_state { WAITING, WORKING, PAUSED };

static void pause_for(struct review *review, int64_t length_us)
{
	struct review_visit *visit = visit_now(review);
	size_t i = review->mark_count - 1;

	/* Steps made while paused have added marks after the pause's. */
	while (review->marks[i].kind != REVIEW_PAUSE)
		i--;
	review->marks[i].length_us += length_us;
	review->pause_us += length_us;
	if (visit)
		visit->pause_us += length_us;
}

/* The time from an event to the next one of the same run is work, part of a pause, or neither: the
 * wait for the first press of a run, or after the last call. */
static void pass_time(struct review *review, const struct event *from, enum clock_state *clock)
{
	struct review_visit *visit = visit_now(review);

	if (from->kind == JOURNAL_STARTED)
		*clock = WAITING;
	if (from->working) {
		review->work_us += from->span_us;
		if (visit)
			visit->work_us += from->span_us;
		*clock = WORKING;
	} else if (*clock != WAITING && from->call <= review->call_count) {
		if (*clock != PAUSED)
			add_mark(review, REVIEW_PAUSE, from->call, from->wall_us);
		pause_for(review, from->span_us);
		*clock = PAUSED;
	}
}

static void pass_run(struct review *review, const struct event *from, const struct event *to)
{
	struct review_visit *visit = visit_now(review);
	int64_t length_us = to->wall_us - from->wall_us;

	add_mark(review, REVIEW_AWAY, from->call, from->wall_us)->length_us = length_us;
	review->away_us += length_us;
	if (visit)
		visit->away_us += length_us;
}

static void begin_visit(struct review *review, const struct event *event)
{
	struct review_visit *visit = visit_now(review);

	if (visit && visit->call == event->call && visit->left == JOURNAL_STARTED)
		return;
	if (visit && visit->left == JOURNAL_STARTED)
		visit->left = event->kind;
	if (event->call < 1 || event->call > review->call_count)
		return; /* past the last call */
	review->visits =
		review_one_more(review->visits, &review->visit_count, sizeof *review->visits);
	*visit_now(review) = (struct review_visit){
		.call = event->call,
		.begin_us = review->work_us,
		.left = JOURNAL_STARTED,
	};
}

/* Counts and marks what the stringer did, at the call that was current. */
static void note_step(struct review *review, const struct event *event)
{
	static const struct {
		enum journal_kind step;
		enum review_mark_kind mark;
	} steps[] = {{JOURNAL_AGAIN, REVIEW_AGAIN},
		     {JOURNAL_BACK, REVIEW_BACK},
		     {JOURNAL_UNDO, REVIEW_UNDO}};
	struct review_visit *visit = visit_now(review);

	review->repeats += event->kind == JOURNAL_AGAIN;
	review->backs += event->kind == JOURNAL_BACK;
	review->undos += event->kind == JOURNAL_UNDO;
	review->faults += event->kind == JOURNAL_FAULT;
	if (!visit)
		return;
	visit->repeats += event->kind == JOURNAL_AGAIN;
	for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
		if (steps[i].step == event->kind)
			add_mark(review, steps[i].mark, visit->call, event->wall_us);
	}
}

static enum journal_status read_events(struct journal *journal, struct review *review)
{
	const struct journal_field fields[] = {field_number("job", review->job.number), {0}};
	sqlite3_stmt *row = NULL;
	enum journal_status status = journal_query(
		journal,
		"SELECT e.run, e.kind, e.call, e.working, e.wall_us, s.span_us FROM event AS e LEFT JOIN (SELECT seq, span_us FROM span WHERE job = :job) AS s "
		"ON s.seq = e.seq WHERE e.job = :job ORDER BY e.seq",
		fields, &row);
	struct event before = {0};
	enum clock_state clock = WAITING;
	bool more = false, any = false;

	while (status == JOURNAL_OK && (status = journal_step(journal, row, &more)) == JOURNAL_OK &&
	       more) {
		struct event event = event_of(row);
		if (any && event.run == before.run)
			pass_time(review, &before, &clock);
		else if (any)
			pass_run(review, &before, &event);
		note_step(review, &event);
		begin_visit(review, &event);
		before = event;
		any = true;
	}
	sqlite3_finalize(row);
	return status;
}

enum journal_status review_read_course(struct journal *journal, struct review *review)
{
	enum journal_status status = read_calls(journal, review);

	if (status == JOURNAL_OK)
		status = read_strings(journal, review);
	if (status == JOURNAL_OK)
		status = read_sums(journal, review);
	return status == JOURNAL_OK ? read_events(journal, review) : status;
}
