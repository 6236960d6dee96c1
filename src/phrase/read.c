/* The phrasebook file, read strictly: every word and sentence that a job may need is there. */
#include "phrase/internal.h"

#include <ctype.h>
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
#define SAYS(variant, known, needed) {VARIANT_##variant, {known, needed}, false},
#define WHY(variant)                 {VARIANT_##variant, {NONE, NONE}, true},
#define COUNT(...)                                                                                 \
	(int)(sizeof((const struct kind_variant[]){__VA_ARGS__}) / sizeof(struct kind_variant))
#define KIND(id, name, hearer, skill, seconds, ...)                                                \
	[CALL_##id] = {hearer, COUNT(__VA_ARGS__), {__VA_ARGS__}},
	CALL_KIND_LIST(KIND)
#undef KIND
};

static const char *const variant_names[VARIANTS] = {
	[VARIANT_MAIN] = "main",       [VARIANT_CROSS] = "cross",   [VARIANT_MAINS] = "mains",
	[VARIANT_CROSSES] = "crosses", [VARIANT_WHOLE] = "whole",   [VARIANT_BRIDGE] = "bridge",
	[VARIANT_PLANNED] = "planned", [VARIANT_EITHER] = "either", [VARIANT_KNOT] = "knot",
	[VARIANT_ALONE] = "alone",     [VARIANT_HELD] = "held",
};

bool kind_is_called(enum call_kind kind, enum detail detail)
{
	if (kinds[kind].hearer == ALL)
		return true;
	return (kinds[kind].hearer == LEARNER) == (detail == DETAIL_LEARNER);
}

/* ---- what every other sentence may and must name ---- */

const char *const plural_names[PLURALS] = {"one", "two", "few", "many", "other"};
const char *const month_keys[] = {"jan", "feb", "mar", "apr", "may", "jun", "jul",
				  "aug", "sep", "oct", "nov", "dec", NULL};
static const char *const nouns[] = {"main",  "cross",   "minute", "lb",  "kg", "N",
				    "metre", "percent", "day",    "job", NULL};

#define NOTICE_FIELDS                                                                              \
	(FIELD(PLACE) | FIELD(LEFT) | FIELD(MAINS) | FIELD(CROSSES) | FIELD(JOB) |                 \
	 FIELD(TIME_LEFT) | FIELD(TIME_WORKED) | FIELD(REASON) | FIELD(PATTERN) |                  \
	 FIELD(MAINS_STRING) | FIELD(CROSSES_STRING) | FIELD(NOTES) | FIELD(LAST_TIME) |           \
	 FIELD(COUNT) | FIELD(STRING) | FIELD(LENGTH))

static const struct {
	const char *key;
	field_set needed;
} notices[NOTICES] = {
#define NOTICE_ROW(id, key, needed) {key, needed},
	NOTICE_LIST(NOTICE_ROW)
#undef NOTICE_ROW
};

/* Of the map `shown`: phases, skills and levels; what the job is doing; how it gets on; keys;
 * pictures, their marks, card and label; the board. */
/* clang-format off */
static const char *const shown_keys[] = {
	"prepare", "mains", "crosses", "finish", "mount", "tension", "feed", "skip", "clamp",
	"tie-off", "knot", "weave-start", "weave", "behind", "named", "asked", "short", "told",
	"reason", "not_begun", "paused", "choosing", "station", "done", "ended", "call", "of",
	"next_call", "work", "this_call", "time_left", "minutes", "faster", "slower", "usual_pace",
	"not_saved", "no_voice", "voice", "pedal", "space", "next", "again", "back", "pause",
	"choices", "stop", "where", "why", "go_on", "next_choice", "take", "leave", "pass_over",
	"at_call", "bed_seen", "main", "cross", "main_strings", "cross_strings", "frame", "strings",
	"holes_per_side", "bridge_holes", "skipped", "shared_holes", "unused", "start", "first_side",
	"ahead", "ends_at", "tie_off", "direction", "starting_knot", "suggested", "first_cross", "over_first",
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

/* Of the map `moves`: what a move is, what it is about, where and how; and the holes. */
/* clang-format off */
static const char *const move_keys[] = {
	"cut-out", "inspect", "cut", "mount", "lock", "set-tension", "feed", "clamp", "unclamp",
	"pull", "release", "knot", "weave", "draw", "tie-off", "dismount", "check", "trim",
	"straighten", "set-clamps", "turn", "eyes", "frame", "string", "whole", "bed", "pattern",
	"mounts", "from", "to", "at", "left-to-right", "right-to-left", "head-to-throat",
	"throat-to-head", "first", "last", "through", "back", "as_set", "missing", "pulls",
	"with", "starting", "across", "start", "loop", "suggested", "hole", "holes", "route", NULL,
};
/* clang-format on */

#define KEYS(...) ((const char *const[]){__VA_ARGS__, NULL})
/* Every sentence but those of calls, notices, numbers and nouns. Rows of a map stand together. */
static const struct saying_row {
	const char *map; /* "": the phrasebook's own */
	const char *const *keys;
	field_set may, must; /* name */
} sayings[] = {
	{"", KEYS("by", "suggested", "next_empty", "shared"), NONE, NONE},
	{"", KEYS("decimal"), NONE, FIELD(WHOLE) | FIELD(DIGITS)},
	{"", KEYS("hole"), NONE, FIELD(NUMBER) | FIELD(END)},
	{"", KEYS("job_of"), FIELD(JOB), FIELD(NUMBER)},
	{"", KEYS("string"), FIELD(STRING_NAME), FIELD(TENSION)},
	{"sides", side_names, NONE, NONE},
	{"ends", end_names, NONE, NONE},
	{"weave", KEYS("over", "under"), NONE, NONE},
	{"match", KEYS("same", "opposite"), NONE, NONE},
	{"holes", KEYS("same"), NONE, FIELD(NUMBER)},
	{"holes", KEYS("differ"), NONE, FIELD(FROM) | FIELD(TO)},
	{"anchor", string_names, FIELD(SIDE), FIELD(NUMBER)},
	{"places", KEYS("main"), NONE, FIELD(NUMBER) | FIELD(SIDE)},
	{"places", KEYS("cross"), FIELD(SIDE), FIELD(NUMBER)},
	{"places", KEYS("prepare", "finish"), FIELD(STEP) | FIELD(STEPS), NONE},
	{"left", KEYS("both"), NONE, FIELD(MAINS) | FIELD(CROSSES)},
	{"left", KEYS("mains"), NONE, FIELD(MAINS)},
	{"left", KEYS("crosses"), NONE, FIELD(CROSSES)},
	{"left", KEYS("none"), NONE, NONE},
	{"care", material_names, NONE, NONE},
	{"tension_head", tension_head_names, NONE, NONE},
	{"last_time", KEYS("within_a_year"), FIELD(MONTH), FIELD(TENSION)},
	{"last_time", KEYS("days"), FIELD(COUNT), FIELD(TENSION)},
	{"last_time", KEYS("today", "yesterday", "before"), NONE, FIELD(TENSION)},
	{"months", month_keys, NONE, NONE},
	{"shown", shown_keys, NONE, NONE},
	{"moves", move_keys, NONE, NONE},
};

/* Keys of a phrasebook that are neither a sentence nor a map of sentences. */
static const char *const other_keys[] = {"phrasebook", "voice",  "numbers", "joints", "repeat",
					 "clear",      "plural", "nouns",   "calls",  NULL};

enum { KEYS_MAX = 200 };

const struct numeral *numeral_find(const struct phrasebook *book, int number)
{
	const struct numeral *rule = NULL;

	for (int i = 0; i < book->numeral_count; i++) {
		const struct numeral *item = &book->numerals[i];
		bool is_word = item->sentence.fields == 0;
		if (is_word && item->from == number)
			return item;
		if (!is_word && item->from <= number && (!rule || item->from > rule->from))
			rule = item;
	}
	return rule;
}

const struct sentence *saying_find(const struct phrasebook *book, const char *map, const char *key)
{
	static const struct sentence none = {0};

	for (int i = 0; i < book->saying_count; i++) {
		const struct saying *saying = &book->sayings[i];
		if (strcmp(saying->key, key) == 0 && strcmp(saying->map, map) == 0)
			return &saying->sentence;
	}
	return &none;
}

/* In the first of these maps that has it. No key begins with a digit, as numbers and holes do. */
static const char *find_word(const struct phrasebook *book, const char *const *maps,
			     const char *key)
{
	const char *words = key;
	size_t found = SIZE_MAX;

	for (int i = 0; book && !isdigit((unsigned char)*key) && i < book->saying_count; i++) {
		const struct saying *saying = &book->sayings[i];
		if (*saying->key != *key || strcmp(saying->key, key) != 0 || !saying->sentence.text)
			continue;
		for (size_t map = 0; maps[map] && map < found; map++)
			if (strcmp(saying->map, maps[map]) == 0) {
				words = saying->sentence.text;
				found = map;
			}
	}
	return words;
}

const char *phrasebook_shown(const struct phrasebook *book, const char *key)
{
	return find_word(book, KEYS("shown", "sides", "ends"), key);
}

const char *phrasebook_move(const struct phrasebook *book, const char *key)
{
	return find_word(book, KEYS("moves", "shown", "sides", "ends", "weave"), key);
}

const char *notice_name(enum notice notice)
{
	return notices[notice].key;
}

/* ---- numbers ---- */

enum { FROM_MAX = 1000000 };

/* A map with any keys. */
static bool is_open_map(const struct yaml_node *node, const char *expected)
{
	if (node && node->kind != YAML_MAP)
		yaml_fault(node, "value-kind", "%s", expected);
	return node && node->kind == YAML_MAP;
}

/* The number of digits of a plain number at text, of at most FROM_MAX, which goes to *out; 0 if
 * there is none. */
static size_t parse_number(const char *text, int *out)
{
	size_t digits = strspn(text, "0123456789");

	if (digits == 0 || digits > 7 || (digits > 1 && text[0] == '0'))
		return 0;
	long number = strtol(text, NULL, 10);
	*out = (int)number;
	return number <= FROM_MAX ? digits : 0;
}

/* "200", "40/20" */
static bool parse_key(const struct yaml_node *node, struct numeral *out)
{
	const char *at = node->key;
	*out = (struct numeral){.unit = 1};
	size_t digits = parse_number(at, &out->from);
	bool good = digits > 0;

	at += digits;
	while (out->unit <= out->from / 10)
		out->unit *= 10;
	if (good && *at == '/') {
		digits = parse_number(at + 1, &out->unit);
		good = digits > 0;
		at += 1 + digits;
	}
	if (good && *at == '\0')
		return true;
	yaml_fault_key(node, "phrase-number",
		       "expected a number from 0 to %d, or two such as 40/20, not \"%s\"", FROM_MAX,
		       node->key);
	return false;
}

static void read_numeral(const struct yaml_node *node, struct phrasebook *out)
{
	static const struct field_rule rule = {.known = FIELD(COUNT) | FIELD(REST)};
	struct numeral item;

	if (!parse_key(node, &item) || !sentence_compile(node, "a number", &rule, &item.sentence))
		return;
	bool counts = item.sentence.fields & FIELD(COUNT);
	bool good_rule = item.from > 1 && item.unit <= item.from && (!counts || item.unit > 1);
	if (item.sentence.fields && !good_rule) {
		yaml_fault(node, "phrase-number", "%s cannot be a rule with %s", node->key,
			   counts ? "{count}" : "{rest}");
		free(item.sentence.text);
		return;
	}
	out->numerals = memory_resize(out->numerals, (size_t)out->numeral_count + 1, sizeof(item));
	out->numerals[out->numeral_count++] = item;
}

/* A number with no word, or one whose rule would say another number as well. */
static void check_number(const struct yaml_node *map, const struct phrasebook *book, int number)
{
	const struct numeral *found = numeral_find(book, number);

	if (found && found->sentence.fields == 0)
		return;
	bool counts = found && found->sentence.fields & FIELD(COUNT);
	if (!found || (!counts && number >= found->from + found->unit)) {
		yaml_fault_key(map, "phrase-number", "there is no word for %d", number);
		return;
	}
	int rest = number % (counts ? found->unit : found->from);
	if (rest > 0 && !(found->sentence.fields & FIELD(REST)))
		yaml_fault_key(map, "phrase-number",
			       "%d would be said as %d: the rule for %d does not say {rest}",
			       number, number - rest, found->from);
}

static void read_numerals(const struct yaml_node *map, struct phrasebook *out)
{
	if (!is_open_map(map, "expected a map from numbers to words"))
		return;
	size_t errors = map->document->faults->errors;
	for (const struct yaml_node *node = map->first; node; node = node->next)
		read_numeral(node, out);
	for (int n = 0; n <= NUMERAL_MIN && map->document->faults->errors == errors; n++)
		check_number(map, out, n);
}

static void read_joints(const struct yaml_node *map, struct phrasebook *out)
{
	static const struct field_rule words = {0};
	struct sentence to;

	if (!is_open_map(map, "expected a map from words to words"))
		return;
	for (const struct yaml_node *node = map->first; node; node = node->next) {
		if (!sentence_compile(node, "a joint", &words, &to))
			continue;
		out->joints = memory_resize(out->joints, (size_t)out->joint_count + 1,
					    sizeof(*out->joints));
		out->joints[out->joint_count++] = (struct joint){memory_copy(node->key), to.text};
	}
}

static void read_set(const struct yaml_node *node, int max, bool set[NUMBER_SET])
{
	int number;

	if (!yaml_is_list(node))
		return;
	for (const struct yaml_node *item = node->first; item; item = item->next)
		if (yaml_int(item, 0, max, &number))
			set[number] = true;
}

static void read_plural(const struct yaml_node *node, void *out)
{
	static const char *const keys[] = {"exactly", "last_digit", "but_not", "whole", NULL};
	struct plural_rule *rule = out;

	rule->used = yaml_is_map(node, keys);
	read_set(yaml_get(node, "exactly"), NUMBER_SET - 1, rule->exactly);
	read_set(yaml_get(node, "last_digit"), 9, rule->last_digit);
	read_set(yaml_get(node, "but_not"), NUMBER_SET - 1, rule->but_not);
	read_set(yaml_get(node, "whole"), NUMBER_SET - 1, rule->whole);
}

/* All but "other", which has no rule. */
static void read_plurals(const struct yaml_node *map, struct phrasebook *book)
{
	struct yaml_row rows[PLURALS] = {0};

	for (enum plural plural = 0; plural < PLURAL_OTHER; plural++)
		rows[plural] = (struct yaml_row){plural_names[plural], .read = read_plural,
						 .out = &book->plurals[plural]};
	book->plurals[PLURAL_OTHER].used = true;
	yaml_read_map(map, rows);
}

void read_numbers(const struct yaml_node *root, struct phrasebook *book)
{
	read_numerals(yaml_need(root, "numbers"), book);
	read_joints(yaml_get(root, "joints"), book);
	read_plurals(yaml_need(root, "plural"), book);
}

/* ---- sayings ---- */

static struct sentence *read_saying(struct phrasebook *book, const char *map, const char *key,
				    const struct yaml_node *node, const struct field_rule *rule)
{
	struct saying saying = {.map = map, .key = key};

	sentence_compile(node, key, rule, &saying.sentence);
	book->sayings = memory_resize(book->sayings, (size_t)book->saying_count + 1, sizeof saying);
	book->sayings[book->saying_count] = saying;
	return &book->sayings[book->saying_count++].sentence;
}

/* Of a map of sentences; "": of the phrasebook itself. */
static void check_keys(const struct yaml_node *node, const struct phrasebook *book, const char *map)
{
	const char *keys[KEYS_MAX] = {0};
	int count = 0;

	for (int i = 0; !*map && other_keys[i]; i++)
		keys[count++] = other_keys[i];
	for (int i = 0; i < book->saying_count; i++) {
		const struct saying *saying = &book->sayings[i];
		if (strcmp(saying->map, map) == 0)
			keys[count++] = saying->key;
		else if (!*map && strcmp(keys[count - 1], saying->map) != 0)
			keys[count++] = saying->map;
	}
	yaml_is_map(node, keys);
}

static void read_sayings(const struct yaml_node *root, struct phrasebook *book)
{
	const char *checked = NULL;

	for (size_t i = 0; i < sizeof sayings / sizeof *sayings; i++) {
		const struct saying_row *row = &sayings[i];
		const struct yaml_node *map = *row->map ? yaml_need(root, row->map) : root;
		const struct field_rule rule = {row->may | row->must, row->must};
		for (const char *const *key = row->keys; *key; key++)
			read_saying(book, row->map, *key, yaml_need(map, *key), &rule);
	}
	for (enum notice notice = 0; notice < NOTICES; notice++) {
		const struct field_rule rule = {NOTICE_FIELDS, notices[notice].needed};
		const char *key = notice_name(notice);
		read_saying(book, "notices", key, yaml_need(yaml_need(root, "notices"), key),
			    &rule);
	}
	for (int i = 0; i < book->saying_count; i++) {
		const char *map = book->sayings[i].map;
		if (!checked || strcmp(map, checked) != 0)
			check_keys(*map ? yaml_get(root, map) : root, book, map);
		checked = map;
	}
}

/* A number of several digits said more plainly. */
static void read_plainly(struct phrasebook *book, const char *map, const char *key,
			 const struct yaml_node *node)
{
	static const struct field_rule rule = {.known = FIELD(WORDS) | FIELD(DIGITS)};
	const struct sentence *sentence = read_saying(book, map, key, node, &rule);

	if (sentence->text && sentence->fields == 0)
		yaml_fault(node, "phrase-missing", "expected {words}, {digits} or both");
}

static void read_clear(const struct yaml_node *map, struct phrasebook *book)
{
	static const char *const keys[] = {"number", "digits", NULL};
	static const char *const digits[] = {"0", "1", "2", "3", "4", "5",
					     "6", "7", "8", "9", NULL};
	static const struct field_rule word = {0};
	const struct yaml_node *words = yaml_get(map, "digits");

	if (!yaml_is_map(map, keys))
		return;
	read_plainly(book, "clear", "number", yaml_need(map, "number"));
	if (yaml_is_map(words, digits))
		for (const char *const *digit = digits; *digit; digit++)
			read_saying(book, "digits", *digit, yaml_get(words, *digit), &word);
}

/* Each with the forms that the language's plural rules tell apart. */
static void read_nouns(const struct yaml_node *map, struct phrasebook *book)
{
	const char *forms[PLURALS + 1] = {0};
	int count = 0;

	for (enum plural plural = 0; plural < PLURALS; plural++)
		if (book->plurals[plural].used)
			forms[count++] = plural_names[plural];
	if (!yaml_is_map(map, nouns))
		return;
	for (const char *const *noun = nouns; *noun; noun++) {
		const struct yaml_node *node = yaml_need(map, *noun);
		if (!yaml_is_map(node, forms))
			continue;
		for (int i = 0; i < count; i++) {
			const struct field_rule rule = {.known = FIELD(COUNT),
							.needed = i + 1 == count ? FIELD(COUNT)
										 : NONE};
			read_saying(book, *noun, forms[i], yaml_need(node, forms[i]), &rule);
		}
	}
}

/* ---- calls ---- */

/* One sentence for all variants of a kind, with the fields that all of them know, or a map from
 * variants to sentences. Those of a detail have values that must be named. */
static void read_call(const struct yaml_node *node, enum call_kind kind, int which,
		      struct sentence out[VARIANTS])
{
	const struct kind_variant *variants = kinds[kind].variants;
	int count = 0;
	struct field_rule common = {.known = ~NONE};
	const char *keys[KIND_VARIANTS_MAX + 1] = {0};
	char *what = memory_format("a call of \"%s\"", call_kind_name(kind));

	for (; count < kinds[kind].count && (which == SENTENCE_WHY || !variants[count].of_reason);
	     count++) {
		keys[count] = variant_names[variants[count].variant];
		common.known &= variants[count].rule.known;
		common.needed |= variants[count].rule.needed;
	}
	bool apart = node && node->kind == YAML_MAP && count > 1;
	if (apart)
		yaml_is_map(node, keys);
	for (int i = 0; i < count; i++) {
		struct field_rule rule = apart ? variants[i].rule : common;
		rule.needed = which < DETAILS ? rule.needed : NONE;
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
		bool needed = i < DETAILS ? kind_is_called(kind, (enum detail)i)
					  : i == SENTENCE_WHY || is_asked;
		read_call(needed ? yaml_need(node, keys[i]) : yaml_get(node, keys[i]), kind, i,
			  book->calls[kind][i]);
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

/* ---- the file ---- */

struct phrasebook *phrasebook_read(struct yaml_document *document)
{
	if (!document)
		return NULL;

	const struct yaml_node *root = document->root;
	struct phrasebook *book = memory_new(1, sizeof(*book));
	const char *text;

	yaml_text(yaml_need(root, "phrasebook"), NAME_BYTES_MAX, &text);
	if (yaml_text(yaml_get(root, "voice"), NAME_BYTES_MAX, &text))
		book->voice = memory_copy(text);
	read_sayings(root, book);
	read_numbers(root, book);
	read_plainly(book, "", "repeat", yaml_need(root, "repeat"));
	read_clear(yaml_need(root, "clear"), book);
	read_nouns(yaml_need(root, "nouns"), book);
	read_calls(yaml_need(root, "calls"), book);
	if (!yaml_is_good(document)) {
		phrasebook_free(book);
		book = NULL;
	}
	yaml_free(document);
	return book;
}

struct phrasebook *phrasebook_find(const char *language, struct faults *faults)
{
	char *looked;
	char *path = path_find(PATH_VOICE, language, NULL, &looked);
	struct phrasebook *book = NULL;

	if (path)
		book = phrasebook_read(yaml_read(path, faults));
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
	for (int i = 0; i < book->numeral_count; i++)
		free(book->numerals[i].sentence.text);
	free(book->numerals);
	for (int i = 0; i < book->joint_count; i++) {
		free(book->joints[i].from);
		free(book->joints[i].to);
	}
	free(book->joints);
	for (int i = 0; i < book->saying_count; i++)
		free(book->sayings[i].sentence.text);
	free(book->sayings);
	struct sentence *calls = book->calls[0][0];
	for (size_t i = 0; i < sizeof book->calls / sizeof *calls; i++)
		free(calls[i].text);
	free(book);
}

const char *phrasebook_voice(const struct phrasebook *book)
{
	return book->voice;
}
