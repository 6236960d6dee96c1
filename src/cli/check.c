/* pullcall check: every fault of every file, as FILE:LINE:COL: error: TEXT. */
#include "bench/bench.h"
#include "cli/cli.h"
#include "phrase/phrase.h"
#include "sequence/sequence.h"

#include <stdio.h>
#include <string.h>

static void check_job(const char *file, const char *text, struct faults *faults)
{
	struct plan plan;

	plan_read_text(&plan, file, text, &MACHINE_DEFAULT, faults);
	plan_free(&plan);
}

static void check_file(const char *path, struct faults *faults)
{
	struct yaml_document *document = yaml_read(path, faults);

	if (!document)
		return;
	switch (file_kind_of(document)) {
	case FILE_JOB:
		check_job(document->file, document->bytes, faults);
		break;
	case FILE_PATTERN:
		pattern_free(pattern_read_text(document->file, document->bytes, faults));
		break;
	case FILE_PHRASEBOOK:
		phrasebook_free(phrasebook_read_text(document->file, document->bytes, faults));
		break;
	case FILE_BENCH:
		bench_free(bench_read_text(document->file, document->bytes, faults));
		break;
	}
	yaml_free(document);
}

int command_check(int argc, char **argv)
{
	static const struct option_row options[] = {{0}};
	static const struct command_syntax line = {
		.name = "pullcall check",
		.usage = "FILE...",
		.about =
			"Looks for faults in pattern files, job plans, phrasebooks and bench files (\"-\" is "
			"standard input), and prints each as FILE:LINE:COL: error: TEXT. A job plan is "
			"checked together with its pattern, as far as the whole sequence.",
		.end = "Exit: 0 no errors (there may be warnings), 1 errors, 2 wrong usage.",
		.operand = "a file",
		.least = 1,
		.options = options,
	};
	struct faults faults = {0};
	int code = command_line_read(&line, argc, argv);

	if (code >= 0)
		return code;
	for (int i = optind; i < argc; i++)
		check_file(argv[i], &faults);
	return faults_report(&faults);
}
