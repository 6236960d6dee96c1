/* Numbers with units, as people write them: "330 mm", "54 lb", "-2.5 kg", "640 cm2", "10 %", "350
 * ms".
 *
 * A quantity keeps the unit it was written in, because what is announced is what the stringer must
 * set on the machine. Conversion factors are exact: NIST SP 811, Appendix B (1 lbf
 * = 4.4482216152605 N, 1 kgf = 9.80665 N, 1 in = 25.4 mm).
 */
#ifndef BASE_QUANTITY_H
#define BASE_QUANTITY_H

#include <stdbool.h>
#include <stddef.h>

enum dimension {
	DIMENSION_LENGTH,
	DIMENSION_AREA,
	DIMENSION_TENSION,
	DIMENSION_RATIO,
	DIMENSION_TIME,
};

enum unit {
	UNIT_MM,
	UNIT_CM,
	UNIT_M,
	UNIT_IN,
	UNIT_MM2,
	UNIT_CM2,
	UNIT_IN2,
	UNIT_LB, /* pound-force */
	UNIT_KG, /* kilogram-force */
	UNIT_N,
	UNIT_PERCENT,
	UNIT_MS,
	UNIT_S,
	UNIT_COUNT,
};

struct quantity {
	double value;
	enum unit unit;
};

/* Reads "NUMBER UNIT": a plain decimal number (optional sign, at most nine digits before the point
 * and four after it; no exponent), one or more spaces, a unit of the dimension. False leaves *out
 * alone and *why says what was expected; the caller frees *why. */
bool quantity_parse(const char *text, enum dimension dimension, struct quantity *out, char **why);

/* The value in the dimension's base unit: mm, mm2, newton, 1 (percent / 100), s. */
double quantity_base(struct quantity quantity);

struct quantity quantity_convert(struct quantity quantity, enum unit unit);

/* a + b in a's unit, rounded to a hundredth of it: finer than any tension head is set. */
struct quantity quantity_sum(struct quantity a, struct quantity b);

/* Equal when printed: to a hundredth of a's unit. */
bool quantity_same(struct quantity a, struct quantity b);

enum dimension unit_dimension(enum unit unit);
const char *unit_name(enum unit unit);
bool unit_parse(const char *name, enum unit *out);

/* "54 lb", "24.5 kg": at most two decimals, no trailing zeros. Returns buffer. */
enum { QUANTITY_TEXT_MAX = 40 };
const char *quantity_text(struct quantity quantity, char buffer[static QUANTITY_TEXT_MAX]);

/* The number alone, the same way. */
const char *number_text(double value, char buffer[static QUANTITY_TEXT_MAX]);

#endif
