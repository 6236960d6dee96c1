/* A phrasebook as it was read: inside this room. */
#ifndef PHRASE_BOOK_H
#define PHRASE_BOOK_H

#include "phrase/kinds.h"
#include "phrase/numerals.h"
#include "phrase/phrasebook.h"
#include "phrase/sentence.h"

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

/* Where a call is, by what it is about. */
enum place {
	PLACE_OF_MAIN,
	PLACE_OF_CROSS,
	PLACE_OF_PREPARE,
	PLACE_OF_FINISH,
	PLACES,
};

/* What is left to string. */
enum left { LEFT_BOTH, LEFT_MAINS, LEFT_CROSSES, LEFT_NONE, LEFTS };

struct phrasebook {
	char *voice; /* may be NULL */
	struct numerals numerals;
	char *nouns[NOUNS][PLURALS];
	struct sentence counted; /* "{count} {noun}" */
	char *sides[2];
	char *ends[2];
	char *over[2]; /* under, over */
	char *suggested;
	struct sentence hole;
	struct sentence holes_same;
	struct sentence holes_differ;
	struct sentence anchor[2]; /* by string_kind */
	struct sentence places[PLACES];
	struct sentence left[LEFTS];
	struct sentence notices[NOTICES];
	struct sentence calls[CALL_KINDS][DETAILS][VARIANTS];
};

/* How to say it this time. */
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

/* A name as words: digits become numbers, everything that is not a letter a space. NULL gives
 * NULL, and so does a name with nothing to say in it. */
char *say_name(const struct manner *manner, const char *name);

/* What a sentence makes of values, which are freed. */
char *say_sentence(const struct sentence *sentence, struct field_values *values);

/* The whole text, as it leaves this room: capital letters where sentences begin, not too long.
 * Takes words. */
char *say_finally(char *words);

#endif
