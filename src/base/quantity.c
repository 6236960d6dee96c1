/* Numbers with units: read, converted, printed. */
#include "base/base.h"

#include <ctype.h>
#include <math.h>
#include <regex.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* Factors to the base unit of the dimension; exact (NIST SP 811, Appendix B). */
static const struct {
	const char *name;
	enum dimension dimension;
	double factor;
} units[UNIT_COUNT] = {
	[UNIT_MM] = {"mm", DIMENSION_LENGTH, 1},
	[UNIT_CM] = {"cm", DIMENSION_LENGTH, 10},
	[UNIT_M] = {"m", DIMENSION_LENGTH, 1000},
	[UNIT_IN] = {"in", DIMENSION_LENGTH, 25.4},
	[UNIT_MM2] = {"mm2", DIMENSION_AREA, 1},
	[UNIT_CM2] = {"cm2", DIMENSION_AREA, 100},
	[UNIT_IN2] = {"in2", DIMENSION_AREA, 25.4 * 25.4},
	[UNIT_LB] = {"lb", DIMENSION_TENSION, 4.4482216152605},
	[UNIT_KG] = {"kg", DIMENSION_TENSION, 9.80665},
	[UNIT_N] = {"N", DIMENSION_TENSION, 1},
	[UNIT_PERCENT] = {"%", DIMENSION_RATIO, 0.01},
	[UNIT_MS] = {"ms", DIMENSION_TIME, 0.001},
	[UNIT_S] = {"s", DIMENSION_TIME, 1},
};

static const char *const dimension_examples[] = {
	[DIMENSION_LENGTH] = "a length such as \"330 mm\" (mm, cm, m, in)",
	[DIMENSION_AREA] = "an area such as \"640 cm2\" (mm2, cm2, in2)",
	[DIMENSION_TENSION] = "a tension such as \"54 lb\" (lb, kg, N)",
	[DIMENSION_RATIO] = "a share such as \"10 %\"",
	[DIMENSION_TIME] = "a time such as \"300 ms\" (ms, s)",
};

/* A unit as people write it: small or capital, one or many ("Kg", "lbs"). */
static bool find_unit(const char *name, enum dimension dimension, enum unit *out)
{
	size_t length = strlen(name);
	bool many = dimension == DIMENSION_TENSION && length > 2 &&
		    tolower((unsigned char)name[length - 1]) == 's';

	for (enum unit unit = 0; unit < UNIT_COUNT; unit++) {
		if (units[unit].dimension != dimension)
			continue;
		size_t own = strlen(units[unit].name);
		if (strncasecmp(units[unit].name, name, own) == 0 && own == length - many) {
			*out = unit;
			return true;
		}
	}
	return false;
}

/* A plain decimal number, its whole part and decimals, and the unit. A leading zero is only taken
 * before the point: `010` is somebody's octal and nobody's tension. */
static const char form[] = "^[-+]?(0|[1-9][0-9]{0,8})([.,][0-9]{1,4})? *([^ 0-9.,].*)?$";

bool quantity_parse(const char *text, enum dimension dimension, struct quantity *out, char **why)
{
	const char *expected = dimension_examples[dimension];
	static regex_t regex; /* compiled at the first use: that takes 40 us */
	regmatch_t at[4];
	enum unit unit;

	if (regex.re_nsub == 0 && regcomp(&regex, form, REG_EXTENDED) != 0)
		memory_fail();
	bool is_number = regexec(&regex, text, 4, at, 0) == 0;
	const char *decimals = is_number && at[2].rm_so >= 0 ? text + at[2].rm_so : "";
	const char *name = is_number && at[3].rm_so >= 0 ? text + at[3].rm_so : "";
	*why = NULL;
	if (!is_number)
		*why = memory_format("expected %s, not \"%s\"", expected, text);
	else if (*decimals == ',')
		*why = memory_format("write \"%.*s.%s\", with a point", (int)(decimals - text),
				     text, decimals + 1);
	else if (*name == '\0')
		*why = memory_format("a unit is missing: expected %s", expected);
	else if (!find_unit(name, dimension, &unit))
		*why = memory_format("unit \"%s\" is not known here: expected %s", name, expected);
	else
		/* The digits are checked: strtod cannot meet an exponent, hex or locale surprises
		 * here, as pullcall never calls setlocale for numbers. */
		*out = (struct quantity){.value = strtod(text, NULL), .unit = unit};
	return !*why;
}

double quantity_base(struct quantity quantity)
{
	return quantity.value * units[quantity.unit].factor;
}

struct quantity quantity_convert(struct quantity quantity, enum unit unit)
{
	if (quantity.unit == unit)
		return quantity;
	return (struct quantity){
		.value = quantity_base(quantity) / units[unit].factor,
		.unit = unit,
	};
}

static double to_hundredths(double value)
{
	return round(value * 100) / 100;
}

struct quantity quantity_sum(struct quantity a, struct quantity b)
{
	return (struct quantity){
		.value = to_hundredths(a.value + quantity_convert(b, a.unit).value),
		.unit = a.unit,
	};
}

bool quantity_same(struct quantity a, struct quantity b)
{
	return fabs(a.value - quantity_convert(b, a.unit).value) < 0.005;
}

enum dimension unit_dimension(enum unit unit)
{
	return units[unit].dimension;
}

const char *unit_name(enum unit unit)
{
	return units[unit].name;
}

void number_trim(char *digits)
{
	if (!strchr(digits, '.'))
		return;
	size_t length = strlen(digits);
	while (digits[length - 1] == '0')
		length--;
	digits[digits[length - 1] == '.' ? length - 1 : length] = '\0';
}

const char *number_text(double value, char buffer[static QUANTITY_TEXT_MAX])
{
	double rounded = to_hundredths(value);

	snprintf(buffer, QUANTITY_TEXT_MAX, "%.2f", rounded == 0 ? 0 : rounded); /* no "-0" */
	number_trim(buffer);
	return buffer;
}

const char *quantity_text(struct quantity quantity, char buffer[static QUANTITY_TEXT_MAX])
{
	number_text(quantity.value, buffer);
	size_t length = strlen(buffer);
	snprintf(buffer + length, QUANTITY_TEXT_MAX - length, " %s", units[quantity.unit].name);
	return buffer;
}

/* A number of at most two decimals stays as it is. */
static double inward(double value, double (*round_inward)(double))
{
	double steps = value < 1 ? 100 : 10;

	return fabs(value - to_hundredths(value)) < 1e-6 ? value
							 : round_inward(value * steps) / steps;
}

void quantity_bounds(double min, double max, enum unit unit, char least[static QUANTITY_TEXT_MAX],
		     char most[static QUANTITY_TEXT_MAX])
{
	double factor = units[unit].factor;

	number_text(inward(min / factor, ceil), least);
	quantity_text((struct quantity){inward(max / factor, floor), unit}, most);
}

char *quantity_range(double min, double max, enum unit unit)
{
	char least[QUANTITY_TEXT_MAX], most[QUANTITY_TEXT_MAX];

	quantity_bounds(min, max, unit, least, most);
	return memory_format("%s to %s", least, most);
}
