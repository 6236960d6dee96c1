/* pullcall jobs and review: reading the journal. */
#include "base/base.h"
#include "cli/cli.h"
#include "daemon/daemon.h"
#include "draw/draw.h"
#include "report/report.h"
#include "review/review.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char jobs_help[] =
	"Usage: pullcall jobs [OPTION...]\n"
	"\n"
	"Lists the jobs in the journal, the oldest first: when, what, how far, time of work.\n"
	"\n" QUERY_FILTER_HELP QUERY_JOURNAL_HELP "\n"
	"Exit: 0 done, 1 there is no journal yet, 2 wrong usage, 74 it cannot be read.\n";

static const char review_help[] =
	"Usage: pullcall review [JOB] [--html FILE] [--journal FILE]\n"
	"       pullcall review [--stringer NAME] [--pattern NAME] [--method METHOD]\n"
	"                       [--since DATE] [--until DATE] [--html FILE] [--journal FILE]\n"
	"                       [--quote] [--rating PERCENT] [--allowance PERCENT]\n"
	"\n"
	"Shows where the minutes of a job went. JOB is a name (the newest job of that name), a\n"
	"number from `pullcall jobs`, or a UUID. Pauses are not work. Without one, all finished\n"
	"jobs: how long they take, who is getting faster, what to quote for the next.\n"
	"\n"
	"  --html FILE       a page for a browser, with pictures, instead of tables; \"-\" is\n"
	"                    standard output\n"
	"  --quote           only what to quote for the next job, a line for each stringer,\n"
	"                    pattern and method\n"
	"  --rating PERCENT, --allowance PERCENT\n"
	"                    standard times too: observed time at this rating of the pace (100),\n"
	"                    with this allowance for rest and delays, in both its conventions\n" QUERY_FILTER_HELP
		QUERY_JOURNAL_HELP "\n"
	"Exit: 0 done, 1 there is no such job, 2 wrong usage, 74 the journal cannot be read, or\n"
	"the page not written.\n";

/* Returns the exit code + 1 to leave, 0 to go on. */
static int read_jobs_options(int argc, char **argv, struct query *query)
{
	static const struct option table[] = {
		QUERY_FILTER_OPTIONS,
		QUERY_JOURNAL_OPTION,
		OPTION_TABLE_END,
	};
	const char *why;
	int option, code = 0;

	while ((option = command_option(argc, argv, table, jobs_help, &code)) != -1) {
		if (option == OPTION_LEAVE)
			return code + 1;
		if (!query_option(query, option, optarg, &why))
			return command_usage("jobs", "\"%s\": %s", optarg, why) + 1;
	}
	return 0;
}

int command_jobs(int argc, char **argv)
{
	struct query query = {0};
	int leave = read_jobs_options(argc, argv, &query);

	if (leave)
		return leave - 1;
	if (optind != argc)
		return command_usage("jobs", "unexpected \"%s\"", argv[optind]);
	struct journal *journal = query_open(&query, JOURNAL_READ, &leave);
	if (!journal)
		return leave;
	return query_close(journal, review_print_jobs(journal, &query.filter, stdout));
}

/* What is to be reviewed, and how. */
struct wish {
	struct query query;
	bool filtered;
	bool quote;
	bool standard_wanted;
	struct review_standard standard;
	const char *page; /* NULL: as tables */
	const char *job;  /* NULL: all that pass the filter */
};

enum { OPTION_QUOTE = QUERY_END, OPTION_RATING, OPTION_ALLOWANCE };

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

static bool take_option(struct wish *wish, int option, const char *value, const char **why)
{
	switch (option) {
	case 'p':
		wish->page = value;
		return true;
	case OPTION_QUOTE:
		wish->quote = true;
		return true;
	case OPTION_RATING:
		*why = "expected 10 to 300 percent";
		wish->standard_wanted = true;
		return read_percent(value, 10, 300, &wish->standard.rating);
	case OPTION_ALLOWANCE:
		*why = "expected 0 to 90 percent";
		wish->standard_wanted = true;
		return read_percent(value, 0, 90, &wish->standard.allowance);
	default:
		return query_option(&wish->query, option, value, why);
	}
}

static int read_review_options(int argc, char **argv, struct wish *wish)
{
	static const struct option table[] = {
		{"html", required_argument, NULL, 'p'},
		{"quote", no_argument, NULL, OPTION_QUOTE},
		{"rating", required_argument, NULL, OPTION_RATING},
		{"allowance", required_argument, NULL, OPTION_ALLOWANCE},
		QUERY_FILTER_OPTIONS,
		QUERY_JOURNAL_OPTION,
		OPTION_TABLE_END,
	};
	const char *why;
	int option, code = 0;

	while ((option = command_option(argc, argv, table, review_help, &code)) != -1) {
		if (option == OPTION_LEAVE)
			return code + 1;
		if (!take_option(wish, option, optarg, &why))
			return command_usage("review", "\"%s\": %s", optarg, why) + 1;
		wish->filtered = wish->filtered || (option != 'p' && option != QUERY_JOURNAL);
	}
	wish->job = argv[optind];
	if (argc - optind > 1)
		return command_usage("review", "expected one job: a name, a number or a UUID") + 1;
	if (wish->job && wish->filtered)
		return command_usage("review", "one job needs no filter") + 1;
	return 0;
}

static const struct review_standard *standard_of(const struct wish *wish)
{
	return wish->standard_wanted ? &wish->standard : NULL;
}

/* Returns the exit code of a page that was made but could not be written, else 0. */
static int write_page(const char *file, const struct text *page)
{
	char *why = NULL;

	if (output_write(file, text_string(page), page->length, &why))
		return 0;
	fprintf(stderr, "pullcall: %s: cannot be written: %s\n", file, why);
	free(why);
	return DAEMON_EXIT_JOURNAL;
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
	int code = query_close(journal, status);
	return code ? code : written;
}

static int review_one(struct journal *journal, const char *job)
{
	struct review review;
	enum journal_status status = review_job(journal, job, &review);

	if (status == JOURNAL_OK)
		review_print(&review, stdout);
	review_free(&review);
	return query_close(journal, status);
}

static void print_quotes(const struct review_overview *overview)
{
	for (size_t i = 0; i < overview->pair_count; i++)
		review_print_quote(&overview->pairs[i], stdout);
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
	struct wish wish = {.standard = {.rating = 1, .allowance = 0}};
	int leave = read_review_options(argc, argv, &wish);

	if (leave)
		return leave - 1;
	struct journal *journal = query_open(&wish.query, JOURNAL_READ, &leave);
	if (!journal)
		return leave;
	if (wish.page)
		return review_page(journal, &wish);
	return wish.job ? review_one(journal, wish.job) : review_all(journal, &wish);
}
