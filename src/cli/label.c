/* pullcall label: what is stuck on a strung racket. */
#include "base/base.h"
#include "cli/cli.h"
#include "draw/draw.h"
#include "frame/frame.h"
#include "job/job.h"

#include <stdlib.h>

static enum draw_result draw(const struct journal_job *found, const char *output,
			     struct faults *faults)
{
	struct job *job = job_read_text(found->plan_file, found->plan_text, faults);
	struct pattern *pattern = pattern_read_text(found->pattern, found->pattern_text, faults);
	enum draw_result result = DRAW_INPUT;
	char date[DATE_TEXT_MAX];
	const struct label label = {
		.width_mm = 62, /* the width of common label rolls */
		.height_mm = 29,
		.date = day_text(found->last_wall_us, date),
		.number = (int)found->number,
	};

	if (job && pattern)
		result = draw_label(job, pattern, &label, output, faults);
	job_free(job);
	pattern_free(pattern);
	return result;
}

int command_label(int argc, char **argv)
{
	const char *output = NULL;
	struct query query = {0};
	const struct option_row options[] = {
		{"output", 'o', "FILE", "where to", .text = &output},
		QUERY_JOURNAL_ROW(&query),
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall label",
		.usage = "JOB --output FILE",
		.about =
			"Draws a small label for a racket that was strung: date, strings, tensions, stringer, job. "
			"SVG, PDF or PNG, as the name of FILE ends; \"-\" is SVG on standard output. JOB is a "
			"name (the newest job of that name), a number from `pullcall jobs`, or a UUID.",
		.end = "Exit: 0 done, 1 there is no such job, 2 wrong usage, 74 the journal cannot be read, or "
		       "the label not written.",
		.operand = "a job",
		.least = 1,
		.most = 1,
		.options = options,
	};
	struct journal_job job = {0};
	struct faults faults = {0};

	command_line_read(&line, argc, argv);
	if (!output)
		command_line_wrong(&line, "say where to: --output FILE");
	struct journal *journal = query_open(&query, JOURNAL_READ);
	int code = query_close(journal, journal_find(journal, argv[optind], &job));
	enum draw_result result = code ? DRAW_INPUT : draw(&job, output, &faults);
	faults_report(&faults);
	journal_job_free(&job);
	if (code)
		return code;
	return result == DRAW_DONE ? EXIT_DONE : result == DRAW_INPUT ? EXIT_NO : EXIT_IO;
}
