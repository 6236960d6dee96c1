/* A sentence with fields: compiled from a phrasebook, and filled in. */
#include "phrase/internal.h"

#include <stdlib.h>
#include <string.h>

static const char *const field_names[FIELDS] = {
#define FIELD_NAME(id, name, when) [FIELD_##id] = (name),
	FIELD_LIST(FIELD_NAME)
#undef FIELD_NAME
};

#define ALWAYS                    NONE
#define AT_TIMES                  (field_set)1
#define FIELD_BIT(id, name, when) | (when) << FIELD_##id
static const field_set fields_at_times = NONE FIELD_LIST(FIELD_BIT);
#undef FIELD_BIT

/* The field of that name, which is `length` bytes long. FIELDS: there is none. */
static enum field field_find(const char *name, size_t length)
{
	enum field field = 0;

	while (field < FIELDS && (strncmp(field_names[field], name, length) != 0 ||
				  field_names[field][length] != '\0'))
		field++;
	return field;
}

/* ---- compiling ---- */

/* Where the byte `end` of a scalar's text is in the file, for faults that point into a sentence.
 * Behind an escape, and in a block scalar, the last position that is certain. */
static struct position position_in(const struct yaml_node *node, const char *end)
{
	const char *bytes = node->document->bytes;
	const char *at = bytes + yaml_offset(node->document, node->position);
	char quote = node->plain ? '\0' : *at;
	struct position position = {1, 1};

	at += quote == '\'' || quote == '"';
	for (const char *text = node->text; text < end && *at; utf8_next(&text)) {
		/* A line break and the blanks around it are one space of the text. */
		size_t blanks = strspn(at, " \r\n");
		if (*text == ' ' && memchr(at, '\n', blanks)) {
			at += blanks;
			continue;
		}
		if (*at != *text)
			break;
		at += quote == '\'' && *text == '\''; /* it is written twice */
		utf8_next(&at);
	}
	for (const char *next = bytes; next < at; position.column++)
		if (utf8_next(&next) == '\n')
			position = (struct position){position.line + 1, 0};
	return position;
}

/* A sentence while it is compiled. */
struct compiler {
	const struct yaml_node *node;
	const char *what;
	const struct field_rule *rule;
	field_set fields; /* so far */
	bool good;
	bool says_something;
	const char *opened;   /* the open bracket, or NULL */
	bool bracket_decides; /* it has a field with nothing to say at times */
	bool instead;         /* behind its bar */
};

/* A fault at a byte of the text: fault_at(compiler, at, code, format, ...). */
#define fault_at(compiler, at, ...)                                                                \
	((compiler)->good = false, fault_add((compiler)->node->document->faults, FAULT_ERROR,      \
					     (compiler)->node->document->file,                     \
					     position_in((compiler)->node, at), __VA_ARGS__))

/* "{number}, {side}": what a set of fields is called in messages; the caller frees it. */
static char *field_list(field_set set)
{
	struct text list = {0};

	for (enum field field = 0; field < FIELDS; field++)
		if (set >> field & 1)
			text_format(&list, "%s{%s}", list.length ? ", " : "", field_names[field]);
	return list.length ? text_take(&list) : memory_copy("no field");
}

/* A field that the sentence does not know; `field`: it has a value in others. */
static void report_field(struct compiler *compiler, const char *at, const char *name,
			 enum field field)
{
	const char *names[FIELDS + 1] = {0};
	size_t count = 0;

	for (enum field known = 0; known < FIELDS; known++)
		if (compiler->rule->known >> known & 1)
			names[count++] = field_names[known];
	const char *nearest = fault_did_you_mean(name, names);
	char *list = field_list(compiler->rule->known);
	if (field < FIELDS)
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

/* The field that opens at `at`; returns what comes after it. */
static const char *compile_field(struct compiler *compiler, const char *at)
{
	size_t length = strcspn(at + 1, "{}[]| ");
	const char *after = at + 1 + length;

	if (*after != '}') {
		fault_at(compiler, at, "phrase-brace",
			 "\"{\" is not closed: a field is written {name}");
		return after;
	}
	enum field field = field_find(at + 1, length);
	field_set bit = field < FIELDS ? (field_set)1 << field : NONE;
	char *name = memory_copy_part(at + 1, length);
	if (!(compiler->rule->known & bit))
		report_field(compiler, at, name, field);
	else if ((fields_at_times & bit) && (!compiler->opened || compiler->instead))
		fault_at(compiler, at, "phrase-optional",
			 "{%s} has nothing to say at times: put it and the words that belong to it "
			 "in [ ]",
			 name);
	free(name);
	compiler->bracket_decides |= (fields_at_times & bit) != 0;
	compiler->fields |= bit;
	compiler->says_something = true;
	return after + 1;
}

static void compile_bracket(struct compiler *compiler, const char *at)
{
	if (*at == '[') {
		if (compiler->opened)
			fault_at(compiler, at, "phrase-bracket", "\"[\" inside \"[\"");
		compiler->opened = at;
		compiler->bracket_decides = false;
		compiler->instead = false;
	} else if (*at == '|') {
		if (!compiler->opened || compiler->instead)
			fault_at(compiler, at, "phrase-bracket",
				 "\"|\" stands once in [ ]: what is said else is behind it");
		compiler->instead = true;
	} else {
		if (!compiler->opened)
			fault_at(compiler, at, "phrase-bracket", "\"]\" without \"[\"");
		else if (!compiler->bracket_decides && compiler->good)
			fault_at(compiler, compiler->opened, "phrase-bracket",
				 "this part would always be said: [ ] are for a field with nothing "
				 "to say at times");
		compiler->opened = NULL;
		compiler->instead = false;
	}
}

/* What may reach the synthesiser beside letters shapes the sentence. */
static bool is_sayable(uint32_t point)
{
	static const uint32_t inverted_question_mark = 0xBF;

	return utf8_is_letter(point) || point == inverted_question_mark ||
	       (point < 0x80 && point && strchr(" ',.?-", (int)point));
}

/* Words up to the next field or bracket; returns what comes after them. */
static const char *compile_words(struct compiler *compiler, const char *at)
{
	const char *end = at + strcspn(at, "{}[]|");

	for (const char *next = at; next < end;) {
		const char *character = next;
		uint32_t point = utf8_next(&next);
		compiler->says_something |= utf8_is_letter(point);
		if (is_sayable(point))
			continue;
		fault_at(compiler, character, "phrase-character",
			 "\"%.*s\" is not for speaking: write letters, spaces, commas, full stops, "
			 "question marks, hyphens and apostrophes",
			 (int)(next - character), character);
		break;
	}
	return end;
}

static const char *compile_next(struct compiler *compiler, const char *at)
{
	switch (*at) {
	case '{':
		return compile_field(compiler, at);
	case '[':
	case ']':
	case '|':
		compile_bracket(compiler, at);
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
	field_set missing = compiler->rule->needed & ~compiler->fields;

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
	struct compiler compiler = {.node = node, .what = what, .rule = rule, .good = true};
	const char *text;

	*out = (struct sentence){0};
	if (!is_text(node, &text))
		return false;
	for (const char *at = text; *at;)
		at = compile_next(&compiler, at);
	if (compiler.opened)
		fault_at(&compiler, compiler.opened, "phrase-bracket", "\"[\" is not closed");
	if (compiler.good)
		check_whole(&compiler);
	if (compiler.good)
		*out = (struct sentence){memory_copy(text), compiler.fields};
	return compiler.good;
}

/* ---- filling in ---- */

/* Fills in what is between `at` and `end`, which has no brackets. False, and nothing is added, if a
 * field in it has nothing to say. */
static bool fill_part(const char *at, const char *end, const struct field_values *values,
		      struct text *out)
{
	size_t before = out->length;

	while (at < end) {
		size_t length = strcspn(at, "{[|]");
		text_add_part(out, at, length);
		at += length;
		if (at == end)
			break;
		length = strcspn(at, "}");
		const char *words = values->words[field_find(at + 1, length - 1)];
		if (!words) {
			text_cut(out, before);
			return false;
		}
		text_add(out, words);
		at += length + 1;
	}
	return true;
}

char *sentence_fill(const struct sentence *sentence, struct field_values values)
{
	struct text out = {0};

	for (const char *at = sentence->text ? sentence->text : ""; *at;) {
		const char *end = at + strcspn(at, "[|]");
		bool said = fill_part(at, end, &values, &out);
		if (*end == '|') {
			at = end + 1;
			end = strchr(at, ']');
			if (!said)
				fill_part(at, end, &values, &out);
		}
		at = end + (*end != '\0');
	}
	for (enum field field = 0; field < FIELDS; field++)
		free(values.words[field]);
	return out.length ? text_take(&out) : memory_copy("");
}
