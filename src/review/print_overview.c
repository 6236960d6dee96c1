/* The overview as text: at most 80 columns, no colour. */
#include "review/review.h"

#include "base/base.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { GROUPS_SHOWN = 12, STRINGS_SHOWN = 5, NAME_COLUMNS = 34 };

/* "apprentice, open-16x19, two-piece": what the group shares. */
static void print_name(const struct review_group *group, int columns, bool fill, FILE *out)
{
	const char *stringer = group->stringer, *pattern = group->pattern;
	char *name;

	if (pattern)
		name = memory_format("%s%s%s, %s", stringer ? stringer : "", stringer ? ", " : "",
				     pattern, group->method);
	else
		name = memory_copy(stringer ? stringer : "all jobs");
	words_print(out, name, columns, fill);
	free(name);
}

static void print_summary(const struct stats_summary *work, FILE *out)
{
	char median[WORDS_TIME_MAX], low[WORDS_TIME_MAX], high[WORDS_TIME_MAX], mad[WORDS_TIME_MAX],
		mean[WORDS_TIME_MAX];

	fprintf(out, " %5zu %7s %7s %7s %7s %7s\n", work->count,
		words_time((int64_t)work->median, median),
		words_time((int64_t)work->quartile1, low),
		words_time((int64_t)work->quartile3, high), words_time((int64_t)work->mad, mad),
		words_time((int64_t)work->mean, mean));
}

static void print_more(size_t count, FILE *out)
{
	if (count > GROUPS_SHOWN)
		fprintf(out, "  and %zu more\n", count - GROUPS_SHOWN);
}

static void print_groups(const char *title, const struct review_group *groups, size_t count,
			 FILE *out)
{
	fprintf(out, "\n%-*s %5s %7s %7s %7s %7s %7s\n", NAME_COLUMNS, title, "jobs", "median",
		"1st q.", "3rd q.", "MAD", "mean");
	for (size_t i = 0; i < count && i < GROUPS_SHOWN; i++) {
		print_name(&groups[i], NAME_COLUMNS, true, out);
		print_summary(&groups[i].work, out);
	}
	print_more(count, out);
}

static void print_phases(const struct review_overview *overview, FILE *out)
{
	fprintf(out, "\n%-*s %5s %7s %7s %7s %7s %7s\n", NAME_COLUMNS, "phase", "jobs", "median",
		"1st q.", "3rd q.", "MAD", "mean");
	for (int i = 0; i < REVIEW_PHASES; i++) {
		fprintf(out, "%-*s", NAME_COLUMNS, review_phase_names[i]);
		print_summary(&overview->phases[i], out);
	}
	fprintf(out, "%-*s", NAME_COLUMNS, "paused, not in the above");
	print_summary(&overview->pause, out);
}

static void print_ratio(const char *strings, const struct stats_summary *ratio, FILE *out)
{
	if (ratio->count)
		fprintf(out,
			"%s, second half against first: %+.0f %% (quartiles of %zu jobs: %+.0f, "
			"%+.0f %%)\n",
			strings, 100 * (ratio->median - 1), ratio->count,
			100 * (ratio->quartile1 - 1), 100 * (ratio->quartile3 - 1));
}

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

static const char *side_name(char side)
{
	return side == 'l' ? "left" : side == 'r' ? "right" : "";
}

/* The first few strings by an order; with doubts_only those that there were any about. */
static void print_strings(const struct review_overview *overview, const char *title,
			  int (*order)(const void *, const void *), bool doubts_only, FILE *out)
{
	size_t size = overview->string_count * sizeof *overview->strings;
	struct review_string_mean *strings = memory_new(1, size);
	char time[WORDS_TIME_MAX];

	memcpy(strings, overview->strings, size);
	qsort(strings, overview->string_count, sizeof *strings, order);
	fprintf(out, "\n%-*s %5s %7s %7s %7s\n", NAME_COLUMNS, title, "jobs", "mean", "again",
		"back");
	for (size_t i = 0; i < overview->string_count && i < STRINGS_SHOWN; i++) {
		const struct review_string_mean *string = &strings[i];
		if (doubts_only && string->repeats + string->backs == 0)
			break;
		fprintf(out, "%-5s %2d %-*s %5d %7s %7d %7d\n", string->is_main ? "main" : "cross",
			string->number, NAME_COLUMNS - 9, side_name(string->side), string->jobs,
			words_time((int64_t)string->mean_us, time), string->repeats, string->backs);
	}
	free(strings);
}

static const char *verdict(const struct stats_learning *fit)
{
	if (!fit->shown)
		return "no getting faster that these jobs can show";
	switch (fit->better) {
	case STATS_LEARNING_POWER:
		return "the power law fits better";
	case STATS_LEARNING_EXPONENTIAL:
		return "the exponential fits better";
	case STATS_LEARNING_ALIKE:
		break;
	}
	return "both laws fit alike";
}

static void print_fit(const struct stats_learning *fit, FILE *out)
{
	const struct stats_law *slow = &fit->exponential;
	char first[WORDS_TIME_MAX];

	fprintf(out,
		"  power law: the 1st in %s, each doubling to %.0f %% (%.0f to %.0f %%), R2 "
		"%.2f\n",
		words_time((int64_t)fit->power.first, first), 100 * fit->rate,
		100 * fit->rate_interval.low, 100 * fit->rate_interval.high, fit->power.r_squared);
	fprintf(out,
		"  exponential: each job to %.1f %% of the one before (%.1f to %.1f %%), R2 "
		"%.2f\n",
		100 * exp(slow->exponent), 100 * exp(slow->exponent_interval.low),
		100 * exp(slow->exponent_interval.high), slow->r_squared);
	fprintf(out, "  %s\n", verdict(fit));
}

static void print_learning(const struct review_overview *overview, FILE *out)
{
	fputs("\nlearning: the time of a stringer's n-th job here (intervals of 95 %)\n", out);
	for (size_t i = 0; i < overview->stringer_count && i < GROUPS_SHOWN; i++) {
		const struct review_group *group = &overview->stringers[i];
		print_name(group, NAME_COLUMNS, false, out);
		if (!group->has_learning) {
			fprintf(out, ": %zu jobs, too few for a curve (it takes %d)\n",
				group->count, STATS_LEARNING_MIN);
			continue;
		}
		fprintf(out, ": %zu jobs\n", group->count);
		print_fit(&group->learning, out);
	}
	print_more(overview->stringer_count, out);
}

static void print_outside(const struct review_group *group, FILE *out)
{
	if (group->outside_count == 0) {
		fputs("none outside\n", out);
		return;
	}
	fputs("outside: job", out);
	for (size_t i = 0; i < group->outside_count && i < REVIEW_OUTSIDE_MAX; i++)
		fprintf(out, "%s %lld", i ? "," : "", (long long)group->outside[i]);
	if (group->outside_count > REVIEW_OUTSIDE_MAX)
		fprintf(out, " and %zu more", group->outside_count - REVIEW_OUTSIDE_MAX);
	fputc('\n', out);
}

static void print_charts(const struct review_overview *overview, FILE *out)
{
	char centre[WORDS_TIME_MAX], low[WORDS_TIME_MAX], high[WORDS_TIME_MAX];
	size_t shown = 0;

	for (size_t i = 0; i < overview->pair_count && shown < GROUPS_SHOWN; i++) {
		const struct review_group *group = &overview->pairs[i];
		if (!group->has_chart)
			continue;
		if (shown++ == 0)
			fputs("\nlimits for single jobs: mean and 2.66 mean moving ranges to each "
			      "side\n",
			      out);
		print_name(group, 60, false, out);
		fprintf(out, "\n  %s, %s to %s, ", words_time((int64_t)group->chart.centre, centre),
			words_time((int64_t)fmax(0, group->chart.low), low),
			words_time((int64_t)group->chart.high, high));
		print_outside(group, out);
	}
}

static double minutes(double us)
{
	return us / (60.0 * SECOND_US);
}

void review_print_quote(const struct review_group *pair, FILE *out)
{
	size_t used = pair->count < REVIEW_QUOTE_JOBS ? pair->count : REVIEW_QUOTE_JOBS;
	bool faster = pair->has_learning && pair->learning.shown;
	char *name = memory_format("%s, %s, %s", pair->pattern, pair->method, pair->stringer);

	words_print(out, name, NAME_COLUMNS + 2, false);
	free(name);
	if (pair->has_quote)
		fprintf(out, ": %.0f min (%.0f to %.0f), from %zu jobs%s\n",
			minutes(pair->quote_us), minutes(pair->quote_interval_us.low),
			minutes(pair->quote_interval_us.high), faster ? pair->count : used,
			faster ? ", faster" : "");
	else
		fprintf(out, ": no quote from %zu %s (it takes %d)\n", pair->count,
			pair->count == 1 ? "job" : "jobs", REVIEW_QUOTE_MIN);
}

static void print_quotes(const struct review_overview *overview, FILE *out)
{
	fputs("\nquote for the next one; four in five stay within the brackets\n", out);
	for (size_t i = 0; i < overview->pair_count && i < GROUPS_SHOWN; i++)
		review_print_quote(&overview->pairs[i], out);
	print_more(overview->pair_count, out);
}

static void print_standards(const struct review_overview *overview,
			    const struct review_standard *standard, FILE *out)
{
	char work[WORDS_TIME_MAX], shift[WORDS_TIME_MAX];

	fprintf(out,
		"\nstandard time: mean, rating %.0f %%, allowance %.0f %% of the work / of the "
		"shift\n",
		100 * standard->rating, 100 * standard->allowance);
	for (size_t i = 0; i < overview->pattern_count && i < GROUPS_SHOWN; i++) {
		const struct review_group *group = &overview->patterns[i];
		double mean = group->work.mean;
		double of_shift = stats_standard_time(mean, standard->rating, standard->allowance,
						      STATS_ALLOWANCE_OF_SHIFT);
		double of_work = stats_standard_time(mean, standard->rating, standard->allowance,
						     STATS_ALLOWANCE_OF_WORK);
		print_name(group, NAME_COLUMNS, true, out);
		fprintf(out, " %8s / %s\n", words_time((int64_t)of_work, work),
			isnan(of_shift) ? "-" : words_time((int64_t)of_shift, shift));
	}
	print_more(overview->pattern_count, out);
}

static void print_head(const struct review_overview *overview, FILE *out)
{
	char first[WORDS_DATE_MAX], last[WORDS_DATE_MAX];

	fprintf(out, "%zu finished jobs", overview->finished);
	if (overview->finished)
		fprintf(out, ", begun %s to %s", words_day(overview->first_us, first),
			words_day(overview->last_us, last));
	if (overview->open || overview->abandoned)
		fprintf(out, " (left out: %zu open, %zu abandoned)", overview->open,
			overview->abandoned);
	fputc('\n', out);
}

void review_print_overview(const struct review_overview *overview,
			   const struct review_standard *standard, FILE *out)
{
	print_head(overview, out);
	if (overview->finished == 0)
		return;
	print_groups("work", &overview->all, 1, out);
	print_groups("by stringer", overview->stringers, overview->stringer_count, out);
	print_groups("by pattern", overview->patterns, overview->pattern_count, out);
	print_phases(overview, out);
	fputc('\n', out);
	print_ratio("mains", &overview->mains_ratio, out);
	print_ratio("crosses", &overview->crosses_ratio, out);
	print_strings(overview, "slowest strings", by_mean, false, out);
	if (overview->repeats + overview->backs)
		print_strings(overview, "where the place gets lost", by_doubts, true, out);
	print_learning(overview, out);
	print_charts(overview, out);
	print_quotes(overview, out);
	if (standard)
		print_standards(overview, standard, out);
}
