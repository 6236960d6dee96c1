/* pullcall check: every fault of every file, as FILE:LINE:COL: error: TEXT. */
#include "cli/cli.h"
#include "sequence/sequence.h"

#include <string.h>
#include <strings.h>

/* ---- which kind of file it is ---- */

/* In any case: a reader says better than we can that a key is written small. */
static int count_keys(const struct yaml_document *document, const char *const *keys)
{
	int count = 0;

	for (; *keys; keys++)
		for (const struct yaml_node *node = document->root->first; node; node = node->next)
			count += strcasecmp(node->key, *keys) == 0;
	return count;
}

bool file_kind_find(const struct yaml_document *document, enum file_kind *out)
{
	/* Plans and patterns alike may have tension, pattern and string: these tell nothing. */
	static const char *const keys[][9] = {
		[FILE_JOB] = {"job", "stringer", "method", "adjust", "order", "weave", "detail"},
		[FILE_PATTERN] = {"title", "sport", "mains", "crosses", "holes", "bridge",
				  "crosses_start", "tie_off"},
		[FILE_PHRASEBOOK] = {"phrasebook", "calls", "notices", "numbers", "plural"},
		[FILE_BENCH] = {"pedals", "gestures", "voice", "sound", "speak", "reach",
				"machine"},
	};
	int most = 0;

	for (enum file_kind kind = FILE_JOB; kind <= FILE_BENCH; kind++) {
		int count = count_keys(document, keys[kind]);
		if (count <= most)
			continue;
		most = count;
		*out = kind;
	}
	if (most == 0)
		fault_add(document->faults, FAULT_ERROR, document->file, document->root->position,
			  "file-kind",
			  "neither a job plan (it would have the key \"job\"), nor a pattern "
			  "(\"mains\"), a phrasebook (\"calls\") or a bench file (\"voice\", "
			  "\"pedals\")");
	return most > 0;
}

bool file_is_pattern(const char *path)
{
	struct faults hidden = {0};
	struct yaml_document *document = yaml_read(path, &hidden);
	enum file_kind kind;
	bool found = document && file_kind_find(document, &kind) && kind == FILE_PATTERN;

	yaml_free(document);
	faults_free(&hidden);
	return found;
}

/* ---- the check ---- */

/* What was checked. */
struct tally {
	int files[FILE_BENCH + 1];
	int calls;              /* of the plans */
	struct machine machine; /* that they are for */
};

/* Mains and crosses may be cut off one reel. */
static void check_reels(const struct plan *plan, struct faults *faults)
{
	const struct job *job = plan->job;
	const struct string_length *cuts[] = {&job->length[STRING_MAIN], &job->length[STRING_CROSS],
					      &job->whole};
	const double *length_mm = plan->sequence->length_mm;
	const double mm[] = {length_mm[0], length_mm[1], length_mm[0] + length_mm[1]};
	struct journal *journal = journal_there(NULL);

	for (int i = 0; i < 3 && journal; i++) {
		struct reel_use use = {cuts[i]->reel, 0, job->file, cuts[i]->reel_position};
		for (int other = 0; other < 3 && use.reel; other++)
			if (cuts[other]->reel && strcmp(cuts[other]->reel, use.reel) == 0)
				use.cut_mm += mm[other];
		reel_check(journal, &use, faults);
	}
	journal_close(journal);
}

static void check_job(struct yaml_document *document, struct tally *tally, struct faults *faults)
{
	struct plan plan;

	stringer_check(document, NULL);
	if (plan_read(&plan, document->file, document->bytes, NULL, &tally->machine, faults)) {
		tally->calls += plan.sequence->call_count;
		check_reels(&plan, faults);
	}
	plan_free(&plan);
	yaml_free(document);
}

static void check_file(const char *path, struct tally *tally, struct faults *faults)
{
	struct yaml_document *document = yaml_read(path, faults);
	enum file_kind kind = FILE_JOB;

	if (!document || !file_kind_find(document, &kind)) {
		yaml_free(document);
		return;
	}
	tally->files[kind]++;
	if (kind == FILE_JOB)
		check_job(document, tally, faults);
	else if (kind == FILE_PATTERN)
		pattern_free(pattern_read(document));
	else if (kind == FILE_PHRASEBOOK)
		phrasebook_free(phrasebook_read(document));
	else
		bench_free(bench_read(document));
}

/* The user's own; a bench file with faults is another check's business. */
static struct machine usual_machine(void)
{
	struct faults faults = {0};
	struct bench *bench = bench_find(NULL, &faults);
	struct machine machine = bench ? *bench->machine : MACHINE_DEFAULT;

	bench_free(bench);
	faults_free(&faults);
	return machine;
}

/* "1 job plan, 58 calls on a lock-out machine with fixed clamps; 2 patterns: no faults" */
static void print_tally(const struct tally *tally, size_t warnings)
{
	static const char *const names[] = {"job plan", "pattern", "phrasebook", "bench file"};
	const struct machine *machine = &tally->machine;
	const char *before = "";

	for (int kind = FILE_JOB; kind <= FILE_BENCH; kind++) {
		int count = tally->files[kind];
		if (count == 0)
			continue;
		printf("%s%d %s%s", before, count, names[kind], count == 1 ? "" : "s");
		if (kind == FILE_JOB)
			printf(", %d calls on a %s machine with %s clamps%s", tally->calls,
			       tension_head_names[machine->head], clamps_names[machine->clamps],
			       machine->starting_clamp ? " and a starting clamp" : "");
		before = "; ";
	}
	if (warnings > 0)
		printf(": no errors, %zu warning%s\n", warnings, warnings == 1 ? "" : "s");
	else
		puts(": no faults");
}

int command_check(int argc, char **argv)
{
	struct faults faults = {0};
	struct tally tally = {.machine = usual_machine()};

	command_read(NULL, NULL, argc, argv);
	for (int i = optind; i < argc; i++)
		check_file(argv[i], &tally, &faults);
	size_t warnings = faults.warnings;
	int code = faults_report(&faults);
	if (code == EXIT_DONE)
		print_tally(&tally, warnings);
	return code;
}
