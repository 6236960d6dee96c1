/* Facts and tables about one job, computed by SQL from the views of journal/views.sql. */
#include "review/internal.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

/* ---- facts ---- */

static void add_usual(struct table *facts, const struct review *review)
{
	char usual[DURATION_TEXT_MAX], low[DURATION_TEXT_MAX], high[DURATION_TEXT_MAX];
	double change = 100 * ((double)review->work_us / review->usual_us - 1);

	if (!review->usual_count)
		return;
	table_fact(facts, "Usual for this stringer", "%s; four of five jobs take %s to %s",
		   duration_text(review->usual_us, usual), duration_text(review->usual_low_us, low),
		   duration_text(review->usual_high_us, high));
	if (review->job.last == JOURNAL_FINISHED && fabs(change) < 0.5)
		table_fact(facts, "This one", "as usual");
	else if (review->job.last == JOURNAL_FINISHED)
		table_fact(facts, "This one", "%.0f %% %s than usual", fabs(change),
			   change > 0 ? "longer" : "shorter");
}

static void add_breaks(struct table *facts, const struct review *review, enum review_mark_kind kind,
		       const char *word, int64_t length_us)
{
	char time[DURATION_TEXT_MAX];
	int count = 0;

	for (size_t i = 0; i < review->mark_count; i++)
		count += review->marks[i].kind == kind;
	if (count)
		table_fact(facts, word, "%s, %d %s; not in the work",
			   duration_text((double)length_us, time), count,
			   count == 1 ? "time" : "times");
}

static void add_text(struct table *facts, const char *word, const char *text)
{
	if (text)
		table_fact(facts, word, "%s", text);
}

static void add_number(struct table *facts, const char *word, int number)
{
	if (number)
		table_fact(facts, word, "%d", number);
}

static void make_facts(struct review *review)
{
	struct table *facts = &review->facts;
	char time[DURATION_TEXT_MAX];

	facts_begin(facts);
	add_text(facts, "Racket", review->job.racket);
	add_text(facts, "Customer", review->job.customer);
	add_text(facts, "Due", review->job.due);
	add_text(facts, "Notes", review->notes);
	table_fact(facts, "Work", "%s", duration_text((double)review->work_us, time));
	add_usual(facts, review);
	table_fact(facts, "Calls done", "%d of %d", review->job.place - 1, review->job.places);
	review_add_lost(facts, &review->lost, 1);
	add_breaks(facts, review, REVIEW_PAUSE, "Paused", review->pause_us);
	add_breaks(facts, review, REVIEW_AWAY, "Program closed", review->away_us);
	add_number(facts, "Asked again", review->repeats);
	add_number(facts, "Stepped back", review->backs);
	add_number(facts, "Steps taken back", review->undos);
	add_number(facts, "Faults of voice or pedal", review->faults);
	if (review->response_us)
		table_fact(facts, "First sound after a press",
			   "median %.0f ms, 95 %% within %.0f ms",
			   (double)review->response_us / 1000,
			   (double)review->slow_response_us / 1000);
}

/* ---- tables ---- */

static void make_breaks(struct review *review)
{
	struct table *table = &review->parts[REVIEW_BREAKS];
	char date[DATE_TEXT_MAX];

	for (size_t i = 0; i < review->mark_count; i++) {
		const struct review_mark *mark = &review->marks[i];
		if (!mark->number)
			continue;
		table_value(table, mark->number);
		table_cell(table, "%s", date_text(mark->wall_us, date));
		table_cell(table, "%s", mark->kind == REVIEW_AWAY ? "program closed" : "paused");
		table_value(table, mark->place);
		table_value(table, (double)mark->length_us);
	}
}

/* The calls of a way back are lost work, whatever their phase. Calls that a way back replaced are
 * not counted, so that the sum is the place in the job. */
static const char phases_sql[] =
	"SELECT iif(mishap IS NULL, phase, 'lost to mistakes') AS part, sum(stands), "
	"sum(work_us), sum(work_us) / nullif(:work + 0.0, 0), sum(repeats), sum(backs) "
	"FROM call_time WHERE job = :job GROUP BY part ORDER BY max(mishap) NOT NULL, min(n)";

static const char phases_total_sql[] =
	"SELECT 'all', coalesce(sum(stands), 0), :work, NULL, :repeats, :backs FROM call_time "
	"WHERE job = :job";

/* A row for each number: mains on the left, crosses in two columns beside them. */
static const char strings_sql[] =
	"WITH RECURSIVE s AS MATERIALIZED (SELECT * FROM string_time WHERE job = :job), "
	"size AS (SELECT mains, (crosses + 1) / 2 AS half, crosses FROM ("
	"SELECT coalesce(max(number) FILTER (WHERE string = 'main'), 0) AS mains, "
	"coalesce(max(number) FILTER (WHERE string = 'cross'), 0) AS crosses FROM s)), "
	"r(i) AS (SELECT 1 FROM size WHERE max(mains, half) > 0 "
	"UNION ALL SELECT i + 1 FROM r, size WHERE i < max(mains, half)) "
	"SELECT iif(i <= mains, i, NULL), "
	"(SELECT work_us FROM s WHERE string = 'main' AND number = i AND side = 'left'), "
	"(SELECT work_us FROM s WHERE string = 'main' AND number = i AND side = 'right'), "
	"iif(i <= half, i, NULL), "
	"(SELECT work_us FROM s WHERE string = 'cross' AND number = i AND i <= half), "
	"iif(i + half <= crosses, i + half, NULL), "
	"(SELECT work_us FROM s WHERE string = 'cross' AND number = i + half AND i <= half) "
	"FROM r, size";

/* Halves by the order of stringing; the middle one of an odd number is left out. */
static const char halves_sql[] =
	"SELECT string || iif(string = 'main', 's', 'es'), first, second, "
	"second / nullif(first, 0) - 1 FROM (SELECT string, "
	"avg(work_us) FILTER (WHERE i <= most / 2) AS first, "
	"avg(work_us) FILTER (WHERE i > most - most / 2) AS second FROM ("
	"SELECT string, work_us, row_number() OVER (PARTITION BY string ORDER BY first_call) AS i, "
	"count(*) OVER (PARTITION BY string) AS most FROM string_time WHERE job = :job) "
	"WHERE most > 1 GROUP BY string) ORDER BY string DESC";

#define CALLS_SQL "SELECT place, text, work_us, repeats, backs FROM call_time WHERE job = :job "

enum { COLUMNS_MOST = 7 };

static const struct {
	const char *caption;
	struct table_column columns[COLUMNS_MOST];
	const char *sql; /* NULL: made from the marks */
	const char *total_sql;
} rows[REVIEW_PARTS] = {
	[REVIEW_BY_PHASE] = {"Work by phase",
			     {{"phase", COLUMN_TEXT},
			      {"calls", COLUMN_COUNT},
			      {"time", COLUMN_BAR},
			      {"share", COLUMN_SHARE},
			      {"again", COLUMN_COUNT},
			      {"back", COLUMN_COUNT}},
			     phases_sql,
			     phases_total_sql},
	[REVIEW_BREAKS] = {"Pauses, and times the program was closed",
			   {{"mark", COLUMN_NUMBER},
			    {"began", COLUMN_TEXT},
			    {"what", COLUMN_TEXT},
			    {"call", COLUMN_NUMBER},
			    {"length", COLUMN_TIME}},
			   NULL,
			   NULL},
	[REVIEW_BY_STRING] = {"Work by string",
			      {{"main", COLUMN_NUMBER},
			       {"left", COLUMN_TIME},
			       {"right", COLUMN_TIME},
			       {"cross", COLUMN_NUMBER},
			       {"time", COLUMN_TIME},
			       {"cross", COLUMN_NUMBER},
			       {"time", COLUMN_TIME}},
			      strings_sql,
			      NULL},
	[REVIEW_HALVES] = {"Mean work on a string",
			   {{"a string", COLUMN_TEXT},
			    {"first half", COLUMN_TIME},
			    {"second half", COLUMN_TIME},
			    {"change", COLUMN_CHANGE}},
			   halves_sql,
			   NULL},
#define CALL_COLUMNS                                                                               \
	{                                                                                          \
		{"call", COLUMN_NUMBER}, {"words", COLUMN_SPOKEN}, {"time", COLUMN_BAR},           \
			{"again", COLUMN_COUNT}, {"back", COLUMN_COUNT},                           \
	}
	[REVIEW_SLOWEST_CALLS] = {"Slowest calls", CALL_COLUMNS,
				  CALLS_SQL "AND work_us > 0 ORDER BY work_us DESC, n LIMIT 5",
				  NULL},
	[REVIEW_UNSURE_CALLS] = {"Asked again or stepped back from", CALL_COLUMNS,
				 CALLS_SQL "AND repeats + backs > 0 ORDER BY n", NULL},
};

static enum journal_status make_part(struct journal *journal, struct review *review,
				     enum review_part part)
{
	const struct journal_field fields[] = {
		field_number("job", review->job.number),
		field_number("work", review->work_us),
		field_number("repeats", review->repeats),
		field_number("backs", review->backs),
		{0},
	};
	struct table *table = &review->parts[part];
	enum journal_status status = JOURNAL_OK;
	size_t columns = 0;

	while (columns < COLUMNS_MOST && rows[part].columns[columns].heading)
		columns++;
	assert(columns > 0);
	table_begin(table, rows[part].caption, rows[part].columns, columns);
	table->language = review->job.language;
	if (!rows[part].sql)
		make_breaks(review);
	else
		status = table_rows(table, journal, rows[part].sql, fields);
	if (status != JOURNAL_OK || !rows[part].total_sql)
		return status;
	table->total = table->cell_count / columns + 1;
	return table_rows(table, journal, rows[part].total_sql, fields);
}

enum journal_status review_make_tables(struct journal *journal, struct review *review)
{
	enum journal_status status = JOURNAL_OK;

	make_facts(review);
	for (int part = 0; status == JOURNAL_OK && part < REVIEW_PARTS; part++)
		status = make_part(journal, review, part);
	return status;
}
