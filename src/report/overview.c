/* The page of many jobs: what to quote first, then the statistics. */
#include "report/internal.h"

#include <stdlib.h>

struct overview_page {
	struct text *out;
	const struct review_overview *overview;
};

/* ---- what to quote ---- */

static void add_jobs_table(struct text *out, const struct review_group *group)
{
	static const struct table_column columns[] = {{"n-th", COLUMN_NUMBER},
						      {"job", COLUMN_NUMBER},
						      {"begun", COLUMN_TEXT},
						      {"work", COLUMN_TIME},
						      {"paused", COLUMN_TIME},
						      {"limits", COLUMN_TEXT},
						      {0}};
	struct table table;
	char day[DATE_TEXT_MAX];

	table_begin(&table, "Work on each job", columns);
	for (size_t i = series_first(group); i < group->count; i++) {
		const struct review_time *job = &group->jobs[i];
		table_value(&table, (double)i + 1);
		table_value(&table, (double)job->job);
		table_cell(&table, "%s", day_text(job->created_us, day));
		table_value(&table, job->work_us);
		table_value(&table, job->pause_us);
		table_cell(&table, "%s", review_is_outside(group, i) ? "outside" : "");
	}
	char *summary = memory_format("The newest %zu of %zu jobs as a table",
				      group->count - series_first(group), group->count);
	html_fold_table(out, series_first(group) ? summary : "These jobs as a table", &table);
	free(summary);
}

static void add_group(const struct overview_page *page, size_t i)
{
	const struct review_group *group = &page->overview->groups[i];
	char *name = review_group_name(group), *id = memory_format("jobs-%zu-", i + 1);
	struct table facts;

	text_add(page->out, "<div>\n");
	html_name(page->out, "h3", name);
	review_group_facts(group, &facts);
	html_facts(page->out, &facts);
	if (group->has_learning) {
		text_add(page->out, "<figure>\n");
		series_picture(page->out, id, group);
		text_add(page->out, "</figure>\n");
		add_jobs_table(page->out, group);
	}
	text_add(page->out, "</div>\n");
	free(name);
	free(id);
}

static void add_quotes(const struct overview_page *page)
{
	size_t count = page->overview->group_count;

	text_add(page->out, "<section>\n<h2>What to quote</h2>\n<div class=\"charts\">\n");
	for (size_t i = 0; i < count && i < REVIEW_GROUPS; i++)
		add_group(page, i);
	text_add(page->out, "</div>\n");
	if (count > REVIEW_GROUPS)
		text_format(page->out, "<p>And %zu more, left out here.</p>\n",
			    count - REVIEW_GROUPS);
	text_add(page->out, "</section>\n");
}

/* ---- statistics ---- */

static void add_statistics(const struct overview_page *page)
{
	text_add(page->out, "<section>\n<h2>Statistics</h2>\n");
	html_fold_open(page->out, "Medians, quartiles, phases, strings, laws of learning, limits");
	text_add(page->out, "<div class=\"charts\">\n");
	for (int i = 0; i < REVIEW_STATISTICS; i++) {
		struct table table;
		review_statistic(page->overview, i, &table);
		html_table(page->out, &table);
	}
	text_add(page->out, "</div>\n");
	html_fold_close(page->out);
	text_add(page->out, "</section>\n");
}

/* ---- all of it ---- */

static void add_filter(struct text *out, const struct review_filter *filter)
{
	char since[DATE_TEXT_MAX], until[DATE_TEXT_MAX];
	const struct {
		const char *word, *value; /* NULL: not filtered by it */
	} rows[] = {
		{"Only of", filter->stringer},
		{"Only of pattern", filter->pattern},
		{"Only of method", filter->method},
		{"Only since", filter->since_us ? day_text(filter->since_us, since) : NULL},
		{"Only before", filter->until_us ? day_text(filter->until_us, until) : NULL},
	};
	struct table facts;

	facts_begin(&facts);
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		if (rows[i].value)
			table_fact(&facts, rows[i].word, "%s", rows[i].value);
	}
	html_facts(out, &facts);
}

static void add_head(const struct overview_page *page, const struct review_filter *filter)
{
	char *span = review_overview_span(page->overview);
	size_t count = page->overview->finished;

	text_add(page->out, "<header>\n<p class=\"kind\">Review of jobs</p>\n");
	text_format(page->out, "<h1>%zu finished %s</h1>\n", count, count == 1 ? "job" : "jobs");
	html_element(page->out, "p", span);
	add_filter(page->out, filter);
	text_add(page->out, "</header>\n");
	free(span);
}

enum journal_status report_overview(struct journal *journal, const struct review_filter *filter,
				    const struct review_standard *standard, int64_t made_us,
				    struct text *out)
{
	struct review_overview overview;
	const struct overview_page page = {out, &overview};
	enum journal_status status = review_overview(journal, filter, &overview);

	if (status != JOURNAL_OK)
		return status;
	html_open(out, "Review of jobs");
	add_head(&page, filter);
	if (overview.finished) {
		add_quotes(&page);
		if (standard) {
			struct table table;
			review_table_standards(&overview, standard, &table);
			text_add(out, "<section>\n<h2>Standard time</h2>\n");
			html_table(out, &table);
			text_add(out, "</section>\n");
		}
		add_statistics(&page);
	}
	html_close(out, made_us);
	review_overview_free(&overview);
	return status;
}
