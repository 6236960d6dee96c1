/* pullcall pattern: the patterns there are, and a new one from answers given with the frame in
 * hand. */
#include "cli/cli.h"
#include "frame/frame.h"
#include "job/job.h"

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

/* The one that a plan in this folder would find. Other files here may be anything. */
static struct pattern *read_named(const char *name, struct faults *faults)
{
	char *path = path_find(PATH_PATTERNS, name, "./", NULL);
	struct pattern *pattern = NULL;

	if (path && (strncmp(path, "./", 2) != 0 || file_is_pattern(path)))
		pattern = pattern_read(yaml_read(path, faults));
	free(path);
	return pattern;
}

/* All that can be read. */
static struct pattern **read_all(size_t *count, struct faults *faults)
{
	char **names = path_names(PATH_PATTERNS, "./");
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

static void free_all(struct pattern **patterns, size_t count)
{
	for (size_t i = 0; i < count; i++)
		pattern_free(patterns[i]);
	free(patterns);
}

static bool is_wanted(const struct pattern *pattern, const char *counts, const char *sport)
{
	char *own = memory_format("%dx%d", pattern->mains, pattern->crosses);
	bool wanted = (!counts || strcmp(own, counts) == 0) &&
		      (!sport || strcmp(sport, sport_names[pattern->sport]) == 0);

	free(own);
	return wanted;
}

/* By what to tell a frame from others with as many strings. */
static void print_details(const struct pattern *pattern, FILE *out)
{
	const struct {
		const char *what;
		const struct hole_set *holes;
	} sets[] = {{",\n           mains skip", &pattern->mains_skip},
		    {"; shared", &pattern->shared},
		    {"; unused", &pattern->unused}};

	fprintf(out, "           %d + %d holes a side, %d in the bridge", pattern->holes[END_HEAD],
		pattern->holes[END_THROAT], pattern->bridge);
	if (pattern->head.area_mm2 > 0)
		fprintf(out, ", head %.0f cm2", pattern->head.area_mm2 / 100);
	for (size_t i = 0; i < sizeof(sets) / sizeof(sets[0]); i++) {
		const char *before = sets[i].what;
		char label[HOLE_TEXT_MAX];
		for (int place = 0; place < pattern_hole_count(pattern); place++) {
			struct hole hole = pattern_hole_at(pattern, place);
			if (!hole_in(sets[i].holes, hole))
				continue;
			fprintf(out, "%s %s", before, hole_text(hole, label));
			before = "";
		}
	}
	fputc('\n', out);
}

static void print_pattern(const struct pattern *before, const struct pattern *pattern, FILE *out)
{
	if (!before || before->sport != pattern->sport)
		fprintf(out, "%s%s\n", before ? "\n" : "", sport_names[pattern->sport]);
	fprintf(out, "  %2d x %-2d  %-24s  %s\n", pattern->mains, pattern->crosses, pattern->name,
		pattern->title);
}

static int list(void)
{
	struct faults faults = {0};
	size_t count = 0;
	struct pattern **patterns = read_all(&count, &faults);

	for (size_t i = 0; i < count; i++)
		print_pattern(i > 0 ? patterns[i - 1] : NULL, patterns[i], stdout);
	free_all(patterns, count);
	int code = faults_report(&faults);
	return count > 0 ? code : EXIT_NO;
}

bool pattern_of_counts(const char *counts, const char *sport, char *name)
{
	struct faults unread = {0};
	size_t count = 0, found = 0;
	struct pattern **patterns = read_all(&count, &unread);
	const struct pattern *before = NULL;

	for (size_t i = 0; i < count; i++)
		if (is_wanted(patterns[i], counts, sport) && ++found == 1)
			snprintf(name, ANSWER_MAX, "%s", patterns[i]->name);
	if (found != 1)
		fprintf(stderr, "pullcall: %s %s%s%s %s%s\n", found ? "several" : "no",
			sport ? sport : "", sport ? " " : "", found ? "patterns are" : "pattern is",
			counts, found ? ": say which with --pattern NAME" : "");
	for (size_t i = 0; i < count && found > 1; i++) {
		if (!is_wanted(patterns[i], counts, sport))
			continue;
		print_pattern(before, patterns[i], stderr);
		print_details(patterns[i], stderr);
		before = patterns[i];
	}
	free_all(patterns, count);
	faults_free(&unread);
	return found == 1;
}

/* ---- the form: what follows from the answers ---- */

static void show_holes(FILE *show, const struct pattern *pattern)
{
	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++) {
		struct hole holes[MAINS_MAX / 2];
		int half = pattern_half(pattern);
		for (int k = 1; k <= half; k++)
			holes[k - 1] = pattern_main_hole(pattern, end, k);
		char *list = hole_list(holes, half);
		fprintf(show, "  mains at the %-7s %s\n", end_names[end], list);
		free(list);
	}
	char *list = hole_list(pattern->cross_hole + 1, pattern->crosses);
	fprintf(show, "  crosses from the head %s\n", list);
	free(list);
}

static void show_facts(FILE *show, const struct pattern *pattern)
{
	enum frame_end start = pattern_mains_start(pattern);

	fprintf(show, "\n%d mains and %d crosses, the same on both sides:\n", pattern->mains,
		pattern->crosses);
	show_holes(show, pattern);
	fprintf(show, "  the mains start at the %s and end at the %s\n\n", end_names[start],
		end_names[pattern_main_end(start, pattern_half(pattern))]);
}

static void show_lengths(const struct form *form, const struct pattern *pattern)
{
	const struct machine *machine = form->context;
	struct length_allowance allowance = LENGTH_ALLOWANCE(machine->reach_mm, machine->margin_mm);
	struct bed bed;

	if (!bed_of_pattern(pattern, &bed))
		return;
	fprintf(form->show,
		"\nString, an estimate: mains %.1f m, crosses %.1f m, with %g mm at each end to "
		"grip.\n",
		length_of_mains_mm(&bed, &allowance) / 1000,
		length_of_crosses_mm(&bed, &allowance) / 1000, allowance.reach_mm);
}

/* The pattern of the answers so far, and of `rest`; NULL with what is wrong told. */
static struct pattern *pattern_so_far(struct form *form, int last, const char *rest)
{
	struct faults faults = {0};
	char *answers = form_file(form, last);
	char *file = memory_format("%s%s", answers, rest);
	struct pattern *pattern = pattern_read(yaml_read_text("answers", file, &faults));

	form_report(form, &faults);
	faults_free(&faults);
	free(answers);
	free(file);
	return pattern;
}

/* Shows the hole map. If the counts do not add up, or not to this frame, goes back to them. */
static int after_holes(struct form *form, int last)
{
	int counts = form_question(form, "mains");
	struct pattern *pattern = pattern_so_far(form, last, "crosses_start: head\n");

	if (pattern)
		show_facts(form->show, pattern);
	pattern_free(pattern);
	if (!form->person)
		return pattern ? last + 1 : FORM_END;
	if (!pattern) {
		print_words(form->show, 2,
			    "The counts again, please: an empty answer keeps the value in [ ].",
			    "\n");
		return counts;
	}
	enum reply reply =
		form_confirm(form, "Is this how the frame is drilled?",
			     "Compare the lists above with the holes of the frame, side by side. "
			     "yes (or y) goes on, no (or n) asks for the counts again, back asks "
			     "the last question again.");
	return reply == REPLY_YES    ? last + 1
	       : reply == REPLY_NO   ? counts
	       : reply == REPLY_BACK ? last
				     : FORM_END;
}

static int after(struct form *form, int n)
{
	if (strcmp(form->questions[n].key, "unused") == 0)
		return after_holes(form, n);
	if (!form->questions[n + 1].key) {
		struct pattern *pattern = pattern_so_far(form, n, "");
		if (pattern)
			show_lengths(form, pattern);
		pattern_free(pattern);
	}
	return n + 1;
}

static bool read_pattern(const char *file, struct faults *faults)
{
	struct pattern *pattern = pattern_read(yaml_read_text("answers", file, faults));

	pattern_free(pattern);
	return pattern;
}

/* A pattern that job plans find, or a file that would be overwritten. */
static bool is_taken(const char *name)
{
	char *path = path_find(PATH_PATTERNS, name, "./", NULL);
	bool taken = path;

	free(path);
	return taken;
}

void pattern_form(struct form *form, struct machine *machine)
{
	static const struct question *questions;

	if (!questions)
		questions = form_questions(pattern_questions_yaml);
	*form = (struct form){
		.what = "pattern",
		.about = "Questions about the frame in your hand.",
		.comment = "Written from answers given with the frame in hand.",
		.questions = questions,
		.read = read_pattern,
		.is_taken = is_taken,
		.after = after,
		.context = machine,
	};
}

int command_pattern(int argc, char **argv)
{
	const char *output = NULL;
	const struct option_row options[] = {{"output", 'o', .text = &output}, {0}};
	struct faults faults = {0};

	const struct command_syntax *line = command_read(options, NULL, argc, argv);
	if (strcmp(argv[optind], "list") == 0 && !output)
		return list();
	if (strcmp(argv[optind], "new") != 0)
		command_line_wrong(line, "unknown pattern command \"%s\"", argv[optind]);
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
