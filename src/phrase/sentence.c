#include "phrase/internal.h"

#include "base/base.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A sentence while it is compiled. */
struct compiler {
	const struct yaml_node *node;
	const char *what;
	const struct field_rule *rule;
	struct sentence *sentence;
	bool good;
	bool says_something;
	int bracket;          /* how many there were */
	const char *opened;   /* the open bracket, or NULL */
	bool bracket_decides; /* it has a field with nothing to say at times */
	bool instead;         /* behind its bar */
};

static void fault_at(struct compiler *compiler, const char *at, const char *code,
		     const char *format, ...) __attribute__((format(printf, 4, 5)));

static void fault_at(struct compiler *compiler, const char *at, const char *code,
		     const char *format, ...)
{
	const struct yaml_node *node = compiler->node;
	va_list values;

	va_start(values, format);
	fault_vadd(node->document->faults, FAULT_ERROR, node->document->file,
		   position_in(node, (size_t)(at - node->text)), code, format, values);
	va_end(values);
	compiler->good = false;
}

/* "{number}, {side}": what a set of fields is called in messages; the caller frees it. */
static char *field_list(field_set set)
{
	struct text list = {0};

	for (enum field field = 0; field < FIELDS; field++)
		if (set >> field & 1)
			text_format(&list, "%s{%s}", list.length ? ", " : "", field_name(field));
	return list.length ? text_take(&list) : memory_copy("no field");
}

static void report_field(struct compiler *compiler, const char *at, const char *name)
{
	const char *names[FIELDS + 1];
	size_t count = 0;

	for (enum field field = 0; field < FIELDS; field++)
		if (compiler->rule->known >> field & 1)
			names[count++] = field_name(field);
	names[count] = NULL;
	const char *nearest = fault_did_you_mean(name, names);
	char *list = field_list(compiler->rule->known);
	if (field_find(name) < FIELDS)
		fault_at(compiler, at, "phrase-field", "{%s} has no value in %s, which knows %s",
			 name, compiler->what, list);
	else if (nearest)
		fault_at(compiler, at, "phrase-field", "unknown field {%s}: did you mean {%s}?",
			 name, nearest);
	else
		fault_at(compiler, at, "phrase-field", "unknown field {%s}: %s knows %s", name,
			 compiler->what, list);
	free(list);
}

static void add_piece(struct compiler *compiler, enum field field, const char *words, size_t length)
{
	struct sentence *sentence = compiler->sentence;

	if (field == FIELDS && length == 0)
		return;
	sentence->pieces = memory_resize(sentence->pieces, (size_t)sentence->count + 1,
					 sizeof(sentence->pieces[0]));
	sentence->pieces[sentence->count++] = (struct piece){
		.field = field,
		.words = field == FIELDS ? memory_copy_part(words, length) : NULL,
		.bracket = compiler->opened ? compiler->bracket : 0,
		.instead = compiler->instead,
	};
}

static void add_field(struct compiler *compiler, const char *at, const char *name)
{
	enum field field = field_find(name);
	field_set bit = field < FIELDS ? (field_set)1 << field : 0;

	if (!(compiler->rule->known & bit)) {
		report_field(compiler, at, name);
		return;
	}
	if ((fields_at_times & bit) && (!compiler->opened || compiler->instead))
		fault_at(compiler, at, "phrase-optional",
			 "{%s} has nothing to say at times: put it and the words that belong to it "
			 "in [ ]",
			 name);
	compiler->bracket_decides |= (fields_at_times & bit) != 0;
	compiler->sentence->fields |= bit;
	compiler->says_something = true;
	add_piece(compiler, field, NULL, 0);
}

/* The field that opens at `at`; returns what comes after it. */
static const char *compile_field(struct compiler *compiler, const char *at)
{
	size_t length = strcspn(at + 1, "{}[]| ");

	if (at[1 + length] != '}') {
		fault_at(compiler, at, "phrase-brace",
			 "\"{\" is not closed: a field is written {name}");
		return at + 1 + length;
	}
	char *name = memory_copy_part(at + 1, length);
	add_field(compiler, at, name);
	free(name);
	return at + 1 + length + 1;
}

static void open_bracket(struct compiler *compiler, const char *at)
{
	if (compiler->opened)
		fault_at(compiler, at, "phrase-bracket", "\"[\" inside \"[\"");
	compiler->opened = at;
	compiler->bracket++;
	compiler->bracket_decides = false;
	compiler->instead = false;
}

static void pass_bar(struct compiler *compiler, const char *at)
{
	if (!compiler->opened || compiler->instead)
		fault_at(compiler, at, "phrase-bracket",
			 "\"|\" stands once in [ ]: what is said else is behind it");
	compiler->instead = true;
}

static void close_bracket(struct compiler *compiler, const char *at)
{
	if (!compiler->opened)
		fault_at(compiler, at, "phrase-bracket", "\"]\" without \"[\"");
	else if (!compiler->bracket_decides && compiler->good)
		fault_at(compiler, compiler->opened, "phrase-bracket",
			 "this part would always be said: [ ] are for a field with nothing to say "
			 "at times");
	compiler->opened = NULL;
	compiler->instead = false;
}

/* What may reach the synthesiser beside letters shapes the sentence. */
static bool is_sayable(uint32_t point)
{
	return utf8_is_letter(point) || point == ' ' || point == '\'' || point == ',' ||
	       point == '.' || point == '-';
}

/* Words up to the next field or bracket; returns what comes after them. */
static const char *compile_words(struct compiler *compiler, const char *at)
{
	size_t length = strcspn(at, "{}[]|");
	const char *end = at + length;

	for (const char *next = at; next < end;) {
		const char *character = next;
		uint32_t point = utf8_next(&next);
		compiler->says_something |= utf8_is_letter(point);
		if (is_sayable(point))
			continue;
		fault_at(compiler, character, "phrase-character",
			 "\"%.*s\" is not for speaking: write letters, spaces, commas, full stops, "
			 "hyphens and apostrophes",
			 (int)(next - character), character);
		break;
	}
	add_piece(compiler, FIELDS, at, length);
	return end;
}

static const char *compile_next(struct compiler *compiler, const char *at)
{
	switch (*at) {
	case '{':
		return compile_field(compiler, at);
	case '[':
		open_bracket(compiler, at);
		return at + 1;
	case ']':
		close_bracket(compiler, at);
		return at + 1;
	case '|':
		pass_bar(compiler, at);
		return at + 1;
	case '}':
		fault_at(compiler, at, "phrase-brace", "\"}\" without \"{\"");
		return at + 1;
	default:
		return compile_words(compiler, at);
	}
}

/* A sentence that begins with a field or a bracket is a map or a list to YAML. */
static bool is_text(const struct yaml_node *node, const char **text)
{
	if (node && node->kind != YAML_SCALAR) {
		yaml_fault(node, "value-kind",
			   "expected a sentence: one that begins with a brace or a bracket stands "
			   "in quotes");
		return false;
	}
	return yaml_text(node, SENTENCE_BYTES_MAX, text);
}

static void check_whole(struct compiler *compiler)
{
	field_set missing = compiler->rule->needed & ~compiler->sentence->fields;

	if (!compiler->says_something) {
		yaml_fault(compiler->node, "phrase-empty", "%s says nothing", compiler->what);
		compiler->good = false;
	} else if (missing) {
		char *list = field_list(missing);
		yaml_fault(compiler->node, "phrase-missing", "%s must say %s", compiler->what,
			   list);
		free(list);
		compiler->good = false;
	}
}

bool sentence_compile(const struct yaml_node *node, const char *what, const struct field_rule *rule,
		      struct sentence *out)
{
	struct compiler compiler = {node, what, rule, out, .good = true};
	const char *at;

	*out = (struct sentence){0};
	if (!is_text(node, &at))
		return false;
	while (*at)
		at = compile_next(&compiler, at);
	if (compiler.opened)
		fault_at(&compiler, compiler.opened, "phrase-bracket", "\"[\" is not closed");
	if (compiler.good)
		check_whole(&compiler);
	if (!compiler.good)
		sentence_free(out);
	return compiler.good;
}

void sentence_free(struct sentence *sentence)
{
	for (int i = 0; i < sentence->count; i++)
		free(sentence->pieces[i].words);
	free(sentence->pieces);
	*sentence = (struct sentence){0};
}

void field_values_free(struct field_values *values)
{
	for (enum field field = 0; field < FIELDS; field++)
		free(values->words[field]);
	*values = (struct field_values){0};
}

static bool bracket_is_said(const struct sentence *sentence, int bracket,
			    const struct field_values *values)
{
	for (int i = 0; i < sentence->count; i++) {
		const struct piece *piece = &sentence->pieces[i];
		if (piece->bracket == bracket && !piece->instead && piece->field < FIELDS &&
		    !values->words[piece->field])
			return false;
	}
	return true;
}

void sentence_fill(const struct sentence *sentence, const struct field_values *values,
		   struct text *out)
{
	for (int i = 0; i < sentence->count; i++) {
		const struct piece *piece = &sentence->pieces[i];
		if (piece->bracket &&
		    bracket_is_said(sentence, piece->bracket, values) == piece->instead)
			continue;
		const char *words =
			piece->field == FIELDS ? piece->words : values->words[piece->field];
		if (words)
			text_add(out, words);
	}
}

bool words_read(const struct yaml_node *node, char **out)
{
	static const struct field_rule no_fields = {0, 0};
	struct sentence sentence = {0};

	if (!sentence_compile(node, "this word", &no_fields, &sentence))
		return false;
	const char *text = node->text;
	bool good = yaml_text(node, WORDS_BYTES_MAX, &text);
	*out = good ? memory_copy(text) : NULL;
	sentence_free(&sentence);
	return good;
}
