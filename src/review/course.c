/* The course of a job: its calls, the visits to them in order, and marks beside them. */
#include "review/internal.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

void *review_one_more(void *things, size_t *count, size_t size)
{
	assert(things || *count == 0);
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

static const char calls_sql[] =
	"SELECT n, phase, string, number, side, text, coalesce(place, n) FROM call "
	"WHERE job = :job AND n BETWEEN 1 AND 1000000 ORDER BY n";

/* The number before a way back is not used. */
static void add_call(void *context, sqlite3_stmt *row)
{
	struct review *review = context;
	size_t count = review->calls ? (size_t)review->call_count + 1 : 0;

	do
		review->calls = review_one_more(review->calls, &count, sizeof *review->calls);
	while ((int)count <= sqlite3_column_int(row, 0));
	review->call_count = (int)count - 1;
	review->calls[review->call_count] = (struct review_call){
		.phase = journal_column_copy(row, 1),
		.string = first_letter(row, 2),
		.number = sqlite3_column_int(row, 3),
		.side = first_letter(row, 4),
		.text = journal_column_copy(row, 5),
		.place = sqlite3_column_int(row, 6),
	};
}

static const char strings_sql[] =
	"SELECT string, number, side, work_us FROM string_time WHERE job = :job";

static void add_string(void *context, sqlite3_stmt *row)
{
	struct review *review = context;

	review->strings =
		review_one_more(review->strings, &review->string_count, sizeof *review->strings);
	review->strings[review->string_count - 1] = (struct review_string){
		.is_main = first_letter(row, 0) == 'm',
		.number = sqlite3_column_int(row, 1),
		.side = first_letter(row, 2),
		.work_us = sqlite3_column_int64(row, 3),
	};
}

/* The last two: the median of the responses, and the 95th percentile. */
static const char sums_sql[] =
	"WITH r AS (SELECT response_us, row_number() OVER (ORDER BY response_us) AS i, "
	"count(*) OVER () AS most FROM event WHERE job = :job AND response_us NOT NULL) "
	"SELECT total(kind = 'again'), total(kind = 'back'), total(kind = 'undo'), "
	"total(kind = 'fault'), (SELECT count(*) FROM mishap WHERE job = :job), "
	"(SELECT total(undone) FROM mishap WHERE job = :job), "
	"(SELECT total(work_us) FROM call_time WHERE job = :job AND mishap NOT NULL), "
	"(SELECT min(response_us) FROM r WHERE 2 * i >= most), "
	"(SELECT min(response_us) FROM r WHERE 20 * i >= 19 * most) FROM event WHERE job = :job";

static void take_sums(void *context, sqlite3_stmt *row)
{
	struct review *review = context;

	review->repeats = sqlite3_column_int(row, 0);
	review->backs = sqlite3_column_int(row, 1);
	review->undos = sqlite3_column_int(row, 2);
	review->faults = sqlite3_column_int(row, 3);
	review->lost.mishaps = sqlite3_column_int(row, 4);
	review->lost.undone = sqlite3_column_int(row, 5);
	review->lost.work_us = sqlite3_column_double(row, 6);
	review->response_us = sqlite3_column_int64(row, 7);
	review->slow_response_us = sqlite3_column_int64(row, 8);
}

/* ---- visits ---- */

/* Each event with the work, the pause and the time away that follow it. Waiting for the first press
 * of a run, or after the last call, is no pause. */
static const char visits_sql[] =
	"SELECT e.kind, e.call, s.span_us * e.working, "
	"s.span_us * (NOT e.working AND e.call <= (SELECT max(n) FROM call WHERE job = :job) "
	"AND max(e.working) OVER (PARTITION BY e.run ORDER BY e.seq)), "
	"iif(s.seq IS NULL, lead(e.wall_us) OVER (ORDER BY e.seq) - e.wall_us, 0) "
	"FROM event AS e LEFT JOIN (SELECT seq, span_us FROM span WHERE job = :job) AS s "
	"ON s.seq = e.seq WHERE e.job = :job ORDER BY e.seq";

static struct review_visit *visit_now(struct review *review)
{
	return review->visit_count ? &review->visits[review->visit_count - 1] : NULL;
}

static void begin_visit(struct review *review, enum journal_kind kind, int call)
{
	struct review_visit *visit = visit_now(review);

	if (visit && visit->call == call && visit->left == JOURNAL_STARTED)
		return;
	if (visit && visit->left == JOURNAL_STARTED)
		visit->left = kind;
	if (call < 1 || call > review->call_count)
		return; /* past the last call */
	review->visits =
		review_one_more(review->visits, &review->visit_count, sizeof *review->visits);
	*visit_now(review) = (struct review_visit){
		.call = call,
		.begin_us = review->work_us,
		.left = JOURNAL_STARTED,
	};
}

static void add_event(void *context, sqlite3_stmt *row)
{
	struct review *review = context;
	enum journal_kind kind = JOURNAL_ANNOUNCED; /* unknown: of a later version */
	const char *name = (const char *)sqlite3_column_text(row, 0);
	int64_t work_us = sqlite3_column_int64(row, 2), pause_us = sqlite3_column_int64(row, 3);
	int64_t away_us = sqlite3_column_int64(row, 4);

	if (name)
		journal_kind_parse(name, &kind);
	begin_visit(review, kind, sqlite3_column_int(row, 1));
	review->work_us += work_us;
	review->pause_us += pause_us;
	review->away_us += away_us;
	struct review_visit *visit = visit_now(review);
	if (!visit)
		return;
	visit->repeats += kind == JOURNAL_AGAIN;
	visit->work_us += work_us;
	visit->pause_us += pause_us;
	visit->away_us += away_us;
}

/* ---- marks ---- */

/* Repeats, steps back, pauses and times away, each with the work done before it. */
static const char marks_sql[] =
	"WITH t AS (SELECT e.seq, e.kind, e.wall_us, coalesce(sum(s.span_us * s.working) OVER "
	"(ORDER BY e.seq ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING), 0) AS at_us "
	"FROM event AS e LEFT JOIN (SELECT seq, span_us, working FROM span WHERE job = :job) AS s "
	"ON s.seq = e.seq WHERE e.job = :job), m AS ("
	"SELECT seq, kind, NULL AS call, 0 AS length_us FROM t "
	"WHERE kind IN ('again', 'back', 'undo') AND seq > 1 "
	"UNION ALL SELECT seq, 'pause', call, pause_us FROM pause_time WHERE job = :job "
	"UNION ALL SELECT seq, 'away', call, away_us FROM away_time WHERE job = :job) "
	"SELECT m.kind, t.at_us, t.wall_us, m.length_us, coalesce(c.place, c.n, :places + 1) "
	"FROM m JOIN t ON t.seq = m.seq LEFT JOIN call AS c ON c.job = :job AND c.n = m.call "
	"ORDER BY m.seq, m.kind IN ('pause', 'away')";

static enum review_mark_kind mark_kind(const char *name)
{
	static const char *const names[] = {
		[REVIEW_BACK] = "back",
		[REVIEW_UNDO] = "undo",
		[REVIEW_PAUSE] = "pause",
		[REVIEW_AWAY] = "away",
	};

	for (int i = REVIEW_BACK; i < REVIEW_MARKS; i++) {
		if (strcmp(names[i], name) == 0)
			return i;
	}
	return REVIEW_AGAIN;
}

static void add_mark(void *context, sqlite3_stmt *row)
{
	struct review *review = context;
	enum review_mark_kind kind = mark_kind((const char *)sqlite3_column_text(row, 0));
	bool is_break = kind == REVIEW_PAUSE || kind == REVIEW_AWAY;

	review->marks = review_one_more(review->marks, &review->mark_count, sizeof *review->marks);
	review->marks[review->mark_count - 1] = (struct review_mark){
		.kind = kind,
		.number = is_break ? ++review->break_count : 0,
		.at_us = sqlite3_column_int64(row, 1),
		.wall_us = sqlite3_column_int64(row, 2),
		.length_us = sqlite3_column_int64(row, 3),
		.place = sqlite3_column_int(row, 4),
	};
}

enum journal_status review_read_course(struct journal *journal, struct review *review)
{
	static const struct {
		const char *sql;
		journal_row_taker *take;
	} rows[] = {
		{calls_sql, add_call},   {strings_sql, add_string}, {sums_sql, take_sums},
		{visits_sql, add_event}, {marks_sql, add_mark},
	};
	const struct journal_field fields[] = {
		field_number("job", review->job.number),
		field_number("places", review->job.places),
		{0},
	};
	enum journal_status status = JOURNAL_OK;

	for (size_t i = 0; status == JOURNAL_OK && i < sizeof rows / sizeof rows[0]; i++)
		status = journal_each(journal, rows[i].sql, fields, rows[i].take, review);
	return status;
}
