/* pullcall pattern: the patterns there are, and a new one from answers given with the frame in
 * hand. */
#include "base/base.h"
#include "bench/bench.h"
#include "cli/cli.h"
#include "frame/frame.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* By sport, then by counts, then by name. */
static int compare(const void *left, const void *right)
{
	const struct pattern *a = *(struct pattern *const *)left;
	const struct pattern *b = *(struct pattern *const *)right;

	if (a->sport != b->sport)
		return (int)a->sport - (int)b->sport;
	if (a->mains != b->mains)
		return a->mains - b->mains;
	if (a->crosses != b->crosses)
		return a->crosses - b->crosses;
	return strcmp(a->name, b->name);
}

static bool is_pattern(const char *path)
{
	struct faults hidden = {0};
	struct yaml_document *document = yaml_read(path, &hidden);
	enum file_kind kind;

	bool found = document && file_kind_find(document, &kind) && kind == FILE_PATTERN;
	yaml_free(document);
	faults_free(&hidden);
	return found;
}

/* The one that a plan in this folder would find. Other files here may be anything. */
static struct pattern *read_named(const char *name, struct faults *faults)
{
	char *looked = NULL;
	char *path = path_find(PATH_PATTERNS, name, "./", &looked);
	struct pattern *pattern = NULL;

	if (path && (strncmp(path, "./", 2) != 0 || is_pattern(path)))
		pattern = pattern_read(path, faults);
	free(looked);
	free(path);
	return pattern;
}

/* All that can be read; those of a name that is in several folders once. Frees the names. */
static struct pattern **read_all(char **names, size_t *count, struct faults *faults)
{
	struct pattern **patterns = NULL;

	*count = 0;
	for (char **name = names; *name; name++) {
		struct pattern *pattern = read_named(*name, faults);
		free(*name);
		if (!pattern)
			continue;
		patterns = memory_resize(patterns, *count + 1, sizeof(*patterns));
		patterns[(*count)++] = pattern;
	}
	free(names);
	if (*count > 0)
		qsort(patterns, *count, sizeof(*patterns), compare);
	return patterns;
}

static int list(void)
{
	struct faults faults = {0};
	size_t count = 0;
	struct pattern **patterns = read_all(path_names(PATH_PATTERNS, "./"), &count, &faults);

	for (size_t i = 0; i < count; i++) {
		const struct pattern *before = i > 0 ? patterns[i - 1] : NULL;
		const struct pattern *pattern = patterns[i];
		if (!before || before->sport != pattern->sport)
			printf("%s%s\n", before ? "\n" : "", sport_names[pattern->sport]);
		if (!before || compare(&before, &pattern) != 0)
			printf("  %2d x %-2d  %-24s  %s\n", pattern->mains, pattern->crosses,
			       pattern->name, pattern->title);
	}
	for (size_t i = 0; i < count; i++)
		pattern_free(patterns[i]);
	free(patterns);
	int code = faults_report(&faults);
	return count > 0 ? code : EXIT_NO;
}

int command_pattern(int argc, char **argv)
{
	const char *output = NULL;
	const struct option_row options[] = {
		{"output", 'o', "FILE",
		 "where to write, \"-\" for standard output; without it NAME.yaml in this folder from a "
		 "terminal, standard output otherwise",
		 .text = &output},
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall pattern",
		.usage = "new [--output FILE]",
		.about =
			"Asks about a frame, with the frame in hand: how many strings, where the holes are, "
			"where the knots go. Checks each answer, shows what follows from them, and "
			"writes the pattern file. An existing file is never overwritten.\n"
			"\n"
			"From a file or a pipe it reads one answer a line, in the order of the "
			"questions; an empty line is a default, or leaves out what may be left out, and "
			"so does the end.",
		.end = "Exit: 0 done, 1 there is no pattern, given up or an answer is at fault, 2 wrong usage, 73 the file cannot "
		       "be created, 74 it cannot be written; what was to be in it is printed then.",
		.operand = "list or new",
		.least = 1,
		.most = 1,
		.options = options,
	};
	struct faults faults = {0};

	command_line_read(&line, argc, argv);
	if (strcmp(argv[optind], "list") == 0 && !output)
		return list();
	if (strcmp(argv[optind], "new") != 0)
		command_line_wrong(&line, "unknown pattern command \"%s\"", argv[optind]);
	struct bench *bench = bench_find(NULL, &faults);
	faults_report(&faults);
	if (!bench)
		return EXIT_NO;
	struct form form;
	pattern_form(&form, bench->machine);
	int code = form_run(&form, output);
	bench_free(bench);
	return code;
}
