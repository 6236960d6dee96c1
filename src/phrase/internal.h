/* The parts of this room, from the word up:
 *
 *   field        what a sentence can name in braces
 *   kinds        which fields the sentence of each kind of call may and must name
 *   sentence     a sentence with fields, compiled from the phrasebook and filled in
 *   numerals     numbers in words, by the language's rules
 *   read         the phrasebook file
 *   words        values in words: tensions, sides, holes, names
 *   call, notice what is said
 */
#ifndef PHRASE_INTERNAL_H
#define PHRASE_INTERNAL_H

#include "base/base.h"
#include "phrase/phrase.h"
#include "sequence/sequence.h"

#include <stdbool.h>
#include <stdint.h>

/* --- Fields, and sets of them --- */

enum field {
	/* of calls */
	FIELD_NUMBER,
	FIELD_SIDE,
	FIELD_OTHER_SIDE,
	FIELD_HOLE,
	FIELD_HOLES,    /* of a main, both ends */
	FIELD_ODD_HOLE, /* only where it is not the hole that the hand expects */
	FIELD_FROM,
	FIELD_TO,
	FIELD_FROM_END, /* head or throat */
	FIELD_TO_END,
	FIELD_SKIP,       /* how many holes a main leaves empty beside the main before it */
	FIELD_NEXT_EMPTY, /* said where a cross's hole is at the other end than the one before */
	FIELD_SHARED,     /* said of a hole with a string in it already */
	FIELD_TENSION,    /* number and unit */
	FIELD_PULL,       /* the number alone */
	FIELD_NEW_PULL,   /* the same, said with the first pull after a change */
	FIELD_PRESTRETCH,
	FIELD_PULLED, /* the cross pulled while another is woven */
	FIELD_FIRST,  /* of several crosses pulled at once */
	FIELD_LAST,
	FIELD_OVER, /* over or under at the first main met, at the last main met */
	FIELD_OVER_LAST,
	FIELD_ODD_OVER, /* as FIELD_OVER, only where it differs from the cross before */
	FIELD_MATCH,    /* whether over or under is the same at the last main met as at the first */
	FIELD_MISSING,  /* crosses still to come among those that a main is woven through */
	FIELD_ACROSS,   /* the string that a flying clamp holds another by */
	FIELD_ANCHOR,   /* the string that a knot is tied on */
	FIELD_SUGGESTED,
	FIELD_LENGTH,
	FIELD_STRING_NAME,
	FIELD_CARE,       /* how a string of that kind wants to be handled */
	FIELD_HEAD,       /* how to work the tension head */
	FIELD_THROUGH,    /* the last of several strings that a tension is for */
	FIELD_BOTH_SIDES, /* no words: the strings of both sides */
	FIELD_BACK,       /* no words: the tension goes back to the plan's own */
	FIELD_AS_SET,     /* no words: the machine is set so already */
	FIELD_LATE,       /* the main of the long side that is left for later */
	FIELD_UNTIL,      /* the cross after which it is woven */
	FIELD_EARLY,      /* no words: keeps its brackets for the first calls of a kind */
	/* of notices and places */
	FIELD_JOB,
	FIELD_PLACE,
	FIELD_LEFT,
	FIELD_TIME_LEFT,
	FIELD_TIME_WORKED,
	FIELD_MAINS,
	FIELD_CROSSES,
	FIELD_REASON, /* of a refusal */
	FIELD_STEP,
	FIELD_STEPS,
	/* of numbers, units and holes */
	FIELD_COUNT,
	FIELD_REST,
	FIELD_WHOLE,
	FIELD_DIGITS,
	FIELD_WORDS,
	FIELD_NOUN,
	FIELD_END, /* head or throat: of calls too */
	FIELDS,    /* how many there are; in a piece of a sentence: no field */
};

typedef uint64_t field_set;

#define FIELD(name) ((field_set)1 << FIELD_##name)

/* What a sentence may and must name. */
struct field_rule {
	field_set known;
	field_set needed;
};

/* Fields that may have nothing to say: a sentence puts them in brackets. */
extern const field_set fields_at_times;

const char *field_name(enum field field);
enum field field_find(const char *name); /* FIELDS: there is none */

/* --- Kinds of calls: what a phrasebook is checked against ---
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
	VARIANTS,
};

enum { KIND_VARIANTS_MAX = 4 };

/* Who hears such calls: a learner hears each move, a practised hand each string. */
enum hearer { ALL, LEARNER, PRACTISED };

struct kind_variant {
	enum variant variant;
	struct field_rule rule;
};

/* The variants of a kind, at least one; returns how many. */
int kind_variants(enum call_kind kind, const struct kind_variant **variants);

/* Whether calls of that kind are made in that detail. */
bool kind_is_called(enum call_kind kind, enum detail detail);

const char *variant_name(enum variant variant);

/* --- Sentences: "Main {number} {side}[, {odd_hole}]." ---
 *
 * A part in brackets is left out when a field in it has nothing to say. If it has a bar, what
 * follows the bar is said instead: "Cut the mains[, {length}|, as long as the old ones]."
 */

struct piece {
	enum field field; /* FIELDS: words */
	char *words;
	int bracket;  /* the number of the bracket that it is in; 0: none, always said */
	bool instead; /* behind the bar of that bracket */
};

struct sentence {
	struct piece *pieces;
	int count;
	field_set fields;
};

enum { SENTENCE_BYTES_MAX = 400, WORDS_BYTES_MAX = 160 };

/* Compiles the text of a node; `what` names it in faults, which point into the sentence. False
 * leaves *out empty. Does nothing and returns false for a NULL node. */
bool sentence_compile(const struct yaml_node *node, const char *what, const struct field_rule *rule,
		      struct sentence *out);
void sentence_free(struct sentence *sentence);

/* The words for each field; NULL: it has nothing to say. */
struct field_values {
	char *words[FIELDS];
};

void field_values_free(struct field_values *values);

void sentence_fill(const struct sentence *sentence, const struct field_values *values,
		   struct text *out);

/* Copies words without fields to *out; the caller frees it. */
bool words_read(const struct yaml_node *node, char **out);

/* --- Numbers: how a language composes them is data ---
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

/* Plural forms, named as in Unicode's CLDR. Every language has "other". */
enum plural { PLURAL_ONE, PLURAL_TWO, PLURAL_FEW, PLURAL_MANY, PLURAL_OTHER, PLURALS };

enum { NUMERAL_MIN = 999, PLURAL_NUMBERS_MAX = 16 };

struct numeral {
	int from;
	int unit; /* 1 to from; at least 2 in a rule */
	struct sentence sentence;
};

/* A list of numbers in the phrasebook. */
struct number_list {
	int numbers[PLURAL_NUMBERS_MAX];
	int count;
};

/* When a plural form is used: for the numbers `exactly`, and for those with a `last_digit` unless
 * their last two digits are in `but_not`. */
struct plural_rule {
	bool used;
	struct number_list exactly;
	struct number_list last_digit;
	struct number_list but_not;
};

struct numerals {
	struct numeral *words; /* exact numbers, ascending */
	int word_count;
	struct numeral *rules; /* ascending */
	int rule_count;
	struct sentence decimal; /* "{whole} point {digits}" */
	struct sentence repeat;  /* a number of several digits, said again: {words}, {digits} */
	struct sentence clear;   /* the same, in a loud shop */
	char *clear_digits[10];  /* digits that have a word of their own then; else NULL */
	struct plural_rule plurals[PLURALS];
};

/* Reads the maps `numbers`, `plural` and `clear` and the sentences `decimal` and `repeat` of a
 * phrasebook's root. */
void numerals_read(const struct yaml_node *root, struct numerals *out);
void numerals_free(struct numerals *numerals);

/* The last of ascending items whose number is at most `number`, or NULL. */
const struct numeral *numerals_find(const struct numeral *items, int count, int number);

/* How plainly a number is said. */
struct plainness {
	bool again; /* the call is repeated */
	bool clear; /* the shop is loud */
};

/* A number as it is printed, to a hundredth; not negative. */
void numerals_say(const struct numerals *numerals, double number, struct plainness plainness,
		  struct text *out);

/* The same from the digits before and after the point, as a person wrote them: 1.30 */
void numerals_say_decimal(const struct numerals *numerals, const char *whole, const char *decimals,
			  struct plainness plainness, struct text *out);

/* A whole number in words; its digits one by one. */
void numerals_say_whole(const struct numerals *numerals, int number, struct text *out);
void numerals_say_digits(const struct numerals *numerals, const char *digits, bool clear,
			 struct text *out);

/* The form of a noun after that number; `other` for one with decimals. */
enum plural numerals_plural(const struct numerals *numerals, double number);

const char *plural_name(enum plural plural);

/* --- The phrasebook --- */

/* What is counted. */
enum noun {
	NOUN_MAIN,
	NOUN_CROSS,
	NOUN_MINUTE,
	NOUN_POUND,
	NOUN_KILO,
	NOUN_NEWTON,
	NOUN_METRE,
	NOUN_PERCENT,
	NOUNS,
};

/* The sentences for a place in a job. */
enum place {
	PLACE_OF_MAIN,
	PLACE_OF_CROSS,
	PLACE_OF_PREPARE,
	PLACE_OF_FINISH,
	PLACES,
};

/* What is left to string. */
enum left { LEFT_BOTH, LEFT_MAINS, LEFT_CROSSES, LEFT_NONE, LEFTS };

/* The sentences of a kind: one for each detail, and why it is done. */
enum { SENTENCE_WHY = DETAILS, SENTENCES };

struct phrasebook {
	char *voice; /* may be NULL */
	struct numerals numerals;
	char *nouns[NOUNS][PLURALS];
	struct sentence counted; /* "{count} {noun}" */
	char *sides[2];
	char *ends[2];
	char *over[2];  /* under, over */
	char *match[2]; /* opposite, same */
	char *suggested;
	char *next_empty;
	char *shared;
	char *care[MATERIALS - 1]; /* from MATERIAL_GUT */
	char *head[TENSION_HEADS];
	struct sentence hole;
	struct sentence holes_same;
	struct sentence holes_differ;
	struct sentence anchor[2]; /* by string_kind */
	struct sentence places[PLACES];
	struct sentence left[LEFTS];
	struct sentence notices[NOTICES];
	struct sentence calls[CALL_KINDS][SENTENCES][VARIANTS];
};

/* --- Values in words --- */
struct manner {
	const struct phrasebook *book;
	const struct phrase_options *options; /* never NULL */
};

/* Each returns words that the caller frees. */
char *say_number(const struct manner *manner, double number);
char *say_counted(const struct manner *manner, double count, enum noun noun);
char *say_tension(const struct manner *manner, struct quantity tension);
char *say_tension_number(const struct manner *manner, struct quantity tension);
char *say_side(const struct manner *manner, enum side side);
char *say_end(const struct manner *manner, enum frame_end end);
char *say_hole(const struct manner *manner, struct hole hole);

/* A name in words: digits become numbers, whatever else is not a letter becomes a space. NULL for
 * NULL, and for a name without letters and digits. */
char *say_name(const struct manner *manner, const char *name);

/* The sentence with the values filled in. Frees the values. */
char *say_sentence(const struct sentence *sentence, struct field_values *values);

/* Makes words ready to leave this room: capitals where sentences begin, not too long. Returns
 * words.
 */
char *say_finally(char *words);

/* Where the byte at `offset` of a scalar's text is in the file, for faults that point into a
 * sentence. Behind an escape, and in a block scalar, the last position that is certain. */
struct position position_in(const struct yaml_node *node, size_t offset);

#endif
