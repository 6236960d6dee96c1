/* pullcall check: every fault of every file, as FILE:LINE:COL: error: TEXT. */
#include "bench/bench.h"
#include "cli/cli.h"
#include "phrase/phrase.h"
#include "sequence/sequence.h"

#include <stdio.h>
#include <string.h>

/* What was checked. */
struct tally {
	int files[FILE_BENCH + 1];
	int calls; /* of the plans */
};

static void check_job(const char *file, const char *text, struct tally *tally,
		      struct faults *faults)
{
	struct plan plan;

	if (plan_read_text(&plan, file, text, &MACHINE_DEFAULT, faults))
		tally->calls += plan.sequence->call_count;
	plan_free(&plan);
}

static void check_document(const struct yaml_document *document, struct tally *tally,
			   struct faults *faults)
{
	enum file_kind kind = FILE_JOB;

	if (!file_kind_find(document, &kind))
		return;
	tally->files[kind]++;
	switch (kind) {
	case FILE_JOB:
		check_job(document->file, document->bytes, tally, faults);
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
}

static void check_file(const char *path, struct tally *tally, struct faults *faults)
{
	struct yaml_document *document = yaml_read(path, faults);

	if (document)
		check_document(document, tally, faults);
	yaml_free(document);
}

/* "1 job plan, 58 calls; 2 patterns: no faults" */
static void print_tally(const struct tally *tally, size_t warnings)
{
	static const char *const names[] = {"job plan", "pattern", "phrasebook", "bench file"};
	const char *before = "";

	for (int kind = FILE_JOB; kind <= FILE_BENCH; kind++) {
		int count = tally->files[kind];
		if (count == 0)
			continue;
		printf("%s%d %s%s", before, count, names[kind], count == 1 ? "" : "s");
		if (kind == FILE_JOB)
			printf(", %d calls", tally->calls);
		before = "; ";
	}
	if (warnings > 0)
		printf(": no errors, %zu warning%s\n", warnings, warnings == 1 ? "" : "s");
	else
		puts(": no faults");
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
	struct tally tally = {0};
	int code = command_line_read(&line, argc, argv);

	if (code >= 0)
		return code;
	for (int i = optind; i < argc; i++)
		check_file(argv[i], &tally, &faults);
	size_t warnings = faults.warnings;
	code = faults_report(&faults);
	if (code == EXIT_DONE)
		print_tally(&tally, warnings);
	return code;
}
