/* The fields that a sentence can name in braces, and sets of them. */
#ifndef PHRASE_FIELD_H
#define PHRASE_FIELD_H

#include <stdint.h>

enum field {
	/* of calls */
	FIELD_NUMBER,
	FIELD_SIDE,
	FIELD_OTHER_SIDE,
	FIELD_HOLE,
	FIELD_HOLES,    /* of a main, both ends */
	FIELD_ODD_HOLE, /* said only where it is not the hole that one would take without thinking
			 */
	FIELD_FROM,
	FIELD_TO,
	FIELD_FROM_END, /* head or throat */
	FIELD_TO_END,
	FIELD_TENSION, /* number and unit */
	FIELD_PULL,    /* the number alone */
	FIELD_PRESTRETCH,
	FIELD_PULLED, /* the cross pulled while another is woven */
	FIELD_FIRST,  /* of several crosses pulled at once */
	FIELD_LAST,
	FIELD_OVER, /* over or under at the first main met, at the last main met */
	FIELD_OVER_LAST,
	FIELD_ODD_OVER, /* as FIELD_OVER, said only where it is not as for the cross before */
	FIELD_MISSING,  /* crosses that come later, amid those that a main is woven through */
	FIELD_ANCHOR,   /* the string that a knot is tied on */
	FIELD_SUGGESTED,
	FIELD_LENGTH,
	FIELD_STRING_NAME,
	/* of notices and places */
	FIELD_JOB,
	FIELD_PLACE,
	FIELD_LEFT,
	FIELD_TIME_LEFT,
	FIELD_TIME_WORKED,
	FIELD_MAINS,
	FIELD_CROSSES,
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
	FIELDS,    /* as many; in a piece of a sentence: no field */
};

typedef uint64_t field_set;

#define FIELD(name) ((field_set)1 << FIELD_##name)

/* What the sentences of one kind may and must name. */
struct field_rule {
	field_set known;
	field_set sometimes; /* known, but with nothing to say at times */
	field_set needed;
};

const char *field_name(enum field field);
enum field field_find(const char *name); /* FIELDS: there is none */

#endif
