/* pullcall jobs and review: reading the journal. */
#include "base/clock.h"
#include "base/memory.h"
#include "cli/command.h"
#include "daemon/daemon.h"
#include "draw/output.h"
#include "report/report.h"
#include "review/review.h"

#include <stdio.h>
#include <stdlib.h>

static const char jobs_help[] =
	"Usage: pullcall jobs [--journal FILE]\n"
	"\n"
	"Lists the jobs in the journal, the oldest first: when, what, how far, time of work.\n";

static const char review_help[] =
	"Usage: pullcall review JOB [--journal FILE] [--html FILE]\n"
	"\n"
	"Shows where the minutes of a job went. JOB is a name (the newest job of that name), a\n"
	"number from `pullcall jobs`, or a UUID. Pauses are not work.\n"
	"\n"
	"  --html FILE   a page for a browser, with pictures, instead of tables; `-` is standard\n"
	"                output\n";

/* The journal for reading; NULL with a message. */
static struct journal *open_journal(const char *path)
{
	char *usual = path ? NULL : journal_default_path();
	struct journal *journal = NULL;
	char *error = NULL;

	if (!path && !usual)
		error = memory_copy("HOME is not set: name a journal with --journal FILE");
	else
		journal_open(path ? path : usual, JOURNAL_READ, &journal, &error);
	if (error)
		fprintf(stderr, "pullcall: %s\n", error);
	free(error);
	free(usual);
	return journal;
}

static int answer(enum journal_status status, struct journal *journal)
{
	int code = status == JOURNAL_OK     ? 0
		   : status == JOURNAL_NONE ? EXIT_NO
					    : DAEMON_EXIT_JOURNAL;

	if (code)
		fprintf(stderr, "pullcall: %s\n", journal_message(journal));
	journal_close(journal);
	return code;
}

/* Reads --journal, and --html where `page` is not NULL. Returns the exit code + 1 to leave, 0 to go
 * on. */
static int read_options(int argc, char **argv, const char *help, const char **path,
			const char **page)
{
	static const struct option table[] = {
		{"html", required_argument, NULL, 'h'},
		{"journal", required_argument, NULL, 'j'},
		OPTION_TABLE_END,
	};
	int option, code = 0;

	while ((option = command_option(argc, argv, page ? table : table + 1, help, &code)) != -1) {
		if (option == OPTION_LEAVE)
			return code + 1;
		if (option == 'h')
			*page = optarg;
		else
			*path = optarg;
	}
	return 0;
}

int command_jobs(int argc, char **argv)
{
	const char *path = NULL;
	int leave = read_options(argc, argv, jobs_help, &path, NULL);

	if (leave)
		return leave - 1;
	if (optind != argc)
		return command_usage("jobs", "unexpected \"%s\"", argv[optind]);
	struct journal *journal = open_journal(path);
	if (!journal)
		return DAEMON_EXIT_JOURNAL;
	return answer(review_print_jobs(journal, &(struct review_filter){0}, stdout), journal);
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
	int code = answer(status, journal);
	return code ? code : written;
}

static int review_tables(struct journal *journal, const char *job)
{
	struct review review;
	enum journal_status status = review_job(journal, job, &review);

	if (status == JOURNAL_OK)
		review_print(&review, stdout);
	review_free(&review);
	return answer(status, journal);
}

int command_review(int argc, char **argv)
{
	const char *path = NULL, *page = NULL;
	int leave = read_options(argc, argv, review_help, &path, &page);

	if (leave)
		return leave - 1;
	if (optind + 1 != argc)
		return command_usage("review", "expected one job: a name, a number or a UUID");
	struct journal *journal = open_journal(path);
	if (!journal)
		return DAEMON_EXIT_JOURNAL;
	return page ? review_page(journal, argv[optind], page)
		    : review_tables(journal, argv[optind]);
}
