/* String lengths, against a second way to them: GSL finds the exponent by integrating the area and
 * every chord by solving the hoop's equation, and the sum is written out string by string as the
 * trade's estimate says it. */
#include "frame/frame.h"
#include "frame/near.h"
#include "frame/sample.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_roots.h>

enum { HEADS = 1000 };

static const uint64_t seed = 330247;

/* What the second way knows of a head: half its width and length, and its exponent. */
struct second {
	double a, b, n;
	double at; /* where a chord is looked for */
	gsl_integration_workspace *workspace;
};

static double solve(double (*f)(double, void *), void *data, double low, double high)
{
	gsl_function function = {f, data};
	gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);

	assert_int_equal(gsl_root_fsolver_set(solver, &function, low, high), GSL_SUCCESS);
	for (int i = 0; i < 200; i++) {
		gsl_root_fsolver_iterate(solver);
		if (gsl_root_test_interval(gsl_root_fsolver_x_lower(solver),
					   gsl_root_fsolver_x_upper(solver), 1e-13,
					   1e-13) == GSL_SUCCESS)
			break;
	}
	double root = gsl_root_fsolver_root(solver);
	gsl_root_fsolver_free(solver);
	return root;
}

static double height_of_unit(double x, void *data)
{
	double n = ((struct second *)data)->n;

	return pow(1 - pow(x, n), 1 / n);
}

/* The area of the hoop with exponent n, less the one wanted (kept in `at`). */
static double area_missing(double n, void *data)
{
	struct second *second = data;
	struct second with_n = {.n = n};
	gsl_function f = {height_of_unit, &with_n};
	double quarter, error;

	gsl_integration_qags(&f, 0, 1, 0, 1e-10, 1000, second->workspace, &quarter, &error);
	return 4 * second->a * second->b * quarter - second->at;
}

static double off_hoop_y(double y, void *data)
{
	struct second *s = data;

	return pow(s->at / s->a, s->n) + pow(y / s->b, s->n) - 1;
}

static double off_hoop_x(double x, void *data)
{
	struct second *s = data;

	return pow(x / s->a, s->n) + pow(s->at / s->b, s->n) - 1;
}

static double main_chord(struct second *second, double x)
{
	second->at = fabs(x);
	return 2 * solve(off_hoop_y, second, 0, second->b);
}

static double cross_chord(struct second *second, double y)
{
	second->at = fabs(y);
	return 2 * solve(off_hoop_x, second, 0, second->a);
}

struct lengths {
	double mains, crosses, shorter, longer;
};

/* Written out as the estimate is described, of a frame without skips: every cross is in a side
 * hole, so they are spread evenly between the outermost main's two holes. */
static struct lengths sum_up(struct second *head, int mains, int crosses, double beam,
			     const struct length_allowance *allowance, double outside)
{
	int a_side = mains / 2;
	double sm = 0.79 * head->a / (a_side - 0.5);
	double sc = main_chord(head, (a_side - 0.5) * sm) / (crosses + 1);
	double half = 0, all = 0;

	for (int k = 1; k <= a_side; k++)
		half += main_chord(head, (k - 0.5) * sm) + 2 * beam;
	half += (a_side - 1) * sm;
	for (int c = 1; c <= crosses; c++)
		all += cross_chord(head, (c - (crosses + 1) / 2.0) * sc) * (1 + allowance->weave) +
		       2 * beam;
	double end = allowance->reach_mm, knot = allowance->knot_mm;
	return (struct lengths){
		.mains = 2 * half + sm + 2 * end + 2 * knot + allowance->margin_mm,
		.crosses = all + (crosses - 1) * sc + end + 2 * knot + allowance->margin_mm,
		.shorter = half + sm / 2 + end + knot,
		.longer = half + sm / 2 + outside + all + end + knot + allowance->margin_mm,
	};
}

/* Heads as varied as rackets are, by a linear congruential generator: the same on every machine. */
static double draw(uint64_t *state, double low, double high)
{
	*state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
	return low + (high - low) * (double)(*state >> 11) / 9007199254740992.0;
}

/* Mains in the holes next to the centre, crosses in all the others. */
static void map_plain_holes(struct pattern *pattern)
{
	int half = pattern->mains / 2, down = pattern->crosses / 2;

	pattern->holes[END_HEAD] = half + down;
	pattern->holes[END_THROAT] = half + pattern->crosses - down;
	for (int k = 1; k <= half; k++)
		pattern->main_hole[END_HEAD][k] = pattern->main_hole[END_THROAT][k] = k;
	for (int c = 1; c <= pattern->crosses; c++)
		pattern->cross_hole[c] = pattern_hole_at(pattern, half + c - 1);
}

static double worst_of(const struct lengths *a, const struct lengths *b)
{
	double worst = fabs(a->mains / b->mains - 1);

	worst = fmax(worst, fabs(a->crosses / b->crosses - 1));
	worst = fmax(worst, fabs(a->shorter / b->shorter - 1));
	return fmax(worst, fabs(a->longer / b->longer - 1));
}

static void random_heads_agree_with_gsl(void **state)
{
	(void)state;
	uint64_t random = seed;
	double worst = 0;
	struct second second = {.workspace = gsl_integration_workspace_alloc(1000)};

	gsl_set_error_handler_off();
	for (int i = 0; i < HEADS; i++) {
		double length = draw(&random, 230, 380), width = draw(&random, 170, 290);
		double area = length * width * draw(&random, 0.7, 0.93);
		struct length_allowance allowance = {draw(&random, 150, 500),
						     draw(&random, 50, 150), draw(&random, 0, 0.03),
						     draw(&random, 0, 500)};
		struct pattern pattern = {.mains = 2 * (int)draw(&random, 5, 12),
					  .crosses = (int)draw(&random, 14, 24),
					  .head = {length, width, area, draw(&random, 6, 16)}};
		double outside = draw(&random, 250, 700);
		map_plain_holes(&pattern);
		struct bed bed;
		assert_true(bed_of_pattern(&pattern, &bed));
		second.a = width / 2;
		second.b = length / 2;
		second.at = area;
		second.n = solve(area_missing, &second, 1.01, 12);
		struct lengths theirs = sum_up(&second, pattern.mains, pattern.crosses,
					       pattern.head.beam_mm, &allowance, outside);
		struct lengths ours = {
			length_of_mains_mm(&bed, &allowance),
			length_of_crosses_mm(&bed, &allowance),
			length_of_short_side_mm(&bed, &allowance),
			length_of_long_side_mm(&bed, &allowance, bed.half, outside),
		};
		worst = fmax(worst, worst_of(&ours, &theirs));
	}
	gsl_integration_workspace_free(second.workspace);
	print_message("seed %llu, %d heads, largest difference from GSL: %.2g\n",
		      (unsigned long long)seed, HEADS, worst);
	assert_true(worst < 1e-6); /* 0.5 % would do */
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

/* A set of 12.2 m strings one tennis racket, half of it the mains: 5.5 to 5.8 m of crosses and
 * about 6.1 m of mains with a margin (common practice, no source). */
static void a_set_strings_the_bundled_frame(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct length_allowance allowance = LENGTH_ALLOWANCE(350, 300);
	struct pattern *pattern =
		pattern_read(yaml_read(SOURCE_DIR "/patterns/open-16x19.yaml", &faults));
	struct bed bed;

	assert_non_null(pattern);
	assert_true(bed_of_pattern(pattern, &bed));
	double mains = length_of_mains_mm(&bed, &allowance);
	double crosses = length_of_crosses_mm(&bed, &allowance);
	print_message("mains %.0f mm, crosses %.0f mm\n", mains, crosses);
	assert_in_range((int)mains, 6000, 6400);
	assert_in_range((int)crosses, 5500, 5800);
	assert_true(mains + crosses < 12200);
	pattern_free(pattern);
}

static void what_each_allowance_adds(void **state)
{
	(void)state;
	struct pattern *pattern = read_sample(0, "");
	struct length_allowance none = {0}, reach = {.reach_mm = 350}, knot = {.knot_mm = 100};
	struct length_allowance weave = {.weave = 0.01}, margin = {.margin_mm = 300};
	struct bed bed;

	assert_true(bed_of_pattern(pattern, &bed));
	double mains = length_of_mains_mm(&bed, &none);
	double crosses = length_of_crosses_mm(&bed, &none);
	double shorter = length_of_short_side_mm(&bed, &none);
	double longer = length_of_long_side_mm(&bed, &none, 8, 0);
	double chords = 0;
	for (int c = 1; c <= 19; c++)
		chords += bed_cross_mm(&bed, c);
	assert_near(length_of_mains_mm(&bed, &reach) - mains, 700, 1e-9);
	assert_near(length_of_mains_mm(&bed, &knot) - mains, 200, 1e-9);
	assert_near(length_of_mains_mm(&bed, &weave) - mains, 0, 0);
	assert_near(length_of_crosses_mm(&bed, &reach) - crosses, 350, 1e-9);
	assert_near(length_of_crosses_mm(&bed, &knot) - crosses, 200, 1e-9);
	assert_near(length_of_crosses_mm(&bed, &weave) - crosses, chords / 100, 1e-9);
	assert_near(length_of_short_side_mm(&bed, &reach) - shorter, 350, 1e-9);
	assert_near(length_of_short_side_mm(&bed, &knot) - shorter, 100, 1e-9);
	assert_near(length_of_long_side_mm(&bed, &reach, 8, 0) - longer, 350, 1e-9);
	assert_near(length_of_long_side_mm(&bed, &knot, 8, 0) - longer, 100, 1e-9);
	assert_near(length_of_mains_mm(&bed, &margin) - mains, 300, 1e-9);
	assert_near(length_of_crosses_mm(&bed, &margin) - crosses, 300, 1e-9);
	assert_near(length_of_short_side_mm(&bed, &margin) - shorter, 0, 0);
	assert_near(length_of_long_side_mm(&bed, &margin, 8, 0) - longer, 300, 1e-9);
	/* A main left for later takes its loop out of the row. */
	assert_near(longer - length_of_long_side_mm(&bed, &none, 7, 0), 13, 1e-9);
	pattern_free(pattern);
}

static double along_mm(const struct bed *bed, struct hole from, struct hole to)
{
	return fabs(bed->hole_mm[from.end][from.number] - bed->hole_mm[to.end][to.number]);
}

static void runs_outside_the_frame(void **state)
{
	(void)state;
	struct pattern *pattern = read_sample(0, "");
	struct bed bed;
	static const struct hole h7 = {END_HEAD, 7}, h8 = {END_HEAD, 8}, h9 = {END_HEAD, 9},
				 h10 = {END_HEAD, 10}, h11 = {END_HEAD, 11}, t8 = {END_THROAT, 8};

	assert_true(bed_of_pattern(pattern, &bed));
	double first = bed_cross_gap_mm(&bed, 1); /* crosses 1, 2 */
	assert_near(length_outside_mm(&bed, pattern, h7, h9), first, 1e-9);
	assert_near(length_outside_mm(&bed, pattern, h9, h7), first, 1e-9);
	assert_near(length_outside_mm(&bed, pattern, h8, h10), 13, 1e-9); /* mains 7, 8 */
	assert_near(length_outside_mm(&bed, pattern, h10, h11), along_mm(&bed, h10, h11),
		    0); /* main 8 to cross 3 */
	/* Mains 8 and 7 are neighbours, but not from the head to the throat. */
	assert_near(length_outside_mm(&bed, pattern, h10, t8), along_mm(&bed, h10, t8), 0);
	assert_true(length_outside_mm(&bed, pattern, h10, t8) > 150);
	pattern_free(pattern);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(random_heads_agree_with_gsl),
		cmocka_unit_test(a_set_strings_the_bundled_frame),
		cmocka_unit_test(what_each_allowance_adds),
		cmocka_unit_test(runs_outside_the_frame),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
