/* What is said about many jobs. */
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

	facts_begin(out);
	table_cell(out, "Quote, without pauses");
	if (group->has_quote) {
		table_cell(out, "%.0f min", minutes(group->quote_us));
		table_cell(out, "With pauses");
		table_cell(out, "%.0f min", minutes(group->with_pauses_us));
		table_cell(out, "Usual");
		table_cell(out, "%s, median of the last %zu jobs",
			   duration_text(group->usual_us, usual), recent);
		table_cell(out, "Four of five jobs");
		table_cell(out, "%.0f to %.0f min", minutes(group->quote_low_us),
			   minutes(group->quote_high_us));
	} else {
		table_cell(out, "none from %zu %s (it takes %d)", group->count,
			   group->count == 1 ? "job" : "jobs", REVIEW_QUOTE_MIN);
	}
	struct review_lost lost = {0};
	size_t jobs = 0;
	for (size_t i = 0; i < group->count; i++) {
		const struct review_lost *its = &group->jobs[i].lost;
		jobs += its->mishaps > 0;
		lost.mishaps += its->mishaps;
		lost.undone += its->undone;
		lost.work_us += its->work_us;
	}
	review_add_lost(out, &lost, jobs);
	table_cell(out, "Trend");
	table_cell(out, "%s", trend);
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

/* Begins a table about the commonest kind of job. */
static void begin_commonest(struct table *table, const struct review_overview *overview,
			    const char *what, const struct table_column *columns, size_t count)
{
	char *kind = review_group_name(&overview->kinds[0]);
	char *caption = memory_format("%s, %s", what, kind);

	table_begin(table, caption, columns, count);
	free(caption);
	free(kind);
}

/* ---- medians ---- */

enum { SUMMARY_COLUMNS = 5 };

/* Columns for the kinds of values, and what a row is about. */
#define SUMMARY(row, words, values)                                                                \
	{                                                                                          \
		{row, words, false}, {"jobs", COLUMN_COUNT, false}, {"median", values, false},     \
			{"half from", values, false}, {"half to", values, false},                  \
	}

/* base: 1 for a share of which the change is shown. */
static void add_summary(struct table *table, const struct stats_summary *work, double base)
{
	table_value(table, (double)work->count);
	table_value(table, work->median - base);
	table_value(table, work->quartile1 - base);
	table_value(table, work->quartile3 - base);
}

static void summary_table(const struct review_group *groups, size_t count, const char *caption,
			  struct table *out)
{
	static const struct table_column columns[] =
		SUMMARY("kind of job", COLUMN_NAME, COLUMN_TIME);

	table_begin(out, caption, columns, SUMMARY_COLUMNS);
	for (size_t i = 0; i < shown(count); i++) {
		add_name(out, &groups[i]);
		add_summary(out, &groups[i].work, 0);
	}
}

static void groups_table(const struct review_overview *overview, struct table *out)
{
	summary_table(overview->groups, overview->group_count, "By stringer and kind of job", out);
}

static void kinds_table(const struct review_overview *overview, struct table *out)
{
	summary_table(overview->kinds, overview->kind_count, "By kind of job", out);
}

static void phase_medians_table(const struct review_overview *overview, struct table *out)
{
	static const struct table_column columns[] = SUMMARY("phase", COLUMN_TEXT, COLUMN_TIME);

	begin_commonest(out, overview, "Phases", columns, SUMMARY_COLUMNS);
	for (int i = 0; i < REVIEW_PHASES; i++) {
		table_cell(out, "%s", review_phase_names[i]);
		add_summary(out, &overview->phases[i], 0);
	}
	table_cell(out, "paused, not in the above");
	add_summary(out, &overview->pause, 0);
}

static void halves_medians_table(const struct review_overview *overview, struct table *out)
{
	static const struct table_column columns[] = SUMMARY("strings", COLUMN_TEXT, COLUMN_CHANGE);
	const struct {
		const char *strings;
		const struct stats_summary *ratio;
	} rows[] = {{"mains", &overview->mains_ratio}, {"crosses", &overview->crosses_ratio}};

	begin_commonest(out, overview, "Second half against first", columns, SUMMARY_COLUMNS);
	for (size_t i = 0; i < 2; i++) {
		if (!rows[i].ratio->count)
			continue;
		table_cell(out, "%s", rows[i].strings);
		add_summary(out, rows[i].ratio, 1);
	}
}

/* ---- strings ---- */

/* Mains before crosses, from the centre outward and from the head on, left before right. */
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

/* The first few strings by an order. */
static void string_table(const struct review_overview *overview, const char *caption,
			 int (*order)(const void *, const void *), struct table *out)
{
	static const struct table_column columns[] = {{"string", COLUMN_TEXT, false},
						      {"jobs", COLUMN_COUNT, false},
						      {"mean", COLUMN_TIME, false},
						      {"again", COLUMN_COUNT, false},
						      {"back", COLUMN_COUNT, false}};
	size_t size = overview->string_count * sizeof *overview->strings;
	struct review_string_mean *strings = memory_new(1, size + 1);

	memcpy(strings, overview->strings, size);
	qsort(strings, overview->string_count, sizeof *strings, order);
	begin_commonest(out, overview, caption, columns, 5);
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

static void slowest_strings_table(const struct review_overview *overview, struct table *out)
{
	string_table(overview, "Slowest strings", by_mean, out);
}

static void unsure_strings_table(const struct review_overview *overview, struct table *out)
{
	string_table(overview, "Asked again or stepped back from most", by_doubts, out);
}

/* ---- learning and limits ---- */

/* What remains of the time after one more doubling, or one more job. */
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

static void laws_table(const struct review_overview *overview, struct table *out)
{
	static const struct table_column columns[] = {{"kind of job", COLUMN_NAME, false},
						      {"each doubling to", COLUMN_FIGURES, false},
						      {"R\xC2\xB2", COLUMN_FIGURES, false},
						      {"each job to", COLUMN_FIGURES, false},
						      {"R\xC2\xB2", COLUMN_FIGURES, false}};

	table_begin(out, "Laws of learning, power and exponential, with intervals of 95 %", columns,
		    5);
	for (size_t i = 0; i < shown(overview->group_count); i++) {
		const struct review_group *group = &overview->groups[i];
		if (!group->has_learning)
			continue;
		add_name(out, group);
		add_law(out, &group->learning.laws[STATS_POWER], 2);
		add_law(out, &group->learning.laws[STATS_EXPONENTIAL], exp(1));
	}
}

static void limits_table(const struct review_overview *overview, struct table *out)
{
	static const struct table_column columns[] = {{"kind of job", COLUMN_NAME, false},
						      {"mean", COLUMN_TIME, false},
						      {"from", COLUMN_TIME, false},
						      {"to", COLUMN_TIME, false},
						      {"outside", COLUMN_TEXT, false}};

	table_begin(out, "Limits for single jobs: mean and 2.66 mean moving ranges to each side",
		    columns, 5);
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

review_table_maker *const review_statistics[REVIEW_STATISTICS] = {
	groups_table,          kinds_table,          phase_medians_table, halves_medians_table,
	slowest_strings_table, unsure_strings_table, laws_table,          limits_table,
};

void review_table_standards(const struct review_overview *overview,
			    const struct review_standard *standard, struct table *out)
{
	static const struct table_column columns[] = {{"kind of job", COLUMN_NAME, false},
						      {"mean", COLUMN_TIME, false},
						      {"allowance of work", COLUMN_TIME, false},
						      {"of shift", COLUMN_TIME, false}};
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
