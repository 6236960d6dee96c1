/* Asks the questions of a form, in a terminal or of a file of answers, and writes the file that
 * they make. */
#include "cli/cli.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const char rule[] = "The maker's own stringing instructions come before anything here.";

static bool is_answered(const struct form *form)
{
	for (int n = 0; form->questions[n].key; n++)
		if (form->questions[n].needed && !form->answer[n][0])
			return false;
	return true;
}

/* ---- lines ---- */

static void show_question(const struct form *form, int n)
{
	const struct question *question = &form->questions[n];
	const char *standard = question->standard;
	const char *offered = form->answer[n][0] || !standard ? form->answer[n] : standard;
	struct text line = {0};

	text_add(&line, question->ask);
	if (offered[0])
		text_format(&line, " [%s]", offered);
	else if (!question->needed)
		text_add(&line, " (may be left out)");
	text_add_char(&line, ':');
	print_words(form->show, 0, text_string(&line), " ");
	text_free(&line);
}

/* A line without the blanks around it, in form->typed until the next. NULL at the end. */
static const char *read_line(struct form *form)
{
	ssize_t length = getline(&form->typed, &form->room, form->in);

	if (length < 0)
		return NULL;
	form->line++;
	for (ssize_t i = 0; i < length; i++) /* a NUL would hide what follows it: DEL is refused */
		form->typed[i] = form->typed[i] ? form->typed[i] : '\x7f';
	while (length > 0 && strchr(" \t\r\n", form->typed[length - 1]))
		form->typed[--length] = '\0';
	return form->typed + strspn(form->typed, " \t");
}

void form_report(struct form *form, const struct faults *faults)
{
	const struct position here = {form->line, 1};

	for (size_t i = 0; i < faults->count; i++) {
		const struct fault *fault = &faults->items[i];
		bool error = fault->severity == FAULT_ERROR;
		size_t told = form->told.warnings;
		if (!error)
			fault_add(&form->told, FAULT_WARNING, "", (struct position){0}, fault->code,
				  "%s", fault->text);
		if (!error && form->told.warnings == told)
			continue;
		if (!form->person) {
			fault_add(&form->faults, fault->severity, form->in_name, here, fault->code,
				  "%s", fault->text);
			continue;
		}
		char *line = memory_format("%s: %s", error ? "error" : "warning", fault->text);
		print_words(form->show, 2, line, "\n");
		free(line);
	}
}

enum reply form_confirm(struct form *form, const char *words, const char *help)
{
	const char *line;
	char *question = memory_format("%s [yes]:", words);
	int reply = -1;

	while (reply < 0) {
		print_words(form->show, 0, question, " ");
		line = read_line(form);
		if (!line)
			reply = REPLY_END;
		else if (strcmp(line, "") == 0 || strcmp(line, "y") == 0 ||
			 strcmp(line, "yes") == 0)
			reply = REPLY_YES;
		else if (strcmp(line, "n") == 0 || strcmp(line, "no") == 0)
			reply = REPLY_NO;
		else if (strcmp(line, "back") == 0)
			reply = REPLY_BACK;
		else
			print_words(form->show, 2, help, "\n");
	}
	free(question);
	return (enum reply)reply;
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

/* What the reader of such files has against the file so far; its warnings are shown. Missing keys
 * are still to be asked for. The answers before this one were good, so it is this one's fault. */
static char *reader_fault(struct form *form, int last)
{
	struct faults faults = {0};
	char *file = form_file(form, last);
	char *why = NULL;

	form->read(file, &faults);
	for (size_t i = 0; i < faults.count && !why; i++)
		if (faults.items[i].severity == FAULT_ERROR &&
		    strcmp(faults.items[i].code, "key-missing") != 0)
			why = memory_copy(faults.items[i].text);
	if (form->person && faults.errors == 0)
		form_report(form, &faults);
	faults_free(&faults);
	free(file);
	return why;
}

static int count_words(const char *answer)
{
	int count = 0;

	for (answer += strspn(answer, ", "); *answer; answer += strspn(answer, ", ")) {
		answer += strcspn(answer, ", ");
		count++;
	}
	return count;
}

/* What is wrong with the holes of an answer, which could make the file another one; or NULL. */
static const char *holes_fault(enum write write, const char *answer)
{
	bool is_plain = form_is_plain(answer);

	if (write == WRITE_SIDES && (!is_plain || count_words(answer) > 2))
		return "expected a hole, such as 8T, or two where left and right differ: 8T 6T";
	return write == WRITE_HOLES && !is_plain ? "expected holes, such as 7H 9H" : NULL;
}

/* What is wrong with an answer where those up to `last` are there; or NULL. The caller frees it. */
static char *answer_fault(struct form *form, int n, int last)
{
	const struct question *question = &form->questions[n];
	const char *answer = form->answer[n];

	if (!form_applies(form, n))
		return answer[0] && form->faults.errors == 0
			       ? memory_format("this needs \"%s\"", question->only)
			       : NULL;
	if (!answer[0])
		return question->needed ? memory_copy("an answer is needed here") : NULL;
	const char *holes = holes_fault(question->write, answer);
	char *why = holes ? memory_copy(holes) : reader_fault(form, last);
	if (!why && question->write != WRITE_TEXT && !form_is_plain(answer))
		why = memory_copy("expected letters, digits and . , + - / % only");
	if (!why && n == 0 && form->is_taken && form->is_taken(answer))
		why = memory_format("there is a %s \"%s\" already", form->what, answer);
	return why;
}

/* Puts an answer into the form, where those up to `last` are there, or says why not. */
static bool take(struct form *form, int n, int last, const char *line)
{
	const struct question *question = &form->questions[n];
	char *answer = form->answer[n];
	char former[ANSWER_MAX];
	char *why = NULL;

	memcpy(former, answer, sizeof(former));
	if (strlen(line) < ANSWER_MAX) {
		snprintf(answer, ANSWER_MAX, "%s", meaning(line, former, question->standard));
		why = answer_fault(form, n, last);
	} else {
		why = memory_copy("the answer is too long");
	}
	if (!why)
		return true;
	memcpy(answer, former, sizeof(former));
	if (form->person)
		print_words(form->show, 2, why, "\n");
	else
		fault_add(&form->faults, FAULT_ERROR, form->in_name,
			  (struct position){form->line, 1}, "answer", "%s: %s",
			  question->ask ? question->ask : question->key, why);
	free(why);
	return false;
}

/* The question that comes next, or FORM_END. A file has a line for each question, asked for or not,
 * so that its lines keep their meaning; answers after its end are left out. It is read to its end,
 * to find all that is wrong. */
static int read_answer(struct form *form, int n)
{
	const char *line;

	do {
		line = read_line(form);
		if (!line) {
			form->line++; /* where it is missing */
			return take(form, n, n, "") ? n + 1 : FORM_END;
		}
	} while (line[0] == '#');
	take(form, n, n, line);
	return n + 1;
}

static int question_before(const struct form *form, int n)
{
	for (int before = n - 1; before >= 0; before--)
		if (form_applies(form, before) && !form->questions[before].silent)
			return before;
	return n;
}

/* Asks until there is an answer. */
static int ask(struct form *form, int n, int last)
{
	while (form_applies(form, n)) {
		show_question(form, n);
		const char *line = read_line(form);
		if (!line)
			return FORM_END;
		if (strcmp(line, "back") == 0)
			return question_before(form, n);
		if (strcmp(line, "?") == 0)
			print_words(form->show, 2, form->questions[n].help, "\n");
		else if (take(form, n, last, line))
			break;
	}
	return n + 1;
}

/* ---- changes at the end ---- */

static bool may_change(const struct form *form, int n)
{
	return form->questions[n].option && form_applies(form, n);
}

static void list_changes(const struct form *form)
{
	const char *before = "To add or change something, write its name, or its name and the "
			     "answer (mains 56 lb): ";
	struct text words = {0};

	for (int n = 0; form->questions[n].key; n++) {
		if (!may_change(form, n))
			continue;
		text_format(&words, "%s%s", before, form->questions[n].option);
		before = ", ";
	}
	print_words(form->show, 0, text_string(&words), "\n");
	text_free(&words);
}

/* "mains", "mains 56 lb" or "mains: 56 lb". False at the end of what is typed. */
static bool change(struct form *form, const char *line, int count)
{
	size_t length = strcspn(line, " :");
	const char *answer = line + length + strspn(line + length, " :");

	for (int n = 0; n < count; n++) {
		const char *option = form->questions[n].option;
		if (!may_change(form, n) || strlen(option) != length ||
		    strncmp(option, line, length) != 0)
			continue;
		if (!*answer)
			return ask(form, n, count - 1) != FORM_END;
		take(form, n, count - 1, answer);
		return true;
	}
	list_changes(form);
	return true;
}

/* Until a person has nothing to change. The question to go back to, or `count`, or FORM_END. */
static int ask_changes(struct form *form, int count)
{
	list_changes(form);
	while (true) {
		print_words(form->show, 0, "Anything else? [no]:", " ");
		const char *line = read_line(form);
		if (!line)
			return FORM_END;
		if (strcmp(line, "back") == 0)
			return question_before(form, count);
		if (!*line || strcmp(line, "no") == 0 || strcmp(line, "n") == 0)
			return count;
		if (!change(form, line, count))
			return FORM_END;
	}
}

/* ---- files ---- */

/* On the disk when this returns 0; else an errno. `mode` is fopen's. *opened is whether there was
 * such a file then, which is removed if it could not be written. */
static int save(const char *path, const char *mode, const struct text *text, bool *opened)
{
	FILE *out = fopen(path, mode);

	*opened = out;
	if (!out)
		return errno;
	bool good = fwrite(text->bytes, 1, text->length, out) == text->length;
	good = fflush(out) == 0 && good;
	good = fsync(fileno(out)) == 0 && good;
	int error = good ? 0 : errno;
	fclose(out);
	if (error)
		unlink(path);
	return error;
}

/* ---- an interrupted session: its answers are kept as a file that can be read as any other ---- */

static const char not_asked[] = "# Not asked yet:";

static void write_answers(const struct form *form, int count, struct text *out)
{
	int last = form_question_count(form);

	text_format(out, "# Answers for `pullcall %s new`, which goes on with them.\n", form->what);
	while (last > count && !form->answer[last - 1][0])
		last--;
	for (int n = 0; n < last; n++)
		text_format(out, "%s%s%s\n", n == count ? not_asked : "", n == count ? "\n" : "",
			    form->answer[n]);
}

/* What was kept before stays until this is on the disk. With `try_only` nothing is kept, but it is
 * told if nothing can be. */
static void keep_answers(struct form *form, int count, bool try_only)
{
	if (!form->kept)
		return;
	struct text text = {0};
	char *path = memory_format("%s.new", form->kept);
	bool told = form->unkept != 0, created;

	form->reached = count;
	write_answers(form, count, &text);
	form->unkept = save(path, "w", &text, &created);
	if (form->unkept == 0 && try_only)
		unlink(path);
	else if (form->unkept == 0 && rename(path, form->kept) == 0)
		form->are_kept = true;
	else if (form->unkept == 0)
		form->unkept = errno;
	if (form->unkept && !told) {
		char *line = memory_format("warning: the answers cannot be kept in %s: %s",
					   form->kept, strerror(form->unkept));
		print_words(form->show, 2, line, "\n");
		free(line);
	}
	text_free(&text);
	free(path);
}

/* Offers the kept answers, unless an option says something else: they are about another racket, and
 * stay as they are. Takes them over as far as they are good. Returns the question to ask next. */
static int take_kept(struct form *form)
{
	FILE *kept = form->kept ? fopen(form->kept, "r") : NULL, *typed = form->in;
	char answers[QUESTIONS_MAX][ANSWER_MAX] = {0};
	int asked = QUESTIONS_MAX, count = 0, n = 0;
	struct text words = {0};
	bool differs = false;

	if (!kept)
		return 0;
	form->are_kept = true;
	form->in = kept;
	for (const char *line; form->questions[count].key && (line = read_line(form));) {
		const struct question *question = &form->questions[count];
		if (strcmp(line, not_asked) == 0)
			asked = count;
		if (line[0] == '#')
			continue;
		differs |= form->answer[count][0] && strcmp(form->answer[count], line) != 0;
		if (line[0])
			text_format(&words, "%s%s %s", words.length ? ", " : "",
				    question->option ? question->option : question->key, line);
		snprintf(answers[count++], ANSWER_MAX, "%s", line);
	}
	form->in = typed;
	fclose(kept);
	char *question = memory_format(differs ? "%s keeps the answers of another %s (%s). They "
						 "stay there; those to come are not kept."
					       : "%s keeps the answers of a %s that was not "
						 "written (%s). Go on with them?",
				       form->kept, form->what, text_string(&words));
	if (differs) {
		print_words(form->show, 0, question, "\n");
		form->kept = NULL;
	} else if (form_confirm(form, question,
				"yes (or y) goes on after the last answer, no (or n) begins "
				"anew.") == REPLY_YES) {
		while (n < count && n < asked && take(form, n, n, answers[n]))
			n++;
		for (int later = n; later < count; later++)
			memcpy(form->answer[later], answers[later], ANSWER_MAX);
	}
	free(question);
	text_free(&words);
	return n;
}

/* ---- the whole ---- */

/* The question that comes after n, when it was asked or needs not be. */
static int go_on(struct form *form, int n)
{
	int next = n + 1;

	if (!form->person)
		next = read_answer(form, n);
	else if (!form->questions[n].silent)
		next = ask(form, n, n);
	if (next == n + 1 && form->faults.errors == 0 && form->after)
		next = form->after(form, n);
	return next;
}

static bool answer_all(struct form *form)
{
	int count = form_question_count(form);
	bool changes = form->person && form->questions[0].option;

	int first = form->answered ? count : take_kept(form);

	keep_answers(form, first, true);
	for (int n = first; n <= count;) {
		int next = count + 1;
		if (n < count)
			next = go_on(form, n);
		else if (changes)
			next = ask_changes(form, count);
		if (next == FORM_END)
			return false;
		if (n < count && next > n)
			keep_answers(form, next, false);
		if (n == count && next == count)
			break;
		n = next;
	}
	return form->faults.errors == 0;
}

static void show_beginning(const struct form *form)
{
	char *file = form_file(form, form_question_count(form) - 1);

	if (form->answered)
		fprintf(form->show, "%s\n\n%s\n", form->comment, file);
	else
		print_words(form->show, 0, form->about, "\n");
	print_words(form->show, 0, rule, "\n");
	if (!form->answered)
		print_words(form->show, 0,
			    "\"?\" explains a question, \"back\" goes back one, \"-\" leaves one "
			    "out.",
			    "\n");
	free(file);
}

/* What options say is checked as what is typed, and its faults name the option: the first that has
 * one, as those behind it are read with it. */
static bool options_are_good(struct form *form)
{
	char *told = NULL;

	for (int n = 0; form->given && form->questions[n].key; n++) {
		char *why = form->given[n] ? answer_fault(form, n, n) : NULL;
		if (!why || (told && strcmp(why, told) == 0)) {
			free(why);
			continue;
		}
		char *option = memory_format("--%s", form->questions[n].option);
		fault_add(&form->faults, FAULT_ERROR, option, (struct position){0}, "answer", "%s",
			  why);
		free(option);
		free(told);
		told = why;
	}
	free(told);
	return form->faults.errors == 0;
}

bool form_fill(struct form *form, struct text *out)
{
	struct faults faults = {0};

	if (form->answered && form->complete)
		form->complete(form);
	if (form->answered && !options_are_good(form))
		return false;
	if (form->person)
		show_beginning(form);
	if (!answer_all(form) || !options_are_good(form))
		return false;
	if (form->complete)
		form->complete(form);
	char *file = form_file(form, form_question_count(form) - 1);
	bool good = form->read(file, &faults);
	form_report(form, &faults);
	if (good)
		text_format(out, "# %s\n# %s\n%s", form->comment, rule, file);
	if (good && form->kept)
		unlink(form->kept);
	faults_free(&faults);
	free(file);
	return good;
}

void form_free(struct form *form)
{
	faults_free(&form->faults);
	faults_free(&form->told);
	free(form->typed);
}

/* Never overwrites a file; removes it again if the disk was full half way. */
static int write_file(const char *path, const struct text *text)
{
	bool created;
	int error = save(path, "wx", text, &created);

	if (error)
		fprintf(stderr, "pullcall: %s: %s\n", path, strerror(error));
	return error == 0 ? EXIT_DONE : created ? EXIT_IO : EXIT_CREATE;
}

static int write_form(const struct form *form, const char *output, const struct text *text)
{
	bool to_file = output ? strcmp(output, "-") != 0
			      : (form->person || form->answered) && isatty(STDOUT_FILENO);
	char *path = output ? memory_copy(output) : memory_format("%s.yaml", form->answer[0]);
	int code = to_file ? write_file(path, text) : EXIT_DONE;
	char *word = text_shell_word(path);

	if (to_file && code == EXIT_DONE)
		fprintf(stderr, "Written: %s\n", word);
	if (to_file && code == EXIT_DONE && form->then)
		fprintf(stderr, "To go on: %s %s\n", form->then, word);
	/* If the file could not be written, show what would be in it: the answers are not lost. */
	if (!to_file || code != EXIT_DONE)
		fwrite(text->bytes, 1, text->length, stdout);
	free(word);
	free(path);
	return code;
}

/* The answers that nothing keeps are printed. */
static void tell_given_up(const struct form *form)
{
	struct text text = {0};

	fprintf(stderr, "\nNothing was written. ");
	if (form->unkept) {
		write_answers(form, form->reached, &text);
		fprintf(stderr,
			"The answers so far are not in %s (%s), but here; from that file "
			"\"pullcall %s new\" goes on with them.\n",
			form->kept, strerror(form->unkept), form->what);
		fwrite(text.bytes, 1, text.length, stdout);
	} else if (form->are_kept) {
		fprintf(stderr,
			"The answers so far are in %s:\n\"pullcall %s new\" goes on with them.\n",
			form->kept, form->what);
	} else {
		fputs("\n", stderr);
	}
	text_free(&text);
}

int form_run(struct form *form, const char *output)
{
	char *kept = memory_format("%s-new.answers", form->what);
	struct text text = {0};
	int code = EXIT_NO;

	form->in = stdin;
	form->in_name = "<standard input>";
	form->show = stderr;
	form->answered = is_answered(form);
	form->person = isatty(STDIN_FILENO) && (!form->answered || form->ask_changes);
	if (form->person && !form->answered)
		form->kept = kept;
	if (!form->person)
		form->is_taken = NULL;
	if (form_fill(form, &text))
		code = write_form(form, output, &text);
	else if (form->kept)
		tell_given_up(form);
	faults_report(&form->faults);
	form_free(form);
	text_free(&text);
	free(kept);
	return code;
}
