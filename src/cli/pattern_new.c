#include "cli/cli.h"

#include "base/base.h"
#include "frame/frame.h"
#include "job/job.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum reply { REPLY_ANSWER, REPLY_BACK, REPLY_STAY, REPLY_COUNTS, REPLY_END };

struct dialogue {
	const struct pattern_new *asker;
	struct form form;
	struct faults *faults;
	struct faults told; /* warnings that were shown: each is shown once */
	int line;           /* of the answers */
};

static const char rule[] = "The maker's own stringing instructions come before anything here.";

/* ---- lines ---- */

/* Shows a line of text, indented, broken between words where the terminal ends. */
static void show_text(const struct dialogue *dialogue, int indent, const char *text)
{
	struct text out = {0};

	text_format(&out, "%*s", indent, "");
	text_add_wrapped(&out, text, indent, dialogue->asker->columns);
	fputs(text_string(&out), dialogue->asker->show);
	text_free(&out);
}

/* A line without blanks around it. False at the end of the file; a line too long is cut, and *whole
 * tells. */
static bool read_line(struct dialogue *dialogue, char line[static ANSWER_MAX], bool *whole)
{
	FILE *in = dialogue->asker->in;
	size_t length = 0;
	int byte;

	*whole = true;
	while ((byte = getc(in)) != EOF && byte != '\n') {
		/* A NUL would end the text unseen: make it something that is refused. */
		if (length < ANSWER_MAX - 1)
			line[length++] = byte ? (char)byte : '\x7f';
		else
			*whole = false;
	}
	if (byte == EOF && length == 0)
		return false;
	dialogue->line++;
	while (length > 0 && strchr(" \t\r", line[length - 1]))
		length--;
	line[length] = '\0';
	size_t blanks = strspn(line, " \t");
	memmove(line, line + blanks, length - blanks + 1);
	return true;
}

static void report(struct dialogue *dialogue, enum question question, const char *why)
{
	if (dialogue->asker->person)
		show_text(dialogue, 2, why);
	else
		fault_add(dialogue->faults, FAULT_ERROR, dialogue->asker->file,
			  (struct position){dialogue->line, 1}, "answer", "%s: %s",
			  question_text(question), why);
}

static void show_question(const struct dialogue *dialogue, enum question question)
{
	const char *former = dialogue->form.answer[question];
	const char *standard = question_default(question);

	struct text line = {0};

	text_add(&line, question_text(question));
	const char *offered = former[0] || !standard ? former : standard;
	if (offered[0])
		text_format(&line, " [%s]", offered);
	else if (standard)
		text_add(&line, " (may be left out)");
	text_add_char(&line, ':');
	char *words = text_take(&line);
	text_add_wrapped(&line, words, 0, dialogue->asker->columns);
	/* The answer is typed on the same line. */
	fprintf(dialogue->asker->show, "%.*s ", (int)line.length - 1, text_string(&line));
	fflush(dialogue->asker->show);
	text_free(&line);
	free(words);
}

/* ---- answers ---- */

/* What a typed line means: itself; empty, the former answer or the default; "-", nothing. */
static const char *meaning(const char *line, const char *former, const char *standard)
{
	if (strcmp(line, "-") == 0)
		return standard ? standard : "";
	if (line[0])
		return line;
	return former[0] || !standard ? former : standard;
}

static void show_faults(struct dialogue *dialogue, const struct faults *faults)
{
	for (size_t i = 0; i < faults->count; i++) {
		const struct fault *fault = &faults->items[i];
		size_t told = dialogue->told.warnings;
		char *line = memory_format("%s: %s",
					   fault->severity == FAULT_ERROR ? "error" : "warning",
					   fault->text);
		if (fault->severity == FAULT_WARNING)
			fault_add(&dialogue->told, FAULT_WARNING, "", (struct position){0},
				  fault->code, "%s", fault->text);
		if (fault->severity == FAULT_ERROR || dialogue->told.warnings > told)
			show_text(dialogue, 2, line);
		free(line);
	}
}

/* Warnings of the answers so far, when the last of them has brought any. */
static void show_new_warnings(struct dialogue *dialogue, enum question question)
{
	struct faults faults = {0};
	struct pattern *pattern = form_pattern(&dialogue->form, question, &faults);

	if (pattern)
		show_faults(dialogue, &faults);
	pattern_free(pattern);
	faults_free(&faults);
}

static bool is_taken(const struct dialogue *dialogue, enum question question)
{
	return question == ASK_NAME && dialogue->asker->is_taken &&
	       dialogue->asker->is_taken(dialogue->form.answer[ASK_NAME]);
}

/* Puts an answer into the form, or says why not. */
static bool take(struct dialogue *dialogue, enum question question, const char *line)
{
	const char *standard = question_default(question);
	char *answer = dialogue->form.answer[question];
	char former[ANSWER_MAX];
	char *why = NULL;

	memcpy(former, answer, sizeof(former));
	snprintf(answer, ANSWER_MAX, "%s", meaning(line, former, standard));
	bool applies = question_applies(question, &dialogue->form);
	if (applies && !answer[0] && !standard)
		why = memory_copy("an answer is needed here");
	else if (applies)
		why = form_fault(&dialogue->form, question);
	else if (answer[0] && dialogue->faults->errors == 0)
		why = memory_copy("this needs an answer that was left out before");
	if (!why && is_taken(dialogue, question))
		why = memory_format("there is a pattern \"%s\" already", answer);
	if (!why)
		return true;
	report(dialogue, question, why);
	memcpy(answer, former, sizeof(former));
	free(why);
	return false;
}

/* Reads a file to its end, to find all its faults. Answers after the end are left out. */
static enum reply read_answer(struct dialogue *dialogue, enum question question)
{
	char line[ANSWER_MAX];
	bool whole;

	do {
		if (!read_line(dialogue, line, &whole))
			return take(dialogue, question, "") ? REPLY_ANSWER : REPLY_END;
	} while (line[0] == '#');
	if (!whole)
		report(dialogue, question, "the answer is too long");
	else
		take(dialogue, question, line);
	return REPLY_ANSWER;
}

/* Asks until there is an answer. */
static enum reply ask(struct dialogue *dialogue, enum question question)
{
	char line[ANSWER_MAX];
	bool whole;

	for (;;) {
		show_question(dialogue, question);
		if (!read_line(dialogue, line, &whole))
			return REPLY_END;
		if (strcmp(line, "back") == 0)
			return REPLY_BACK;
		if (strcmp(line, "?") == 0)
			show_text(dialogue, 2, question_help(question));
		else if (!whole)
			report(dialogue, question, "the answer is too long");
		else if (take(dialogue, question, line)) {
			show_new_warnings(dialogue, question);
			return REPLY_ANSWER;
		}
	}
}

static enum question question_before(const struct dialogue *dialogue, enum question question)
{
	enum question before = question;

	while (before > 0) {
		before--;
		if (question_applies(before, &dialogue->form))
			return before;
	}
	return question;
}

/* ---- what comes of it ---- */

static void show_holes(FILE *show, const struct pattern *pattern)
{
	for (enum frame_end end = END_HEAD; end <= END_THROAT; end++) {
		struct hole holes[MAINS_MAX / 2];
		int half = pattern_half(pattern);
		for (int k = 1; k <= half; k++)
			holes[k - 1] = (struct hole){end, pattern->main_hole[end][k]};
		char *list = hole_list(holes, half);
		fprintf(show, "  mains at the %-7s %s\n", end_name(end), list);
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
	fprintf(show, "  the mains start at the %s and end at the %s\n\n", end_name(start),
		end_name(pattern_main_end(start, pattern_half(pattern))));
}

static void show_lengths(const struct pattern_new *asker, const struct pattern *pattern)
{
	struct length_allowance allowance = LENGTH_ALLOWANCE_DEFAULT;
	struct bed bed;

	allowance.reach_mm = asker->machine->reach_mm;
	allowance.margin_mm = asker->machine->margin_mm;
	if (!bed_of_pattern(pattern, &bed))
		return;
	fprintf(asker->show,
		"\nString, an estimate: mains %.1f m, crosses %.1f m, with %g mm at each end to "
		"grip.\n",
		length_of_mains_mm(&bed, &allowance) / 1000,
		length_of_crosses_mm(&bed, &allowance) / 1000, allowance.reach_mm);
}

/* "Is this how the frame is drilled?" Only a person is asked. */
static enum reply confirm(struct dialogue *dialogue)
{
	char line[ANSWER_MAX];
	bool whole;

	while (dialogue->asker->person) {
		fputs("Is this how the frame is drilled? [yes]: ", dialogue->asker->show);
		fflush(dialogue->asker->show);
		if (!read_line(dialogue, line, &whole))
			return REPLY_END;
		if (strcmp(line, "no") == 0 || strcmp(line, "n") == 0)
			return REPLY_COUNTS;
		if (strcmp(line, "back") == 0)
			return REPLY_STAY;
		if (line[0] == '\0' || strcmp(line, "yes") == 0 || strcmp(line, "y") == 0)
			break;
		show_text(
			dialogue, 2,
			"Compare the lists above with the holes of the frame, side by side. yes (or y) "
			"goes on, no (or n) asks for the counts again, back asks the last question "
			"again.");
	}
	return REPLY_ANSWER;
}

/* The hole map of the answers so far; if the counts do not add up, back to them. */
static enum reply check_map(struct dialogue *dialogue)
{
	struct faults faults = {0};
	struct form form = dialogue->form;

	snprintf(form.answer[ASK_CROSSES_START], ANSWER_MAX, "head");
	struct pattern *pattern = form_pattern(&form, ASK_CROSSES_START, &faults);
	enum reply reply = REPLY_END;
	if (pattern) {
		show_facts(dialogue->asker->show, pattern);
		show_faults(dialogue, &faults);
		reply = confirm(dialogue);
	} else if (dialogue->asker->person) {
		show_faults(dialogue, &faults);
		fputs("  The counts again, please: an empty answer keeps the value in [ ].\n",
		      dialogue->asker->show);
		reply = REPLY_COUNTS;
	} else {
		for (size_t i = 0; i < faults.count; i++)
			fault_add(dialogue->faults, faults.items[i].severity, dialogue->asker->file,
				  (struct position){dialogue->line, 1}, faults.items[i].code, "%s",
				  faults.items[i].text);
	}
	pattern_free(pattern);
	faults_free(&faults);
	return reply;
}

/* One question, and after the last about holes what follows from them. A file has a line for each
 * question, asked for or not, so that its lines keep their meaning. */
static enum reply go_through(struct dialogue *dialogue, enum question question)
{
	enum reply reply = REPLY_ANSWER;

	if (!dialogue->asker->person)
		reply = read_answer(dialogue, question);
	else if (question_applies(question, &dialogue->form))
		reply = ask(dialogue, question);
	if (reply != REPLY_ANSWER || question != ASK_UNUSED || dialogue->faults->errors > 0)
		return reply;
	return check_map(dialogue);
}

/* ---- an interrupted session: its answers are kept as a file that can be read as any other ---- */

static void keep_answers(const struct dialogue *dialogue, enum question count)
{
	FILE *out = dialogue->asker->kept ? fopen(dialogue->asker->kept, "w") : NULL;

	if (!out)
		return;
	fputs("# Answers for `pullcall pattern new`, which goes on with them.\n", out);
	for (enum question question = 0; question < count; question++)
		fprintf(out, "%s\n", dialogue->form.answer[question]);
	fclose(out);
}

static bool wants_kept(struct dialogue *dialogue)
{
	char line[ANSWER_MAX];
	bool whole;

	fprintf(dialogue->asker->show,
		"Go on with the answers in %s? [yes]: ", dialogue->asker->kept);
	fflush(dialogue->asker->show);
	return read_line(dialogue, line, &whole) && line[0] != 'n';
}

/* Takes the kept answers over, as far as they are good. Returns the question that comes next. */
static enum question take_kept(struct dialogue *dialogue)
{
	const struct pattern_new *asker = dialogue->asker;
	FILE *in = asker->person && asker->kept ? fopen(asker->kept, "r") : NULL;
	enum question question = 0;
	char *line = NULL;
	size_t capacity = 0;

	if (!in)
		return 0;
	if (wants_kept(dialogue)) {
		while (question < QUESTIONS && getline(&line, &capacity, in) > 0) {
			line[strcspn(line, "\n")] = '\0';
			if (line[0] == '#')
				continue;
			if (!take(dialogue, question, line))
				break;
			question++;
		}
	}
	free(line);
	fclose(in);
	return question;
}

/* False: given up, or at fault. */
static bool fill_form(struct dialogue *dialogue)
{
	enum question question = take_kept(dialogue);

	while (question < QUESTIONS) {
		switch (go_through(dialogue, question)) {
		case REPLY_ANSWER:
			question++;
			keep_answers(dialogue, question);
			break;
		case REPLY_STAY:
			break;
		case REPLY_BACK:
			question = question_before(dialogue, question);
			break;
		case REPLY_COUNTS:
			question = ASK_MAINS;
			break;
		case REPLY_END:
			return false;
		}
	}
	return dialogue->faults->errors == 0;
}

bool pattern_new(const struct pattern_new *asker, struct text *out, char **name,
		 struct faults *faults)
{
	struct dialogue dialogue = {.asker = asker, .faults = faults};
	struct faults last = {0};

	if (asker->person)
		show_text(
			&dialogue, 0,
			"Questions about the frame in your hand. \"?\" explains one, \"back\" goes "
			"back one, \"-\" leaves one out.");
	if (asker->person)
		show_text(&dialogue, 0, rule);
	bool filled = fill_form(&dialogue);
	struct pattern *pattern =
		filled ? form_pattern(&dialogue.form, QUESTIONS - 1, &last) : NULL;
	show_faults(&dialogue, &last);
	faults_free(&dialogue.told);
	faults_free(&last);
	if (!pattern)
		return false;
	if (asker->kept)
		unlink(asker->kept);
	show_lengths(asker, pattern);
	pattern_free(pattern);
	char *file = form_file(&dialogue.form, QUESTIONS - 1);
	text_format(out, "# Written from answers given with the frame in hand.\n# %s\n%s", rule,
		    file);
	*name = memory_copy(dialogue.form.answer[ASK_NAME]);
	free(file);
	return true;
}
