/* pullcall voices: the list, one text, what to record. Sound is the speaker's business: this
 * program becomes it, or (voices_try.c) drives it as the daemon does. */
#include "base/base.h"
#include "bench/bench.h"
#include "cli/cli.h"
#include "script/script.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- what to record ---- */

/* Adds the words of a text that are not in the list yet, each as the name of its file. */
static void list_words(struct text *list, const char *text)
{
	static const char marks[] = " ,.?-";

	for (const char *at = text + strspn(text, marks); *at; at += strspn(at, marks)) {
		size_t length = strcspn(at, marks);
		char *line = memory_format("\n%.*s.wav\n", (int)length, at);
		line[1] = (char)tolower((unsigned char)line[1]);
		if (!strstr(text_string(list), line))
			text_add(list, line + 1);
		free(line);
		at += length;
	}
}

static int record_list(const char *plan)
{
	struct faults faults = {0};
	struct bench *bench = bench_find(NULL, &faults);
	struct phrasebook *book = bench ? phrasebook_find(bench->language, &faults) : NULL;
	struct script *script = book ? script_read(plan, false, bench, book, &faults) : NULL;
	struct text list = {0};

	text_add(&list, "\n");
	for (int i = 0; script && i < script->count; i++) {
		list_words(&list, script_words(script, i + 1));
		list_words(&list, script->lines[i].again_words);
	}
	fputs(script ? list.bytes + 1 : "", stdout);
	text_free(&list);
	script_free(script);
	phrasebook_free(book);
	bench_free(bench);
	return faults_report(&faults);
}

int command_voices(int argc, char **argv)
{
	static char speaker[] = "pullcall-speaker", list[] = "--list-voices", say[] = "--say";
	static char names[][10] = {"--voice", "--rate", "--volume", "--sound"};
	const char *values[4] = {0}, *bench = NULL;
	const struct option_row options[] = {
		{"voice", 0, "VOICE", "a name from the list", .text = &values[0]},
		{"rate", 0, "WPM", "words a minute, 80 to 450", .text = &values[1]},
		{"volume", 0, "PERCENT", "1 to 200", .text = &values[2]},
		{"sound", 0, "SOUND", "auto, device, device:NAME, wav:FILE or none",
		 .text = &values[3]},
		{"bench", 0, "FILE", "with try alone: the bench file that the choice is written to",
		 .text = &bench},
		{0},
	};
	const struct command_syntax line = {
		.name = "pullcall voices",
		.usage = "[list]\ntry TEXT [OPTION...]\ntry [--sound SOUND] [--bench FILE]\n"
			 "record-list JOB",
		.about =
			"Lists the voices of the synthesiser, or says a text to try one. Without a "
			"text, try says three calls in one way after another: a press of the pedal "
			"is for the next, a hold takes it, and it is written into the bench file. "
			"record-list names the words of a job to record for `recorded` in the bench "
			"file.",
		.end = "Exit: 0 done, 1 no such voice, device or file, or nothing was taken, 2 wrong "
		       "usage, 69 no sound device, or pullcall-speaker cannot be started.",
		.operand = "a text",
		.most = 2,
		.options = options,
	};
	char *arguments[2 * 4 + 4] = {speaker};
	int count = 1;

	command_line_read(&line, argc, argv);
	int operands = argc - optind;
	const char *what = operands ? argv[optind] : "list";
	bool try = strcmp(what, "try") == 0, record = strcmp(what, "record-list") == 0;
	if (!try && !record && strcmp(what, "list") != 0)
		command_line_wrong(&line, "unknown voices command \"%s\"", what);
	if (record && operands != 2)
		command_line_wrong(&line, "the job is missing");
	if (!try && !record && operands > 1)
		command_line_wrong(&line, "unexpected \"%s\"", argv[optind + 1]);
	for (int i = 0; i < 4; i++)
		if (values[i] && (!try || (operands == 1 && i < 3)))
			command_line_wrong(&line, "%s is for try%s", names[i],
					   try ? " with a text" : "");
	if (record)
		return record_list(argv[optind + 1]);
	if (try && operands == 1)
		return voices_try(values[3], bench);
	for (int i = 0; i < 4; i++)
		if (values[i]) {
			arguments[count++] = names[i];
			arguments[count++] =
				memory_copy(values[i]); /* the process becomes another */
		}
	arguments[count++] = try ? say : list;
	if (try)
		arguments[count] = argv[optind + 1];
	return become_program("pullcall-speaker", arguments);
}
