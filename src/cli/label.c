/* pullcall label: what is stuck on a strung racket. */
#include "base/base.h"
#include "bench/bench.h"
#include "cli/cli.h"
#include "draw/draw.h"
#include "frame/frame.h"
#include "job/job.h"
#include "phrase/phrase.h"

#include <stdlib.h>
#include <time.h>

static enum exit_code draw(const struct journal_job *found, const struct phrasebook *book,
			   const char *output, struct faults *faults)
{
	struct job *job = job_read_text(found->plan_file, found->plan_text, faults);
	struct pattern *pattern = pattern_read_text(found->pattern, found->pattern_text, faults);
	enum exit_code code = EXIT_NO;
	char day[DATE_TEXT_MAX];
	struct tm date;
	time_t seconds = (time_t)(found->last_wall_us / SECOND_US);

	strftime(day, sizeof(day), "%F", localtime_r(&seconds, &date));
	const struct label label = {
		.book = book,
		.width_mm = 62, /* the width of common label rolls */
		.height_mm = 29,
		.date = day,
		.number = (int)found->number,
	};
	if (job && pattern)
		code = draw_label(job, pattern, &label, output, faults);
	job_free(job);
	pattern_free(pattern);
	return code;
}

int command_label(int argc, char **argv)
{
	const char *output = NULL, *bench_file = NULL;
	struct query query = {0};
	const struct option_row options[] = {
		{"output", 'o', .text = &output},
		QUERY_JOURNAL_ROW(&query),
		{"bench", .text = &bench_file},
		{0},
	};
	struct journal_job job = {0};
	struct faults faults = {0};

	const struct command_syntax *line = command_read(options, NULL, argc, argv);
	if (!output)
		command_line_wrong(line, "say where to: --output FILE");
	struct bench *bench = bench_find(bench_file, &faults);
	struct phrasebook *book = bench ? phrasebook_find(bench->language, &faults) : NULL;
	int code = EXIT_NO;
	if (book) {
		struct journal *journal = query_open(&query, JOURNAL_READ);
		code = query_close(journal, journal_find(journal, argv[optind], &job));
	}
	if (book && !code)
		code = draw(&job, book, output, &faults);
	faults_report(&faults);
	journal_job_free(&job);
	phrasebook_free(book);
	bench_free(bench);
	return code;
}
