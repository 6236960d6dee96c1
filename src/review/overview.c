/* Many jobs: read in one pass, with about 200 bytes of memory a job; statistics of them by stringer
 * and kind of job; and the facts and tables that tell of these. */
#include "review/internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const char *const review_phase_names[REVIEW_PHASES] = {"prepare", "mains", "crosses", "finish"};

/* ---- reading one job ---- */

/* Jobs come sorted by kind, stringer and beginning: a kind or a group ends where the next begins.
 */
struct reading {
	struct journal *journal;
	sqlite3_stmt *spans; /* of the job :job */
	struct review_overview *out;
	struct review_string_sum *strings; /* of this kind */
	double work_us[REVIEW_STRINGS];    /* of this job */
};

enum { SINCE, WORKING, SPAN_US, UNTIL, PHASE, STRING, NUMBER, SIDE, MISHAP };

static const char spans_sql[] =
	"SELECT s.since, s.working, s.span_us, s.until, c.phase, c.string, c.number, c.side, "
	"c.mishap FROM span AS s LEFT JOIN call AS c ON c.job = s.job AND c.n = s.call "
	"WHERE s.job = :job";

static const char *text_of(sqlite3_stmt *row, int column)
{
	return (const char *)sqlite3_column_text(row, column);
}

static void add_to_phase(struct review_time *job, const char *name, double work_us)
{
	for (int i = 0; i < REVIEW_PHASES; i++)
		if (strcmp(name, review_phase_names[i]) == 0)
			job->phase_us[i] += work_us;
}

static void add_to_string(struct reading *reading, sqlite3_stmt *span, double work_us)
{
	const char *string = text_of(span, STRING), *side = text_of(span, SIDE);
	const char *until = text_of(span, UNTIL);
	int number = sqlite3_column_int(span, NUMBER);

	if (!string || number < 1 || number >= REVIEW_NUMBERS)
		return;
	int i = review_string(string[0] == 'm', number, side ? side[0] : '\0');
	reading->work_us[i] += work_us;
	reading->strings[i].repeats += strcmp(until, "again") == 0;
	reading->strings[i].backs += strcmp(until, "back") == 0;
}

/* *begun: the run has had its first press. */
static void add_span(struct reading *reading, struct review_time *job, sqlite3_stmt *span,
		     bool *begun)
{
	double span_us = sqlite3_column_double(span, SPAN_US);
	bool working = sqlite3_column_int(span, WORKING);
	const char *phase = text_of(span, PHASE); /* NULL: past the last call */

	*begun = working || (*begun && strcmp(text_of(span, SINCE), "started") != 0);
	if (!working && *begun && phase)
		job->pause_us += span_us;
	if (working) {
		job->work_us += span_us;
		if (sqlite3_column_int(span, MISHAP))
			job->lost.work_us += span_us;
		else if (phase)
			add_to_phase(job, phase, span_us);
	}
	add_to_string(reading, span, working ? span_us : 0);
}

/* Work on the second half of the strings over that on the first; the middle one of an odd number is
 * left out. NaN if that is little. A number has that many times. */
static double ratio_of_halves(const double *work_us, int times)
{
	double of_number[REVIEW_NUMBERS] = {0}, first = 0, second = 0;
	int highest = 0;

	for (int i = times; i < times * REVIEW_NUMBERS; i++) {
		of_number[i / times] += work_us[i];
		if (work_us[i] > 0)
			highest = i / times;
	}
	int half = highest / 2;
	for (int i = 1; i <= half; i++) {
		first += of_number[i];
		second += of_number[highest + 1 - i];
	}
	double least_us = (double)REVIEW_STRING_LEAST_US * times * half;
	return half > 0 && first >= least_us ? second / first : NAN;
}

static enum journal_status read_spans(struct reading *reading, struct review_time *job)
{
	enum journal_status status = JOURNAL_OK;
	bool row = false, begun = false;

	memset(reading->work_us, 0, sizeof reading->work_us);
	sqlite3_reset(reading->spans);
	sqlite3_bind_int64(reading->spans, 1, job->job);
	while ((status = journal_step(reading->journal, reading->spans, &row)) == JOURNAL_OK && row)
		add_span(reading, job, reading->spans, &begun);
	for (int i = 0; i < REVIEW_STRINGS; i++) {
		reading->strings[i].jobs += reading->work_us[i] > 0;
		reading->strings[i].work_us += reading->work_us[i];
	}
	job->mains_ratio = ratio_of_halves(reading->work_us, 2);
	job->crosses_ratio = ratio_of_halves(reading->work_us + REVIEW_CROSSES, 1);
	return status;
}

/* ---- kinds and groups ---- */

enum { SPORT, PATTERN, METHOD, DETAIL, STRINGER, ID, CREATED, STATE, MISHAPS, UNDONE };

static const char jobs_sql[] =
	"SELECT j.sport, j.pattern, j.method, j.detail, j.stringer, j.id, j.created_us, s.state, "
	"(SELECT count(*) FROM mishap WHERE job = j.id), "
	"(SELECT total(" REVIEW_UNDONE ") FROM mishap AS m WHERE m.job = j.id) FROM " REVIEW_WANTED
	" AS wanted CROSS JOIN job AS j ON j.id = wanted.id "
	"CROSS JOIN job_state AS s ON s.job = j.id "
	"ORDER BY j.pattern, j.method, j.detail, j.sport, j.stringer, j.created_us, j.id";

static char **names_of(struct review_group *group, int column)
{
	char **const names[] = {&group->kind.sport, &group->kind.pattern, &group->kind.method,
				&group->kind.detail, &group->stringer};

	return names[column];
}

/* The group of the row's job, which is the newest one unless one of its first `columns` names is
 * another. */
static struct review_group *group_of(struct review_group **groups, size_t *count, sqlite3_stmt *row,
				     int columns, size_t first)
{
	bool same = *count > 0;

	for (int i = 0; same && i < columns; i++)
		same = strcmp(*names_of(&(*groups)[*count - 1], i), text_of(row, i)) == 0;
	if (!same)
		*groups = review_one_more(*groups, count, sizeof **groups);
	struct review_group *group = &(*groups)[*count - 1];
	for (int i = 0; !same && i < columns; i++)
		*names_of(group, i) = journal_column_copy(row, i);
	if (!same)
		group->first = first;
	group->count++;
	return group;
}

static enum journal_status take_job(struct reading *reading, sqlite3_stmt *row)
{
	struct review_overview *out = reading->out;
	const char *state = text_of(row, STATE);

	if (strcmp(state, "finished") != 0) {
		*(strcmp(state, "open") == 0 ? &out->open : &out->abandoned) += 1;
		return JOURNAL_OK;
	}
	struct review_group *kind =
		group_of(&out->kinds, &out->kind_count, row, STRINGER, out->finished);
	group_of(&out->groups, &out->group_count, row, STRINGER + 1, out->finished);
	if (!kind->strings)
		kind->strings = memory_new(REVIEW_STRINGS, sizeof *kind->strings);
	reading->strings = kind->strings;
	out->times = review_one_more(out->times, &out->finished, sizeof *out->times);
	struct review_time *job = &out->times[out->finished - 1];
	*job = (struct review_time){
		.job = sqlite3_column_int64(row, ID),
		.created_us = sqlite3_column_int64(row, CREATED),
		.lost = {.mishaps = sqlite3_column_int(row, MISHAPS),
			 .undone = sqlite3_column_int(row, UNDONE)},
	};
	return read_spans(reading, job);
}

static enum journal_status read_jobs(struct journal *journal, const struct review_filter *filter,
				     struct review_overview *out)
{
	struct reading reading = {.journal = journal, .out = out};
	struct filter_fields wanted = review_filter_fields(filter);
	sqlite3_stmt *row = NULL;
	bool more = false;
	enum journal_status status = journal_query(journal, spans_sql, NULL, &reading.spans);

	if (status == JOURNAL_OK)
		status = journal_query(journal, jobs_sql, wanted.fields, &row);
	while (status == JOURNAL_OK && (status = journal_step(journal, row, &more)) == JOURNAL_OK &&
	       more)
		status = take_job(&reading, row);
	sqlite3_finalize(row);
	sqlite3_finalize(reading.spans);
	return status;
}

/* ---- statistics ---- */

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

static void compute(struct review_overview *out)
{
	double *room = memory_new(out->finished, sizeof *room);

	for (size_t i = 0; i < out->kind_count; i++)
		describe(&out->kinds[i], out->times, room);
	for (size_t i = 0; i < out->group_count; i++)
		describe(&out->groups[i], out->times, room);
	qsort(out->kinds, out->kind_count, sizeof *out->kinds, by_count);
	qsort(out->groups, out->group_count, sizeof *out->groups, by_count);
	free(room);
}

enum journal_status review_overview(struct journal *journal, const struct review_filter *filter,
				    struct review_overview *out)
{
	*out = (struct review_overview){0};
	journal_hold(journal);
	enum journal_status status = read_jobs(journal, filter, out);
	journal_let_go(journal);
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
		free(groups[i].strings);
	}
	free(groups);
}

void review_overview_free(struct review_overview *overview)
{
	free_groups(overview->kinds, overview->kind_count);
	free_groups(overview->groups, overview->group_count);
	free(overview->times);
	*overview = (struct review_overview){0};
}

/* ---- facts ---- */

enum { STRINGS_SHOWN = 5, OUTSIDE_LENGTH = 20 };

void review_add_lost(struct table *facts, const struct review_lost *lost, size_t jobs)
{
	char time[DURATION_TEXT_MAX];
	char *where = jobs > 1 ? memory_format(" in %zu jobs", jobs) : memory_copy("");

	if (lost->mishaps)
		table_fact(facts, "Lost to mistakes", "%s, %d %s%s; strings done again: %d",
			   duration_text(lost->work_us, time), lost->mishaps,
			   lost->mishaps == 1 ? "time" : "times", where, lost->undone);
	free(where);
}

char *review_group_name(const struct review_group *group)
{
	const struct review_kind *kind = &group->kind;

	return memory_format("%s%s%s, %s, %s", group->stringer ? group->stringer : "",
			     group->stringer ? ": " : "", kind->pattern, kind->method,
			     kind->detail);
}

char *review_overview_span(const struct review_overview *overview)
{
	char first[DATE_TEXT_MAX], last[DATE_TEXT_MAX];
	int64_t first_us = INT64_MAX, last_us = 0;
	struct text span = {0};

	for (size_t i = 0; i < overview->finished; i++) {
		int64_t begun_us = overview->times[i].created_us;
		first_us = begun_us < first_us ? begun_us : first_us;
		last_us = begun_us > last_us ? begun_us : last_us;
	}
	if (overview->finished) {
		day_text(first_us, first);
		day_text(last_us, last);
		text_format(&span, "begun %s", first);
		if (strcmp(first, last) != 0)
			text_format(&span, " to %s", last);
	}
	if (overview->open || overview->abandoned)
		text_format(&span, "%sleft out: ", span.length ? "; " : "");
	if (overview->open)
		text_format(&span, "%zu open", overview->open);
	if (overview->abandoned)
		text_format(&span, "%s%zu abandoned", overview->open ? ", " : "",
			    overview->abandoned);
	return text_take(&span);
}

static void add_name(struct table *table, const struct review_group *group)
{
	char *name = review_group_name(group);

	table_cell(table, "%s", name);
	free(name);
}

static size_t shown(size_t count)
{
	return count < REVIEW_GROUPS ? count : REVIEW_GROUPS;
}

static double minutes(double us)
{
	return us / (60.0 * SECOND_US);
}

/* "getting faster: 62 to 35 min over 12 jobs". The caller frees it. */
static char *trend_words(const struct review_group *group)
{
	const struct stats_learning *fit = &group->learning;

	if (!group->has_learning)
		return memory_format("no trend from %zu %s (it takes %d)", group->count,
				     group->count == 1 ? "job" : "jobs", STATS_LEARNING_MIN);
	if (fit->trend == STATS_NO_TREND)
		return memory_copy("no clear change");
	return memory_format("getting %s: %.0f to %.0f min over %zu jobs",
			     fit->trend == STATS_FASTER ? "faster" : "slower",
			     minutes(stats_law_at(fit, fit->better, 1)),
			     minutes(stats_law_at(fit, fit->better, (double)fit->count)),
			     fit->count);
}

void review_group_facts(const struct review_group *group, struct table *out)
{
	char *trend = trend_words(group), usual[DURATION_TEXT_MAX];
	size_t recent = group->count < REVIEW_RECENT ? group->count : REVIEW_RECENT;
	struct review_lost lost = {0};
	size_t jobs = 0;

	facts_begin(out);
	if (group->has_quote) {
		table_fact(out, "Quote, without pauses", "%.0f min", minutes(group->quote_us));
		table_fact(out, "With pauses", "%.0f min", minutes(group->with_pauses_us));
		table_fact(out, "Usual", "%s, median of the last %zu jobs",
			   duration_text(group->usual_us, usual), recent);
		table_fact(out, "Four of five jobs", "%.0f to %.0f min",
			   minutes(group->quote_low_us), minutes(group->quote_high_us));
	} else {
		table_fact(out, "Quote, without pauses", "none from %zu %s (it takes %d)",
			   group->count, group->count == 1 ? "job" : "jobs", REVIEW_QUOTE_MIN);
	}
	for (size_t i = 0; i < group->count; i++) {
		const struct review_lost *its = &group->jobs[i].lost;
		jobs += its->mishaps > 0;
		lost.mishaps += its->mishaps;
		lost.undone += its->undone;
		lost.work_us += its->work_us;
	}
	review_add_lost(out, &lost, jobs);
	table_fact(out, "Trend", "%s", trend);
	free(trend);
}

void review_print_quote(const struct review_group *group, FILE *out)
{
	char *name = review_group_name(group), *trend = trend_words(group);

	words_print(name, out);
	free(name);
	if (group->has_quote)
		fprintf(out, ": %.0f min (%.0f to %.0f), %.0f with pauses; %s\n",
			minutes(group->quote_us), minutes(group->quote_low_us),
			minutes(group->quote_high_us), minutes(group->with_pauses_us), trend);
	else
		fprintf(out, ": no quote from %zu %s (it takes %d)\n", group->count,
			group->count == 1 ? "job" : "jobs", REVIEW_QUOTE_MIN);
	free(trend);
}

/* ---- tables: medians ---- */

/* base: 1 to show ratios as changes, else 0. */
static void add_summary(struct table *table, const struct stats_summary *work, double base)
{
	table_value(table, (double)work->count);
	table_value(table, work->median - base);
	table_value(table, work->quartile1 - base);
	table_value(table, work->quartile3 - base);
}

/* Of the field at that offset in every job of the commonest kind, without NaN. */
static void add_field(struct table *table, const struct review_overview *overview, const char *name,
		      size_t offset, double base)
{
	const struct review_group *kind = &overview->kinds[0];
	double *values = memory_new(kind->count, sizeof *values);
	size_t count = 0;

	for (size_t i = 0; i < kind->count; i++) {
		memcpy(&values[count], (const char *)&kind->jobs[i] + offset, sizeof *values);
		count += !isnan(values[count]);
	}
	struct stats_summary summary = stats_summarise(values, count);
	free(values);
	if (!count)
		return;
	table_cell(table, "%s", name);
	add_summary(table, &summary, base);
}

static void add_groups(struct table *table, const struct review_group *groups, size_t count)
{
	for (size_t i = 0; i < shown(count); i++) {
		add_name(table, &groups[i]);
		add_summary(table, &groups[i].work, 0);
	}
}

static void fill_groups(const struct review_overview *overview, struct table *out)
{
	add_groups(out, overview->groups, overview->group_count);
}

static void fill_kinds(const struct review_overview *overview, struct table *out)
{
	add_groups(out, overview->kinds, overview->kind_count);
}

static void fill_phases(const struct review_overview *overview, struct table *out)
{
	for (size_t i = 0; i < REVIEW_PHASES; i++)
		add_field(out, overview, review_phase_names[i],
			  offsetof(struct review_time, phase_us) + i * sizeof(double), 0);
	add_field(out, overview, "lost to mistakes", offsetof(struct review_time, lost.work_us), 0);
	add_field(out, overview, "paused, not in the above", offsetof(struct review_time, pause_us),
		  0);
}

static void fill_halves(const struct review_overview *overview, struct table *out)
{
	add_field(out, overview, "mains", offsetof(struct review_time, mains_ratio), 1);
	add_field(out, overview, "crosses", offsetof(struct review_time, crosses_ratio), 1);
}

/* ---- tables: strings ---- */

struct ranked {
	const struct review_string_sum *sum;
	double rank; /* the highest first */
};

static int by_rank(const void *left, const void *right)
{
	const struct ranked *a = left, *b = right;
	int order = (a->rank < b->rank) - (a->rank > b->rank);

	return order ? order : (a->sum > b->sum) - (a->sum < b->sum);
}

/* The first few strings of the commonest kind, by time or by doubts. */
static void add_strings(const struct review_overview *overview, bool by_doubts, struct table *out)
{
	const struct review_string_sum *sums = overview->kinds[0].strings;
	struct ranked strings[REVIEW_STRINGS];

	for (int i = 0; i < REVIEW_STRINGS; i++) {
		double doubts = sums[i].repeats + sums[i].backs;
		strings[i].sum = &sums[i];
		strings[i].rank = !sums[i].jobs ? 0
				  : by_doubts   ? doubts
						: sums[i].work_us / sums[i].jobs;
	}
	qsort(strings, REVIEW_STRINGS, sizeof strings[0], by_rank);
	for (int i = 0; i < STRINGS_SHOWN && strings[i].rank > 0; i++) {
		const struct review_string_sum *sum = strings[i].sum;
		int at = (int)(sum - sums), cross = at - REVIEW_CROSSES;
		if (cross > 0)
			table_cell(out, "cross %d", cross);
		else
			table_cell(out, "main %d %s", at / 2, at % 2 ? "right" : "left");
		table_value(out, sum->jobs);
		table_value(out, sum->work_us / sum->jobs);
		table_value(out, sum->repeats);
		table_value(out, sum->backs);
	}
}

static void fill_slowest(const struct review_overview *overview, struct table *out)
{
	add_strings(overview, false, out);
}

static void fill_unsure(const struct review_overview *overview, struct table *out)
{
	add_strings(overview, true, out);
}

/* ---- tables: learning and limits ---- */

/* The share of the time that is left after each doubling of jobs, or each job. */
static void add_law(struct table *table, const struct stats_law *law, double base)
{
	double left = 100 * pow(base, law->exponent);

	if (left < 0.5)
		table_cell(table, "under 1 %%");
	else
		table_cell(table, "%.0f %% (%.0f to %.0f)", left,
			   100 * pow(base, law->exponent_low), 100 * pow(base, law->exponent_high));
	if (isnan(law->r_squared))
		table_value(table, NAN);
	else
		table_cell(table, "%.2f", law->r_squared);
}

static void fill_laws(const struct review_overview *overview, struct table *out)
{
	for (size_t i = 0; i < shown(overview->group_count); i++) {
		const struct review_group *group = &overview->groups[i];
		if (!group->has_learning)
			continue;
		add_name(out, group);
		add_law(out, &group->learning.laws[STATS_POWER], 2);
		add_law(out, &group->learning.laws[STATS_EXPONENTIAL], exp(1));
	}
}

static void fill_limits(const struct review_overview *overview, struct table *out)
{
	for (size_t i = 0; i < shown(overview->group_count); i++) {
		const struct review_group *group = &overview->groups[i];
		struct text outside = {0};
		if (!group->has_limits)
			continue;
		for (size_t job = 0; job < group->count; job++) {
			if (review_is_outside(group, job) && outside.length < OUTSIDE_LENGTH)
				text_format(&outside, "%s%lld", outside.length ? ", " : "",
					    (long long)group->jobs[job].job);
		}
		add_name(out, group);
		table_value(out, group->limits.centre);
		table_value(out, fmax(group->limits.low, 0));
		table_value(out, group->limits.high);
		table_cell(out, "%s", outside.length ? text_string(&outside) : "none");
		text_free(&outside);
	}
}

/* ---- all of them ---- */

/* What a row is about, and the kind of its values. */
#define SUMMARY(row, words, values)                                                                \
	{                                                                                          \
		{row, words}, {"jobs", COLUMN_COUNT}, {"median", values},                          \
			{"quarter under", values}, {"quarter over", values},                       \
	}

#define STRING_COLUMNS                                                                             \
	{                                                                                          \
		{"string", COLUMN_TEXT}, {"jobs", COLUMN_COUNT}, {"mean", COLUMN_TIME},            \
			{"again", COLUMN_COUNT}, {"back", COLUMN_COUNT},                           \
	}

static const struct {
	const char *caption;
	bool commonest; /* about the commonest kind of job, which the caption names */
	struct table_column columns[TABLE_COLUMNS_MAX];
	void (*fill)(const struct review_overview *overview, struct table *out);
} statistics[REVIEW_STATISTICS] = {
	{"By stringer and kind of job", false, SUMMARY("kind of job", COLUMN_NAME, COLUMN_TIME),
	 fill_groups},
	{"By kind of job", false, SUMMARY("kind of job", COLUMN_NAME, COLUMN_TIME), fill_kinds},
	{"Phases", true, SUMMARY("phase", COLUMN_TEXT, COLUMN_TIME), fill_phases},
	{"Second half against first", true, SUMMARY("strings", COLUMN_TEXT, COLUMN_CHANGE),
	 fill_halves},
	{"Slowest strings", true, STRING_COLUMNS, fill_slowest},
	{"Asked again or stepped back from most", true, STRING_COLUMNS, fill_unsure},
	{"Laws of learning, power and exponential, with intervals of 95 %",
	 false,
	 {{"kind of job", COLUMN_NAME},
	  {"each doubling to", COLUMN_FIGURES},
	  {"R\xC2\xB2", COLUMN_FIGURES},
	  {"each job to", COLUMN_FIGURES},
	  {"R\xC2\xB2", COLUMN_FIGURES}},
	 fill_laws},
	{"Limits for single jobs: mean and 2.66 mean moving ranges to each side",
	 false,
	 {{"kind of job", COLUMN_NAME},
	  {"mean", COLUMN_TIME},
	  {"from", COLUMN_TIME},
	  {"to", COLUMN_TIME},
	  {"outside", COLUMN_TEXT}},
	 fill_limits},
};

void review_statistic(const struct review_overview *overview, int which, struct table *out)
{
	char *kind = review_group_name(&overview->kinds[0]);
	bool named = statistics[which].commonest;
	char *caption = memory_format("%s%s%s", statistics[which].caption, named ? ", " : "",
				      named ? kind : "");

	table_begin(out, caption, statistics[which].columns);
	statistics[which].fill(overview, out);
	free(caption);
	free(kind);
}

void review_table_standards(const struct review_overview *overview,
			    const struct review_standard *standard, struct table *out)
{
	static const struct table_column columns[] = {{"kind of job", COLUMN_NAME},
						      {"mean", COLUMN_TIME},
						      {"allowance of work", COLUMN_TIME},
						      {"of shift", COLUMN_TIME},
						      {0}};
	char *caption = memory_format("Standard time: rating %.0f %%, allowance %.0f %%",
				      100 * standard->rating, 100 * standard->allowance);

	table_begin(out, caption, columns);
	free(caption);
	for (size_t i = 0; i < shown(overview->group_count); i++) {
		double mean = overview->groups[i].work.mean;
		add_name(out, &overview->groups[i]);
		table_value(out, mean);
		for (int of = STATS_ALLOWANCE_OF_WORK; of <= STATS_ALLOWANCE_OF_SHIFT; of++)
			table_value(out, stats_standard_time(mean, standard->rating,
							     standard->allowance, of));
	}
}

/* ---- printing ---- */

static void print_group(const struct review_group *group, FILE *out)
{
	char *name = review_group_name(group);
	struct table facts;

	fputc('\n', out);
	words_print(name, out);
	fputc('\n', out);
	free(name);
	review_group_facts(group, &facts);
	facts_print(&facts, out);
	table_free(&facts);
}

void review_print_overview(const struct review_overview *overview,
			   const struct review_standard *standard, FILE *out)
{
	char *span = review_overview_span(overview);
	struct table table;

	fprintf(out, "%zu finished %s%s%s\n", overview->finished,
		overview->finished == 1 ? "job" : "jobs", *span ? ", " : "", span);
	free(span);
	for (size_t i = 0; i < shown(overview->group_count); i++)
		print_group(&overview->groups[i], out);
	if (overview->group_count > REVIEW_GROUPS)
		fprintf(out, "\nand %zu more: ask for them by --stringer or --pattern\n",
			overview->group_count - REVIEW_GROUPS);
	if (!overview->finished)
		return;
	if (standard) {
		review_table_standards(overview, standard, &table);
		review_print_table(&table, out);
		table_free(&table);
	}
	fputs("\nStatistics of work, each kind of job apart\n", out);
	for (int i = 0; i < REVIEW_STATISTICS; i++) {
		review_statistic(overview, i, &table);
		review_print_table(&table, out);
		table_free(&table);
	}
}
