/* pullcall steps: the whole job on paper. */
#include "base/base.h"
#include "bench/bench.h"
#include "cli/cli.h"
#include "sequence/sequence.h"

#include <stdio.h>
#include <stdlib.h>

struct wish {
	bool json;
	bool routes;
	const char *bench_file;
};

static void steps_of(const char *path, const struct wish *wish, struct faults *faults,
		     struct text *out)
{
	struct bench *bench = bench_find(wish->bench_file, faults);
	struct phrasebook *book = bench ? phrasebook_find(bench->language, faults) : NULL;
	struct plan plan;

	if (plan_read(&plan, path, bench ? bench->machine : &MACHINE_DEFAULT, faults) && book) {
		const struct phrase_options options = bench_phrase_options(bench);
		(wish->json ? steps_json : steps_table)(plan.sequence, book, &options, out);
	}
	plan_free(&plan);
	phrasebook_free(book);
	bench_free(bench);
}

static void routes_of(const char *path, bool json, struct faults *faults, struct text *out)
{
	struct job *job = job_read(path, faults);
	struct pattern *pattern = job ? job_find_pattern(job, faults) : NULL;
	struct routes *routes = memory_new(1, sizeof(*routes));

	if (pattern && sequence_routes(job, pattern, routes, faults))
		(json ? routes_json : routes_table)(job, pattern, routes, out);
	free(routes);
	pattern_free(pattern);
	job_free(job);
}

int command_steps(int argc, char **argv)
{
	struct wish wish = {0};
	const struct option_row options[] = {
		{"json", 0, NULL, "one JSON object, for other programs", .flag = &wish.json},
		{"routes", 0, NULL, "only the ways round the frame that a one-piece job may take",
		 .flag = &wish.routes},
		{"bench", 0, "FILE",
		 "the bench file (words for the sides, unit), instead of the usual one",
		 .text = &wish.bench_file},
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall steps",
		.usage = "JOB [OPTION...]",
		.about =
			"Prints the whole job: facts, hole map, every move, every call with its words. JOB "
			"is a job plan, \"-\" standard input.",
		.end = "Exit: 0 done, 1 the plan is at fault, 2 wrong usage.",
		.operand = "a job plan",
		.least = 1,
		.most = 1,
		.options = options,
	};
	struct faults faults = {0};
	struct text out = {0};

	command_line_read(&line, argc, argv);
	if (!plan_exists(argv[optind], NULL))
		return EXIT_NO;
	if (wish.routes)
		routes_of(argv[optind], wish.json, &faults, &out);
	else
		steps_of(argv[optind], &wish, &faults, &out);
	fputs(text_string(&out), stdout);
	text_free(&out);
	return faults_report(&faults);
}
