/* pullcall draw: the string bed as a picture, and the bench card. */
#include "draw/draw.h"

#include "base/base.h"
#include "bench/bench.h"
#include "cli/cli.h"
#include "daemon/daemon.h"
#include "phrase/phrase.h"
#include "sequence/sequence.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char help[] =
	"Usage: pullcall draw JOB|PATTERN -o FILE [--at CALL] [--card] [--bench FILE]\n"
	"\n"
	"Draws the string bed of a job plan or a pattern file: SVG, PDF or PNG, as the name of FILE\n"
	"ends; \"-\" is SVG on standard output.\n"
	"\n"
	"  -o, --output FILE   where to\n"
	"  --at CALL           the bed as it stands at that call, the next string emphasised\n"
	"  --card              a bench card: one A4 page, the picture and all that is pinned up\n"
	"  --bench FILE        the bench file (words for the sides), instead of the usual one\n"
	"\n"
	"Exit: 0 done, 1 the file is at fault, 2 wrong usage, 74 the picture cannot be written.\n";

struct wish {
	const char *input;
	const char *output;
	const char *bench_file;
	int at_call;
	bool card;
};

static bool read_call(const char *text, int *out)
{
	char *end;

	errno = 0;
	long call = strtol(text, &end, 10);
	if (errno || *end || end == text || call < 1 || call > INT_MAX)
		return false;
	*out = (int)call;
	return true;
}

/* 0 to go on, else the exit code + 1. */
static int read_options(int argc, char **argv, struct wish *wish)
{
	static const struct option table[] = {
		{"output", required_argument, NULL, 'o'},
		{"at", required_argument, NULL, 'a'},
		{"card", no_argument, NULL, 'c'},
		{"bench", required_argument, NULL, 'b'},
		OPTION_TABLE_END,
	};
	int option, code = 0;

	while ((option = command_option(argc, argv, table, help, &code)) != -1) {
		if (option == OPTION_LEAVE)
			return code + 1;
		if (option == 'o')
			wish->output = optarg;
		else if (option == 'c')
			wish->card = true;
		else if (option == 'b')
			wish->bench_file = optarg;
		else if (!read_call(optarg, &wish->at_call))
			return command_usage("draw", "--at takes a call from 1, not \"%s\"",
					     optarg) +
			       1;
	}
	if (optind + 1 != argc)
		return command_usage("draw", "expected one job plan or pattern file") + 1;
	if (!wish->output)
		return command_usage("draw", "where to? -o FILE is missing") + 1;
	if (wish->card && wish->at_call)
		return command_usage("draw", "--card shows the whole job: no --at") + 1;
	wish->input = argv[optind];
	return 0;
}

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
				 const struct bench *bench, struct faults *faults)
{
	enum draw_result result = DRAW_INPUT;
	struct draw_options options = {
		.at_call = wish->at_call,
		.side_words = {bench->side_words[SIDE_LEFT], bench->side_words[SIDE_RIGHT]},
	};
	struct plan plan;

	if (plan_read_text(&plan, document->file, document->bytes, bench->reach_mm, faults)) {
		char *words = words_at(plan.sequence, bench, wish->at_call, faults);
		options.call_words = words;
		result = wish->card ? draw_card(plan.sequence, &options, wish->output, faults)
				    : draw_bed(plan.sequence, &options, wish->output, faults);
		free(words);
	}
	plan_free(&plan);
	return result;
}

static enum draw_result draw_pattern_file(const struct yaml_document *document,
					  const struct wish *wish, const struct bench *bench,
					  struct faults *faults)
{
	const struct draw_options options = {
		.at_call = wish->at_call,
		.side_words = {bench->side_words[SIDE_LEFT], bench->side_words[SIDE_RIGHT]},
	};
	struct pattern *pattern = pattern_read_text(document->file, document->bytes, faults);
	enum draw_result result =
		pattern ? draw_pattern(pattern, &options, wish->output, faults) : DRAW_INPUT;

	pattern_free(pattern);
	return result;
}

static enum draw_result draw(const struct wish *wish, struct faults *faults)
{
	struct bench *bench = bench_find(wish->bench_file, faults);
	struct yaml_document *document = bench ? yaml_read(wish->input, faults) : NULL;
	enum draw_result result = DRAW_INPUT;

	if (document && file_kind_of(document) == FILE_JOB)
		result = draw_job(document, wish, bench, faults);
	else if (document && !wish->card)
		result = draw_pattern_file(document, wish, bench, faults);
	else if (document)
		fault_add(faults, FAULT_ERROR, document->file, (struct position){1, 1}, "draw-card",
			  "a bench card needs a job plan: tensions are not in a pattern");
	yaml_free(document);
	bench_free(bench);
	return result;
}

int command_draw(int argc, char **argv)
{
	static const int codes[] = {
		[DRAW_DONE] = 0,
		[DRAW_USAGE] = EXIT_USAGE,
		[DRAW_INPUT] = EXIT_NO,
		[DRAW_OUTSIDE] = DAEMON_EXIT_JOURNAL,
	};
	struct wish wish = {0};
	struct faults faults = {0};
	int leave = read_options(argc, argv, &wish);

	if (leave)
		return leave - 1;
	int code = codes[draw(&wish, &faults)];
	command_faults(&faults);
	return code;
}
