/* Reads one job from the journal's views. */
#include "review/internal.h"

#include "base/base.h"

#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Takes one row of a statement about the job. */
typedef void take_row(struct review *review, sqlite3_stmt *row);

static enum journal_status each_row(struct journal *journal, struct review *review, const char *sql,
				    take_row *take)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status = journal_prepare(journal, sql, &statement);
	bool row = false;

	if (status != JOURNAL_OK)
		return status;
	sqlite3_bind_int64(statement, 1, review->job.number);
	while ((status = journal_step(journal, statement, &row)) == JOURNAL_OK && row)
		take(review, statement);
	sqlite3_finalize(statement);
	return status;
}

static void take_totals(struct review *review, sqlite3_stmt *row)
{
	review->work_us = sqlite3_column_int64(row, 0);
	review->repeats = sqlite3_column_int(row, 1);
	review->backs = sqlite3_column_int(row, 2);
	review->undos = sqlite3_column_int(row, 3);
}

static void take_faults(struct review *review, sqlite3_stmt *row)
{
	review->faults = sqlite3_column_int(row, 0);
}

/* Columns from `first`: work_us, calls, repeats, backs. */
static struct review_work work_of(sqlite3_stmt *row, int first)
{
	return (struct review_work){
		.work_us = sqlite3_column_int64(row, first),
		.calls = sqlite3_column_int(row, first + 1),
		.repeats = sqlite3_column_int(row, first + 2),
		.backs = sqlite3_column_int(row, first + 3),
	};
}

/* Adds a zeroed element; these arrays are short. */
static void *one_more(void *things, size_t *count, size_t size)
{
	things = memory_resize(things, *count + 1, size);
	memset((char *)things + *count * size, 0, size);
	++*count;
	return things;
}

static void take_phase(struct review *review, sqlite3_stmt *row)
{
	review->phases = one_more(review->phases, &review->phase_count, sizeof *review->phases);
	review->phases[review->phase_count - 1] = (struct review_phase){
		.name = journal_column_copy(row, 0),
		.work = work_of(row, 1),
	};
}

static void take_string(struct review *review, sqlite3_stmt *row)
{
	const char *side = (const char *)sqlite3_column_text(row, 2);

	review->strings = one_more(review->strings, &review->string_count, sizeof *review->strings);
	review->strings[review->string_count - 1] = (struct review_string){
		.is_main = sqlite3_column_int(row, 0),
		.number = sqlite3_column_int(row, 1),
		.side = side ? side[0] : '\0',
		.work = work_of(row, 3),
	};
}

static struct review_call call_of(sqlite3_stmt *row)
{
	return (struct review_call){
		.n = sqlite3_column_int(row, 0),
		.text = journal_column_copy(row, 1),
		.work = work_of(row, 2),
	};
}

static void take_slowest(struct review *review, sqlite3_stmt *row)
{
	review->slowest[review->slowest_count++] = call_of(row);
}

static void take_unsure(struct review *review, sqlite3_stmt *row)
{
	review->unsure = one_more(review->unsure, &review->unsure_count, sizeof *review->unsure);
	review->unsure[review->unsure_count - 1] = call_of(row);
}

static void take_break(struct review *review, sqlite3_stmt *row)
{
	struct review_break found = {
		.call = sqlite3_column_int(row, 0),
		.away = sqlite3_column_int(row, 1),
		.wall_us = sqlite3_column_int64(row, 2),
		.length_us = sqlite3_column_int64(row, 3),
	};

	*(found.away ? &review->away_us : &review->pause_us) += found.length_us;
	review->breaks = one_more(review->breaks, &review->break_count, sizeof *review->breaks);
	review->breaks[review->break_count - 1] = found;
}

static void take_namesakes(struct review *review, sqlite3_stmt *row)
{
	review->namesakes = journal_column_copy(row, 0);
}

static const struct {
	const char *sql;
	take_row *take;
} parts[] = {
	{"SELECT group_concat(id, ', ') FROM job WHERE id <> ?1 AND "
	 "name = (SELECT name FROM job WHERE id = ?1)",
	 take_namesakes},
	{"SELECT work_us, repeats, backs, undos FROM job_time WHERE job = ?1", take_totals},
	{"SELECT count(*) FROM event WHERE job = ?1 AND kind = 'fault'", take_faults},
	{"SELECT phase, work_us, calls, repeats, backs FROM phase_time WHERE job = ?1 "
	 "ORDER BY first_call",
	 take_phase},
	{"SELECT string = 'main', number, side, work_us, calls, repeats, backs FROM string_time "
	 "WHERE job = ?1 ORDER BY first_call",
	 take_string},
	{"SELECT n, text, work_us, 1, repeats, backs FROM call_time WHERE job = ?1 AND work_us > 0 "
	 "ORDER BY work_us DESC, n LIMIT 5",
	 take_slowest},
	{"SELECT n, text, work_us, 1, repeats, backs FROM call_time WHERE job = ?1 "
	 "AND repeats + backs > 0 ORDER BY n",
	 take_unsure},
	/* In a journal of version 1 the view counts waiting to begin and past the end, too. */
	{"SELECT p.call, 0, p.wall_us, p.pause_us, p.seq FROM pause_time AS p "
	 "JOIN event AS e ON e.job = p.job AND e.seq = p.seq JOIN job AS j ON j.id = p.job "
	 "WHERE p.job = ?1 AND e.kind <> 'started' AND p.call <= j.calls UNION ALL "
	 "SELECT call, 1, wall_us, away_us, seq FROM away_time WHERE job = ?1 ORDER BY 5",
	 take_break},
};

static double mean_work(const double *works, size_t count)
{
	return count ? gsl_stats_mean(works, 1, count) : NAN;
}

static struct review_halves halves_of(const struct review *review, bool mains)
{
	double *works = memory_new(review->string_count, sizeof *works);
	size_t count = 0;

	for (size_t i = 0; i < review->string_count; i++) {
		if (review->strings[i].is_main == mains)
			works[count++] = (double)review->strings[i].work.work_us;
	}
	struct review_halves halves = {
		.first_us = mean_work(works, count / 2),
		.second_us = mean_work(works + count - count / 2, count / 2),
	};
	free(works);
	return halves;
}

static double sorted_quantile(const double *values, size_t count, double share)
{
	return count ? gsl_stats_quantile_from_sorted_data(values, 1, count, share) : NAN;
}

static enum journal_status read_responses(struct journal *journal, struct review *review)
{
	sqlite3_stmt *statement = NULL;
	enum journal_status status =
		journal_prepare(journal,
				"SELECT response_us, count(*) OVER () FROM event "
				"WHERE job = ?1 AND response_us IS NOT NULL ORDER BY response_us",
				&statement);
	double *values = NULL;
	bool row = false;

	if (status != JOURNAL_OK)
		return status;
	sqlite3_bind_int64(statement, 1, review->job.number);
	while ((status = journal_step(journal, statement, &row)) == JOURNAL_OK && row) {
		if (!values)
			values = memory_new((size_t)sqlite3_column_int64(statement, 1),
					    sizeof *values);
		values[review->response_count++] = sqlite3_column_double(statement, 0);
	}
	review->response_median_us = sorted_quantile(values, review->response_count, 0.5);
	review->response_p95_us = sorted_quantile(values, review->response_count, 0.95);
	free(values);
	sqlite3_finalize(statement);
	return status;
}

/* What the stringer's earlier jobs of this kind took. */
static enum journal_status read_usual(struct journal *journal, struct review *review)
{
	enum { ENOUGH = 4 * REVIEW_RECENT }; /* some may be of another detail */
	const struct journal_job *job = &review->job;
	const struct review_filter filter = {
		.stringer = job->stringer,
		.pattern = job->pattern,
		.method = job->method,
		.until_us = job->created_us,
		.newest = ENOUGH,
	};
	struct review_overview before;
	enum journal_status status = review_overview(journal, &filter, &before);

	for (size_t i = 0; i < before.group_count; i++) {
		const struct review_group *group = &before.groups[i];
		if (!group->has_quote || strcmp(group->kind.detail, review->detail) != 0 ||
		    strcmp(group->kind.sport, job->sport) != 0)
			continue;
		review->usual_count = group->count;
		review->usual_us = group->usual_us;
		review->usual_low_us = group->quote_low_us;
		review->usual_high_us = group->quote_high_us;
	}
	review_overview_free(&before);
	return status;
}

static enum journal_status read_all(struct journal *journal, struct review *review)
{
	enum journal_status status = JOURNAL_OK;

	for (size_t i = 0; status == JOURNAL_OK && i < sizeof parts / sizeof parts[0]; i++)
		status = each_row(journal, review, parts[i].sql, parts[i].take);
	if (status == JOURNAL_OK)
		status = read_responses(journal, review);
	review->detail = plan_detail(review->job.plan_text);
	if (status == JOURNAL_OK)
		status = read_usual(journal, review);
	review->mains = halves_of(review, true);
	review->crosses = halves_of(review, false);
	return status;
}

enum journal_status review_job(struct journal *journal, const char *which, struct review *out)
{
	*out = (struct review){0};
	enum journal_status status = journal_hold(journal);
	if (status != JOURNAL_OK)
		return status;
	status = journal_find(journal, which, &out->job);
	if (status == JOURNAL_OK)
		status = read_all(journal, out);
	journal_let_go(journal);
	if (status != JOURNAL_OK)
		review_free(out);
	return status;
}

void review_free(struct review *review)
{
	journal_job_free(&review->job);
	free(review->namesakes);
	for (size_t i = 0; i < review->phase_count; i++)
		free(review->phases[i].name);
	for (size_t i = 0; i < review->slowest_count; i++)
		free(review->slowest[i].text);
	for (size_t i = 0; i < review->unsure_count; i++)
		free(review->unsure[i].text);
	free(review->phases);
	free(review->strings);
	free(review->unsure);
	free(review->breaks);
	*review = (struct review){0};
}
