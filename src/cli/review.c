/* pullcall jobs and review: reading the journal. */
#include "review/review.h"
#include "base/base.h"
#include "cli/cli.h"
#include "daemon/daemon.h"
#include "draw/draw.h"
#include "report/report.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int command_jobs(int argc, char **argv)
{
	struct query query = {0};
	const struct option_row options[] = {
		QUERY_FILTER_ROWS(&query), QUERY_JOURNAL_ROW(&query), {0}};
	const struct command_syntax line = {
		.name = "pullcall jobs",
		.usage = "[OPTION...]",
		.about =
			"Lists the jobs in the journal, the open ones first, then the oldest first: when, what, how far, time of work.",
		.end = "Exit: 0 done, 1 there is no journal yet, 2 wrong usage, 74 it cannot be read.",
		.options = options,
	};
	int code = command_line_read(&line, argc, argv);

	if (code >= 0)
		return code;
	struct journal *journal = query_open(&query, JOURNAL_READ, &code);
	if (!journal)
		return code;
	return query_close(journal, review_print_jobs(journal, &query.filter, stdout));
}

/* What to review, and how. */
struct wish {
	struct query query;
	bool quote;
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

	return filter->stringer || filter->pattern || filter->method || filter->since_us ||
	       filter->until_us || wish->quote || wish->standard_wanted;
}

static int read_command_line(int argc, char **argv, struct wish *wish)
{
	double rating = 0, allowance = -1; /* not given */
	const struct option_row options[] = {
		{"html", 0, "FILE",
		 "a page for a browser, with pictures, instead of tables; \"-\" is standard output",
		 .text = &wish->page},
		{"quote", 0, NULL,
		 "only what to quote for the next job, a line for each stringer and kind of job",
		 .flag = &wish->quote},
		{"rating", 0, "PERCENT",
		 "standard times too: observed time at this rating of the pace (100)",
		 .read = read_rating, .out = &rating, .expected = "10 to 300 percent"},
		{"allowance", 0, "PERCENT",
		 "standard times too, with this allowance for rest and delays, in both its conventions",
		 .read = read_allowance, .out = &allowance, .expected = "0 to 90 percent"},
		QUERY_FILTER_ROWS(&wish->query),
		QUERY_JOURNAL_ROW(&wish->query),
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall review",
		.usage = "[JOB] [OPTION...]",
		.about =
			"Shows where the minutes of a job went. JOB is a name (the newest job of that name), "
			"a number from `pullcall jobs`, or a UUID. Pauses are not work. Without one, all "
			"finished jobs: how long they take, who is getting faster, what to quote for the "
			"next.",
		.end = "Exit: 0 done, 1 there is no such job, 2 wrong usage, 74 the journal cannot be read, or "
		       "the page not written.",
		.operand = "a job",
		.most = 1,
		.options = options,
	};
	int code = command_line_read(&line, argc, argv);

	if (code >= 0)
		return code;
	wish->job = argv[optind];
	wish->standard_wanted = rating > 0 || allowance >= 0;
	wish->standard.rating = rating > 0 ? rating : 1;
	wish->standard.allowance = allowance > 0 ? allowance : 0;
	if (wish->job && is_about_many(wish))
		return command_line_wrong(&line, "only --html and --journal go with one job");
	return -1;
}

static const struct review_standard *standard_of(const struct wish *wish)
{
	return wish->standard_wanted ? &wish->standard : NULL;
}

/* Returns the exit code of a page that was made but could not be written, else 0. */
static int write_page(const char *file, const struct text *page)
{
	const char *why = NULL;

	if (output_write(file, text_string(page), page->length, &why))
		return 0;
	fprintf(stderr, "pullcall: %s: cannot be written: %s\n", file, why);
	return EXIT_IO;
}

/* Closes the journal of a review of one job. Returns the exit code. */
static int close_job(struct journal *journal, const char *job, enum journal_status status)
{
	char *unknown = status == JOURNAL_NONE ? review_unknown(journal, REVIEW_JOB, job) : NULL;

	if (!unknown)
		return query_close(journal, status);
	fprintf(stderr, "pullcall: %s\n", unknown);
	free(unknown);
	journal_close(journal);
	return EXIT_NO;
}

static int review_page(struct journal *journal, const struct wish *wish)
{
	struct text page = {0};
	int64_t now_us = clock_wall_us();
	enum journal_status status = wish->job ? report_job(journal, wish->job, now_us, &page)
					       : report_overview(journal, &wish->query.filter,
								 standard_of(wish), now_us, &page);
	int written = status == JOURNAL_OK ? write_page(wish->page, &page) : 0;

	text_free(&page);
	int code = wish->job ? close_job(journal, wish->job, status) : query_close(journal, status);
	return code ? code : written;
}

static int review_one(struct journal *journal, const char *job)
{
	struct review review;
	enum journal_status status = review_job(journal, job, &review);

	if (status == JOURNAL_OK)
		review_print(&review, stdout);
	review_free(&review);
	return close_job(journal, job, status);
}

static void print_quotes(const struct review_overview *overview)
{
	for (size_t i = 0; i < overview->group_count; i++)
		review_print_quote(&overview->groups[i], stdout);
}

static int review_all(struct journal *journal, const struct wish *wish)
{
	struct review_overview overview;
	enum journal_status status = review_overview(journal, &wish->query.filter, &overview);

	if (status == JOURNAL_OK && wish->quote)
		print_quotes(&overview);
	else if (status == JOURNAL_OK)
		review_print_overview(&overview, standard_of(wish), stdout);
	review_overview_free(&overview);
	return query_close(journal, status);
}

int command_review(int argc, char **argv)
{
	struct wish wish = {0};
	int code = read_command_line(argc, argv, &wish);

	if (code >= 0)
		return code;
	struct journal *journal = query_open(&wish.query, JOURNAL_READ, &code);
	if (!journal)
		return code;
	if (wish.page)
		return review_page(journal, &wish);
	return wish.job ? review_one(journal, wish.job) : review_all(journal, &wish);
}
