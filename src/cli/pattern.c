/* pullcall pattern: the patterns there are, and a new one from answers given with the frame in
 * hand. */
#include "base/base.h"
#include "bench/bench.h"
#include "cli/cli.h"
#include "frame/frame.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

/* Writes the whole file; removes it again if the disk was full half way. */
static int write_file(const char *path, const struct text *text)
{
	FILE *out = fopen(path, "wx");

	if (!out) {
		fprintf(stderr, "pullcall: %s: %s\n", path, strerror(errno));
		return EXIT_CREATE;
	}
	bool good = fwrite(text->bytes, 1, text->length, out) == text->length;
	good = fflush(out) == 0 && good;
	good = fsync(fileno(out)) == 0 && good;
	int error = errno;
	fclose(out);
	if (good) {
		fprintf(stderr, "Written: %s\n", path);
		return 0;
	}
	fprintf(stderr, "pullcall: %s: %s\n", path, strerror(error));
	unlink(path);
	return EXIT_IO;
}

static int write_pattern(const char *output, bool terminal, const char *name,
			 const struct text *text)
{
	char *path = NULL;
	int code = 0;

	if (output && strcmp(output, "-") != 0)
		path = memory_copy(output);
	else if (!output && terminal)
		path = memory_format("%s.yaml", name);
	if (path)
		code = write_file(path, text);
	/* If the file could not be written, show what would be in it: the answers are not lost. */
	if (!path || code != 0)
		fwrite(text->bytes, 1, text->length, stdout);
	free(path);
	return code;
}

/* A pattern that job plans find, or a file that would be overwritten. */
static bool is_taken(const char *name)
{
	char *looked = NULL;
	char *path = path_find(PATH_PATTERNS, name, "./", &looked);

	bool taken = path;
	free(looked);
	free(path);
	return taken;
}

static int terminal_columns(void)
{
	struct winsize size;

	return ioctl(STDERR_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 ? size.ws_col : 80;
}

static int ask_and_write(const struct bench *bench, const char *output, struct faults *faults)
{
	bool person = isatty(STDIN_FILENO);
	struct text text = {0};
	char *name = NULL;
	const struct pattern_new asker = {
		.in = stdin,
		.show = stderr,
		.person = person,
		.file = "<standard input>",
		.columns = terminal_columns(),
		.kept = person ? "pattern-new.answers" : NULL,
		.is_taken = person ? is_taken : NULL,
		.machine = bench->machine,
	};
	int code = EXIT_NO;

	if (pattern_new(&asker, &text, &name, faults))
		code = write_pattern(output, person && isatty(STDOUT_FILENO), name, &text);
	else if (person)
		fputs("\nNothing was written. The answers so far are in pattern-new.answers: "
		      "\"pullcall pattern new\"\ngoes on with them.\n",
		      stderr);
	text_free(&text);
	free(name);
	return code;
}

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

static struct pattern *read_named(const char *name, struct faults *faults)
{
	char *looked = NULL;
	char *path = path_find(PATH_PATTERNS, name, NULL, &looked);
	struct pattern *pattern = path ? pattern_read(path, faults) : NULL;

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
	struct pattern **patterns = read_all(path_names(PATH_PATTERNS), &count, &faults);

	for (size_t i = 0; i < count; i++) {
		const struct pattern *before = i > 0 ? patterns[i - 1] : NULL;
		const struct pattern *pattern = patterns[i];
		if (!before || before->sport != pattern->sport)
			printf("%s%s\n", before ? "\n" : "", sport_name(pattern->sport));
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
	int code = command_line_read(&line, argc, argv);

	if (code >= 0)
		return code;
	if (strcmp(argv[optind], "list") == 0 && !output)
		return list();
	if (strcmp(argv[optind], "new") != 0)
		return command_line_wrong(&line, "unknown pattern command \"%s\"", argv[optind]);
	struct bench *bench = bench_find(NULL, &faults);
	code = bench ? ask_and_write(bench, output, &faults) : EXIT_NO;
	bench_free(bench);
	faults_report(&faults);
	return code;
}
