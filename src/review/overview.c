/* Many jobs: overview.sql gives their times and most of the statistics; trends, limits and quotes
 * are computed here; and the facts and tables that tell of these. */
#include "review/internal.h"

#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
#include <math.h>
#include <stdlib.h>

/* ---- statistics ---- */

bool review_is_outside(const struct review_group *group, size_t job)
{
	double work_us = group->jobs[job].work_us;

	return group->has_limits && (work_us < group->limits.low || work_us > group->limits.high);
}

static double quantile(double *values, size_t count, double share)
{
	gsl_sort(values, 1, count);
	return gsl_stats_quantile_from_sorted_data(values, 1, count, share);
}

/* The SQL aggregate quantile(VALUE, SHARE). */
struct sample {
	double *values;
	size_t count;
	double share;
};

static void quantile_step(sqlite3_context *context, int count, sqlite3_value **values)
{
	struct sample *sample = sqlite3_aggregate_context(context, sizeof *sample);

	(void)count;
	if (!sample)
		return;
	sample->values = review_one_more(sample->values, &sample->count, sizeof *sample->values);
	sample->values[sample->count - 1] = sqlite3_value_double(values[0]);
	sample->share = sqlite3_value_double(values[1]);
}

static void quantile_end(sqlite3_context *context)
{
	struct sample *sample = sqlite3_aggregate_context(context, 0);

	if (!sample)
		return;
	sqlite3_result_double(context, quantile(sample->values, sample->count, sample->share));
	free(sample->values);
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
	group->has_quote = true;
	group->usual_us = quantile(work, recent, 0.5);
	group->quote_us = group->usual_us;
	if (group->has_learning && group->learning.trend != STATS_NO_TREND)
		group->quote_us = fmin(worst, stats_law_at(&group->learning, group->learning.better,
							   (double)group->count + 1));
	group->quote_us = fmax(group->quote_us, best);
	group->quote_low_us = fmin(quantile(work, recent, 0.1), group->quote_us);
	group->quote_high_us = fmax(quantile(work, recent, 0.9), group->quote_us);
	group->with_pauses_us = group->quote_us + quantile(total, recent, 0.5) - group->usual_us;
}

static void describe(struct review_group *group)
{
	double *work = memory_new(group->count, sizeof *work);

	for (size_t i = 0; i < group->count; i++)
		work[i] = group->jobs[i].work_us;
	group->mean_us = gsl_stats_mean(work, 1, group->count);
	group->has_learning = stats_learning_fit(work, group->count, &group->learning);
	group->has_limits = group->has_learning && group->learning.trend == STATS_NO_TREND &&
			    stats_limits_of(work, group->count, &group->limits);
	quote(group);
	free(work);
}

/* ---- facts ---- */

/* A row for the work that mishaps cost, in so many jobs; none if there was no mishap. */
static void add_lost(struct table *facts, const struct review_lost *lost, size_t jobs)
{
	char time[DURATION_TEXT_MAX];
	char *where = jobs > 1 ? memory_format(" in %zu jobs", jobs) : memory_copy("");

	if (lost->mishaps)
		table_fact(facts, "Lost to mistakes", "%s, %d %s%s; strings done again: %d",
			   duration_text(lost->work_us, time), lost->mishaps,
			   lost->mishaps == 1 ? "time" : "times", where, lost->undone);
	free(where);
}

static double minutes(double us)
{
	return us / (60.0 * SECOND_US);
}

/* "getting faster: 62 to 35 min over 12 jobs". The caller frees it. */
static char *trend_words(const struct review_group *group)
{
	const struct stats_learning *fit = &group->learning;

	if (!group->has_learning && group->count >= STATS_LEARNING_MIN)
		return memory_copy("no trend: there is a job without work");
	if (!group->has_learning)
		return memory_format("no trend from %zu %s (it takes %d)", group->count,
				     group->count == 1 ? "job" : "jobs", STATS_LEARNING_MIN);
	if (fit->trend == STATS_NO_TREND)
		return memory_copy("no clear change");
	return memory_format("getting %s: %.0f to %.0f min over %zu jobs",
			     fit->trend == STATS_FASTER ? "faster" : "slower",
			     minutes(stats_law_at(fit, fit->better, 1)),
			     minutes(stats_law_at(fit, fit->better, (double)group->count)),
			     group->count);
}

static void make_facts(struct review_group *group)
{
	struct table *out = &group->facts;
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
	add_lost(out, &lost, jobs);
	table_fact(out, "Trend", "%s", trend);
	free(trend);
}

void review_print_quote(const struct review_group *group, FILE *out)
{
	char *trend = trend_words(group);

	words_print(group->name, out);
	if (group->has_quote)
		fprintf(out, ": %.0f min (%.0f to %.0f), %.0f with pauses; %s\n",
			minutes(group->quote_us), minutes(group->quote_low_us),
			minutes(group->quote_high_us), minutes(group->with_pauses_us), trend);
	else
		fprintf(out, ": no quote from %zu %s (it takes %d)\n", group->count,
			group->count == 1 ? "job" : "jobs", REVIEW_QUOTE_MIN);
	free(trend);
}

/* ---- tables ---- */

enum { OUTSIDE_LENGTH = 20 };

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

static void add_limits(const struct review_group *group, struct table *out)
{
	struct text outside = {0};

	for (size_t job = 0; job < group->count; job++) {
		if (review_is_outside(group, job) && outside.length < OUTSIDE_LENGTH)
			text_format(&outside, "%s%lld", outside.length ? ", " : "",
				    (long long)group->jobs[job].job);
	}
	table_cell(out, "%s", group->name);
	table_value(out, group->limits.centre);
	table_value(out, fmax(group->limits.low, 0));
	table_value(out, group->limits.high);
	table_cell(out, "%s", outside.length ? text_string(&outside) : "none");
	text_free(&outside);
}

static void begin_standards(const struct review_standard *standard, struct table *out)
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
}

static void add_standard(const struct review_group *group, const struct review_standard *standard,
			 struct table *out)
{
	double normal_us = group->mean_us * standard->rating;

	table_cell(out, "%s", group->name);
	table_value(out, group->mean_us);
	table_value(out, normal_us * (1 + standard->allowance));
	table_value(out, normal_us / (1 - standard->allowance));
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

/* The parts of overview.sql, and two that are computed here. */
enum { JOBS, WORDS, STATISTICS, LAWS = REVIEW_STATISTICS - 2, LIMITS };

static const struct {
	const char *caption;
	bool commonest; /* about the commonest kind of job, which the caption names */
	struct table_column columns[TABLE_COLUMNS_MAX];
} statistics[REVIEW_STATISTICS] = {
	{"By stringer and kind of job", false, SUMMARY("kind of job", COLUMN_NAME, COLUMN_TIME)},
	{"By kind of job", false, SUMMARY("kind of job", COLUMN_NAME, COLUMN_TIME)},
	{"Phases", true, SUMMARY("phase", COLUMN_TEXT, COLUMN_TIME)},
	{"Second half against first", true, SUMMARY("strings", COLUMN_TEXT, COLUMN_CHANGE)},
	{"Slowest strings", true, STRING_COLUMNS},
	{"Asked again or stepped back from most", true, STRING_COLUMNS},
	{"Laws of learning, power and exponential, with intervals of 95 %",
	 false,
	 {{"kind of job", COLUMN_NAME},
	  {"each doubling to", COLUMN_FIGURES},
	  {"R\xC2\xB2", COLUMN_FIGURES},
	  {"each job to", COLUMN_FIGURES},
	  {"R\xC2\xB2", COLUMN_FIGURES}}},
	{"Limits for single jobs: mean and 2.66 mean moving ranges to each side",
	 false,
	 {{"kind of job", COLUMN_NAME},
	  {"mean", COLUMN_TIME},
	  {"from", COLUMN_TIME},
	  {"to", COLUMN_TIME},
	  {"outside", COLUMN_TEXT}}},
};

static void add_job(struct review_overview *out, sqlite3_stmt *row)
{
	if ((size_t)sqlite3_column_int64(row, 1) > out->group_count) {
		out->groups = review_one_more(out->groups, &out->group_count, sizeof *out->groups);
		out->groups[out->group_count - 1].name =
			memory_copy((const char *)sqlite3_column_text(row, 2));
	}
	out->groups[out->group_count - 1].count++;
	out->times = review_one_more(out->times, &out->finished, sizeof *out->times);
	out->times[out->finished - 1] = (struct review_time){
		.job = sqlite3_column_int64(row, 3),
		.created_us = sqlite3_column_int64(row, 4),
		.work_us = sqlite3_column_double(row, 5),
		.pause_us = sqlite3_column_double(row, 6),
		.lost = {.work_us = sqlite3_column_double(row, 7),
			 .mishaps = sqlite3_column_int(row, 8),
			 .undone = sqlite3_column_int(row, 9)},
	};
}

static void begin_tables(struct review_overview *out, sqlite3_stmt *row)
{
	out->span = memory_copy((const char *)sqlite3_column_text(row, 2));
	for (int i = 0; i < REVIEW_STATISTICS; i++) {
		const char *kind = (const char *)sqlite3_column_text(row, 3);
		bool named = kind && statistics[i].commonest;
		char *caption = memory_format("%s%s%s", statistics[i].caption, named ? ", " : "",
					      named ? kind : "");
		table_begin(&out->statistics[i], caption, statistics[i].columns);
		free(caption);
	}
}

static void take_row(void *context, sqlite3_stmt *row)
{
	struct review_overview *out = context;
	int part = sqlite3_column_int(row, 0);

	if (part == JOBS)
		add_job(out, row);
	else if (part == WORDS)
		begin_tables(out, row);
	else
		table_add_row(&out->statistics[part - STATISTICS], row, 2);
}

static void finish_group(struct review_group *group, const struct review_standard *standard,
			 struct review_overview *out)
{
	describe(group);
	make_facts(group);
	if (group >= out->groups + REVIEW_GROUPS)
		return;
	if (standard)
		add_standard(group, standard, &out->standards);
	if (group->has_learning) {
		struct table *laws = &out->statistics[LAWS];
		table_cell(laws, "%s", group->name);
		add_law(laws, &group->learning.laws[STATS_POWER], 2);
		add_law(laws, &group->learning.laws[STATS_EXPONENTIAL], exp(1));
	}
	if (group->has_limits)
		add_limits(group, &out->statistics[LIMITS]);
}

enum journal_status review_overview(struct journal *journal, const struct review_filter *filter,
				    const struct review_standard *standard,
				    struct review_overview *out)
{
	struct filter_fields wanted = review_filter_fields(filter);
	char *sql = memory_format(
		"DROP TABLE IF EXISTS temp.wanted; CREATE TEMP TABLE wanted AS SELECT id FROM " REVIEW_WANTED
		";"
		"CREATE TEMP VIEW IF NOT EXISTS undone AS SELECT m.job, " REVIEW_UNDONE
		" AS strings FROM mishap AS m; CREATE TEMP VIEW IF NOT EXISTS "
		"bound(groups, least_us) AS VALUES (%d, %d); %s",
		REVIEW_GROUPS, REVIEW_STRING_LEAST_US, overview_sql);

	*out = (struct review_overview){0};
	sqlite3_create_function(journal_database(journal), "quantile", 2,
				SQLITE_UTF8 | SQLITE_DIRECTONLY, NULL, NULL, quantile_step,
				quantile_end);
	journal_hold(journal);
	enum journal_status status = journal_each(journal, sql, wanted.fields, take_row, out);
	journal_let_go(journal);
	free(sql);
	if (status != JOURNAL_OK)
		review_overview_free(out);
	else if (standard)
		begin_standards(standard, &out->standards);
	const struct review_time *jobs = out->times;
	for (size_t i = 0; i < out->group_count; i++) {
		out->groups[i].jobs = jobs;
		jobs += out->groups[i].count;
		finish_group(&out->groups[i], standard, out);
	}
	return status;
}

void review_overview_free(struct review_overview *overview)
{
	for (size_t i = 0; i < overview->group_count; i++) {
		free(overview->groups[i].name);
		table_free(&overview->groups[i].facts);
	}
	for (int i = 0; i < REVIEW_STATISTICS; i++)
		table_free(&overview->statistics[i]);
	table_free(&overview->standards);
	free(overview->groups);
	free(overview->times);
	free(overview->span);
	*overview = (struct review_overview){0};
}

/* ---- printing ---- */

void review_print_overview(const struct review_overview *overview, FILE *out)
{
	fprintf(out, "%zu finished %s%s%s\n", overview->finished,
		overview->finished == 1 ? "job" : "jobs", *overview->span ? ", " : "",
		overview->span);
	for (size_t i = 0; i < overview->group_count && i < REVIEW_GROUPS; i++) {
		fputc('\n', out);
		words_print(overview->groups[i].name, out);
		fputc('\n', out);
		facts_print(&overview->groups[i].facts, out);
	}
	if (overview->group_count > REVIEW_GROUPS)
		fprintf(out, "\nand %zu more: ask for them by --stringer or --pattern\n",
			overview->group_count - REVIEW_GROUPS);
	if (!overview->finished)
		return;
	review_print_table(&overview->standards, out);
	fputs("\nStatistics of work, each kind of job apart\n", out);
	for (int i = 0; i < REVIEW_STATISTICS; i++)
		review_print_table(&overview->statistics[i], out);
}
