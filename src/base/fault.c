/* Faults: collected in order, printed alike; and what was probably meant by a misspelt word. */
#include "base/base.h"

#include <stdlib.h>
#include <string.h>

/* Terminals obey control characters: those of a hostile file must not reach one in a message. */
static void make_printable(char *text)
{
	while (*text) {
		const char *next = text;
		uint32_t point = utf8_next(&next);
		size_t length = (size_t)(next - text);
		if (utf8_is_control(point) || point == UTF8_BAD)
			memset(text, '?', length);
		text += length;
	}
}

/* Two plans may name the same pattern, and a command may read a file twice. */
static bool is_known(const struct faults *faults, const char *file, struct position position,
		     const char *text)
{
	for (size_t i = 0; i < faults->count; i++) {
		const struct fault *fault = &faults->items[i];
		if (fault->position.line == position.line &&
		    fault->position.column == position.column && strcmp(fault->text, text) == 0 &&
		    strcmp(fault->file, file) == 0)
			return true;
	}
	return false;
}

/* Faults at the same position stay in the order found. */
static bool goes_before(const struct fault *a, const struct fault *b)
{
	if (strcmp(a->file, b->file) != 0)
		return false;
	if (a->position.line != b->position.line)
		return a->position.line < b->position.line;
	return a->position.column < b->position.column;
}

void fault_add(struct faults *faults, enum fault_severity severity, const char *file,
	       struct position position, const char *code, const char *format, ...)
{
	size_t at = faults->count;
	va_list values;

	va_start(values, format);
	char *text = memory_format_list(format, values);
	va_end(values);
	make_printable(text);
	bool known = is_known(faults, file, position, text);
	if (!known)
		*(severity == FAULT_ERROR ? &faults->errors : &faults->warnings) += 1;
	if (known || faults->count == FAULTS_MAX) {
		free(text);
		return;
	}
	const struct fault fault = {memory_copy(file), position, severity, code, text};
	faults->items = memory_resize(faults->items, ++faults->count, sizeof(faults->items[0]));
	for (; at > 0 && goes_before(&fault, &faults->items[at - 1]); at--)
		faults->items[at] = faults->items[at - 1];
	faults->items[at] = fault;
}

static void print_one(const struct fault *fault, FILE *out)
{
	const char *severity = fault->severity == FAULT_ERROR ? "error" : "warning";

	if (fault->position.line)
		fprintf(out, "%s:%d:%d: %s: %s [%s]\n", fault->file, fault->position.line,
			fault->position.column, severity, fault->text, fault->code);
	else
		fprintf(out, "%s: %s: %s [%s]\n", fault->file, severity, fault->text, fault->code);
}

void faults_print(const struct faults *faults, FILE *out)
{
	for (size_t i = 0; i < faults->count; i++)
		print_one(&faults->items[i], out);
	size_t more = faults->errors + faults->warnings - faults->count;
	if (more)
		fprintf(out, "pullcall: %zu more faults are not shown\n", more);
}

const char *faults_first_error(const struct faults *faults)
{
	for (size_t i = 0; i < faults->count; i++)
		if (faults->items[i].severity == FAULT_ERROR)
			return faults->items[i].text;
	return NULL;
}

void faults_free(struct faults *faults)
{
	for (size_t i = 0; i < faults->count; i++) {
		free(faults->items[i].file);
		free(faults->items[i].text);
	}
	free(faults->items);
	*faults = (struct faults){0};
}

int faults_report(struct faults *faults)
{
	int code = faults->errors ? EXIT_NO : EXIT_DONE;

	faults_print(faults, stderr);
	faults_free(faults);
	return code;
}

enum { WORD_MAX = 40 };

static size_t least(size_t a, size_t b)
{
	return a < b ? a : b;
}

/* Levenshtein distance with neighbours swapped counted as one (optimal string alignment). */
static size_t edit_distance(const char *a, const char *b)
{
	size_t cost[WORD_MAX + 1][WORD_MAX + 1]; /* from the first i bytes of a to j of b */
	size_t la = strlen(a), lb = strlen(b);

	for (size_t i = 0; i <= la; i++)
		for (size_t j = 0; j <= lb; j++) {
			cost[i][j] = i + j; /* one of them is empty */
			if (i == 0 || j == 0)
				continue;
			cost[i][j] = least(cost[i - 1][j - 1] + (a[i - 1] != b[j - 1]),
					   least(cost[i - 1][j], cost[i][j - 1]) + 1);
			if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
				cost[i][j] = least(cost[i][j], cost[i - 2][j - 2] + 1);
		}
	return cost[la][lb];
}

/* The one name that begins with the word; NULL: none does, or several do. */
static const char *only_name_of(const char *word, const char *const *names)
{
	const char *found = NULL;
	size_t length = strlen(word);

	for (; *names && length >= 3; names++) {
		if (strncmp(*names, word, length) != 0)
			continue;
		if (found)
			return NULL;
		found = *names;
	}
	return found;
}

const char *fault_did_you_mean(const char *word, const char *const *names)
{
	const char *nearest = NULL;
	size_t length = strlen(word);
	size_t least = length > 6 ? 4 : length > 3 ? 3 : 2; /* a match must be nearer than this */

	if (length > WORD_MAX)
		return NULL;
	for (const char *const *name = names; *name; name++) {
		if (strlen(*name) > WORD_MAX)
			continue;
		size_t distance = edit_distance(word, *name);
		if (distance < least) {
			least = distance;
			nearest = *name;
		}
	}
	return nearest ? nearest : only_name_of(word, names);
}

char *fault_unknown(const char *what, const char *word, const char *const *names)
{
	const char *meant = fault_did_you_mean(word, names);
	char *all = text_choice(names);
	char *text = memory_format("unknown %s \"%s\": %s%s%s", what, word,
				   meant ? "did you mean \"" : "expected ", meant ? meant : all,
				   meant ? "\"?" : "");

	free(all);
	return text;
}
