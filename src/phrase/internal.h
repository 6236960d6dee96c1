/* Shared by the files of this room. Each calls only files further on in this row: call, words,
 * read, sentence. */
#ifndef PHRASE_INTERNAL_H
#define PHRASE_INTERNAL_H

#include "phrase/phrase.h"
#include "sequence/sequence.h"

/* ---- Fields, and sets of them ----
 *
 * AT_TIMES: it may have nothing to say, so a sentence puts it in brackets. "No words": it says
 * nothing itself, but keeps or drops its brackets.
 */

/* clang-format off */
#define FIELD_LIST(FIELD)                                                                          \
	/* of calls */                                                                             \
	FIELD(NUMBER, "number", ALWAYS)                                                            \
	FIELD(SIDE, "side", ALWAYS)                                                                \
	FIELD(OTHER_SIDE, "other_side", ALWAYS)                                                    \
	FIELD(HOLE, "hole", ALWAYS)                                                                \
	FIELD(HOLES, "holes", ALWAYS)           /* of a main, both ends */                         \
	FIELD(ODD_HOLE, "odd_hole", AT_TIMES)   /* where it is not the one that the hand expects */ \
	FIELD(FROM, "from", ALWAYS)                                                                \
	FIELD(TO, "to", ALWAYS)                                                                    \
	FIELD(FROM_END, "from_end", ALWAYS)     /* head or throat */                               \
	FIELD(TO_END, "to_end", ALWAYS)                                                            \
	FIELD(SKIP, "skip", AT_TIMES)           /* holes a main leaves empty beside the last one */ \
	FIELD(NEXT_EMPTY, "next_empty", AT_TIMES) /* a cross's hole, at the other end than the last */ \
	FIELD(SHARED, "shared", AT_TIMES)       /* a hole with a string in it already */           \
	FIELD(TENSION, "tension", ALWAYS)       /* number and unit */                              \
	FIELD(PULL, "pull", ALWAYS)             /* the number alone */                             \
	FIELD(NEW_PULL, "new_pull", AT_TIMES)   /* the same, with the first pull after a change */ \
	FIELD(PRESTRETCH, "prestretch", AT_TIMES)                                                  \
	FIELD(PULLED, "pulled", ALWAYS)         /* the cross pulled while another is woven */      \
	FIELD(FIRST, "first", ALWAYS)           /* of several crosses pulled at once */            \
	FIELD(LAST, "last", ALWAYS)                                                                \
	FIELD(OVER, "over", ALWAYS)             /* over or under, at the first main met */         \
	FIELD(OVER_LAST, "over_last", ALWAYS)   /* likewise at the last */                         \
	FIELD(ODD_OVER, "odd_over", AT_TIMES)   /* {over}, where it differs from the cross before */ \
	FIELD(GOES_OVER, "goes_over", AT_TIMES) /* no words: {over} is over */                      \
	FIELD(ENDS_OVER, "ends_over", AT_TIMES) /* no words: {over_last} is over */                 \
	FIELD(MATCH, "match", ALWAYS)           /* whether {over_last} is as {over} */             \
	FIELD(MISSING, "missing", AT_TIMES)     /* crosses still to come that a main will meet */  \
	FIELD(ACROSS, "across", AT_TIMES)       /* the string that a flying clamp holds another by */ \
	FIELD(ANCHOR, "anchor", AT_TIMES)       /* the string that a knot is tied on */            \
	FIELD(SUGGESTED, "suggested", AT_TIMES)                                                    \
	FIELD(LENGTH, "length", AT_TIMES)                                                          \
	FIELD(STRING_NAME, "string_name", AT_TIMES)                                                \
	FIELD(CARE, "care", AT_TIMES)           /* how a string of that kind wants to be handled */ \
	FIELD(HEAD, "head", ALWAYS)             /* how to work the tension head */                 \
	FIELD(THROUGH, "through", AT_TIMES)     /* the last of several strings of a tension */     \
	FIELD(BOTH_SIDES, "both_sides", AT_TIMES) /* no words: the strings of both sides */        \
	FIELD(BACK, "back", AT_TIMES)           /* no words: the tension goes back to the plan's own */ \
	FIELD(AS_SET, "as_set", AT_TIMES)       /* no words: the machine is set so already */      \
	FIELD(LATE, "late", AT_TIMES)           /* the main of the long side that is left for later */ \
	FIELD(UNTIL, "until", AT_TIMES)         /* the cross after which it is woven */            \
	FIELD(EARLY, "early", AT_TIMES)         /* no words: one of the first calls of a kind */   \
	/* of notices and places */                                                                \
	FIELD(JOB, "job", AT_TIMES)                                                                \
	FIELD(PLACE, "place", ALWAYS)                                                              \
	FIELD(LEFT, "left", ALWAYS)                                                                \
	FIELD(TIME_LEFT, "time_left", AT_TIMES)                                                    \
	FIELD(TIME_WORKED, "time_worked", AT_TIMES)                                                \
	FIELD(MAINS, "mains", ALWAYS)                                                              \
	FIELD(CROSSES, "crosses", ALWAYS)                                                          \
	FIELD(REASON, "reason", AT_TIMES)       /* of a refusal */                                 \
	FIELD(PATTERN, "pattern", ALWAYS)                                                          \
	FIELD(MAINS_STRING, "mains_string", ALWAYS) /* its name and tension */                     \
	FIELD(CROSSES_STRING, "crosses_string", ALWAYS)                                            \
	FIELD(NOTES, "notes", AT_TIMES)                                                            \
	FIELD(LAST_TIME, "last_time", AT_TIMES) /* when the racket was strung before */            \
	FIELD(MONTH, "month", ALWAYS)                                                              \
	FIELD(STRING, "string", AT_TIMES)       /* with a fault */                                 \
	FIELD(STEP, "step", ALWAYS)                                                                \
	FIELD(STEPS, "steps", ALWAYS)                                                              \
	/* of numbers, nouns and holes */                                                          \
	FIELD(COUNT, "count", ALWAYS)                                                              \
	FIELD(REST, "rest", AT_TIMES)                                                              \
	FIELD(WHOLE, "whole", ALWAYS)                                                              \
	FIELD(DIGITS, "digits", ALWAYS)                                                            \
	FIELD(WORDS, "words", ALWAYS)                                                              \
	FIELD(END, "end", ALWAYS)               /* head or throat: of calls too */
/* clang-format on */

enum field {
#define FIELD_ID(id, name, when) FIELD_##id,
	FIELD_LIST(FIELD_ID)
#undef FIELD_ID
		FIELDS, /* how many there are; none */
};

typedef uint64_t field_set; /* bit n: field n */

#define FIELD(name) ((field_set)1 << FIELD_##name)
#define NONE        ((field_set)0)

/* What a sentence may and must name. */
struct field_rule {
	field_set known;
	field_set needed;
};

/* ---- Kinds of calls: what a phrasebook is checked against ----
 *
 * Some kinds have variants with a sentence each: a pull is of a main, of a cross or of several
 * crosses. A phrasebook may have one sentence for all variants of a kind, with the fields that all
 * of them know.
 */

enum variant {
	VARIANT_MAIN,
	VARIANT_CROSS,
	VARIANT_MAINS,   /* all of them */
	VARIANT_CROSSES, /* all of them; of a pull: several at once */
	VARIANT_WHOLE,   /* a one-piece length */
	/* Of reasons only: */
	VARIANT_BRIDGE,  /* the mains start where no loop crosses the gap where the bridge ends */
	VARIANT_PLANNED, /* they start where the plan says */
	VARIANT_EITHER,  /* no loop would cross it from either end */
	VARIANT_KNOT,    /* a string is pulled higher before its knot */
	VARIANT_ALONE,   /* nothing is woven beside the string before it is pulled */
	VARIANT_HELD,    /* a tight string is pulled so that its clamp can come off */
	VARIANTS,
};

enum { KIND_VARIANTS_MAX = 5 };

/* Who hears such calls: a learner hears each move, a practised hand each string. */
enum hearer { ALL, LEARNER, PRACTISED };

struct kind_variant {
	enum variant variant;
	struct field_rule rule;
	bool of_reason; /* only the reason has a sentence of its own for it */
};

extern const struct kind {
	enum hearer hearer;
	int count; /* of variants, at least one */
	struct kind_variant variants[KIND_VARIANTS_MAX];
} kinds[CALL_KINDS];

/* Whether calls of that kind are made in that detail. */
bool kind_is_called(enum call_kind kind, enum detail detail);

/* ---- Sentences: "Main {number} {side}[, {odd_hole}]." ----
 *
 * A part in brackets is left out when a field in it has nothing to say. If it has a bar, what
 * follows the bar is said instead: "Cut the mains[, {length}|, as long as the old ones]."
 */

struct sentence {
	char *text; /* checked when it was compiled */
	field_set fields;
};

enum { SENTENCE_BYTES_MAX = 400 };

/* Compiles the text of a node; `what` names it in faults, which point into the sentence. False
 * leaves *out empty, as a NULL node does. */
bool sentence_compile(const struct yaml_node *node, const char *what, const struct field_rule *rule,
		      struct sentence *out);

/* The words for each field; NULL: it has nothing to say. */
struct field_values {
	char *words[FIELDS];
};

/* VALUES([FIELD_NUMBER] = words) */
#define VALUES(...) ((struct field_values){.words = {__VA_ARGS__}})

/* The sentence with the values filled in, for the caller to free. Frees the values. */
char *sentence_fill(const struct sentence *sentence, struct field_values values);

/* ---- Numbers: how a language composes them is data ----
 *
 * A rule in the phrasebook holds from its number up to the next rule:
 *
 *     7: seven               no field: a word for this number alone, which comes before any rule
 *     20: twenty[ {rest}]    20 to 29; {rest} is what is above 20
 *     100: "{count} hundred[ {rest}]"    {count} is how many hundreds, {rest} what is left over
 *
 * The unit of a rule is the largest power of ten up to its number (hundreds for a rule at 200 too),
 * or the number after a slash: 60/20 counts scores. A rule without {count} holds for one unit:
 * 60/20 for 60 to 79.
 */

struct numeral {
	int from;
	int unit; /* 1 to from; at least 2 in a rule */
	struct sentence sentence;
};

/* Plural forms, named as in Unicode's CLDR. Every language has "other". */
enum plural { PLURAL_ONE, PLURAL_TWO, PLURAL_FEW, PLURAL_MANY, PLURAL_OTHER, PLURALS };

extern const char *const plural_names[PLURALS];

enum { NUMERAL_MIN = 999, NUMBER_SET = 100 };

/* The numbers with which a plural form is used: `exactly` these, those with a `last_digit` unless
 * their last two digits are in `but_not`, and those of a `whole` part, with decimals or without. */
struct plural_rule {
	bool used;
	bool exactly[NUMBER_SET];
	bool last_digit[NUMBER_SET];
	bool but_not[NUMBER_SET];
	bool whole[NUMBER_SET];
};

/* What becomes of words where they meet: "uno kilo" "un kilo". */
struct joint {
	char *from;
	char *to;
};

/* ---- The phrasebook ---- */

/* A sentence by its place in the file. Those of a noun are in a map of its name, by plural form,
 * and the words of single digits in a map "digits". */
struct saying {
	const char *map; /* "": the phrasebook's own */
	const char *key;
	struct sentence sentence;
};

/* The sentences of a kind: one for each detail, why it is done, and for teaching what it is called
 * and what is asked about it. */
enum { SENTENCE_WHY = DETAILS, SENTENCE_NAME, SENTENCE_ASK, SENTENCES };

struct phrasebook {
	char *voice; /* may be NULL */
	struct numeral *numerals;
	int numeral_count;
	struct joint *joints; /* tried in this order */
	int joint_count;
	struct plural_rule plurals[PLURALS];
	struct saying *sayings; /* all sentences but those of calls and numbers */
	int saying_count;
	struct sentence calls[CALL_KINDS][SENTENCES][VARIANTS];
};

extern const char *const month_keys[];

/* The maps `numbers`, `joints` and `plural` of a phrasebook's root. */
void read_numbers(const struct yaml_node *root, struct phrasebook *book);

/* An empty sentence if there is none. */
const struct sentence *saying_find(const struct phrasebook *book, const char *map, const char *key);

/* The word for that number alone, or else the rule that holds for it; NULL: there is none. */
const struct numeral *numeral_find(const struct phrasebook *book, int number);

/* The form of a noun after that number. */
enum plural plural_of(const struct phrasebook *book, double number);

/* ---- Values in words ---- */

struct manner {
	const struct phrasebook *book;
	const struct phrase_options *options; /* never NULL */
	const struct pattern *pattern;        /* whose range tensions are kept in, or NULL */
};

/* Each returns words that the caller frees. A number is said as it is printed, to a hundredth, not
 * negative. */
char *say_number(const struct manner *manner, double number);
char *say_counted(const struct manner *manner, double count, const char *noun);
char *say_tension(const struct manner *manner, struct quantity tension);
char *say_tension_number(const struct manner *manner, struct quantity tension);
char *say_side(const struct manner *manner, enum side side);
char *say_hole(const struct manner *manner, struct hole hole);

/* A saying with {number} and {side}, by the kind of string. */
char *say_string(const struct manner *manner, const char *map, enum string_kind kind, int number,
		 enum side side);

/* A saying without fields, and one with these, which are freed. */
char *say_words(const struct manner *manner, const char *map, const char *key);
char *say(const struct manner *manner, const char *map, const char *key,
	  struct field_values values);

/* A text in words: digits become numbers, whatever else is not a letter becomes a space, or a pause
 * if it is a mark behind a word. NULL for NULL, and for a text without letters and digits. */
char *say_text(const struct manner *manner, const char *text, bool with_pauses);

#endif
