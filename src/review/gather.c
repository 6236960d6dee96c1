/* Reads the spans of all jobs in one pass. SQLite need not sort, and memory grows by about a
 * hundred bytes a job. */
#include "review/internal.h"

#include "base/base.h"
#include "journal/journal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const char *const review_phase_names[REVIEW_PHASES] = {"prepare", "mains", "crosses", "finish"};

/* The job being read: the work on its strings, and whether the run has had its first press. */
struct tally {
	bool begun;
	double work_us[GATHER_KINDS][GATHER_NUMBERS];
};

/* There are few names, and usually it is the last one again. */
static const char *name_of(struct review_overview *overview, sqlite3_stmt *row, int column)
{
	const char *name = (const char *)sqlite3_column_text(row, column);

	for (size_t i = overview->name_count; i > 0; i--) {
		if (strcmp(overview->names[i - 1], name) == 0)
			return overview->names[i - 1];
	}
	overview->names =
		memory_resize(overview->names, overview->name_count + 1, sizeof *overview->names);
	return overview->names[overview->name_count++] = memory_copy(name);
}

static bool same_kind(const struct review_kind *a, const struct review_kind *b)
{
	return a->sport == b->sport && a->pattern == b->pattern && a->method == b->method &&
	       a->detail == b->detail;
}

static size_t index_of(struct gathered *all, const struct review_kind *kind)
{
	for (size_t i = 0; i < all->kind_count; i++) {
		if (same_kind(&all->kinds[i].kind, kind))
			return i;
	}
	all->kinds = memory_resize(all->kinds, all->kind_count + 1, sizeof *all->kinds);
	all->kinds[all->kind_count] = (struct gathered_kind){.kind = *kind};
	return all->kind_count++;
}

static int phase_of(const char *name)
{
	for (int i = 0; i < REVIEW_PHASES; i++) {
		if (strcmp(name, review_phase_names[i]) == 0)
			return i;
	}
	return -1;
}

enum {
	SPAN_SINCE,
	SPAN_WORKING,
	SPAN_US,
	SPAN_UNTIL,
	SPAN_PHASE,
	SPAN_STRING,
	SPAN_NUMBER,
	SPAN_SIDE,
	SPAN_LOST,
};

static int kind_of(sqlite3_stmt *span)
{
	const char *string = (const char *)sqlite3_column_text(span, SPAN_STRING);
	const char *side = (const char *)sqlite3_column_text(span, SPAN_SIDE);

	if (!string)
		return -1;
	if (string[0] == 'c')
		return GATHER_CROSSES;
	return side && side[0] == 'r' ? GATHER_MAINS_RIGHT : GATHER_MAINS_LEFT;
}

static void add_to_string(struct gathered_kind *sums, struct tally *tally, sqlite3_stmt *span,
			  double work_us)
{
	int kind = kind_of(span), number = sqlite3_column_int(span, SPAN_NUMBER);

	if (kind < 0 || number < 1 || number >= GATHER_NUMBERS)
		return;
	const char *until = (const char *)sqlite3_column_text(span, SPAN_UNTIL);
	tally->work_us[kind][number] += work_us;
	sums->strings[kind][number].repeats += strcmp(until, "again") == 0;
	sums->strings[kind][number].backs += strcmp(until, "back") == 0;
}

static void add_span(struct gathered_kind *sums, struct gathered_job *job, struct tally *tally,
		     sqlite3_stmt *span)
{
	double span_us = sqlite3_column_double(span, SPAN_US);
	bool working = sqlite3_column_int(span, SPAN_WORKING);
	const char *phase_name = (const char *)sqlite3_column_text(span, SPAN_PHASE);

	if (strcmp((const char *)sqlite3_column_text(span, SPAN_SINCE), "started") == 0)
		tally->begun = false;
	tally->begun = tally->begun || working;
	if (working)
		job->time.work_us += span_us;
	if (working && sqlite3_column_int(span, SPAN_LOST))
		job->time.lost.work_us += span_us;
	if (!phase_name) /* past the last call */
		return;
	if (!working && tally->begun)
		job->time.pause_us += span_us;
	int phase = phase_of(phase_name);
	if (working && phase >= 0)
		job->phase_us[phase] += span_us;
	add_to_string(sums, tally, span, working ? span_us : 0);
}

/* Work on the second half of the strings over that on the first; the middle one of an odd number is
 * left out. */
static double ratio_of_halves(const double *work_us)
{
	int highest = GATHER_NUMBERS - 1;

	while (highest > 0 && work_us[highest] <= 0)
		highest--;
	int half = highest / 2;
	double first = 0, second = 0;
	for (int i = 1; i <= half; i++) {
		first += work_us[i];
		second += work_us[highest + 1 - i];
	}
	return half > 0 && first > 0 ? second / first : NAN;
}

static void end_job(struct gathered_kind *sums, struct gathered_job *job, const struct tally *tally)
{
	double mains_us[GATHER_NUMBERS];

	for (int kind = 0; kind < GATHER_KINDS; kind++) {
		for (int number = 1; number < GATHER_NUMBERS; number++) {
			struct review_string_mean *string = &sums->strings[kind][number];
			string->jobs += tally->work_us[kind][number] > 0;
			string->mean_us += tally->work_us[kind][number];
		}
	}
	for (int number = 0; number < GATHER_NUMBERS; number++)
		mains_us[number] = tally->work_us[GATHER_MAINS_LEFT][number] +
				   tally->work_us[GATHER_MAINS_RIGHT][number];
	job->mains_ratio = ratio_of_halves(mains_us);
	job->crosses_ratio = ratio_of_halves(tally->work_us[GATHER_CROSSES]);
}

static struct gathered_job *next_job(struct gathered *all)
{
	if (all->count == all->room) {
		all->room = all->room ? 2 * all->room : 64;
		all->jobs = memory_resize(all->jobs, all->room, sizeof *all->jobs);
	}
	struct gathered_job *job = &all->jobs[all->count++];
	*job = (struct gathered_job){0};
	return job;
}

static enum journal_status read_job(struct journal *journal, sqlite3_stmt *spans,
				    struct gathered_kind *sums, struct gathered_job *job)
{
	struct tally tally = {0};
	enum journal_status status = JOURNAL_OK;
	bool row = false;

	sqlite3_bind_int64(spans, 1, job->time.job);
	while ((status = journal_step(journal, spans, &row)) == JOURNAL_OK && row)
		add_span(sums, job, &tally, spans);
	sqlite3_reset(spans);
	end_job(sums, job, &tally);
	return status;
}

enum {
	JOB_ID,
	JOB_CREATED,
	JOB_STRINGER,
	JOB_SPORT,
	JOB_PATTERN,
	JOB_METHOD,
	JOB_STATE,
	JOB_PLAN,
	JOB_MISHAPS,
	JOB_UNDONE,
};

static const char jobs_sql[] =
	"SELECT j.id, j.created_us, j.stringer, j.sport, j.pattern, j.method, s.state, j.plan_text, "
	"(SELECT count(*) FROM mishap WHERE job = j.id), "
	"(SELECT coalesce(sum(undone), 0) FROM mishap WHERE job = j.id) FROM " REVIEW_WANTED
	" AS wanted "
	"CROSS JOIN job AS j ON j.id = wanted.id CROSS JOIN job_state AS s ON s.job = j.id";

static const char spans_sql[] =
	"SELECT s.since, s.working, s.span_us, s.until, c.phase, c.string, c.number, c.side, "
	"c.mishap FROM span AS s LEFT JOIN call AS c ON c.job = s.job AND c.n = s.call "
	"WHERE s.job = :job";

static enum journal_status take_job(struct journal *journal, sqlite3_stmt *row, sqlite3_stmt *spans,
				    struct gathered *all, struct review_overview *overview)
{
	const char *state = (const char *)sqlite3_column_text(row, JOB_STATE);

	if (strcmp(state, "finished") != 0) {
		if (strcmp(state, "open") == 0)
			overview->open++;
		else
			overview->abandoned++;
		return JOURNAL_OK;
	}
	const struct review_kind kind = {
		.sport = name_of(overview, row, JOB_SPORT),
		.pattern = name_of(overview, row, JOB_PATTERN),
		.method = name_of(overview, row, JOB_METHOD),
		.detail = plan_detail((const char *)sqlite3_column_text(row, JOB_PLAN)),
	};
	struct gathered_job *job = next_job(all);
	job->time.job = sqlite3_column_int64(row, JOB_ID);
	job->time.created_us = sqlite3_column_int64(row, JOB_CREATED);
	job->stringer = name_of(overview, row, JOB_STRINGER);
	job->kind = index_of(all, &kind);
	all->kinds[job->kind].jobs++;
	job->time.lost.mishaps = sqlite3_column_int(row, JOB_MISHAPS);
	job->time.lost.undone = sqlite3_column_int(row, JOB_UNDONE);
	return read_job(journal, spans, &all->kinds[job->kind], job);
}

static int by_beginning(const void *left, const void *right)
{
	const struct gathered_job *a = left, *b = right;

	if (a->time.created_us != b->time.created_us)
		return a->time.created_us < b->time.created_us ? -1 : 1;
	return (a->time.job > b->time.job) - (a->time.job < b->time.job);
}

enum journal_status gather(struct journal *journal, const struct review_filter *filter,
			   struct gathered *out, struct review_overview *overview)
{
	struct filter_fields wanted = review_filter_fields(filter);
	sqlite3_stmt *jobs = NULL, *spans = NULL;
	enum journal_status status = journal_query(journal, jobs_sql, wanted.fields, &jobs);
	bool row = true;

	if (status == JOURNAL_OK)
		status = journal_query(journal, spans_sql, NULL, &spans);
	while (status == JOURNAL_OK && row) {
		status = journal_step(journal, jobs, &row);
		if (status == JOURNAL_OK && row)
			status = take_job(journal, jobs, spans, out, overview);
	}
	sqlite3_finalize(spans);
	sqlite3_finalize(jobs);
	if (out->count)
		qsort(out->jobs, out->count, sizeof *out->jobs, by_beginning);
	return status;
}
