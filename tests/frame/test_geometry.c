/* The head as a figure, against published values and GSL.
 *
 * Published: areas of superellipses with a = b = 1 and of a = 165, b = 130 mm, by the formula as
 * MathWorld prints it ("Superellipse"); perimeters of ellipses (published table; (2, 1) and (5,
 * 1)); the area of the largest ellipse that the ITF Rules of Tennis allow. Independent: GSL's
 * adaptive integration and its root finder, which know nothing of gamma functions. */
#include "frame/frame.h"
#include "frame/near.h"
#include "frame/sample.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_sf_ellint.h>

static void published_areas_come_out(void **state)
{
	(void)state;
	static const struct {
		double a, b, n, area;
	} cases[] = {
		{1, 1, 1, 2},
		{1, 1, 2, 3.141592653590},
		{1, 1, 2.5, 3.380935362537},
		{1, 1, 3, 3.533277500571},
		{1, 1, 4, 3.708149354603},
		{165, 130, 2.5, 72521.06},
		{165, 130, 2, 67387.16},
		{292 / 2.0, 394 / 2.0, 2, 90358.5}, /* the ITF limits */
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct hoop hoop = {.a_mm = cases[i].a, .b_mm = cases[i].b, .n = cases[i].n};
		double printed = cases[i].area > 100 ? 0.05 : 1e-12;
		assert_near(hoop_area_mm2(&hoop), cases[i].area, printed);
	}
}

static double perimeter_mm(const struct hoop *hoop)
{
	struct rim rim;

	rim_of_hoop(hoop, &rim);
	return 2 * rim_half_mm(&rim);
}

static void published_perimeters_come_out(void **state)
{
	(void)state;
	struct hoop two = {.a_mm = 2, .b_mm = 1, .n = 2};
	struct hoop five = {.a_mm = 5, .b_mm = 1, .n = 2};
	struct hoop diamond = {.a_mm = 3, .b_mm = 4, .n = 1};

	/* Good to a thousandth of a millimetre on a racket, so to a few millionths. */
	assert_near(perimeter_mm(&two) / 9.68844822055, 1, 1e-5);
	assert_near(perimeter_mm(&five) / 21.01004454, 1, 1e-4);
	assert_near(perimeter_mm(&diamond), 20, 1e-9);

	/* A head, against GSL's complete elliptic integral. */
	struct hoop head = {.a_mm = 123.5, .b_mm = 165, .n = 2};
	double k = sqrt(1 - pow(123.5 / 165, 2));
	assert_near(perimeter_mm(&head), 4 * 165 * gsl_sf_ellint_Ecomp(k, GSL_PREC_DOUBLE), 0.002);
}

static void the_exponent_gives_the_area_back(void **state)
{
	(void)state;
	for (int percent = 51; percent < 100; percent++) {
		struct hoop hoop;
		double area = 330.0 * 247 * percent / 100;
		assert_true(hoop_fit(330, 247, area, &hoop));
		assert_near(hoop_area_mm2(&hoop), area, 1e-6);
		assert_true(hoop.n > 1);
	}
	/* The exponents of the published areas, found from them. */
	struct hoop hoop;
	assert_true(hoop_fit(2, 2, 3.380935362537, &hoop));
	assert_near(hoop.n, 2.5, 1e-9);
	assert_true(hoop_fit(2, 2, 2, &hoop));
	assert_near(hoop.n, 1, 1e-9);
	assert_true(hoop_fit(330, 247, 0, &hoop));
	assert_near(hoop.n, 2, 0);
}

static void impossible_heads_are_refused(void **state)
{
	(void)state;
	static const double cases[][3] = {
		{0, 247, 0},       {330, 0, 0},       {-330, 247, 0},        {330, -247, 0},
		{NAN, 247, 0},     {330, NAN, 0},     {330, 247, NAN},       {330, 247, -1},
		{330, 247, 81510}, {330, 247, 40754}, {330, 247, INFINITY},  {330, 247, 1e9},
		{-330, -247, 640}, {330, 247, 1e-9},  {-INFINITY, 247, 640},
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		struct hoop hoop;
		assert_false(hoop_fit(cases[i][0], cases[i][1], cases[i][2], &hoop));
	}
}

/* Half the length of the hoop at x, as the integrand of a quarter of its area. */
static double quarter(double x, void *data)
{
	return hoop_half_length_mm(data, x);
}

static void chords_integrate_to_the_area(void **state)
{
	(void)state;
	gsl_integration_workspace *workspace = gsl_integration_workspace_alloc(1000);
	double worst = 0;

	gsl_set_error_handler_off();
	for (int i = 0; i < 200; i++) {
		double length = 240 + i % 17 * 10, width = 170 + i % 13 * 10;
		double area = length * width * (0.6 + 0.3 * i / 200);
		double sum, error;
		struct hoop hoop;
		assert_true(hoop_fit(length, width, area, &hoop));
		gsl_function f = {quarter, &hoop};
		assert_int_equal(gsl_integration_qags(&f, 0, hoop.a_mm, 0, 1e-9, 1000, workspace,
						      &sum, &error),
				 GSL_SUCCESS);
		worst = fmax(worst, fabs(4 * sum / area - 1));
	}
	gsl_integration_workspace_free(workspace);
	print_message("largest difference from GSL: %.2g\n", worst);
	assert_true(worst < 1e-8);
}

static void chords_lie_on_the_hoop(void **state)
{
	(void)state;
	struct hoop circle = {.a_mm = 5, .b_mm = 5, .n = 2};
	struct hoop racket;

	assert_near(hoop_half_length_mm(&circle, 3), 4, 1e-12);
	assert_near(hoop_half_length_mm(&circle, -3), 4, 1e-12);
	assert_near(hoop_half_width_mm(&circle, 4), 3, 1e-12);
	assert_near(hoop_half_width_mm(&circle, 5), 0, 0);
	assert_near(hoop_half_width_mm(&circle, 6), 0, 0);
	assert_true(hoop_fit(330, 247, 68000, &racket));
	for (int x = 0; x < 123; x++) {
		double y = hoop_half_length_mm(&racket, x);
		assert_near(hoop_half_width_mm(&racket, y), x, 1e-6);
	}
}

static struct pattern *read_sample(int number, const char *line)
{
	struct faults faults = {0};
	char *text = sample_with(number, line);
	struct pattern *pattern = pattern_read(yaml_read_text("test.yaml", text, &faults));

	faults_print(&faults, stderr);
	assert_non_null(pattern);
	faults_free(&faults);
	free(text);
	return pattern;
}

static double length_of_arc(double angle, void *data)
{
	const struct hoop *hoop = data;

	return hypot(hoop->a_mm * cos(angle), hoop->b_mm * sin(angle));
}

/* Along an ellipse from the middle of the head to x, by GSL. */
static double ellipse_mm(struct hoop *hoop, double x_mm)
{
	gsl_integration_workspace *workspace = gsl_integration_workspace_alloc(1000);
	gsl_function function = {length_of_arc, hoop};
	double mm, error;

	gsl_integration_qags(&function, 0, asin(x_mm / hoop->a_mm), 0, 1e-10, 1000, workspace, &mm,
			     &error);
	gsl_integration_workspace_free(workspace);
	return mm;
}

/* By hand, of the worked example as an ellipse. Main 6 is in 6H, main 7 in 8H, main 8 in 10H: the
 * crosses in 7H and 9H lie half-way between them on the hoop, the other fifteen evenly between 9H
 * and 9T. */
static void strings_stand_where_their_holes_are(void **state)
{
	(void)state;
	struct pattern *pattern = read_sample(13, "head: { length: 330 mm, width: 247 mm }");
	struct bed bed;

	assert_true(bed_of_pattern(pattern, &bed));
	assert_near(bed.main_x_mm[1], 6.5, 1e-12);
	assert_near(bed.main_x_mm[8], 97.5, 1e-12);
	assert_near(bed_main_gap_mm(&bed, 0), 13, 1e-12);
	assert_near(bed_main_gap_mm(&bed, 7), 13, 1e-12);
	assert_near(bed.beam_mm, 12, 0);
	double six = ellipse_mm(&bed.rim.hoop, 71.5), seven = ellipse_mm(&bed.rim.hoop, 84.5);
	double eight = ellipse_mm(&bed.rim.hoop, 97.5);
	assert_near(bed.hole_mm[END_HEAD][6], six, 0.01);
	assert_near(bed.hole_mm[END_HEAD][7], (six + seven) / 2, 0.01);
	assert_near(bed.hole_mm[END_HEAD][9], (seven + eight) / 2, 0.01);
	for (int c = 1; c <= 19; c++) {
		struct hole hole = pattern->cross_hole[c];
		struct point point = rim_point(&bed.rim, bed.hole_mm[hole.end][hole.number]);
		assert_near(point.y_mm, bed.cross_y_mm[c], 1e-6);
		assert_near(2 * point.x_mm, bed_cross_mm(&bed, c), 0.01);
		assert_near(bed.cross_y_mm[c], -bed.cross_y_mm[20 - c], 1e-6);
	}
	for (int c = 2; c < 18; c++)
		assert_near(bed_cross_gap_mm(&bed, c), bed.cross_y_mm[2] / 8, 1e-6);
	pattern_free(pattern);
}

static struct bed bed_of_sample(int number, const char *line)
{
	struct pattern *pattern = read_sample(number, line);
	struct bed bed;

	assert_true(bed_of_pattern(pattern, &bed));
	pattern_free(pattern);
	return bed;
}

static void mains_stand_by_default_where_the_share_says(void **state)
{
	(void)state;
	struct bed bed = bed_of_sample(14, "# no spacing");

	assert_near(bed.main_x_mm[8], 0.79 * 123.5, 1e-9);
	assert_near(bed.main_x_mm[1], 0.79 * 123.5 / 15, 1e-9);
	struct pattern *pattern = read_sample(13, "# no head");
	assert_false(bed_of_pattern(pattern, &bed));
	pattern_free(pattern);
}

/* All crosses in side holes: evenly between the outermost main's two holes. */
static void crosses_of_side_holes_are_spread_evenly(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct pattern *pattern = pattern_read(yaml_read_text(
		"plain.yaml",
		"pattern: plain\nsport: tennis\nmains: 4\ncrosses: 5\nholes: { head: 4, throat: 5 }\n"
		"bridge: 0\nmains_skip: []\ncrosses_start: head\nhead: { length: 200 mm, width: 200 mm }\n"
		"spacing: { mains: 30 mm }\n",
		&faults));
	struct bed bed;

	assert_non_null(pattern);
	assert_true(bed_of_pattern(pattern, &bed));
	double hole_mm = sqrt(100 * 100 - 45 * 45);
	for (int c = 1; c <= 5; c++)
		assert_near(bed.cross_y_mm[c], hole_mm - hole_mm / 3 * c, 1e-3);
	pattern_free(pattern);
}

/* The outermost main goes down to a hole far from the cross before it: the first side cross stands
 * half a gap inside that hole, not above it. */
static void no_side_cross_stands_above_the_outermost_main(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct pattern *pattern = pattern_read(yaml_read_text(
		"steep.yaml",
		"pattern: steep\nsport: tennis\nmains: 4\ncrosses: 9\nholes: { head: 7, throat: 6 }\n"
		"bridge: 0\nmains_skip: [1H]\ncrosses_start: head\n"
		"head: { length: 150 mm, width: 150 mm }\n"
		"spacing: { mains: 30 mm }\n",
		&faults));
	struct bed bed;

	assert_non_null(pattern);
	assert_true(bed_of_pattern(pattern, &bed));
	double hole_mm = sqrt(75 * 75 - 45 * 45), gap_mm = 2 * hole_mm / 8.5;
	assert_near(bed.cross_y_mm[2], hole_mm - gap_mm / 2, 1e-3);
	assert_near(bed.cross_y_mm[9], -hole_mm + gap_mm, 1e-3);
	pattern_free(pattern);
}

/* A spacing that agrees with the holes is followed; one that contradicts them is not. */
static void a_given_spacing_of_crosses(void **state)
{
	(void)state;
	struct bed holes = bed_of_sample(0, "");
	struct bed given = bed_of_sample(
		14,
		"spacing: { mains: 13 mm, crosses: [16 mm, 14.5 mm, 13.8 mm, 13.8 mm, 13.8 mm, 13.8 mm, 13.8 mm, 13.8 mm, 13.8 mm, 13.8 mm, 13.8 mm, 13.8 mm, 13.8 mm, 13.8 mm, 13.8 mm, 13.8 mm, 14.5 mm, 16 mm] }");
	struct bed wrong = bed_of_sample(14, "spacing: { mains: 13 mm, crosses: 16 mm }");

	assert_int_equal(given.misplaced, 0);
	assert_near(bed_cross_gap_mm(&given, 1), 16, 1e-9);
	for (int c = 3; c < 17; c++)
		assert_near(bed_cross_gap_mm(&given, c), 13.8, 1e-9);
	assert_near(given.cross_y_mm[10], 0, 1e-6);
	assert_int_equal(wrong.misplaced, 1);
	assert_memory_equal(wrong.cross_y_mm, holes.cross_y_mm, sizeof(holes.cross_y_mm));
}

static void an_uneven_bed_is_placed_string_by_string(void **state)
{
	(void)state;
	struct pattern *pattern = read_sample(
		14, "spacing: { mains: [10 mm, 11 mm, 11 mm, 12 mm, 12 mm, 13 mm, 13 mm, 14 mm] }");
	struct bed bed;

	assert_true(bed_of_pattern(pattern, &bed));
	assert_near(bed.main_x_mm[1], 5, 1e-12);
	assert_near(bed.main_x_mm[2], 16, 1e-12);
	assert_near(bed.main_x_mm[8], 91, 1e-12);
	assert_near(bed_main_gap_mm(&bed, 7), 14, 1e-12);
	pattern_free(pattern);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(published_areas_come_out),
		cmocka_unit_test(published_perimeters_come_out),
		cmocka_unit_test(the_exponent_gives_the_area_back),
		cmocka_unit_test(impossible_heads_are_refused),
		cmocka_unit_test(chords_integrate_to_the_area),
		cmocka_unit_test(chords_lie_on_the_hoop),
		cmocka_unit_test(strings_stand_where_their_holes_are),
		cmocka_unit_test(mains_stand_by_default_where_the_share_says),
		cmocka_unit_test(crosses_of_side_holes_are_spread_evenly),
		cmocka_unit_test(no_side_cross_stands_above_the_outermost_main),
		cmocka_unit_test(a_given_spacing_of_crosses),
		cmocka_unit_test(an_uneven_bed_is_placed_string_by_string),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
