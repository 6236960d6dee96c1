/* Facts and tables about many jobs. */
#include "review/internal.h"

#include "base/base.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { STRINGS_SHOWN = 5, OUTSIDE_LENGTH = 20 };

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
	struct text span = {0};

	if (overview->finished) {
		day_text(overview->first_us, first);
		day_text(overview->last_us, last);
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

/* ---- medians ---- */

/* base: 1 to show ratios as changes, else 0. */
static void add_summary(struct table *table, const struct stats_summary *work, double base)
{
	table_value(table, (double)work->count);
	table_value(table, work->median - base);
	table_value(table, work->quartile1 - base);
	table_value(table, work->quartile3 - base);
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
	for (int i = 0; i < REVIEW_PHASES; i++) {
		table_cell(out, "%s", review_phase_names[i]);
		add_summary(out, &overview->phases[i], 0);
	}
	table_cell(out, "paused, not in the above");
	add_summary(out, &overview->pause, 0);
}

static void add_ratio(struct table *table, const char *strings, const struct stats_summary *ratio)
{
	if (!ratio->count)
		return;
	table_cell(table, "%s", strings);
	add_summary(table, ratio, 1);
}

static void fill_halves(const struct review_overview *overview, struct table *out)
{
	add_ratio(out, "mains", &overview->mains_ratio);
	add_ratio(out, "crosses", &overview->crosses_ratio);
}

/* ---- strings ---- */

/* Mains before crosses, by number, left before right. */
static int by_place(const struct review_string_mean *a, const struct review_string_mean *b)
{
	if (a->is_main != b->is_main)
		return a->is_main ? -1 : 1;
	return a->number != b->number ? a->number - b->number : a->side - b->side;
}

static int by_mean(const void *left, const void *right)
{
	const struct review_string_mean *a = left, *b = right;
	int order = (a->mean_us < b->mean_us) - (a->mean_us > b->mean_us);

	return order ? order : by_place(a, b);
}

static int by_doubts(const void *left, const void *right)
{
	const struct review_string_mean *a = left, *b = right;
	int one = a->repeats + a->backs, other = b->repeats + b->backs;

	return one != other ? other - one : by_place(a, b);
}

/* The first few strings in that order. */
static void add_strings(const struct review_overview *overview,
			int (*order)(const void *, const void *), struct table *out)
{
	size_t size = overview->string_count * sizeof *overview->strings;
	struct review_string_mean *strings = memory_new(1, size + 1);

	memcpy(strings, overview->strings, size);
	qsort(strings, overview->string_count, sizeof *strings, order);
	for (size_t i = 0; i < overview->string_count && i < STRINGS_SHOWN; i++) {
		const struct review_string_mean *string = &strings[i];
		if (order == by_doubts && string->repeats + string->backs == 0)
			break;
		table_cell(out, "%s %d%s", string->is_main ? "main" : "cross", string->number,
			   string->side == 'l'   ? " left"
			   : string->side == 'r' ? " right"
						 : "");
		table_value(out, string->jobs);
		table_value(out, string->mean_us);
		table_value(out, string->repeats);
		table_value(out, string->backs);
	}
	free(strings);
}

static void fill_slowest(const struct review_overview *overview, struct table *out)
{
	add_strings(overview, by_mean, out);
}

static void fill_unsure(const struct review_overview *overview, struct table *out)
{
	add_strings(overview, by_doubts, out);
}

/* ---- learning and limits ---- */

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

enum { COLUMNS = 5 };

/* What a row is about, and the kind of its values. */
#define SUMMARY(row, words, values)                                                                \
	{                                                                                          \
		{row, words}, {"jobs", COLUMN_COUNT}, {"median", values}, {"half from", values},   \
			{"half to", values},                                                       \
	}

#define STRING_COLUMNS                                                                             \
	{                                                                                          \
		{"string", COLUMN_TEXT}, {"jobs", COLUMN_COUNT}, {"mean", COLUMN_TIME},            \
			{"again", COLUMN_COUNT}, {"back", COLUMN_COUNT},                           \
	}

static const struct {
	const char *caption;
	bool commonest; /* about the commonest kind of job, which the caption names */
	struct table_column columns[COLUMNS];
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

	table_begin(out, caption, statistics[which].columns, COLUMNS);
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
						      {"of shift", COLUMN_TIME}};
	char *caption = memory_format("Standard time: rating %.0f %%, allowance %.0f %%",
				      100 * standard->rating, 100 * standard->allowance);

	table_begin(out, caption, columns, 4);
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
