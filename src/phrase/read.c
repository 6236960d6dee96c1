/* The phrasebook file, read strictly: every word and every sentence that a job may need is there.
 */
#include "base/base.h"
#include "phrase/internal.h"

#include <stdlib.h>
#include <string.h>

/* Lists end with NULL, as the readers of base/base.h want them. */
static const char *const noun_names[NOUNS + 1] = {
	[NOUN_MAIN] = "main",   [NOUN_CROSS] = "cross",     [NOUN_MINUTE] = "minute",
	[NOUN_POUND] = "lb",    [NOUN_KILO] = "kg",         [NOUN_NEWTON] = "N",
	[NOUN_METRE] = "metre", [NOUN_PERCENT] = "percent",
};

static const char *const notice_names[NOTICES + 1] = {
	[NOTICE_GREETING] = "greeting",
	[NOTICE_REOPENED] = "reopened",
	[NOTICE_PLACE] = "place",
	[NOTICE_PAUSED] = "paused",
	[NOTICE_FIRST] = "first",
	[NOTICE_DONE] = "done",
	[NOTICE_PEDAL_GONE] = "pedal-gone",
	[NOTICE_PEDAL_BACK] = "pedal-back",
	[NOTICE_PEDAL_STUCK] = "pedal-stuck",
	[NOTICE_PEDAL_CHATTER] = "pedal-chatter",
	[NOTICE_JOURNAL_FAILED] = "journal-failed",
	[NOTICE_JOURNAL_MENDED] = "journal-mended",
	[NOTICE_JOURNAL_ASIDE] = "journal-aside",
	[NOTICE_CHOICES] = "choices",
	[NOTICE_CHOOSE_REDO] = "choose-redo",
	[NOTICE_CHOOSE_STRING] = "choose-string",
	[NOTICE_CHOOSE_SLIPPED] = "choose-slipped",
	[NOTICE_CHOOSE_BROKE] = "choose-broke",
	[NOTICE_CHOOSE_WHY] = "choose-why",
	[NOTICE_CHOOSE_FULLER] = "choose-fuller",
	[NOTICE_CHOOSE_SHORTER] = "choose-shorter",
	[NOTICE_CHOOSE_LOUDER] = "choose-louder",
	[NOTICE_CHOOSE_SOFTER] = "choose-softer",
	[NOTICE_CHOOSE_LATER] = "choose-later",
	[NOTICE_NO_STRING] = "no-string",
	[NOTICE_REFUSED] = "refused",
};

const char *notice_name(enum notice notice)
{
	return notice_names[notice];
}

static void read_words(const struct yaml_node *map, const char *const *keys, char **out)
{
	if (!yaml_is_map(map, keys))
		return;
	for (int i = 0; keys[i]; i++)
		words_read(yaml_need(map, keys[i]), &out[i]);
}

/* Sentences of one rule under their keys. */
static void read_sentences(const struct yaml_node *map, const char *const *keys,
			   const struct field_rule *rules, struct sentence *out)
{
	if (!yaml_is_map(map, keys))
		return;
	for (int i = 0; keys[i]; i++)
		sentence_compile(yaml_need(map, keys[i]), keys[i], &rules[i], &out[i]);
}

/* Forms of a noun: those that the language's plural rules tell apart. */
static void read_noun(const struct yaml_node *node, struct phrasebook *book, enum noun noun)
{
	const char *keys[PLURALS + 1] = {0};
	int count = 0;

	for (enum plural plural = 0; plural < PLURALS; plural++)
		if (book->numerals.plurals[plural].used)
			keys[count++] = plural_name(plural);
	if (!yaml_is_map(node, keys))
		return;
	for (enum plural plural = 0; plural < PLURALS; plural++)
		if (book->numerals.plurals[plural].used)
			words_read(yaml_need(node, plural_name(plural)),
				   &book->nouns[noun][plural]);
}

static void read_nouns(const struct yaml_node *root, struct phrasebook *book)
{
	static const struct field_rule counted = {
		.known = FIELD(COUNT) | FIELD(NOUN),
		.needed = FIELD(COUNT) | FIELD(NOUN),
	};
	const struct yaml_node *map = yaml_need(root, "nouns");

	if (yaml_is_map(map, noun_names))
		for (enum noun noun = 0; noun < NOUNS; noun++)
			read_noun(yaml_need(map, noun_names[noun]), book, noun);
	sentence_compile(yaml_need(root, "counted"), "what is counted", &counted, &book->counted);
}

static void read_holes(const struct yaml_node *root, struct phrasebook *book)
{
	static const char *const keys[] = {"same", "differ", NULL};
	static const struct field_rule hole = {
		.known = FIELD(NUMBER) | FIELD(END),
		.needed = FIELD(NUMBER) | FIELD(END),
	};
	static const struct field_rule rules[] = {
		{.known = FIELD(NUMBER), .needed = FIELD(NUMBER)},
		{.known = FIELD(FROM) | FIELD(TO), .needed = FIELD(FROM) | FIELD(TO)},
	};
	struct sentence both[2] = {{0}};

	sentence_compile(yaml_need(root, "hole"), "a hole", &hole, &book->hole);
	read_sentences(yaml_need(root, "holes"), keys, rules, both);
	book->holes_same = both[0];
	book->holes_differ = both[1];
}

static void read_strings(const struct yaml_node *root, struct phrasebook *book)
{
	static const char *const strings[] = {"main", "cross", NULL};
	static const char *const places[] = {"main", "cross", "prepare", "finish", NULL};
	static const char *const lefts[] = {"both", "mains", "crosses", "none", NULL};
	static const struct field_rule anchor[] = {
		{.known = FIELD(NUMBER) | FIELD(SIDE), .needed = FIELD(NUMBER)},
		{.known = FIELD(NUMBER) | FIELD(SIDE), .needed = FIELD(NUMBER)},
	};
	static const struct field_rule place[] = {
		{.known = FIELD(NUMBER) | FIELD(SIDE), .needed = FIELD(NUMBER) | FIELD(SIDE)},
		{.known = FIELD(NUMBER) | FIELD(SIDE), .needed = FIELD(NUMBER)},
		{.known = FIELD(STEP) | FIELD(STEPS)},
		{.known = FIELD(STEP) | FIELD(STEPS)},
	};
	static const struct field_rule left[] = {
		{.known = FIELD(MAINS) | FIELD(CROSSES), .needed = FIELD(MAINS) | FIELD(CROSSES)},
		{.known = FIELD(MAINS), .needed = FIELD(MAINS)},
		{.known = FIELD(CROSSES), .needed = FIELD(CROSSES)},
		{0},
	};

	read_sentences(yaml_need(root, "anchor"), strings, anchor, book->anchor);
	read_sentences(yaml_need(root, "places"), places, place, book->places);
	read_sentences(yaml_need(root, "left"), lefts, left, book->left);
}

static void read_notices(const struct yaml_node *root, struct phrasebook *book)
{
	static const field_set known = FIELD(PLACE) | FIELD(LEFT) | FIELD(MAINS) | FIELD(CROSSES) |
				       FIELD(JOB) | FIELD(TIME_LEFT) | FIELD(TIME_WORKED);
	struct field_rule rules[NOTICES];

	for (enum notice notice = 0; notice < NOTICES; notice++)
		rules[notice] = (struct field_rule){known, 0};
	rules[NOTICE_REOPENED].needed = FIELD(PLACE);
	rules[NOTICE_CHOOSE_STRING].needed = FIELD(PLACE);
	rules[NOTICE_REFUSED] = (struct field_rule){known | FIELD(REASON), FIELD(REASON)};
	rules[NOTICE_PLACE].needed = FIELD(PLACE) | FIELD(LEFT) | FIELD(TIME_LEFT);
	read_sentences(yaml_need(root, "notices"), notice_names, rules, book->notices);
}

/* The fields that all variants of a kind know: one sentence is said for all. */
static struct field_rule common_rule(const struct kind_variant *variants, int count)
{
	struct field_rule common = variants[0].rule;

	for (int i = 1; i < count; i++) {
		common.known &= variants[i].rule.known;
		common.needed |= variants[i].rule.needed;
	}
	return common;
}

static void read_variants(const struct yaml_node *node, const char *what,
			  const struct kind_variant *variants, int count, bool must,
			  struct sentence *out)
{
	const char *keys[KIND_VARIANTS_MAX + 1] = {0};

	for (int i = 0; i < count; i++)
		keys[i] = variant_name(variants[i].variant);
	if (!yaml_is_map(node, keys))
		return;
	for (int i = 0; i < count; i++) {
		struct field_rule rule = variants[i].rule;
		rule.needed = must ? rule.needed : 0;
		sentence_compile(yaml_need(node, keys[i]), what, &rule, &out[variants[i].variant]);
	}
}

/* One sentence, or a map from variants to sentences; `must`: they have values that must be named.
 */
static void read_call(const struct yaml_node *node, enum call_kind kind, bool must,
		      struct sentence *out)
{
	const struct kind_variant *variants;
	int count = kind_variants(kind, &variants);
	char *what = memory_format("a call of \"%s\"", call_kind_name(kind));

	if (node && node->kind == YAML_MAP && count > 1) {
		read_variants(node, what, variants, count, must, out);
	} else {
		struct field_rule rule = common_rule(variants, count);
		rule.needed = must ? rule.needed : 0;
		for (int i = 0; i < count; i++)
			if (!sentence_compile(node, what, &rule, &out[variants[i].variant]))
				break;
	}
	free(what);
}

static void read_kind(const struct yaml_node *node, struct phrasebook *book, enum call_kind kind)
{
	const char *keys[SENTENCES + 1] = {[SENTENCE_WHY] = "why"};

	for (enum detail detail = 0; detail < DETAILS; detail++)
		keys[detail] = detail_name(detail);
	if (!yaml_is_map(node, keys))
		return;
	for (enum detail detail = 0; detail < DETAILS; detail++) {
		const struct yaml_node *sentence = kind_is_called(kind, detail)
							   ? yaml_need(node, keys[detail])
							   : yaml_get(node, keys[detail]);
		read_call(sentence, kind, true, book->calls[kind][detail]);
	}
	read_call(yaml_need(node, "why"), kind, false, book->calls[kind][SENTENCE_WHY]);
}

static void read_calls(const struct yaml_node *root, struct phrasebook *book)
{
	const struct yaml_node *map = yaml_need(root, "calls");
	const char *keys[CALL_KINDS + 1] = {0};

	for (enum call_kind kind = 0; kind < CALL_KINDS; kind++)
		keys[kind] = call_kind_name(kind);
	if (!yaml_is_map(map, keys))
		return;
	for (enum call_kind kind = 0; kind < CALL_KINDS; kind++)
		read_kind(yaml_need(map, keys[kind]), book, kind);
}

static struct phrasebook *read_book(const struct yaml_document *document)
{
	static const char *const keys[] = {
		"phrasebook", "voice",   "numbers", "decimal",      "repeat", "clear",   "plural",
		"nouns",      "counted", "sides",   "ends",         "weave",  "hole",    "holes",
		"anchor",     "places",  "left",    "suggested",    "calls",  "notices", "match",
		"next_empty", "shared",  "care",    "tension_head", NULL};
	static const char *const sides[] = {"left", "right", NULL};
	static const char *const ends[] = {"head", "throat", NULL};
	static const char *const over[] = {"under", "over", NULL};
	static const char *const match[] = {"opposite", "same", NULL};
	static const char *const materials[] = {"gut",       "multifilament", "nylon",
						"polyester", "aramid",        NULL};
	static const char *const heads[] = {"lock-out", "constant", "drop-weight", NULL};
	const struct yaml_node *root = document->root;
	size_t errors = document->faults->errors;
	struct phrasebook *book = memory_new(1, sizeof(*book));
	const char *text;

	yaml_is_map(root, keys);
	yaml_text(yaml_need(root, "phrasebook"), WORDS_BYTES_MAX, &text);
	if (yaml_text(yaml_get(root, "voice"), WORDS_BYTES_MAX, &text))
		book->voice = memory_copy(text);
	numerals_read(root, &book->numerals);
	read_nouns(root, book);
	read_words(yaml_need(root, "sides"), sides, book->sides);
	read_words(yaml_need(root, "ends"), ends, book->ends);
	read_words(yaml_need(root, "weave"), over, book->over);
	read_words(yaml_need(root, "match"), match, book->match);
	read_words(yaml_need(root, "care"), materials, book->care);
	read_words(yaml_need(root, "tension_head"), heads, book->head);
	words_read(yaml_need(root, "suggested"), &book->suggested);
	words_read(yaml_need(root, "next_empty"), &book->next_empty);
	words_read(yaml_need(root, "shared"), &book->shared);
	read_holes(root, book);
	read_strings(root, book);
	read_calls(root, book);
	read_notices(root, book);
	if (document->faults->errors == errors)
		return book;
	phrasebook_free(book);
	return NULL;
}

static struct phrasebook *read_document(struct yaml_document *document)
{
	struct phrasebook *book = document ? read_book(document) : NULL;

	yaml_free(document);
	return book;
}

struct phrasebook *phrasebook_read(const char *path, struct faults *faults)
{
	return read_document(yaml_read(path, faults));
}

struct phrasebook *phrasebook_read_text(const char *file, const char *text, struct faults *faults)
{
	return read_document(yaml_read_bytes(file, text, strlen(text), faults));
}

struct phrasebook *phrasebook_find(const char *language, struct faults *faults)
{
	char *looked;
	char *path = path_find(PATH_VOICE, language, NULL, &looked);
	struct phrasebook *book = NULL;

	if (path)
		book = phrasebook_read(path, faults);
	else
		fault_add(faults, FAULT_ERROR, language, (struct position){0, 0}, "phrasebook-none",
			  "there is no phrasebook %s.yaml in %s", language, looked);
	free(path);
	free(looked);
	return book;
}

static void free_words(char **words, int count)
{
	for (int i = 0; i < count; i++)
		free(words[i]);
}

static void free_sentences(struct sentence *sentences, int count)
{
	for (int i = 0; i < count; i++)
		sentence_free(&sentences[i]);
}

void phrasebook_free(struct phrasebook *book)
{
	if (!book)
		return;
	free(book->voice);
	numerals_free(&book->numerals);
	free_words(&book->nouns[0][0], NOUNS * PLURALS);
	free_words(book->sides, 2);
	free_words(book->ends, 2);
	free_words(book->over, 2);
	free_words(book->match, 2);
	free_words(book->care, MATERIALS - 1);
	free_words(book->head, TENSION_HEADS);
	free(book->suggested);
	free(book->next_empty);
	free(book->shared);
	sentence_free(&book->counted);
	sentence_free(&book->hole);
	sentence_free(&book->holes_same);
	sentence_free(&book->holes_differ);
	free_sentences(book->anchor, 2);
	free_sentences(book->places, PLACES);
	free_sentences(book->left, LEFTS);
	free_sentences(book->notices, NOTICES);
	free_sentences(&book->calls[0][0][0], CALL_KINDS * SENTENCES * VARIANTS);
	free(book);
}

const char *phrasebook_voice(const struct phrasebook *book)
{
	return book->voice;
}
