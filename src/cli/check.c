/* pullcall check: every fault of every file, as FILE:LINE:COL: error: TEXT. */
#include "base/yaml.h"
#include "cli/command.h"
#include "job/job.h"
#include "phrase/phrasebook.h"
#include "sequence/sequence.h"
#include "settings/bench.h"

#include <stdio.h>
#include <string.h>

static const char help[] =
	"Usage: pullcall check FILE...\n"
	"\n"
	"Looks for faults in pattern files, job plans, phrasebooks and bench files (\"-\" is\n"
	"standard input), and prints each as FILE:LINE:COL: error: TEXT. A job plan is checked\n"
	"together with its pattern, as far as the whole sequence.\n"
	"\n"
	"Exit: 0 no errors (there may be warnings), 1 errors, 2 wrong usage.\n";

/* What kind of file it is shows in the key that only that kind has. */
enum kind { KIND_PATTERN, KIND_JOB, KIND_PHRASEBOOK, KIND_BENCH };

static enum kind kind_of(const struct yaml_document *document)
{
	const struct yaml_node *root = document->root;

	if (yaml_get(root, "job") || yaml_get(root, "stringer") || yaml_get(root, "method"))
		return KIND_JOB;
	if (yaml_get(root, "pattern") || yaml_get(root, "mains") || yaml_get(root, "crosses"))
		return KIND_PATTERN;
	if (yaml_get(root, "calls") || yaml_get(root, "language") || yaml_get(root, "notices"))
		return KIND_PHRASEBOOK;
	return KIND_BENCH;
}

static void check_job(const char *file, const char *text, struct faults *faults)
{
	struct job *job = job_read_text(file, text, faults);
	struct pattern *pattern = job ? job_find_pattern(job, faults) : NULL;

	if (pattern)
		sequence_free(sequence_compile(job, pattern, faults));
	pattern_free(pattern);
	job_free(job);
}

static void check_file(const char *path, struct faults *faults)
{
	struct yaml_document *document = yaml_read(path, faults);

	if (!document)
		return;
	switch (kind_of(document)) {
	case KIND_JOB:
		check_job(document->file, document->bytes, faults);
		break;
	case KIND_PATTERN:
		pattern_free(pattern_read_text(document->file, document->bytes, faults));
		break;
	case KIND_PHRASEBOOK:
		phrasebook_free(phrasebook_read_text(document->file, document->bytes, faults));
		break;
	case KIND_BENCH:
		bench_free(bench_read_text(document->file, document->bytes, faults));
		break;
	}
	yaml_free(document);
}

int command_check(int argc, char **argv)
{
	static const struct option table[] = {OPTION_TABLE_END};
	struct faults faults = {0};
	int code = 0;

	if (command_option(argc, argv, table, help, &code) == OPTION_LEAVE)
		return code;
	if (optind == argc)
		return command_usage("check", "a file is missing");
	for (int i = optind; i < argc; i++)
		check_file(argv[i], &faults);
	return command_faults(&faults);
}
