/* Units against NIST SP 811, Appendix B (factors exact; the products below computed from them), and
 * the strictness of what is read. */
#include "base/base.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct quantity read_quantity(const char *text, enum dimension dimension)
{
	struct quantity quantity = {0};
	char *why = NULL;

	if (!quantity_parse(text, dimension, &quantity, &why))
		fail_msg("%s: %s", text, why);
	return quantity;
}

static void conversions_are_those_of_nist_sp_811(void **state)
{
	(void)state;
	static const struct {
		const char *from;
		enum unit unit;
		double value, tolerance;
	} cases[] = {
		{"1 lb", UNIT_N, 4.4482216152605, 1e-13}, {"1 kg", UNIT_N, 9.80665, 1e-13},
		{"55 lb", UNIT_N, 244.652, 5e-4},         {"55 lb", UNIT_KG, 24.948, 5e-4},
		{"24 kg", UNIT_N, 235.360, 5e-4},         {"24 kg", UNIT_LB, 52.911, 5e-4},
		{"28 kg", UNIT_N, 274.586, 5e-4},         {"28 kg", UNIT_LB, 61.729, 5e-4},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct quantity from = read_quantity(cases[i].from, DIMENSION_TENSION);
		double value = quantity_convert(from, cases[i].unit).value;
		if (fabs(value - cases[i].value) > cases[i].tolerance)
			fail_msg("%s is %.6f, expected %.6f", cases[i].from, value, cases[i].value);
	}
	/* 36 ft = 432 in = 10.9728 m (rounding rule B.7.2). */
	assert_true(fabs(quantity_base(read_quantity("432 in", DIMENSION_LENGTH)) - 10972.8) <
		    1e-9);
	/* The ITF's 12.5 in. */
	assert_true(fabs(quantity_base(read_quantity("12.5 in", DIMENSION_LENGTH)) - 317.5) <
		    1e-12);
}

static void the_published_triple_comes_out(void **state)
{
	(void)state;
	/* Cross & Bower, abstract: "28 kg (274 N or about 62 lb)"; they cut 274.59 to 274. */
	struct quantity kg = read_quantity("28 kg", DIMENSION_TENSION);
	assert_int_equal((int)quantity_convert(kg, UNIT_N).value, 274);
	assert_int_equal((int)lround(quantity_convert(kg, UNIT_LB).value), 62);
}

static void units_as_people_write_them(void **state)
{
	(void)state;
	static const struct {
		const char *text;
		struct quantity quantity;
	} cases[] = {{"24.5kg", {24.5, UNIT_KG}},
		     {"24.5 Kg", {24.5, UNIT_KG}},
		     {"54 lbs", {54, UNIT_LB}},
		     {"54LBS", {54, UNIT_LB}},
		     {"240 n", {240, UNIT_N}}};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct quantity quantity = {0};
		char *why = NULL;
		assert_true(quantity_parse(cases[i].text, DIMENSION_TENSION, &quantity, &why));
		assert_true(quantity.value == cases[i].quantity.value);
		assert_int_equal(quantity.unit, cases[i].quantity.unit);
	}
}

static void what_is_not_a_quantity(void **state)
{
	(void)state;
	static const struct {
		const char *text;
		const char *why;
	} cases[] = {
		{"24", "a unit is missing"},
		{"24 stone", "unit \"stone\" is not known here"},
		{"24 mm", "unit \"mm\" is not known here"},
		{"24 kgss", "unit \"kgss\" is not known here"},
		{"24,5 kg", "write \"24.5 kg\", with a point"},
		{"024 kg", "expected a tension"},
		{"1e3 kg", "unit \"e3 kg\""},
		{"0x18 kg", "unit \"x18 kg\""},
		{".5 kg", "expected a tension"},
		{"5. kg", "expected a tension"},
		{"nan kg", "expected a tension"},
		{"inf kg", "expected a tension"},
		{"kg", "expected a tension"},
		{"", "expected a tension"},
		{"1.00001 kg", "expected a tension"},
		{"12345678901 kg", "expected a tension"},
		{"- 2 kg", "expected a tension"},
		{"24 kg ", "unit \"kg \""},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct quantity quantity = {-77, UNIT_N};
		char *why = NULL;
		assert_false(quantity_parse(cases[i].text, DIMENSION_TENSION, &quantity, &why));
		if (!strstr(why, cases[i].why))
			fail_msg("\"%s\": %s", cases[i].text, why);
		assert_true(quantity.value == -77);
		free(why);
	}
}

static void sums_keep_the_unit_that_is_set_on_the_machine(void **state)
{
	(void)state;
	char text[QUANTITY_TEXT_MAX];
	struct quantity sum = quantity_sum(read_quantity("54 lb", DIMENSION_TENSION),
					   read_quantity("-2 lb", DIMENSION_TENSION));
	assert_string_equal(quantity_text(sum, text), "52 lb");
	sum = quantity_sum(read_quantity("54 lb", DIMENSION_TENSION),
			   read_quantity("-0.5 kg", DIMENSION_TENSION));
	assert_string_equal(quantity_text(sum, text), "52.9 lb"); /* 52.898 */
}

static void numbers_are_printed_short(void **state)
{
	(void)state;
	static const struct {
		double value;
		const char *text;
	} cases[] = {{54, "54"},   {24.5, "24.5"}, {24.05, "24.05"}, {100, "100"},
		     {0.004, "0"}, {-0.004, "0"},  {-2.5, "-2.5"},   {999999999, "999999999"}};
	char text[QUANTITY_TEXT_MAX];

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		assert_string_equal(number_text(cases[i].value, text), cases[i].text);
}

/* The bounds are worked out by the exact factors of NIST SP 811, and moved inwards. */
static void a_range_is_never_said_wider_than_it_is(void **state)
{
	(void)state;
	static const struct {
		double min, max;
		enum unit unit;
		const char *said;
	} cases[] = {
		{22 * 9.80665, 28 * 9.80665, UNIT_LB, "48.6 to 61.7 lb"}, /* 48.502 to 61.729 */
		{22 * 9.80665, 28 * 9.80665, UNIT_KG, "22 to 28 kg"},
		{22.25 * 9.80665, 27.75 * 9.80665, UNIT_KG, "22.25 to 27.75 kg"},
		{20, 500, UNIT_LB, "4.5 to 112.4 lb"}, /* 4.496 to 112.404 */
		{3, 30, UNIT_IN, "0.12 to 1.1 in"},    /* 0.118 to 1.181 */
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		char *said = quantity_range(cases[i].min, cases[i].max, cases[i].unit);
		assert_string_equal(said, cases[i].said);
		free(said);
	}
}

static void json_is_well_formed(void **state)
{
	(void)state;
	struct text out = {0};
	struct json json = {.out = &out};

	json_open(&json, NULL, '{');
	json_string(&json, "text", "a \"b\" \\ \n \x01 \xc3\xa9");
	json_string(&json, "none", NULL);
	json_open(&json, "list", '[');
	json_int(&json, NULL, -5);
	json_number(&json, NULL, 240.2039, 2);
	json_number(&json, NULL, -0.0001, 2);
	json_number(&json, NULL, 100, 3);
	json_number(&json, NULL, (double)NAN, 3);
	json_close(&json, ']');
	json_bool(&json, "yes", true);
	json_open(&json, "empty", '{');
	json_close(&json, '}');
	json_close(&json, '}');
	assert_string_equal(text_string(&out),
			    "{\"text\": \"a \\\"b\\\" \\\\ \\n \\u0001 \xc3\xa9\", \"none\": null, "
			    "\"list\": [-5, 240.2, 0, 100, null], \"yes\": true, \"empty\": {}}");
	text_free(&out);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(conversions_are_those_of_nist_sp_811),
		cmocka_unit_test(the_published_triple_comes_out),
		cmocka_unit_test(units_as_people_write_them),
		cmocka_unit_test(what_is_not_a_quantity),
		cmocka_unit_test(sums_keep_the_unit_that_is_set_on_the_machine),
		cmocka_unit_test(numbers_are_printed_short),
		cmocka_unit_test(a_range_is_never_said_wider_than_it_is),
		cmocka_unit_test(json_is_well_formed),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
