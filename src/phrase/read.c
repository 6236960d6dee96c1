/* The phrasebook file, read strictly: every word and every sentence that a job may need is there.
 */
#include "base/base.h"
#include "phrase/internal.h"

#include <stdlib.h>
#include <string.h>

enum { NAME_BYTES_MAX = 160 };

/* ---- what the sentence of each kind of call may and must name ---- */

/* Fields that come together. */
#define ONE_MAIN  (FIELD(NUMBER) | FIELD(SIDE))
#define ONE_CROSS FIELD(NUMBER)
#define STRUNG    (FIELD(NUMBER) | FIELD(SIDE) | FIELD(OTHER_SIDE) | FIELD(EARLY))
#define SEVERAL   (FIELD(FIRST) | FIELD(LAST))
#define TENSED    (FIELD(TENSION) | FIELD(PULL))
#define PULL      (TENSED | FIELD(NEW_PULL))
#define STRETCHED FIELD(PRESTRETCH)
#define HOLED     (STRUNG | FIELD(HOLE) | FIELD(END))
#define ROUTED    (HOLED | FIELD(FROM) | FIELD(TO))
#define FED                                                                                        \
	(ROUTED | FIELD(FROM_END) | FIELD(TO_END) | FIELD(HOLES) | FIELD(ODD_HOLE) | FIELD(SKIP))
#define CROSSED                                                                                    \
	(ROUTED | FIELD(OVER) | FIELD(OVER_LAST) | FIELD(GOES_OVER) | FIELD(ENDS_OVER) |           \
	 FIELD(MATCH))
#define WOVEN    (CROSSED | FIELD(ODD_HOLE) | FIELD(ODD_OVER) | FIELD(NEXT_EMPTY) | FIELD(SHARED))
#define LATE     (CROSSED | FIELD(MISSING))
#define BEHIND   FIELD(PULLED)
#define KNOTTED  (HOLED | FIELD(ANCHOR))
#define TIED     (KNOTTED | FIELD(FROM) | FIELD(SUGGESTED))
#define DOUBTED  (FIELD(HOLE) | FIELD(SUGGESTED))
#define SPAN     (FIELD(THROUGH) | FIELD(BOTH_SIDES))
#define CHANGED  (SPAN | FIELD(BACK))
#define DELAYED  (FIELD(LATE) | FIELD(UNTIL))
#define MEASURED (FIELD(LENGTH) | FIELD(STRING_NAME))

#define PLAIN       SAYS(MAIN, NONE, NONE)
#define EITHER(...) SAYS(MAIN, __VA_ARGS__, ONE_MAIN) SAYS(CROSS, __VA_ARGS__, ONE_CROSS)

/* A kind without variants has one that nobody sees. */
const struct kind kinds[CALL_KINDS] = {
#define SAYS(variant, known, needed) {VARIANT_##variant, {known, needed}},
#define COUNT(...)                                                                                 \
	(int)(sizeof((const struct kind_variant[]){__VA_ARGS__}) / sizeof(struct kind_variant))
#define KIND(id, name, hearer, skill, seconds, ...)                                                \
	[CALL_##id] = {hearer, COUNT(__VA_ARGS__), {__VA_ARGS__}},
	CALL_KIND_LIST(KIND)
#undef KIND
};

static const char *const variant_names[VARIANTS] = {
	[VARIANT_MAIN] = "main",       [VARIANT_CROSS] = "cross", [VARIANT_MAINS] = "mains",
	[VARIANT_CROSSES] = "crosses", [VARIANT_WHOLE] = "whole",
};

bool kind_is_called(enum call_kind kind, enum detail detail)
{
	if (kinds[kind].hearer == ALL)
		return true;
	return (kinds[kind].hearer == LEARNER) == (detail == DETAIL_LEARNER);
}

/* ---- all other sentences ---- */

#define NOTICE_FIELDS                                                                              \
	(FIELD(PLACE) | FIELD(LEFT) | FIELD(MAINS) | FIELD(CROSSES) | FIELD(JOB) |                 \
	 FIELD(TIME_LEFT) | FIELD(TIME_WORKED) | FIELD(REASON) | FIELD(PATTERN) |                  \
	 FIELD(MAINS_STRING) | FIELD(CROSSES_STRING) | FIELD(NOTES) | FIELD(LAST_TIME) |           \
	 FIELD(COUNT) | FIELD(STRING))

static const struct saying {
	const char *map; /* NULL: the phrasebook's own */
	const char *key;
	struct field_rule rule;
} sayings[SAYINGS] = {
#define SAYING_ROW(id, map, key, known, needed) [SAID_##id] = {map, key, {known, needed}},
#define NOTICE_ROW(id, key, needed)                                                                \
	[SAID_NOTICES + NOTICE_##id] = {"notices", key, {NOTICE_FIELDS, needed}},
	SAYING_LIST(SAYING_ROW) NOTICE_LIST(NOTICE_ROW)
#undef SAYING_ROW
#undef NOTICE_ROW
};

/* Of the map `shown`: phases, skills and levels; what the job is doing; how it gets on; keys;
 * pictures, their marks, card and label; the board. */
/* clang-format off */
static const char *const shown_keys[SHOWN_MAX + 1] = {
	"prepare", "mains", "crosses", "finish", "mount", "tension", "feed", "skip", "clamp",
	"tie-off", "knot", "weave-start", "weave", "behind", "named", "asked", "short", "told",
	"reason", "not_begun", "paused", "choosing", "station", "done", "ended", "call", "of",
	"next_call", "work", "this_call", "time_left", "minutes", "faster", "slower", "usual_pace",
	"not_saved", "no_voice", "voice", "pedal", "space", "next", "again", "back", "pause",
	"choices", "stop", "where", "why", "go_on", "next_choice", "take", "leave", "pass_over",
	"at_call", "bed_seen", "main", "cross", "main_strings", "cross_strings", "frame", "strings",
	"holes_per_side", "bridge_holes", "skipped", "shared_holes", "unused", "start", "first_side",
	"ahead", "ends_at", "tie_off", "direction", "starting_knot", "first_cross", "over_first",
	"under_first", "pull", "one_behind", "as_woven", "at_once", "legend_main", "legend_cross",
	"legend_next", "legend_slack", "legend_hole", "legend_skipped", "legend_shared",
	"legend_unused", "bridge", "legend_suggested", "legend_clamp", "legend_across", "legend_calls",
	"legend_pulls", "legend_names", "not_to_scale", "no_head_size", "machine", "tension_head",
	"lock-out", "constant", "drop-weight", "clamps", "fixed", "glide-bar", "flying", "first_hold",
	"fixed_clamp", "flying_clamp", "starting_clamp", "inside", "outside", "clamp_across",
	"across_how", "set_clamps", "mounts", "look_again", "tensions", "vary", "makers_range",
	"string", "whole", "cut", "estimate", "prestretch", "short_side", "long_side", "two-piece",
	"one-piece", "tennis", "badminton", "squash", "racquetball", "safety", "caution_eyes",
	"caution_hands", "caution_frame", "caution_makers", "notes", "pattern", "stringer", "racket",
	"strung", "job", "no_daemon", "no_job", "all_done", "usual_time", "rack", "due", "token",
	"show_board", "no_script", "connection_lost", "no_answer", "not_now", "decimal", "sound off",
	"keys", "no pedal yet", NULL,
};
/* clang-format on */

const char *phrasebook_shown(const struct phrasebook *book, const char *key)
{
	for (int i = 0; book && shown_keys[i]; i++)
		if (strcmp(shown_keys[i], key) == 0)
			return book->shown[i].text;
	for (int i = SAID_SIDES; book && i <= SAID_SUGGESTED; i++)
		if (strcmp(sayings[i].key, key) == 0)
			return book->sayings[i].text;
	return key;
}

const char *notice_name(enum notice notice)
{
	return sayings[SAID_NOTICES + notice].key;
}

/* ---- the file ---- */

/* The sayings from `first` that are in one map of the file, their keys and the NULL behind them in
 * *keys. Returns how many. */
static int same_map(int first, const char *keys[SAYINGS + 1])
{
	const char *map = sayings[first].map;
	int count = 0;

	do {
		keys[count] = sayings[first + count].key;
		count++;
	} while (map && first + count < SAYINGS && sayings[first + count].map &&
		 strcmp(sayings[first + count].map, map) == 0);
	keys[count] = NULL;
	return count;
}

static void read_sayings(const struct yaml_node *root, struct phrasebook *book)
{
	const char *keys[SAYINGS + 1];
	int count;

	for (int first = 0; first < SAYINGS; first += count) {
		const char *name = sayings[first].map;
		const struct yaml_node *map = name ? yaml_need(root, name) : root;
		count = same_map(first, keys);
		if (name && !yaml_is_map(map, keys))
			continue;
		for (int i = first; i < first + count; i++)
			sentence_compile(yaml_need(map, sayings[i].key), sayings[i].key,
					 &sayings[i].rule, &book->sayings[i]);
	}
}

static void read_shown(const struct yaml_node *map, struct phrasebook *book)
{
	static const struct field_rule words = {0};

	if (!yaml_is_map(map, shown_keys))
		return;
	for (int i = 0; shown_keys[i]; i++)
		sentence_compile(yaml_need(map, shown_keys[i]), shown_keys[i], &words,
				 &book->shown[i]);
}

static void check_keys(const struct yaml_node *root)
{
	const char *keys[SAYINGS + 13] = {"phrasebook", "voice", "numbers", "joints",
					  "decimal",    "by",    "repeat",  "clear",
					  "plural",     "nouns", "calls",   "shown"};
	const char *in_map[SAYINGS + 1];
	int known = 12;

	for (int i = 0; i < SAYINGS; i += same_map(i, in_map))
		keys[known++] = sayings[i].map ? sayings[i].map : sayings[i].key;
	yaml_is_map(root, keys);
}

/* Forms of a noun: those that the language's plural rules tell apart. */
static void read_noun(const struct yaml_node *node, const struct numerals *numerals,
		      struct sentence forms[PLURALS])
{
	struct field_rule rule = {.known = FIELD(COUNT)};
	const char *keys[PLURALS + 1] = {0};
	int count = 0;

	for (enum plural plural = 0; plural < PLURALS; plural++)
		if (numerals->plurals[plural].used)
			keys[count++] = plural_name(plural);
	if (!yaml_is_map(node, keys))
		return;
	for (enum plural plural = 0; plural < PLURALS; plural++) {
		rule.needed = plural == PLURAL_OTHER ? FIELD(COUNT) : NONE;
		if (numerals->plurals[plural].used)
			sentence_compile(yaml_need(node, plural_name(plural)), "what is counted",
					 &rule, &forms[plural]);
	}
}

static void read_nouns(const struct yaml_node *map, struct phrasebook *book)
{
	static const char *const names[NOUNS + 1] = {
		[NOUN_MAIN] = "main",   [NOUN_CROSS] = "cross",     [NOUN_MINUTE] = "minute",
		[NOUN_POUND] = "lb",    [NOUN_KILO] = "kg",         [NOUN_NEWTON] = "N",
		[NOUN_METRE] = "metre", [NOUN_PERCENT] = "percent", [NOUN_JOB] = "job",
	};

	if (!yaml_is_map(map, names))
		return;
	for (enum noun noun = 0; noun < NOUNS; noun++)
		read_noun(yaml_need(map, names[noun]), &book->numerals, book->nouns[noun]);
}

/* One sentence for all variants of a kind, with the fields that all of them know, or a map from
 * variants to sentences; `must`: they have values that must be named. */
static void read_call(const struct yaml_node *node, enum call_kind kind, bool must,
		      struct sentence out[VARIANTS])
{
	const struct kind_variant *variants = kinds[kind].variants;
	int count = kinds[kind].count;
	bool apart = node && node->kind == YAML_MAP && count > 1;
	struct field_rule common = {.known = ~NONE};
	const char *keys[KIND_VARIANTS_MAX + 1] = {0};
	char *what = memory_format("a call of \"%s\"", call_kind_name(kind));

	for (int i = 0; i < count; i++) {
		keys[i] = variant_names[variants[i].variant];
		common.known &= variants[i].rule.known;
		common.needed |= variants[i].rule.needed;
	}
	if (apart)
		yaml_is_map(node, keys);
	for (int i = 0; i < count; i++) {
		struct field_rule rule = apart ? variants[i].rule : common;
		rule.needed = must ? rule.needed : NONE;
		sentence_compile(apart ? yaml_need(node, keys[i]) : node, what, &rule,
				 &out[variants[i].variant]);
	}
	free(what);
}

static void read_kind(const struct yaml_node *node, struct phrasebook *book, enum call_kind kind)
{
	const char *keys[SENTENCES + 1] = {
		[SENTENCE_WHY] = "why", [SENTENCE_NAME] = "name", [SENTENCE_ASK] = "ask"};

	for (enum detail detail = 0; detail < DETAILS; detail++)
		keys[detail] = detail_names[detail];
	if (!yaml_is_map(node, keys))
		return;
	bool is_asked = yaml_get(node, "name") || yaml_get(node, "ask");
	for (int i = 0; i < SENTENCES; i++) {
		bool of_detail = i < DETAILS;
		bool needed = of_detail ? kind_is_called(kind, (enum detail)i)
					: i == SENTENCE_WHY || is_asked;
		read_call(needed ? yaml_need(node, keys[i]) : yaml_get(node, keys[i]), kind,
			  of_detail, book->calls[kind][i]);
	}
}

static void read_calls(const struct yaml_node *map, struct phrasebook *book)
{
	const char *keys[CALL_KINDS + 1] = {0};

	for (enum call_kind kind = 0; kind < CALL_KINDS; kind++)
		keys[kind] = call_kind_name(kind);
	if (!yaml_is_map(map, keys))
		return;
	for (enum call_kind kind = 0; kind < CALL_KINDS; kind++)
		read_kind(yaml_need(map, keys[kind]), book, kind);
}

/* Frees the document. */
static struct phrasebook *read_book(struct yaml_document *document)
{
	if (!document)
		return NULL;

	const struct yaml_node *root = document->root;
	size_t errors = document->faults->errors;
	struct phrasebook *book = memory_new(1, sizeof(*book));
	const char *text;

	check_keys(root);
	yaml_text(yaml_need(root, "phrasebook"), NAME_BYTES_MAX, &text);
	if (yaml_text(yaml_get(root, "voice"), NAME_BYTES_MAX, &text))
		book->voice = memory_copy(text);
	numerals_read(root, &book->numerals);
	read_nouns(yaml_need(root, "nouns"), book);
	read_sayings(root, book);
	read_shown(yaml_need(root, "shown"), book);
	read_calls(yaml_need(root, "calls"), book);
	if (document->faults->errors > errors) {
		phrasebook_free(book);
		book = NULL;
	}
	yaml_free(document);
	return book;
}

struct phrasebook *phrasebook_read(const char *path, struct faults *faults)
{
	return read_book(yaml_read(path, faults));
}

struct phrasebook *phrasebook_read_text(const char *file, const char *text, struct faults *faults)
{
	return read_book(yaml_read_bytes(file, text, strlen(text), faults));
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

void phrasebook_free(struct phrasebook *book)
{
	if (!book)
		return;
	free(book->voice);
	numerals_free(&book->numerals);
	struct sentence *first = book->sayings, *end = (struct sentence *)(book + 1);
	for (struct sentence *sentence = first; sentence < end; sentence++)
		sentence_free(sentence);
	free(book);
}

const char *phrasebook_voice(const struct phrasebook *book)
{
	return book->voice;
}
