/* What a sentence can name, and what that of each kind of call may and must. */
#include "phrase/internal.h"

#include <string.h>

static const char *const field_names[FIELDS] = {
#define FIELD_NAME(id, name, when) [FIELD_##id] = (name),
	FIELD_LIST(FIELD_NAME)
#undef FIELD_NAME
};

#define ALWAYS                    NONE
#define AT_TIMES                  (field_set)1
#define FIELD_BIT(id, name, when) | (when) << FIELD_##id
const field_set fields_at_times = NONE FIELD_LIST(FIELD_BIT);
#undef FIELD_BIT

const char *field_name(enum field field)
{
	return field_names[field];
}

enum field field_find(const char *name, size_t length)
{
	enum field field = 0;

	while (field < FIELDS && (strncmp(field_names[field], name, length) != 0 ||
				  field_names[field][length] != '\0'))
		field++;
	return field;
}

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

struct kind {
	enum hearer hearer;
	int count;
	struct kind_variant variants[KIND_VARIANTS_MAX];
};

/* A kind without variants has one that nobody sees. */
static const struct kind kinds[CALL_KINDS] = {
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

int kind_variants(enum call_kind kind, const struct kind_variant **variants)
{
	*variants = kinds[kind].variants;
	return kinds[kind].count;
}

bool kind_is_called(enum call_kind kind, enum detail detail)
{
	if (kinds[kind].hearer == ALL)
		return true;
	return (kinds[kind].hearer == LEARNER) == (detail == DETAIL_LEARNER);
}

const char *variant_name(enum variant variant)
{
	return variant_names[variant];
}
