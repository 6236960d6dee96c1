/* pullcall jobs and review: reading the journal. */
#include "base/clock.h"
#include "cli/query.h"
#include "daemon/daemon.h"
#include "draw/output.h"
#include "report/report.h"
#include "review/review.h"

#include <stdio.h>
#include <stdlib.h>

static const char jobs_help[] =
	"Usage: pullcall jobs [--journal FILE]\n"
	"\n"
	"Lists the jobs in the journal, the oldest first: when, what, how far, time of work.\n"
	"\n" QUERY_JOURNAL_HELP "\n"
	"Exit: 0 done, 1 there is no journal yet, 2 wrong usage, 74 it cannot be read.\n";

static const char review_help[] =
	"Usage: pullcall review JOB [--journal FILE] [--html FILE]\n"
	"\n"
	"Shows where the minutes of a job went. JOB is a name (the newest job of that name), a\n"
	"number from `pullcall jobs`, or a UUID. Pauses are not work.\n"
	"\n"
	"  --html FILE       a page for a browser, with pictures, instead of tables; \"-\" is\n"
	"                    standard output\n" QUERY_JOURNAL_HELP "\n"
	"Exit: 0 done, 1 there is no such job, 2 wrong usage, 74 the journal cannot be read, or\n"
	"the page not written.\n";

/* Reads --journal, and --html where `page` is not NULL. Returns the exit code + 1 to leave, 0 to go
 * on. */
static int read_options(int argc, char **argv, const char *help, struct query *query,
			const char **page)
{
	static const struct option table[] = {
		{"html", required_argument, NULL, 'h'},
		QUERY_JOURNAL_OPTION,
		OPTION_TABLE_END,
	};
	const char *why;
	int option, code = 0;

	while ((option = command_option(argc, argv, page ? table : table + 1, help, &code)) != -1) {
		if (option == OPTION_LEAVE)
			return code + 1;
		if (option == 'h')
			*page = optarg;
		else
			query_option(query, option, optarg, &why);
	}
	return 0;
}

int command_jobs(int argc, char **argv)
{
	struct query query = {0};
	int leave = read_options(argc, argv, jobs_help, &query, NULL);

	if (leave)
		return leave - 1;
	if (optind != argc)
		return command_usage("jobs", "unexpected \"%s\"", argv[optind]);
	struct journal *journal = query_open(&query, JOURNAL_READ, &leave);
	if (!journal)
		return leave;
	return query_close(journal, review_print_jobs(journal, &query.filter, stdout));
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

static int review_page(struct journal *journal, const char *job, const char *file)
{
	struct text page = {0};
	enum journal_status status = report_job(journal, job, clock_wall_us(), &page);
	int written = status == JOURNAL_OK ? write_page(file, &page) : 0;

	text_free(&page);
	int code = query_close(journal, status);
	return code ? code : written;
}

static int review_tables(struct journal *journal, const char *job)
{
	struct review review;
	enum journal_status status = review_job(journal, job, &review);

	if (status == JOURNAL_OK)
		review_print(&review, stdout);
	review_free(&review);
	return query_close(journal, status);
}

int command_review(int argc, char **argv)
{
	struct query query = {0};
	const char *page = NULL;
	int leave = read_options(argc, argv, review_help, &query, &page);

	if (leave)
		return leave - 1;
	if (optind + 1 != argc)
		return command_usage("review", "expected one job: a name, a number or a UUID");
	struct journal *journal = query_open(&query, JOURNAL_READ, &leave);
	if (!journal)
		return leave;
	return page ? review_page(journal, argv[optind], page)
		    : review_tables(journal, argv[optind]);
}
