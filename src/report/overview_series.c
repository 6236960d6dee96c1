/* The sections in which jobs stand one after the other: limits and learning. */
#include "report/internal.h"

#include "base/base.h"
#include "review/review.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The newest jobs of a group. */
struct newest {
	size_t first; /* the number of the first within the group, from 1 */
	size_t count;
	int64_t jobs[OVERVIEW_JOBS];
	int64_t created_us[OVERVIEW_JOBS];
	double times_us[OVERVIEW_JOBS];
};

static bool same(const char *wanted, const char *name)
{
	return !wanted || strcmp(wanted, name) == 0;
}

static bool belongs(const struct overview_job *job, const struct review_group *group)
{
	return same(group->stringer, job->stringer) && same(group->pattern, job->pattern) &&
	       same(group->method, job->method);
}

static void find_newest(const struct overview_page *page, const struct review_group *group,
			struct newest *out)
{
	size_t count = 0, seen = 0;

	for (size_t i = 0; i < page->job_count; i++)
		count += belongs(&page->jobs[i], group);
	out->count = count < OVERVIEW_JOBS ? count : OVERVIEW_JOBS;
	out->first = count - out->count + 1;
	for (size_t i = 0; i < page->job_count; i++) {
		const struct overview_job *job = &page->jobs[i];
		if (!belongs(job, group) || ++seen < out->first)
			continue;
		out->jobs[seen - out->first] = job->job;
		out->created_us[seen - out->first] = job->created_us;
		out->times_us[seen - out->first] = job->work_us;
	}
}

static void add_name(struct text *out, const struct review_group *group)
{
	char *name = overview_group_name(group);

	text_add(out, "<h3>");
	html_name(out, name);
	text_add(out, "</h3>\n");
	free(name);
}

static void add_cut(struct text *out, const struct newest *newest)
{
	if (newest->first > 1)
		html_format(out, "p", "The newest %zu of %zu jobs are shown.", newest->count,
			    newest->first + newest->count - 1);
}

/* ---- limits ---- */

static void add_limits_table(struct text *out, const struct stats_chart *limits)
{
	static const struct html_column columns[] = {
		{"Mean", true}, {"From", true}, {"To", true}, {"Mean moving range", true}};
	struct html_table table;

	html_table_open(&table, out, "Limits for single jobs", columns, 4);
	html_row(&table);
	html_cell_time(&table, (int64_t)limits->centre, -1);
	html_cell_time(&table, (int64_t)fmax(limits->low, 0), -1);
	html_cell_time(&table, (int64_t)limits->high, -1);
	html_cell_time(&table, (int64_t)limits->mean_range, -1);
	html_table_close(&table);
}

static void add_chart_table(struct text *out, const struct series *series,
			    const struct newest *newest)
{
	static const struct html_column columns[] = {{"Job", true},
						     {"Number", true},
						     {"Begun", false},
						     {"Work", true},
						     {"Limits", false}};
	struct html_table table;
	char day[WORDS_DATE_MAX];

	html_fold_open(out, "These jobs as a table");
	html_table_open(&table, out, "Work on each job", columns, 5);
	for (size_t i = 0; i < series->count; i++) {
		html_row(&table);
		html_cell(&table, "%lld", (long long)series->jobs[i]);
		html_cell(&table, "%zu", series->first + i);
		html_cell(&table, "%s", words_day(newest->created_us[i], day));
		html_cell_time(&table, (int64_t)series->times_us[i], -1);
		html_cell(&table, "%s", series_is_outside(series, i) ? "outside" : "");
	}
	html_table_close(&table);
	html_fold_close(out);
}

static struct series series_of(const char *id, const char *title, const struct newest *newest)
{
	return (struct series){
		.id = id,
		.title = title,
		.first = newest->first,
		.jobs = newest->jobs,
		.times_us = newest->times_us,
		.count = newest->count,
	};
}

/* The beginning of what is said of a group: its name, and the picture. */
static void open_group(const struct overview_page *page, const struct review_group *group,
		       const struct series *series)
{
	text_add(page->out, "<div>\n");
	add_name(page->out, group);
	text_add(page->out, "<figure>\n");
	series_picture(page->out, series);
	text_add(page->out, "</figure>\n");
}

static void add_chart(const struct overview_page *page, const struct review_group *group,
		      size_t place)
{
	char *id = memory_format("chart-%zu-", place);
	struct newest newest;

	find_newest(page, group, &newest);
	struct series series = series_of(id, "Work on each job, with limits", &newest);
	series.limits = &group->chart;
	open_group(page, group, &series);
	add_cut(page->out, &newest);
	add_limits_table(page->out, &group->chart);
	add_chart_table(page->out, &series, &newest);
	text_add(page->out, "</div>\n");
	free(id);
}

void overview_add_charts(const struct overview_page *page)
{
	const struct review_overview *overview = &page->overview;
	size_t shown = 0, more = 0;

	text_add(page->out, "<section>\n<h2>Trend</h2>\n");
	html_element(
		page->out, "p",
		"Each stringer and pattern apart, since only jobs of one kind can be compared. "
		"The line across is the mean; the dashed lines are the limits within which the "
		"jobs of a steady hand stay, the mean and 2.66 mean moving ranges to each side. "
		"A ringed job is outside: worth asking what was different that day.");
	text_add(page->out, "<div class=\"charts\">\n");
	for (size_t i = 0; i < overview->pair_count; i++) {
		if (!overview->pairs[i].has_chart)
			continue;
		if (shown < OVERVIEW_GROUPS)
			add_chart(page, &overview->pairs[i], ++shown);
		else
			more++;
	}
	text_add(page->out, "</div>\n");
	if (!shown)
		html_format(page->out, "p",
			    "There are no %d finished jobs of one stringer and pattern yet: limits "
			    "from fewer say nothing.",
			    STATS_LEARNING_MIN);
	if (more)
		html_format(page->out, "p", "And %zu more, left out here.", more);
	text_add(page->out, "</section>\n");
}

/* ---- learning ---- */

static const char *verdict(const struct stats_learning *fit)
{
	if (!fit->shown)
		return "No getting faster that these jobs can show.";
	switch (fit->better) {
	case STATS_LEARNING_POWER:
		return "Getting faster; the power law fits better.";
	case STATS_LEARNING_EXPONENTIAL:
		return "Getting faster; the exponential fits better.";
	case STATS_LEARNING_ALIKE:
		break;
	}
	return "Getting faster; both laws fit alike, and the power law is drawn through.";
}

static void add_law(struct html_table *table, const char *name, const char *what, double factor,
		    double low, double high, double r_squared)
{
	html_row(table);
	html_cell(table, "%s", name);
	html_cell(table, "%s %.1f\xC2\xA0%%", what, 100 * factor);
	html_cell(table, "%.1f to %.1f\xC2\xA0%%", 100 * low, 100 * high);
	html_cell(table, "%.2f", r_squared);
}

static void add_laws(struct text *out, const struct stats_learning *fit)
{
	static const struct html_column columns[] = {
		{"Law", false}, {"Says", false}, {"With 95 %", false}, {"R\xC2\xB2", true}};
	const struct stats_law *slow = &fit->exponential;
	struct html_table table;

	html_table_open(&table, out, "Two laws of learning", columns, 4);
	add_law(&table, "power", "each doubling to", fit->rate, fit->rate_interval.low,
		fit->rate_interval.high, fit->power.r_squared);
	add_law(&table, "exponential", "each job to", exp(slow->exponent),
		exp(slow->exponent_interval.low), exp(slow->exponent_interval.high),
		slow->r_squared);
	html_table_close(&table);
}

static void add_learning_table(struct text *out, const struct series *series)
{
	static const struct html_column columns[] = {{"Number", true},
						     {"Job", true},
						     {"Work", true},
						     {"Power law", true},
						     {"Exponential", true}};
	struct html_table table;

	html_fold_open(out, "This curve as a table");
	html_table_open(&table, out, "Work on each job, and what the laws say", columns, 5);
	for (size_t i = 0; i < series->count; i++) {
		double n = (double)(series->first + i);
		html_row(&table);
		html_cell(&table, "%zu", series->first + i);
		html_cell(&table, "%lld", (long long)series->jobs[i]);
		html_cell_time(&table, (int64_t)series->times_us[i], -1);
		html_cell_time(&table, (int64_t)series_power_us(series->learning, n), -1);
		html_cell_time(&table, (int64_t)series_exponential_us(series->learning, n), -1);
	}
	html_table_close(&table);
	html_fold_close(out);
}

static void add_curve(const struct overview_page *page, const struct review_group *group,
		      size_t place)
{
	char *id = memory_format("learning-%zu-", place);
	struct newest newest;

	find_newest(page, group, &newest);
	struct series series = series_of(id, "Learning curve", &newest);
	series.learning = &group->learning;
	open_group(page, group, &series);
	html_element(page->out, "p", verdict(&group->learning));
	add_cut(page->out, &newest);
	add_laws(page->out, &group->learning);
	add_learning_table(page->out, &series);
	text_add(page->out, "</div>\n");
	free(id);
}

void overview_add_learning(const struct overview_page *page)
{
	const struct review_overview *overview = &page->overview;
	size_t shown = 0, more = 0, few = 0;

	text_add(page->out, "<section>\n<h2>Learning</h2>\n");
	html_element(
		page->out, "p",
		"The time of a stringer's n-th job in this journal, and two laws fitted to all "
		"of them. They are shown, not promised. The one that fits better is drawn "
		"through, the other dashed; both are dashed where nothing is shown.");
	text_add(page->out, "<div class=\"charts\">\n");
	for (size_t i = 0; i < overview->stringer_count; i++) {
		if (!overview->stringers[i].has_learning)
			few++;
		else if (shown < OVERVIEW_GROUPS)
			add_curve(page, &overview->stringers[i], ++shown);
		else
			more++;
	}
	text_add(page->out, "</div>\n");
	if (few)
		html_format(page->out, "p", "%zu %s fewer than %d jobs: too few for a curve.", few,
			    few == 1 ? "stringer has" : "stringers have", STATS_LEARNING_MIN);
	if (more)
		html_format(page->out, "p", "And %zu more, left out here.", more);
	text_add(page->out, "</section>\n");
}
