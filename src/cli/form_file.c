/* The questions of a form, and the file that their answers make. */
#include "cli/cli.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

/* Nothing that could end a value or begin another. */
static const char plain[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 .,+%/-";

/* ---- questions ---- */

static void read_question(const struct yaml_node *node, struct question *question)
{
	static const char *const writes[] = {"plain", "text", "holes", "sides", "each", NULL};
	const struct yaml_row rows[] = {
		{"key", true, .text = &question->key, .most = ANSWER_MAX},
		{"ask", .text = &question->ask, .most = ANSWER_MAX},
		{"help", .text = &question->help, .most = ANSWER_MAX},
		{"needed", .yes = &question->needed},
		{"default", .text = &question->standard, .most = ANSWER_MAX},
		{"option", .text = &question->option, .most = ANSWER_MAX},
		{"value", .text = &question->value, .most = ANSWER_MAX},
		{"silent", .yes = &question->silent},
		{"write", .choice = &question->write, .names = writes},
		{"only", .text = &question->only, .most = ANSWER_MAX},
		{"comment", .text = &question->comment, .most = ANSWER_MAX},
		{0},
	};

	yaml_read_map(node, rows);
}

const struct question *form_questions(const char *yaml)
{
	struct question *questions = memory_new(QUESTIONS_MAX + 1, sizeof(*questions));
	struct faults faults = {0};
	struct yaml_document *document = yaml_read_text("questions", yaml, &faults);
	const struct yaml_node *list = document ? yaml_get(document->root, "questions") : NULL;
	const struct yaml_node *node = list ? list->first : NULL;

	for (int n = 0; node && n < QUESTIONS_MAX; n++, node = node->next)
		read_question(node, &questions[n]);
	yaml_free(document);
	if (faults_report(&faults) != EXIT_DONE || node)
		abort(); /* they belong to the program */
	return questions;
}

int form_question(const struct form *form, const char *key)
{
	for (int n = 0; form->questions[n].key; n++)
		if (strcmp(form->questions[n].key, key) == 0)
			return n;
	return -1;
}

char *form_answer(struct form *form, const char *key)
{
	return form->answer[form_question(form, key)];
}

int form_question_count(const struct form *form)
{
	int count = 0;

	while (form->questions[count].key)
		count++;
	return count;
}

bool form_applies(const struct form *form, int n)
{
	const char *only = form->questions[n].only;

	if (!only)
		return true;
	size_t length = strcspn(only, " ");
	char *key = memory_copy_part(only, length);
	const char *answer = form->answer[form_question(form, key)];
	free(key);
	return only[length] ? strcmp(answer, only + length + 1) == 0 : *answer != '\0';
}

/* ---- the file ---- */

bool form_is_plain(const char *answer)
{
	return strspn(answer, plain) == strlen(answer);
}

static void write_text(struct text *out, const char *answer)
{
	if (isalnum((unsigned char)answer[0]) && form_is_plain(answer)) {
		text_add(out, answer);
		return;
	}
	text_add_char(out, '"');
	for (; *answer; answer++) {
		if (*answer == '"' || *answer == '\\')
			text_add_char(out, '\\');
		text_add_char(out, *answer);
	}
	text_add_char(out, '"');
}

/* Labels may be typed small and with or without commas: 7h, 9h. */
static void write_labels(struct text *out, const char *answer, const char *before,
			 const char *between)
{
	const char *at = answer;

	for (at += strspn(at, ", "); *at; at += strspn(at, ", ")) {
		text_add(out, before);
		for (; *at && *at != ',' && *at != ' '; at++)
			text_add_char(out, (char)toupper((unsigned char)*at));
		before = between;
	}
}

static void write_answer(struct text *out, enum write write, const char *answer)
{
	bool holes = write == WRITE_HOLES || write == WRITE_SIDES;
	bool several = strpbrk(answer, ", ");

	/* What is not plain is for the reader to refuse. */
	if (write == WRITE_TEXT || (!holes && !form_is_plain(answer))) {
		write_text(out, answer);
	} else if (write == WRITE_HOLES) { /* "7H 9H" as [7H, 9H] */
		text_add_char(out, '[');
		write_labels(out, strcmp(answer, "none") == 0 ? "" : answer, "", ", ");
		text_add_char(out, ']');
	} else if (write == WRITE_SIDES) { /* "8T" as it is, "8T 6T" as { left: 8T, right: 6T } */
		text_add(out, several ? "{ " : "");
		write_labels(out, answer, several ? "left: " : "", ", right: ");
		text_add(out, several ? " }" : "");
	} else { /* EACH: "12 mm, 13 mm" as [12 mm, 13 mm] */
		text_format(out, write == WRITE_EACH && strchr(answer, ',') ? "[%s]" : "%s",
			    answer);
	}
}

/* A map has the comment of its first question, even if that one is left out. */
static const char *comment_of(const struct question *questions, int n)
{
	size_t map = strcspn(questions[n].key, "/");

	while (n > 0 && questions[n].key[map] &&
	       strncmp(questions[n - 1].key, questions[n].key, map + 1) == 0)
		n--;
	return questions[n].comment;
}

/* Opens the maps of "map/key" that the key before it did not open. */
static void add_key(struct text *out, const char *key, const char *before, const char *comment)
{
	size_t opened = 0;
	int depth = 0;

	for (size_t i = 0; key[i] && key[i] == before[i]; i++) {
		if (key[i] == '/') {
			opened = i + 1;
			depth++;
		}
	}
	if (depth == 0 && comment)
		text_format(out, "\n# %s\n", comment);
	key += opened;
	for (size_t map; key[map = strcspn(key, "/")]; key += map + 1)
		text_format(out, "%*s%.*s:\n", 2 * depth++, "", (int)map, key);
	text_format(out, "%*s%s: ", 2 * depth, "", key);
}

char *form_file(const struct form *form, int last)
{
	const char *before = "";
	struct text out = {0};

	for (int n = 0; n <= last && form->questions[n].key; n++) {
		const struct question *question = &form->questions[n];
		if (form->answer[n][0] == '\0' || !(form->all || form_applies(form, n)))
			continue;
		add_key(&out, question->key, before, comment_of(form->questions, n));
		write_answer(&out, question->write, form->answer[n]);
		text_add_char(&out, '\n');
		before = question->key;
	}
	if (form->more && !form->questions[last + 1].key)
		text_add(&out, form->more);
	return text_take(&out);
}
