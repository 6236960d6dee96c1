/* pullcall jobs, review and export: reading the journal. */
#include "cli/cli.h"
#include "draw/draw.h"
#include "report/report.h"

#include <stdlib.h>
#include <string.h>

int command_jobs(int argc, char **argv)
{
	struct query query = {0};
	const struct option_row options[] = {
		QUERY_FILTER_ROWS(&query), QUERY_JOURNAL_ROW(&query), {0}};

	command_read(options, NULL, argc, argv);
	struct journal *journal = query_open(&query, JOURNAL_READ);
	return query_close(journal,
			   review_print_jobs(journal, &query.filter, clock_wall_us(), stdout));
}

/* What to review, and how. */
struct wish {
	struct query query;
	bool quote;
	bool teaching;
	bool standard_wanted;
	struct review_standard standard;
	const char *page; /* NULL: as tables */
	const char *job;  /* NULL: all that pass the filter */
};

/* "120", "120%" or "120 %" as a share. */
static bool read_percent(const char *text, double min, double max, double *out)
{
	char *end;
	double percent = strtod(text, &end);

	if (end == text || (text[0] < '0' || text[0] > '9'))
		return false;
	end += strspn(end, " ");
	end += *end == '%';
	*out = percent / 100;
	return *end == '\0' && percent >= min && percent <= max;
}

static bool read_rating(const char *value, void *out)
{
	return read_percent(value, 10, 300, out);
}

static bool read_allowance(const char *value, void *out)
{
	return read_percent(value, 0, 90, out);
}

/* Whether an option is given that makes no sense for one job. */
static bool is_about_many(const struct wish *wish)
{
	const struct review_filter *filter = &wish->query.filter;

	return filter->stringer || filter->pattern || filter->method || filter->racket ||
	       filter->customer || filter->due || filter->since_us || filter->until_us ||
	       wish->quote || wish->standard_wanted;
}

static void read_command_line(int argc, char **argv, struct wish *wish)
{
	double rating = 0, allowance = -1; /* not given */
	const struct option_row options[] = {
		{"html", .text = &wish->page},
		{"quote", .flag = &wish->quote},
		{"teaching", .flag = &wish->teaching},
		{"rating", .read = read_rating, .out = &rating, .expected = "10 to 300 percent"},
		{"allowance", .read = read_allowance, .out = &allowance,
		 .expected = "0 to 90 percent"},
		QUERY_FILTER_ROWS(&wish->query),
		QUERY_JOURNAL_ROW(&wish->query),
		{0},
	};

	const struct command_syntax *line = command_read(options, NULL, argc, argv);
	wish->job = argv[optind];
	wish->standard_wanted = rating > 0 || allowance >= 0;
	wish->standard.rating = rating > 0 ? rating : 1;
	wish->standard.allowance = allowance > 0 ? allowance : 0;
	if (wish->teaching && !wish->query.filter.stringer)
		command_line_wrong(line, "--teaching needs --stringer NAME");
	if (wish->job && is_about_many(wish))
		command_line_wrong(line, "only --html and --journal go with one job");
}

/* As a page, or printed. */
static enum journal_status review(struct journal *journal, const struct wish *wish,
				  struct text *page)
{
	const struct review_filter *filter = &wish->query.filter;
	const struct review_standard *standard = wish->standard_wanted ? &wish->standard : NULL;
	enum journal_status status;

	if (wish->page && wish->teaching)
		return report_teaching(journal, filter->stringer, clock_wall_us(), page);
	if (wish->page)
		return wish->job
			       ? report_job(journal, wish->job, clock_wall_us(), page)
			       : report_overview(journal, filter, standard, clock_wall_us(), page);
	if (wish->job) {
		struct review one;
		status = review_job(journal, wish->job, &one);
		if (status == JOURNAL_OK)
			review_print(&one, stdout);
		review_free(&one);
		return status;
	}
	if (wish->teaching) {
		struct review_teaching teaching;
		status = review_teaching(journal, filter->stringer, clock_wall_us(), &teaching);
		if (status == JOURNAL_OK)
			review_print_teaching(&teaching, stdout);
		review_teaching_free(&teaching);
		return status;
	}
	struct review_overview all;
	status = review_overview(journal, filter, standard, &all);
	if (status == JOURNAL_OK && !wish->quote)
		review_print_overview(&all, stdout);
	for (size_t i = 0; status == JOURNAL_OK && wish->quote && i < all.group_count; i++)
		review_print_quote(&all.groups[i], stdout);
	review_overview_free(&all);
	return status;
}

int command_review(int argc, char **argv)
{
	struct wish wish = {0};
	struct text page = {0};
	const char *why = NULL;
	int code = EXIT_NO;

	read_command_line(argc, argv, &wish);
	struct journal *journal = query_open(&wish.query, JOURNAL_READ);
	enum journal_status status = review(journal, &wish, &page);
	char *unknown = status == JOURNAL_NONE && wish.job
				? review_unknown(journal, REVIEW_JOB, wish.job)
				: NULL;
	if (unknown) {
		fprintf(stderr, "pullcall: %s\n", unknown);
		journal_close(journal);
	} else {
		code = query_close(journal, status);
	}
	if (code == EXIT_DONE && wish.page &&
	    !output_write(wish.page, text_string(&page), page.length, &why)) {
		fprintf(stderr, "pullcall: %s: cannot be written: %s\n", wish.page, why);
		code = EXIT_IO;
	}
	free(unknown);
	text_free(&page);
	return code;
}

/* ---- export ---- */

int command_export(int argc, char **argv)
{
	struct query query = {0};
	int format = -1 /* not given */, table = REVIEW_CALLS;
	const struct option_row options[] = {
		{"format", .number = &format, .names = review_format_names},
		{"table", .number = &table, .names = review_table_names},
		QUERY_FILTER_ROWS(&query),
		QUERY_JOURNAL_ROW(&query),
		{0},
	};

	const struct command_syntax *line = command_read(options, NULL, argc, argv);
	if (format < 0)
		command_line_wrong(line, "--format csv, json or xes is missing");
	struct journal *journal = query_open(&query, JOURNAL_READ);
	return query_close(journal, review_export(journal, &query.filter, (enum review_table)table,
						  (enum review_format)format, stdout));
}
