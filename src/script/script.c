#include "script/internal.h"

#include "sequence/sequence.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#define FACT(name) offsetof(struct script, name)
const size_t script_facts[SCRIPT_FACTS] = {
	FACT(job),       FACT(title),         FACT(stringer),  FACT(pattern),      FACT(sport),
	FACT(method),    FACT(crosses_start), FACT(detail),    FACT(teaching),     FACT(language),
	FACT(program),   FACT(plan_file),     FACT(plan_text), FACT(pattern_text), FACT(racket),
	FACT(customer),  FACT(due),           FACT(notes),     FACT(tension[0]),   FACT(tension[1]),
	FACT(string[0]), FACT(string[1]),
};
_Static_assert(offsetof(struct script, whole) == SCRIPT_FACTS * sizeof(char *),
	       "a text of struct script is missing here");

#define WORDS(name) offsetof(struct script_line, name)
const size_t script_line_texts[SCRIPT_LINE_TEXTS] = {
	WORDS(kind),       WORDS(phase),       WORDS(skill),       WORDS(string), WORDS(side),
	WORDS(full_words), WORDS(short_words), WORDS(again_words), WORDS(why),    WORDS(name),
	WORDS(question),   WORDS(place),       WORDS(reel),
};
_Static_assert(offsetof(struct script_line, number) == SCRIPT_LINE_TEXTS * sizeof(char *),
	       "a text of struct script_line is missing here");

const char **script_text_at(void *item, size_t offset)
{
	return (const char **)((char *)item + offset);
}

/* Copies the texts of a script or a line into one block, which is returned, and points to them
 * there. */
static char *own_texts(void *item, const size_t *offsets, int count)
{
	struct text block = {0};
	size_t at = 0;

	for (int i = 0; i < count; i++) {
		const char *text = *script_text_at(item, offsets[i]);
		if (text)
			text_add_part(&block, text, strlen(text) + 1);
	}
	char *texts = text_take(&block);
	for (int i = 0; i < count; i++) {
		const char **text = script_text_at(item, offsets[i]);
		if (!*text)
			continue;
		*text = texts + at;
		at += strlen(*text) + 1;
	}
	return texts;
}

struct script *script_new(const struct script *facts)
{
	struct script *script = memory_new(1, sizeof(*script));

	*script = *facts;
	script->lines = NULL;
	script->count = 0;
	script->mishaps = NULL;
	script->mishap_count = 0;
	script->texts = own_texts(script, script_facts, SCRIPT_FACTS);
	return script;
}

void script_add(struct script *script, const struct script_line *line)
{
	assert(script->count < SCRIPT_LINES_MAX);
	script->lines = memory_resize(script->lines, (size_t)script->count + 1, sizeof(*line));
	struct script_line *added = &script->lines[script->count++];
	*added = *line;
	if (added->call == 0)
		added->call = script->count;
	added->texts = own_texts(added, script_line_texts, SCRIPT_LINE_TEXTS);
}

void script_free(struct script *script)
{
	if (!script)
		return;
	for (int i = 0; i < script->count; i++)
		free(script->lines[i].texts);
	free(script->lines);
	free(script->mishaps);
	free(script->texts);
	free(script);
}

const struct script_line *script_line(const struct script *script, int number)
{
	assert(number >= 1 && script->count > 0);
	return &script->lines[(number > script->count ? script->count : number) - 1];
}

const char *script_words(const struct script *script, int number)
{
	const struct script_line *line = script_line(script, number);

	return script->says_short ? line->short_words : line->full_words;
}

bool script_teaching_is(const struct script *script, const char *teaching)
{
	return script->teaching && strcmp(script->teaching, teaching) == 0;
}

bool script_is_taught(const struct script *script)
{
	return script->teaching && !script_teaching_is(script, "no");
}

bool script_has_trainer(const struct script *script)
{
	return script_teaching_is(script, "trainer") || script_teaching_is(script, "test");
}

struct script_left script_left(const struct script *script, int number)
{
	return number == 1 ? script->whole : script_line(script, number - 1)->left;
}

/* The bits of the bed in which the string of a line is counted; NULL: it is about none. */
static uint64_t *bits_of(struct script_bed *bed, const struct script_line *line)
{
	if (!line->string || line->number >= 64)
		return NULL;
	if (strcmp(line->string, "cross") == 0)
		return &bed->crosses;
	return line->side && strcmp(line->side, "left") == 0 ? &bed->left : &bed->right;
}

static const struct script_bed empty = {0};

struct script_bed script_bed(const struct script *script, int number)
{
	return number == 1 ? empty : script_line(script, number - 1)->bed;
}

/* Calls that a way back replaces keep their numbers, so the last line has the highest. */
int script_call(const struct script *script, int number)
{
	int past = number > script->count;

	return script_line(script, number)->call + past;
}

int script_place(const struct script *script, int call)
{
	for (int i = 1; i <= script->count + 1; i++)
		if (script_call(script, i) == call)
			return i;
	return 0;
}

int script_strings(const struct script *script, int number, int lines[SCRIPT_STRINGS_MAX])
{
	struct script_bed bed = number == 1 ? empty : script_line(script, number - 1)->redo;
	int count = 0;

	for (int i = number - 1; i >= 1; i--) {
		const struct script_line *line = script_line(script, i);
		uint64_t *bits = bits_of(&bed, line);
		uint64_t bit = UINT64_C(1) << (line->number & 63);
		if (!bits || !(*bits & bit))
			continue;
		*bits &= ~bit; /* each once */
		lines[count++] = i;
	}
	return count;
}
