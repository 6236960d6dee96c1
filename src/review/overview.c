/* Statistics of many jobs, read in one pass with about 200 bytes of memory a job. */
#include "review/internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const char *const review_phase_names[REVIEW_PHASES] = {"prepare", "mains", "crosses", "finish"};

enum { NUMBERS = 64 }; /* more than any bed has mains on a side, or crosses */
enum { MAINS_LEFT, MAINS_RIGHT, CROSSES, STRINGS };

/* Jobs come sorted by kind, stringer and beginning: a kind or a group ends where the next begins.
 */
struct reading {
	struct journal *journal;
	sqlite3_stmt *spans; /* of the job :job */
	struct review_overview *out;
	struct review_string_mean strings[STRINGS][NUMBERS]; /* of this kind; mean_us is a sum */
	double work_us[STRINGS][NUMBERS];                    /* of this job */
	size_t commonest; /* jobs of the kind whose strings are in the overview */
};

/* ---- one job ---- */

static double *phase_of(struct review_time *job, const char *name)
{
	for (int i = 0; i < REVIEW_PHASES; i++) {
		if (strcmp(name, review_phase_names[i]) == 0)
			return &job->phase_us[i];
	}
	return NULL;
}

enum { SINCE, WORKING, SPAN_US, UNTIL, PHASE, STRING, NUMBER, SIDE, MISHAP };

static const char spans_sql[] =
	"SELECT s.since, s.working, s.span_us, s.until, c.phase, c.string, c.number, c.side, "
	"c.mishap FROM span AS s LEFT JOIN call AS c ON c.job = s.job AND c.n = s.call "
	"WHERE s.job = :job";

static const char *text_of(sqlite3_stmt *row, int column)
{
	return (const char *)sqlite3_column_text(row, column);
}

static void add_to_string(struct reading *reading, sqlite3_stmt *span, double work_us)
{
	const char *string = text_of(span, STRING), *side = text_of(span, SIDE);
	const char *until = text_of(span, UNTIL);
	int number = sqlite3_column_int(span, NUMBER);

	if (!string || number < 1 || number >= NUMBERS)
		return;
	int kind = string[0] == 'c' ? CROSSES : side && side[0] == 'r' ? MAINS_RIGHT : MAINS_LEFT;
	reading->work_us[kind][number] += work_us;
	reading->strings[kind][number].repeats += strcmp(until, "again") == 0;
	reading->strings[kind][number].backs += strcmp(until, "back") == 0;
}

/* *begun: the run has had its first press. */
static void add_span(struct reading *reading, struct review_time *job, sqlite3_stmt *span,
		     bool *begun)
{
	double span_us = sqlite3_column_double(span, SPAN_US);
	bool working = sqlite3_column_int(span, WORKING);
	const char *name = text_of(span, PHASE); /* NULL: past the last call */
	double *phase_us = name ? phase_of(job, name) : NULL;

	*begun = working || (*begun && strcmp(text_of(span, SINCE), "started") != 0);
	if (working)
		job->work_us += span_us;
	else if (*begun && name)
		job->pause_us += span_us;
	if (working && phase_us)
		*phase_us += span_us;
	if (working && sqlite3_column_int(span, MISHAP))
		job->lost.work_us += span_us;
	add_to_string(reading, span, working ? span_us : 0);
}

/* Work on the second half of the strings over that on the first; the middle one of an odd number is
 * left out. */
static double ratio_of_halves(const double *work_us, const double *more_us)
{
	int highest = NUMBERS - 1;
	double first = 0, second = 0;

	while (highest > 0 && work_us[highest] + more_us[highest] <= 0)
		highest--;
	for (int i = 1; i <= highest / 2; i++) {
		first += work_us[i] + more_us[i];
		second += work_us[highest + 1 - i] + more_us[highest + 1 - i];
	}
	return first > 0 ? second / first : NAN;
}

static enum journal_status read_spans(struct reading *reading, struct review_time *job)
{
	static const double none[NUMBERS];
	enum journal_status status = JOURNAL_OK;
	bool row = false, begun = false;

	memset(reading->work_us, 0, sizeof reading->work_us);
	sqlite3_reset(reading->spans);
	sqlite3_bind_int64(reading->spans, 1, job->job);
	while ((status = journal_step(reading->journal, reading->spans, &row)) == JOURNAL_OK && row)
		add_span(reading, job, reading->spans, &begun);
	for (int kind = 0; kind < STRINGS; kind++) {
		for (int number = 1; number < NUMBERS; number++) {
			double work_us = reading->work_us[kind][number];
			reading->strings[kind][number].jobs += work_us > 0;
			reading->strings[kind][number].mean_us += work_us;
		}
	}
	job->mains_ratio =
		ratio_of_halves(reading->work_us[MAINS_LEFT], reading->work_us[MAINS_RIGHT]);
	job->crosses_ratio = ratio_of_halves(reading->work_us[CROSSES], none);
	return status;
}

/* ---- kinds and groups ---- */

enum { SPORT, PATTERN, METHOD, DETAIL, STRINGER, ID, CREATED, STATE, MISHAPS, UNDONE };

static const char jobs_sql[] =
	"SELECT j.sport, j.pattern, j.method, j.detail, j.stringer, j.id, j.created_us, s.state, "
	"(SELECT count(*) FROM mishap WHERE job = j.id), "
	"(SELECT coalesce(sum(undone), 0) FROM mishap WHERE job = j.id) FROM " REVIEW_WANTED
	" AS wanted CROSS JOIN job AS j ON j.id = wanted.id "
	"CROSS JOIN job_state AS s ON s.job = j.id "
	"ORDER BY j.pattern, j.method, j.detail, j.sport, j.stringer, j.created_us, j.id";

static char **names_of(struct review_group *group, int column)
{
	char **const names[] = {&group->kind.sport, &group->kind.pattern, &group->kind.method,
				&group->kind.detail, &group->stringer};

	return names[column];
}

/* The first `columns` names of the row are those of the newest group. */
static bool goes_on(struct review_group *groups, size_t count, sqlite3_stmt *row, int columns)
{
	for (int i = 0; i < columns; i++) {
		if (!count || strcmp(*names_of(&groups[count - 1], i), text_of(row, i)) != 0)
			return false;
	}
	return true;
}

/* Adds a group, without jobs yet. */
static void begin_group(struct review_group **groups, size_t *count, sqlite3_stmt *row, int columns,
			size_t first)
{
	*groups = review_one_more(*groups, count, sizeof **groups);
	for (int i = 0; i < columns; i++)
		*names_of(&(*groups)[*count - 1], i) = journal_column_copy(row, i);
	(*groups)[*count - 1].first = first;
}

/* Keeps the strings of the kind if it is the commonest so far. */
static void end_kind(struct reading *reading)
{
	static const char sides[STRINGS] = {[MAINS_LEFT] = 'l', [MAINS_RIGHT] = 'r'};
	struct review_overview *out = reading->out;
	size_t jobs = out->kind_count ? out->kinds[out->kind_count - 1].count : 0;

	if (jobs > reading->commonest) {
		reading->commonest = jobs;
		free(out->strings);
		out->strings = memory_new((size_t)STRINGS * NUMBERS, sizeof *out->strings);
		out->string_count = 0;
		for (int kind = 0; kind < STRINGS; kind++) {
			for (int number = 1; number < NUMBERS; number++) {
				struct review_string_mean string = reading->strings[kind][number];
				if (string.jobs == 0)
					continue;
				string.is_main = kind != CROSSES;
				string.side = sides[kind];
				string.number = number;
				string.mean_us /= string.jobs;
				out->strings[out->string_count++] = string;
			}
		}
	}
	memset(reading->strings, 0, sizeof reading->strings);
}

static enum journal_status take_job(struct reading *reading, sqlite3_stmt *row)
{
	struct review_overview *out = reading->out;
	const char *state = text_of(row, STATE);
	int64_t created_us = sqlite3_column_int64(row, CREATED);

	if (strcmp(state, "finished") != 0) {
		*(strcmp(state, "open") == 0 ? &out->open : &out->abandoned) += 1;
		return JOURNAL_OK;
	}
	if (!goes_on(out->kinds, out->kind_count, row, STRINGER)) {
		end_kind(reading);
		begin_group(&out->kinds, &out->kind_count, row, STRINGER, out->finished);
	}
	if (!goes_on(out->groups, out->group_count, row, STRINGER + 1))
		begin_group(&out->groups, &out->group_count, row, STRINGER + 1, out->finished);
	out->kinds[out->kind_count - 1].count++;
	out->groups[out->group_count - 1].count++;
	if (out->finished == 0 || created_us < out->first_us)
		out->first_us = created_us;
	if (created_us > out->last_us)
		out->last_us = created_us;
	out->times = review_one_more(out->times, &out->finished, sizeof *out->times);
	struct review_time *job = &out->times[out->finished - 1];
	*job = (struct review_time){
		.job = sqlite3_column_int64(row, ID),
		.created_us = created_us,
		.lost = {.mishaps = sqlite3_column_int(row, MISHAPS),
			 .undone = sqlite3_column_int(row, UNDONE)},
	};
	return read_spans(reading, job);
}

static enum journal_status read_jobs(struct reading *reading, const struct review_filter *filter)
{
	struct filter_fields wanted = review_filter_fields(filter);
	sqlite3_stmt *row = NULL;
	bool more = false;
	enum journal_status status =
		journal_query(reading->journal, spans_sql, NULL, &reading->spans);

	if (status == JOURNAL_OK)
		status = journal_query(reading->journal, jobs_sql, wanted.fields, &row);
	while (status == JOURNAL_OK &&
	       (status = journal_step(reading->journal, row, &more)) == JOURNAL_OK && more)
		status = take_job(reading, row);
	end_kind(reading);
	sqlite3_finalize(row);
	sqlite3_finalize(reading->spans);
	return status;
}

/* ---- what there is to say ---- */

bool review_is_outside(const struct review_group *group, size_t job)
{
	double work_us = group->jobs[job].work_us;

	return group->has_limits && (work_us < group->limits.low || work_us > group->limits.high);
}

/* A quote is the median of recent jobs or, with a trend, its prediction, but neither better than
 * the best nor worse than the worst of the newest jobs. */
static void quote(struct review_group *group)
{
	size_t recent = group->count < REVIEW_RECENT ? group->count : REVIEW_RECENT;
	const struct review_time *newest = group->jobs + group->count - recent;
	double work[REVIEW_RECENT], total[REVIEW_RECENT], best = INFINITY, worst = 0;

	if (recent < REVIEW_QUOTE_MIN)
		return;
	for (size_t i = 0; i < recent; i++) {
		work[i] = newest[i].work_us;
		total[i] = newest[i].work_us + newest[i].pause_us;
		if (recent - i <= REVIEW_BEST_OF) {
			best = fmin(best, work[i]);
			worst = fmax(worst, work[i]);
		}
	}
	struct stats_summary of_work = stats_summarise(work, recent);
	struct stats_summary of_total = stats_summarise(total, recent);
	group->has_quote = true;
	group->usual_us = of_work.median;
	group->quote_us = of_work.median;
	if (group->has_learning && group->learning.trend != STATS_NO_TREND)
		group->quote_us = fmin(worst, stats_law_at(&group->learning, group->learning.better,
							   (double)group->count + 1));
	group->quote_us = fmax(group->quote_us, best);
	group->quote_low_us = fmin(of_work.decile1, group->quote_us);
	group->quote_high_us = fmax(of_work.decile9, group->quote_us);
	group->with_pauses_us = group->quote_us + of_total.median - of_work.median;
}

/* room: for a number a job. */
static void describe(struct review_group *group, const struct review_time *times, double *room)
{
	group->jobs = times + group->first;
	for (size_t i = 0; i < group->count; i++)
		room[i] = group->jobs[i].work_us;
	if (group->stringer) {
		group->has_learning = stats_learning_fit(room, group->count, &group->learning);
		group->has_limits = group->has_learning &&
				    group->learning.trend == STATS_NO_TREND &&
				    stats_limits_of(room, group->count, &group->limits);
		quote(group);
	}
	group->work = stats_summarise(room, group->count); /* sorts, so it comes last */
}

/* The most jobs first, then in the order of reading, by name. */
static int by_count(const void *left, const void *right)
{
	const struct review_group *a = left, *b = right;

	if (a->count != b->count)
		return a->count < b->count ? 1 : -1;
	return (a->first > b->first) - (a->first < b->first);
}

/* Of the field at that offset in every job of the kind, without NaN. */
static struct stats_summary summarise(const struct review_group *kind, size_t offset, double *room)
{
	size_t count = 0;

	for (size_t i = 0; i < kind->count; i++) {
		memcpy(&room[count], (const char *)&kind->jobs[i] + offset, sizeof *room);
		count += !isnan(room[count]);
	}
	return stats_summarise(room, count);
}

static void compute(struct review_overview *out)
{
	double *room = memory_new(out->finished, sizeof *room);
	const struct review_group *kind = out->kinds;

	for (size_t i = 0; i < out->kind_count; i++)
		describe(&out->kinds[i], out->times, room);
	for (size_t i = 0; i < out->group_count; i++)
		describe(&out->groups[i], out->times, room);
	qsort(out->kinds, out->kind_count, sizeof *out->kinds, by_count);
	qsort(out->groups, out->group_count, sizeof *out->groups, by_count);
	for (size_t i = 0; i < REVIEW_PHASES; i++)
		out->phases[i] = summarise(
			kind, offsetof(struct review_time, phase_us) + i * sizeof(double), room);
	out->pause = summarise(kind, offsetof(struct review_time, pause_us), room);
	out->mains_ratio = summarise(kind, offsetof(struct review_time, mains_ratio), room);
	out->crosses_ratio = summarise(kind, offsetof(struct review_time, crosses_ratio), room);
	free(room);
}

enum journal_status review_overview(struct journal *journal, const struct review_filter *filter,
				    struct review_overview *out)
{
	struct reading *reading = memory_new(1, sizeof *reading);

	*out = (struct review_overview){0};
	*reading = (struct reading){.journal = journal, .out = out};
	enum journal_status status = journal_hold(journal);
	if (status == JOURNAL_OK) {
		status = read_jobs(reading, filter);
		journal_let_go(journal);
	}
	free(reading);
	if (status != JOURNAL_OK)
		review_overview_free(out);
	else if (out->finished)
		compute(out);
	return status;
}

static void free_groups(struct review_group *groups, size_t count)
{
	for (size_t i = 0; i < count; i++) {
		for (int column = 0; column <= STRINGER; column++)
			free(*names_of(&groups[i], column));
	}
	free(groups);
}

void review_overview_free(struct review_overview *overview)
{
	free_groups(overview->kinds, overview->kind_count);
	free_groups(overview->groups, overview->group_count);
	free(overview->times);
	free(overview->strings);
	*overview = (struct review_overview){0};
}
