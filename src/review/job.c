/* The review of one job. Its numbers are computed by SQL (job_*.sql) from the journal's views. */
#include "review/internal.h"

#include <stdlib.h>

/* ---- the course of the job ---- */

static void take_string(void *context, sqlite3_stmt *row)
{
	struct review *review = context;
	char string, side;
	int number;
	int64_t work_us;

	journal_take(row, TARGETS(INTO(string), INTO(number), INTO(side), INTO(work_us)));
	if (number >= 1 && number < REVIEW_NUMBERS)
		review->string_us[review_string(string == 'm', number, side)] = work_us;
}

static void add_visit(void *context, sqlite3_stmt *row)
{
	struct review *review = context;

	review->visits =
		review_one_more(review->visits, &review->visit_count, sizeof *review->visits);
	struct review_visit *visit = &review->visits[review->visit_count - 1];
	struct review_call *call = &visit->call;
	journal_take(row, TARGETS(INTO(call->n), INTO(visit->begin_us), INTO(visit->work_us),
				  INTO(visit->repeats), INTO(visit->pause_us), INTO(visit->away_us),
				  INTO(visit->left), INTO(call->phase), INTO(call->string),
				  INTO(call->text), INTO(call->place), INTO(call->label)));
}

static void add_mark(void *context, sqlite3_stmt *row)
{
	struct review *review = context;

	review->marks = review_one_more(review->marks, &review->mark_count, sizeof *review->marks);
	struct review_mark *mark = &review->marks[review->mark_count - 1];
	snprintf(mark->label, sizeof mark->label, "%s", (const char *)sqlite3_column_text(row, 0));
	mark->at_us = sqlite3_column_int64(row, 1);
}

static enum journal_status read_course(struct journal *journal, struct review *review)
{
	const struct {
		const char *sql;
		journal_row_taker *take;
	} rows[] = {
		{"SELECT string, number, side, work_us FROM string_time WHERE job = :job",
		 take_string},
		{job_visits_sql, add_visit},
		{job_marks_sql, add_mark},
	};
	const struct journal_field fields[] = {field_number("job", review->job.number), {0}};
	static const char sums[] =
		"SELECT work_us, repeats, backs, undos, "
		"(SELECT count(*) FROM pause_time WHERE job = :job), "
		"(SELECT count(*) FROM away_time WHERE job = :job), "
		"(SELECT group_concat(o.id, ', ') FROM job AS j JOIN job AS o ON o.name = j.name "
		"AND o.id <> j.id WHERE j.id = :job), "
		"(SELECT group_concat(o.id, ', ') FROM job AS j JOIN job AS o ON o.racket = j.racket "
		"AND o.name <> j.name WHERE j.id = :job) "
		"FROM (SELECT 1) LEFT JOIN (SELECT * FROM job_time WHERE job = :job)";
	enum journal_status status = journal_ask(
		journal, sums, fields,
		TARGETS(INTO(review->work_us), INTO(review->repeats), INTO(review->backs),
			INTO(review->undos), INTO(review->pauses), INTO(review->aways),
			INTO(review->namesakes), INTO(review->of_racket)));

	for (int i = 0; i < REVIEW_STRINGS; i++)
		review->string_us[i] = -1;
	for (size_t i = 0; status == JOURNAL_OK && i < sizeof rows / sizeof rows[0]; i++)
		status = journal_each(journal, rows[i].sql, fields, rows[i].take, review);
	return status;
}

/* ---- facts ---- */

/* The SQL function duration(us), as a person reads it. */
static void duration(sqlite3_context *context, int count, sqlite3_value **values)
{
	char text[DURATION_TEXT_MAX];

	(void)count;
	if (sqlite3_value_type(values[0]) != SQLITE_NULL)
		sqlite3_result_text(context, duration_text(sqlite3_value_double(values[0]), text),
				    -1, SQLITE_TRANSIENT);
}

/* With what the stringer's earlier jobs of this kind took. */
static enum journal_status make_facts(struct journal *journal, struct review *review)
{
	enum { ENOUGH = 4 * REVIEW_RECENT }; /* some may not be finished */
	static const char sql[] =
		"WITH undone AS (SELECT m.job, " REVIEW_UNDONE " AS strings FROM mishap AS m), %s";
	const struct journal_job *job = &review->job;
	const struct review_filter filter = {
		.stringer = job->stringer,
		.pattern = job->pattern,
		.method = job->method,
		.sport = job->sport,
		.detail = job->detail,
		.until_us = job->created_us,
		.newest = ENOUGH,
	};
	struct review_group usual = {0};
	struct review_overview before;
	enum journal_status status = review_overview(journal, &filter, NULL, &before);

	if (before.group_count && before.groups[0].has_quote)
		usual = before.groups[0];
	review_overview_free(&before);
	if (status != JOURNAL_OK)
		return status;
	char *whole = memory_format(sql, job_facts_sql);
	sqlite3_create_function(journal_database(journal), "duration", 1,
				SQLITE_UTF8 | SQLITE_DIRECTONLY, NULL, duration, NULL, NULL);
	facts_begin(&review->facts);
	status = table_rows(&review->facts, journal, whole,
			    FIELDS(field_number("job", job->number),
				   field_number("usual_us", (int64_t)usual.usual_us),
				   field_number("low_us", (int64_t)usual.quote_low_us),
				   field_number("high_us", (int64_t)usual.quote_high_us),
				   field_number("least", REVIEW_JOB_LEAST_US)));
	free(whole);
	return status;
}

/* ---- tables ---- */

static const char phases_total_sql[] =
	"SELECT 'all' || coalesce(', with call ' || "
	"max(place) FILTER (WHERE stands AND place = :place) || ' under way', ''), "
	"coalesce(sum(stands), 0), :work, NULL, (SELECT repeats FROM job_time WHERE job = :job), "
	"(SELECT backs FROM job_time WHERE job = :job) FROM call_time WHERE job = :job";

#define CALLS_SQL "SELECT place, text, work_us, repeats, backs FROM call_time WHERE job = :job "

static const struct table_column
	phase_columns[] = {{"phase", COLUMN_TEXT},
			   {"calls", COLUMN_COUNT},
			   {"time", COLUMN_BAR},
			   {"share", COLUMN_SHARE},
			   {"again", COLUMN_COUNT},
			   {"back", COLUMN_COUNT},
			   {0}},
	break_columns[] = {{"mark", COLUMN_NUMBER}, {"began", COLUMN_TEXT},  {"what", COLUMN_TEXT},
			   {"call", COLUMN_NUMBER}, {"length", COLUMN_TIME}, {0}},
	string_columns[] = {{"main", COLUMN_NUMBER}, {"left", COLUMN_TIME},
			    {"right", COLUMN_TIME},  {"cross", COLUMN_NUMBER},
			    {"time", COLUMN_TIME},   {"cross", COLUMN_NUMBER},
			    {"time", COLUMN_TIME},   {0}},
	half_columns[] = {{"strings", COLUMN_TEXT},
			  {"first half", COLUMN_TIME},
			  {"second half", COLUMN_TIME},
			  {"change", COLUMN_FIGURES},
			  {0}},
	call_columns[] = {{"call", COLUMN_NUMBER}, {"words", COLUMN_SPOKEN}, {"time", COLUMN_BAR},
			  {"again", COLUMN_COUNT}, {"back", COLUMN_COUNT},   {0}};

static const struct {
	const char *caption;
	const struct table_column *columns;
	const char *sql;
	const char *total_sql; /* or NULL */
} parts[REVIEW_PARTS] = {
	[REVIEW_BY_PHASE] = {"Work by phase", phase_columns, job_phases_sql, phases_total_sql},
	[REVIEW_BREAKS] = {"Pauses, and times the program was closed", break_columns,
			   job_breaks_sql, NULL},
	[REVIEW_BY_STRING] = {"Work by string", string_columns, job_strings_sql, NULL},
	[REVIEW_HALVES] = {"Mean work per string", half_columns, job_halves_sql, NULL},
	[REVIEW_SLOWEST_CALLS] = {"Slowest calls", call_columns,
				  CALLS_SQL "AND work_us > 0 ORDER BY work_us DESC, n LIMIT 5",
				  NULL},
	[REVIEW_UNSURE_CALLS] = {"Asked again or stepped back from", call_columns,
				 CALLS_SQL "AND repeats + backs > 0 ORDER BY n", NULL},
};

static enum journal_status make_tables(struct journal *journal, struct review *review)
{
	const struct journal_field fields[] = {
		field_number("job", review->job.number),
		field_number("place", review->job.place),
		field_number("places", review->job.places),
		field_number("work", review->work_us),
		field_number("least", REVIEW_STRING_LEAST_US),
		{0},
	};
	enum journal_status status = JOURNAL_OK;

	for (int part = 0; status == JOURNAL_OK && part < REVIEW_PARTS; part++) {
		struct table *table = &review->parts[part];
		table_begin(table, parts[part].caption, parts[part].columns);
		table->language = review->job.language;
		status = table_rows(table, journal, parts[part].sql, fields);
		if (status != JOURNAL_OK || !parts[part].total_sql)
			continue;
		table->total = table->cell_count / table->column_count + 1;
		status = table_rows(table, journal, parts[part].total_sql, fields);
	}
	return status;
}

/* ---- all of it ---- */

enum journal_status review_job(struct journal *journal, const char *which, struct review *out)
{
	*out = (struct review){0};
	journal_hold(journal);
	enum journal_status status = journal_find(journal, which, &out->job);
	if (status == JOURNAL_OK)
		status = read_course(journal, out);
	if (status == JOURNAL_OK)
		status = make_facts(journal, out);
	if (status == JOURNAL_OK)
		status = make_tables(journal, out);
	journal_let_go(journal);
	if (status != JOURNAL_OK)
		review_free(out);
	return status;
}

void review_free(struct review *review)
{
	journal_job_free(&review->job);
	free(review->namesakes);
	free(review->of_racket);
	for (size_t i = 0; i < review->visit_count; i++) {
		free(review->visits[i].call.phase);
		free(review->visits[i].call.text);
		free(review->visits[i].call.label);
	}
	free(review->visits);
	free(review->marks);
	table_free(&review->facts);
	for (int part = 0; part < REVIEW_PARTS; part++)
		table_free(&review->parts[part]);
	*review = (struct review){0};
}

void review_print(const struct review *review, FILE *out)
{
	const struct journal_job *job = &review->job;
	char begun[DATE_TEXT_MAX], last[DATE_TEXT_MAX];

	words_print(job->name, out);
	fprintf(out, "  (job %lld%s%s%s%s)\n", (long long)job->number,
		review->namesakes ? "; other jobs of this name: " : "",
		review->namesakes ? review->namesakes : "",
		review->of_racket ? "; other jobs of this racket: " : "",
		review->of_racket ? review->of_racket : "");
	words_print(job->pattern, out);
	fprintf(out, ", %s, %s, strung by ", job->method, job->detail);
	words_print(job->stringer, out);
	fprintf(out, "\nbegun %s, %s %s\n\n", date_text(job->created_us, begun),
		job->open ? "open, last event" : journal_kind_names[job->last],
		date_text(job->last_wall_us, last));
	facts_print(&review->facts, out);
	for (int part = 0; part < REVIEW_PARTS; part++)
		review_print_table(&review->parts[part], out);
}
