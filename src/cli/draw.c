/* pullcall draw: the string bed as a picture, and the bench card. */
#include "draw/draw.h"

#include "base/base.h"
#include "bench/bench.h"
#include "cli/cli.h"
#include "daemon/daemon.h"
#include "phrase/phrase.h"
#include "sequence/sequence.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct wish {
	const char *input;
	const char *output;
	const char *bench_file;
	int at_call;
	bool card;
};

/* The words of the call are part of its picture. */
static char *words_at(const struct sequence *sequence, const struct bench *bench, int call,
		      struct faults *faults)
{
	if (call < 1 || call > sequence->call_count)
		return NULL;
	struct phrasebook *book = phrasebook_find(bench->language, faults);
	const struct phrase_options options = bench_phrase_options(bench);
	char *words = book ? phrase_call(book, sequence, call - 1, &options) : NULL;
	phrasebook_free(book);
	return words;
}

static enum draw_result draw_job(const struct yaml_document *document, const struct wish *wish,
				 const struct bench *bench, struct draw_options *options,
				 struct faults *faults)
{
	enum draw_result result = DRAW_INPUT;
	struct plan plan;

	if (plan_read_text(&plan, document->file, document->bytes, bench->machine, faults)) {
		char *words = words_at(plan.sequence, bench, wish->at_call, faults);
		options->call_words = words;
		result = draw_bed(plan.sequence, options, wish->output, faults);
		free(words);
	}
	plan_free(&plan);
	return result;
}

/* A file, or the name of a pattern. The caller frees it. */
static char *input_path(const char *input)
{
	char *looked = NULL;
	char *path = NULL;

	if (access(input, F_OK) != 0 && !strchr(input, '/') && strcmp(input, "-") != 0)
		path = path_find(PATH_PATTERNS, input, NULL, &looked);
	free(looked);
	return path ? path : memory_copy(input);
}

static enum draw_result draw_document(const struct yaml_document *document, const struct wish *wish,
				      const struct bench *bench, struct faults *faults)
{
	struct draw_options options = {
		.card = wish->card,
		.at_call = wish->at_call,
		.side_words = {bench->side_words[SIDE_LEFT], bench->side_words[SIDE_RIGHT]},
	};
	enum draw_result result = DRAW_INPUT;
	enum file_kind kind;

	if (!file_kind_find(document, &kind))
		return result;
	if (kind == FILE_JOB)
		return draw_job(document, wish, bench, &options, faults);
	if (wish->card) {
		fault_add(faults, FAULT_ERROR, document->file, (struct position){1, 1}, "draw-card",
			  "a bench card needs a job plan: tensions are not in a pattern");
		return result;
	}
	struct pattern *pattern = pattern_read_text(document->file, document->bytes, faults);
	if (pattern)
		result = draw_pattern(pattern, &options, wish->output, faults);
	pattern_free(pattern);
	return result;
}

static enum draw_result draw(const struct wish *wish, struct faults *faults)
{
	struct bench *bench = bench_find(wish->bench_file, faults);
	char *path = input_path(wish->input);
	struct yaml_document *document = bench ? yaml_read(path, faults) : NULL;
	enum draw_result result =
		document ? draw_document(document, wish, bench, faults) : DRAW_INPUT;

	yaml_free(document);
	bench_free(bench);
	free(path);
	return result;
}

static int read_command_line(int argc, char **argv, struct wish *wish)
{
	const struct option_row options[] = {
		{"output", 'o', "FILE", "where to", .text = &wish->output},
		{"at", 0, "CALL", "the bed as it stands at that call, the next string emphasised",
		 .number = &wish->at_call, .min = 1, .max = 9999},
		{"card", 0, NULL,
		 "a bench card: one A4 page, the picture and all that is pinned up",
		 .flag = &wish->card},
		{"bench", 0, "FILE",
		 "the bench file (words for the sides), instead of the usual one",
		 .text = &wish->bench_file},
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall draw",
		.usage = "JOB|PATTERN --output FILE [OPTION...]",
		.about =
			"Draws the string bed of a job plan or a pattern (its file, or its name): SVG, PDF or PNG, as the name "
			"of FILE ends; \"-\" is SVG on standard output.",
		.end = "Exit: 0 done, 1 the file is at fault, 2 wrong usage, 74 the picture cannot be "
		       "written.",
		.operand = "a job plan or pattern file",
		.least = 1,
		.most = 1,
		.options = options,
	};
	int code = command_line_read(&line, argc, argv);

	if (code >= 0)
		return code;
	if (!wish->output)
		return command_line_wrong(&line, "-o FILE is missing");
	if (wish->card && wish->at_call)
		return command_line_wrong(&line, "--card shows the whole job: it takes no --at");
	wish->input = argv[optind];
	return -1;
}

int command_draw(int argc, char **argv)
{
	static const enum exit_code codes[] = {
		[DRAW_DONE] = EXIT_DONE,
		[DRAW_USAGE] = EXIT_USAGE,
		[DRAW_INPUT] = EXIT_NO,
		[DRAW_OUTSIDE] = EXIT_IO,
	};
	struct wish wish = {0};
	struct faults faults = {0};
	int code = read_command_line(argc, argv, &wish);

	if (code >= 0)
		return code;
	code = codes[draw(&wish, &faults)];
	faults_report(&faults);
	return code;
}
