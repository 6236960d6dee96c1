/* The page of many jobs. */
#include "report/internal.h"

#include "base/base.h"
#include "journal/journal.h"
#include "report/report.h"
#include "review/review.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { STRINGS_SHOWN = 5 };

char *overview_group_name(const struct review_group *group)
{
	if (!group->pattern)
		return memory_copy(group->stringer ? group->stringer : "all jobs");
	return memory_format("%s%s%s, %s", group->stringer ? group->stringer : "",
			     group->stringer ? ", " : "", group->pattern, group->method);
}

static size_t at_most(size_t count, size_t most)
{
	return count < most ? count : most;
}

/* ---- the head ---- */

static void add_filter(struct text *out, const struct review_filter *filter)
{
	char day[WORDS_DATE_MAX];

	text_add(out, "<dl>\n");
	if (filter->stringer)
		html_fact(out, "Only of", "%s", filter->stringer);
	if (filter->pattern)
		html_fact(out, "Only of pattern", "%s", filter->pattern);
	if (filter->method)
		html_fact(out, "Only of method", "%s", filter->method);
	if (filter->since_us)
		html_fact(out, "Only since", "%s", words_day(filter->since_us, day));
	if (filter->until_us)
		html_fact(out, "Only before", "%s", words_day(filter->until_us, day));
	if (filter->newest > 0)
		html_fact(out, "Only the newest", "%d", filter->newest);
	text_add(out, "</dl>\n");
}

static bool is_filtered(const struct review_filter *filter)
{
	return filter->stringer || filter->pattern || filter->method || filter->since_us ||
	       filter->until_us || filter->newest > 0;
}

static void add_head(const struct overview_page *page, const struct review_filter *filter)
{
	const struct review_overview *overview = &page->overview;
	const struct stats_summary *work = &overview->all.work;
	char first[WORDS_DATE_MAX], last[WORDS_DATE_MAX], low[WORDS_TIME_MAX], high[WORDS_TIME_MAX],
		median[WORDS_TIME_MAX];

	text_add(page->out, "<header>\n<p class=\"kind\">Review of jobs</p>\n");
	html_format(page->out, "h1", "%zu finished %s", overview->finished,
		    overview->finished == 1 ? "job" : "jobs");
	if (overview->finished) {
		html_format(page->out, "p", "Begun %s to %s.", words_day(overview->first_us, first),
			    words_day(overview->last_us, last));
		text_add(page->out, "<dl class=\"lead\">\n");
		html_fact(page->out, "Median work", "%s",
			  words_time((int64_t)work->median, median));
		html_fact(page->out, "Middle half", "%s\xE2\x80\x93%s",
			  words_time((int64_t)work->quartile1, low),
			  words_time((int64_t)work->quartile3, high));
		html_fact(page->out, "Asked for again", "%d", overview->repeats);
		html_fact(page->out, "Steps back", "%d", overview->backs);
		text_add(page->out, "</dl>\n");
	}
	if (overview->open || overview->abandoned)
		html_format(page->out, "p", "Left out: %zu open, %zu abandoned.", overview->open,
			    overview->abandoned);
	if (is_filtered(filter))
		add_filter(page->out, filter);
	text_add(page->out, "</header>\n");
}

/* ---- medians ---- */

static void add_summary(struct html_table *table, const struct stats_summary *work)
{
	html_cell(table, "%zu", work->count);
	html_cell_time(table, (int64_t)work->median, -1);
	html_cell_time(table, (int64_t)work->quartile1, -1);
	html_cell_time(table, (int64_t)work->quartile3, -1);
	html_cell_time(table, (int64_t)work->mad, -1);
}

static const struct html_column summary_columns[] = {{"", false},      {"Jobs", true},
						     {"Median", true}, {"1st q.", true},
						     {"3rd q.", true}, {"MAD", true}};

/* A picture and its table; rows that no job has are left out. */
static void add_spread(struct text *out, const char *id, const char *title, const char *heading,
		       const struct spread_row *rows, size_t count)
{
	struct html_column columns[6];
	struct html_table table;

	memcpy(columns, summary_columns, sizeof columns);
	columns[0].heading = heading;
	text_add(out, "<div>\n");
	html_element(out, "h3", title);
	text_add(out, "<figure>\n");
	spread_picture(out, id, title, rows, count);
	text_add(out, "</figure>\n");
	html_table_open(&table, out, "Medians and quartiles", columns, 6);
	for (size_t i = 0; i < count; i++) {
		html_row(&table);
		html_cell_words(&table, rows[i].name, "", "");
		add_summary(&table, rows[i].times_us);
	}
	html_table_close(&table);
	text_add(out, "</div>\n");
}

static void add_groups(struct text *out, const char *id, const char *title, const char *heading,
		       const struct review_group *groups, size_t count)
{
	struct spread_row rows[OVERVIEW_GROUPS] = {{NULL, NULL}};
	char *names[OVERVIEW_GROUPS] = {NULL};
	size_t shown = at_most(count, OVERVIEW_GROUPS);

	for (size_t i = 0; i < shown; i++) {
		names[i] = overview_group_name(&groups[i]);
		rows[i] = (struct spread_row){names[i], &groups[i].work};
	}
	add_spread(out, id, title, heading, rows, shown);
	if (count > shown)
		html_format(out, "p", "And %zu more, left out here.", count - shown);
	for (size_t i = 0; i < shown; i++)
		free(names[i]);
}

static void add_phases(const struct overview_page *page)
{
	struct spread_row rows[REVIEW_PHASES + 1] = {{NULL, NULL}};
	size_t count = 0;

	for (int i = 0; i < REVIEW_PHASES; i++) {
		if (page->overview.phases[i].count)
			rows[count++] = (struct spread_row){review_phase_names[i],
							    &page->overview.phases[i]};
	}
	if (page->overview.pause.count)
		rows[count++] = (struct spread_row){"paused", &page->overview.pause};
	add_spread(page->out, "phases-", "By phase", "Phase", rows, count);
}

static void add_medians(const struct overview_page *page)
{
	const struct review_overview *overview = &page->overview;

	text_add(page->out, "<section>\n<h2>How long it takes</h2>\n");
	html_element(page->out, "p",
		     "A line from the shortest job to the longest, a box round the middle half of "
		     "them, a stroke at the median. MAD is the median absolute deviation: half of "
		     "the jobs are no further from the median.");
	text_add(page->out, "<div class=\"charts\">\n");
	add_groups(page->out, "stringers-", "By stringer", "Stringer", overview->stringers,
		   overview->stringer_count);
	add_groups(page->out, "patterns-", "By pattern", "Pattern", overview->patterns,
		   overview->pattern_count);
	add_phases(page);
	text_add(page->out, "</div>\n</section>\n");
}

/* ---- quotes ---- */

static double minutes(double us)
{
	return us / (60.0 * SECOND_US);
}

static void add_quote_row(struct html_table *table, const struct review_group *pair)
{
	char *name = overview_group_name(pair);
	bool faster = pair->has_learning && pair->learning.shown;

	html_row(table);
	html_cell_words(table, name, "", faster ? "getting faster, and the quote follows" : "");
	html_cell(table, "%zu", pair->count);
	if (pair->has_quote) {
		html_cell(table, "%.0f\xC2\xA0min", minutes(pair->quote_us));
		html_cell(table, "%.0f to %.0f\xC2\xA0min", minutes(pair->quote_interval_us.low),
			  minutes(pair->quote_interval_us.high));
	} else {
		html_cell(table, "\xE2\x80\x93");
		html_cell(table, "takes %d jobs", REVIEW_QUOTE_MIN);
	}
	free(name);
}

static void add_quotes(const struct overview_page *page)
{
	static const struct html_column columns[] = {
		{"Next one", false}, {"Jobs", true}, {"Quote", true}, {"Four in five", true}};
	const struct review_overview *overview = &page->overview;
	size_t shown = at_most(overview->pair_count, OVERVIEW_GROUPS);
	struct html_table table;

	html_table_open(&table, page->out, "What to quote", columns, 4);
	for (size_t i = 0; i < shown; i++)
		add_quote_row(&table, &overview->pairs[i]);
	html_table_close(&table);
	if (overview->pair_count > shown)
		html_format(page->out, "p", "And %zu more, left out here.",
			    overview->pair_count - shown);
}

static void add_standards(const struct overview_page *page, const struct review_standard *standard)
{
	static const struct html_column columns[] = {{"Pattern", false},
						     {"Mean", true},
						     {"Allowance of work", true},
						     {"Allowance of shift", true}};
	const struct review_overview *overview = &page->overview;
	struct html_table table;
	char caption[100];

	snprintf(caption, sizeof caption, "Standard time: rating %.0f %%, allowance %.0f %%",
		 100 * standard->rating, 100 * standard->allowance);
	html_table_open(&table, page->out, caption, columns, 4);
	for (size_t i = 0; i < at_most(overview->pattern_count, OVERVIEW_GROUPS); i++) {
		const struct review_group *group = &overview->patterns[i];
		char *name = overview_group_name(group);
		double mean = group->work.mean;
		double of_shift = stats_standard_time(mean, standard->rating, standard->allowance,
						      STATS_ALLOWANCE_OF_SHIFT);
		html_row(&table);
		html_cell_words(&table, name, "", "");
		html_cell_time(&table, (int64_t)mean, -1);
		html_cell_time(&table,
			       (int64_t)stats_standard_time(mean, standard->rating,
							    standard->allowance,
							    STATS_ALLOWANCE_OF_WORK),
			       -1);
		if (isnan(of_shift))
			html_cell(&table, "\xE2\x80\x93");
		else
			html_cell_time(&table, (int64_t)of_shift, -1);
		free(name);
	}
	html_table_close(&table);
}

/* ---- strings ---- */

static int by_mean(const void *left, const void *right)
{
	const struct review_string_mean *a = left, *b = right;

	return (a->mean_us < b->mean_us) - (a->mean_us > b->mean_us);
}

static int by_doubts(const void *left, const void *right)
{
	const struct review_string_mean *a = left, *b = right;

	return (b->repeats + b->backs) - (a->repeats + a->backs);
}

static void add_strings(const struct overview_page *page, const char *caption,
			int (*order)(const void *, const void *), bool doubts)
{
	static const struct html_column columns[] = {
		{"String", false}, {"Jobs", true}, {"Mean", true}, {"Again", true}, {"Back", true}};
	const struct review_overview *overview = &page->overview;
	struct review_string_mean *strings = memory_new(overview->string_count, sizeof *strings);
	struct html_table table;

	for (size_t i = 0; i < overview->string_count; i++)
		strings[i] = overview->strings[i];
	qsort(strings, overview->string_count, sizeof *strings, order);
	html_table_open(&table, page->out, caption, columns, 5);
	for (size_t i = 0; i < at_most(overview->string_count, STRINGS_SHOWN); i++) {
		const struct review_string_mean *string = &strings[i];
		if (doubts && string->repeats + string->backs == 0)
			break;
		html_row(&table);
		html_cell(&table, "%s %d%s", string->is_main ? "main" : "cross", string->number,
			  string->side == 'l'   ? " left"
			  : string->side == 'r' ? " right"
						: "");
		html_cell(&table, "%d", string->jobs);
		html_cell_time(&table, (int64_t)string->mean_us, -1);
		html_cell_count(&table, string->repeats);
		html_cell_count(&table, string->backs);
	}
	html_table_close(&table);
	free(strings);
}

static void add_next_and_strings(const struct overview_page *page,
				 const struct review_standard *standard)
{
	const struct review_overview *overview = &page->overview;

	text_add(page->out, "<section class=\"pair\">\n<h2>The next one, and where to look</h2>\n"
			    "<div>\n");
	add_quotes(page);
	if (standard)
		add_standards(page, standard);
	text_add(page->out, "</div>\n<div>\n");
	if (overview->string_count)
		add_strings(page, "Slowest strings", by_mean, false);
	if (overview->string_count && overview->repeats + overview->backs)
		add_strings(page, "Where the place gets lost", by_doubts, true);
	text_add(page->out, "</div>\n</section>\n");
}

/* ---- all of it ---- */

/* The overview's own copy of a name. */
static const char *own_name(const struct review_overview *overview, const char *name)
{
	for (size_t i = 0; i < overview->name_count; i++) {
		if (strcmp(overview->names[i], name) == 0)
			return overview->names[i];
	}
	return NULL;
}

static void take_job(const struct review_row *row, void *context)
{
	struct overview_page *page = context;
	struct overview_job job = {
		.job = row->job,
		.created_us = row->created_us,
		.stringer = own_name(&page->overview, row->stringer),
		.pattern = own_name(&page->overview, row->pattern),
		.method = own_name(&page->overview, row->method),
		.work_us = (double)row->work_us,
	};

	if (strcmp(row->state, "finished") != 0 || !job.stringer || !job.pattern || !job.method)
		return;
	if ((page->job_count & (page->job_count - 1)) == 0)
		page->jobs = memory_resize(page->jobs, page->job_count ? 2 * page->job_count : 1,
					   sizeof *page->jobs);
	page->jobs[page->job_count++] = job;
}

static void add_page(const struct overview_page *page, const struct review_filter *filter,
		     const struct review_standard *standard, int64_t made_us)
{
	html_open(page->out, "Review of jobs");
	add_head(page, filter);
	if (page->overview.finished) {
		add_medians(page);
		overview_add_charts(page);
		overview_add_learning(page);
		add_next_and_strings(page, standard);
	}
	html_close(page->out, made_us);
}

static enum journal_status read_jobs(struct journal *journal, const struct review_filter *filter,
				     struct overview_page *page)
{
	enum journal_status status = review_overview(journal, filter, &page->overview);

	if (status == JOURNAL_OK)
		status = review_each_job(journal, filter, take_job, page);
	return status;
}

enum journal_status report_overview(struct journal *journal, const struct review_filter *filter,
				    const struct review_standard *standard, int64_t made_us,
				    struct text *out)
{
	struct overview_page page = {.out = out};
	enum journal_status status = journal_hold(journal);

	if (status != JOURNAL_OK)
		return status;
	status = read_jobs(journal, filter, &page);
	journal_let_go(journal);
	if (status == JOURNAL_OK)
		add_page(&page, filter, standard, made_us);
	free(page.jobs);
	review_overview_free(&page.overview);
	return status;
}
