#include "phrase/internal.h"

#include <string.h>

static const char *const field_names[FIELDS] = {
	[FIELD_NUMBER] = "number",
	[FIELD_SIDE] = "side",
	[FIELD_OTHER_SIDE] = "other_side",
	[FIELD_HOLE] = "hole",
	[FIELD_HOLES] = "holes",
	[FIELD_ODD_HOLE] = "odd_hole",
	[FIELD_FROM] = "from",
	[FIELD_TO] = "to",
	[FIELD_FROM_END] = "from_end",
	[FIELD_TO_END] = "to_end",
	[FIELD_SKIP] = "skip",
	[FIELD_NEXT_EMPTY] = "next_empty",
	[FIELD_SHARED] = "shared",
	[FIELD_TENSION] = "tension",
	[FIELD_PULL] = "pull",
	[FIELD_NEW_PULL] = "new_pull",
	[FIELD_PRESTRETCH] = "prestretch",
	[FIELD_PULLED] = "pulled",
	[FIELD_FIRST] = "first",
	[FIELD_LAST] = "last",
	[FIELD_OVER] = "over",
	[FIELD_OVER_LAST] = "over_last",
	[FIELD_ODD_OVER] = "odd_over",
	[FIELD_MATCH] = "match",
	[FIELD_MISSING] = "missing",
	[FIELD_ACROSS] = "across",
	[FIELD_ANCHOR] = "anchor",
	[FIELD_SUGGESTED] = "suggested",
	[FIELD_LENGTH] = "length",
	[FIELD_STRING_NAME] = "string_name",
	[FIELD_CARE] = "care",
	[FIELD_HEAD] = "head",
	[FIELD_THROUGH] = "through",
	[FIELD_BOTH_SIDES] = "both_sides",
	[FIELD_BACK] = "back",
	[FIELD_AS_SET] = "as_set",
	[FIELD_LATE] = "late",
	[FIELD_UNTIL] = "until",
	[FIELD_EARLY] = "early",
	[FIELD_JOB] = "job",
	[FIELD_PLACE] = "place",
	[FIELD_LEFT] = "left",
	[FIELD_TIME_LEFT] = "time_left",
	[FIELD_TIME_WORKED] = "time_worked",
	[FIELD_REASON] = "reason",
	[FIELD_MAINS] = "mains",
	[FIELD_CROSSES] = "crosses",
	[FIELD_STEP] = "step",
	[FIELD_STEPS] = "steps",
	[FIELD_COUNT] = "count",
	[FIELD_REST] = "rest",
	[FIELD_WHOLE] = "whole",
	[FIELD_DIGITS] = "digits",
	[FIELD_WORDS] = "words",
	[FIELD_NOUN] = "noun",
	[FIELD_END] = "end",
};

const field_set fields_at_times =
	FIELD(ODD_HOLE) | FIELD(SKIP) | FIELD(NEXT_EMPTY) | FIELD(SHARED) | FIELD(NEW_PULL) |
	FIELD(PRESTRETCH) | FIELD(ODD_OVER) | FIELD(MISSING) | FIELD(ACROSS) | FIELD(ANCHOR) |
	FIELD(SUGGESTED) | FIELD(LENGTH) | FIELD(STRING_NAME) | FIELD(CARE) | FIELD(THROUGH) |
	FIELD(BOTH_SIDES) | FIELD(BACK) | FIELD(AS_SET) | FIELD(LATE) | FIELD(UNTIL) |
	FIELD(EARLY) | FIELD(JOB) | FIELD(TIME_LEFT) | FIELD(TIME_WORKED) | FIELD(REASON) |
	FIELD(REST);

const char *field_name(enum field field)
{
	return field_names[field];
}

enum field field_find(const char *name)
{
	enum field field = 0;

	while (field < FIELDS && strcmp(field_names[field], name) != 0)
		field++;
	return field;
}
