/* Reading job plans: what is filled in, what is refused, with its place and its words, and that no
 * damage gets further than a message. */
#include "base/base.h"
#include "job/job.h"
#include "random.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* The least that a plan can say. */
#define LEAST                                                                                      \
	"job: one\npattern: open-16x19\nstringer: apprentice\nmethod: two-piece\n"                 \
	"tension: { mains: 54 lb, crosses: 52 lb }\n"

static const char whole[] =
	"job: ridge-court-0042\n"
	"pattern: open-16x19\n"
	"stringer: apprentice\n"
	"method: two-piece                # two-piece | one-piece\n"
	"tension: { mains: 24.5 kg, crosses: 235 N }\n"
	"adjust: [ { strings: mains 7-8, by: -2 lb }, { strings: crosses 1, by: 1.5 kg } ]\n"
	"string:\n"
	"  mains:   { name: co-polyester 1.25, on_hand: 6.2 m }\n"
	"  crosses: { name: multifilament 1.30, on_hand: 6200 mm, prestretch: 10 % }\n"
	"accept_short: yes\n"
	"beyond_makers_range: wanted\n"
	"order: { start: head, first: right, lead: 3 }\n"
	"weave: { side: right, start: under, behind: 0, first_pull: 1 }\n"
	"detail: quick\n"
	"racket: R-118\n"
	"customer: counter 12\n"
	"due: 2026-12-01\n"
	"notes: Mind the chip at three o'clock.\n";

static const char *const pattern_text =
	"pattern: small\nsport: tennis\nmains: 16\ncrosses: 19\n"
	"holes: { head: 18, throat: 17 }\nbridge: 6\ncrosses_start: head\n"
	"mains_skip: [7H, 9H, 7T, 9T]\ntension: { min: 22 kg, max: 28 kg }\n";

static char *printed(const struct faults *faults)
{
	char *text = NULL;
	size_t length = 0;
	FILE *out = open_memstream(&text, &length);

	faults_print(faults, out);
	fclose(out);
	return text;
}

static void everything_is_read(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct job *job = job_read(yaml_read_text("plan.yaml", whole, &faults));

	assert_non_null(job);
	assert_int_equal(faults.count, 0);
	assert_string_equal(job->name, "ridge-court-0042");
	assert_string_equal(job->pattern, "open-16x19");
	assert_string_equal(job->stringer, "apprentice");
	assert_string_equal(job->text, whole);
	assert_int_equal(job->method, METHOD_TWO_PIECE);
	assert_true(job->tension[STRING_MAIN].unit == UNIT_KG);
	assert_float_equal(job->tension[STRING_MAIN].value, 24.5, 1e-12);
	assert_true(job->tension[STRING_CROSS].unit == UNIT_N);
	assert_int_equal(job->adjustment_count, 2);
	assert_int_equal(job->adjustments[0].first, 7);
	assert_int_equal(job->adjustments[0].last, 8);
	assert_int_equal(job->adjustments[1].strings, STRING_CROSS);
	assert_int_equal(job->adjustments[1].last, 1);
	assert_string_equal(job->length[STRING_MAIN].name, "co-polyester 1.25");
	assert_float_equal(job->length[STRING_MAIN].on_hand_mm, 6200, 1e-9);
	assert_float_equal(job->length[STRING_CROSS].on_hand_mm, 6200, 1e-9);
	assert_float_equal(job->length[STRING_CROSS].prestretch, 0.1, 1e-12);
	assert_true(job->accept_short);
	assert_true(job->beyond_range);
	assert_string_equal(job->racket, "R-118");
	assert_string_equal(job->customer, "counter 12");
	assert_string_equal(job->due, "2026-12-01");
	assert_string_equal(job->notes, "Mind the chip at three o'clock.");
	assert_true(job->start_forced);
	assert_int_equal(job->mains_start, END_HEAD);
	assert_int_equal(job->first_side, SIDE_RIGHT);
	assert_int_equal(job_lead(job), 3);
	assert_int_equal(job->weave_side, SIDE_RIGHT);
	assert_int_equal(job->weave_start, WEAVE_UNDER);
	assert_int_equal(job->behind, 0);
	assert_int_equal(job_first_pull(job), 1);
	assert_int_equal(job->detail, DETAIL_QUICK);
	job_free(job);
}

static void what_is_left_out_is_filled_in(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct job *job = job_read(yaml_read_text("plan.yaml", LEAST, &faults));

	assert_non_null(job);
	assert_int_equal(faults.count, 0);
	assert_int_equal(job->adjustment_count, 0);
	assert_null(job->length[STRING_MAIN].name);
	assert_float_equal(job->length[STRING_CROSS].on_hand_mm, 0, 0);
	assert_false(job->accept_short);
	assert_false(job->beyond_range);
	assert_false(job->start_forced);
	assert_int_equal(job->first_side, SIDE_LEFT);
	assert_int_equal(job_lead(job), 1);
	assert_int_equal(job->weave_side, SIDE_LEFT);
	assert_int_equal(job->weave_start, WEAVE_OVER);
	assert_int_equal(job->behind, 1);
	assert_int_equal(job_first_pull(job), 2);
	assert_int_equal(job->detail, DETAIL_BENCH);
	job_free(job);
}

static void a_one_piece_plan_is_read(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct job *job =
		job_read(yaml_read_text("plan.yaml",
					"job: one\npattern: a\nstringer: b\nmethod: one-piece\n"
					"tension: { mains: 54 lb, crosses: 52 lb }\n"
					"string: { whole: { name: gut, on_hand: 12 m } }\n"
					"order: { route: 3 }\n",
					&faults));

	assert_non_null(job);
	assert_int_equal(faults.count, 0);
	assert_int_equal(job->method, METHOD_ONE_PIECE);
	assert_string_equal(job->whole.name, "gut");
	assert_float_equal(job->whole.on_hand_mm, 12000, 1e-9);
	assert_int_equal(job->outside, OUTSIDE_DEFAULT);
	assert_int_equal(job->route, 3);
	assert_int_equal(job->route_position.line, 7);
	assert_int_equal(job->route_position.column, 17);
	job_free(job);
}

/* Sums of units: 54 lb and -2 kg are 49.59 lb (1 kg is 2.204 62 lb, NIST SP 811, Appendix B). */
static void adjustments_add_up_in_the_unit_of_the_job(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct job *job =
		job_read(yaml_read_text("plan.yaml",
					LEAST "adjust:\n- { strings: mains 2-4, by: -2 kg }\n"
					      "- { strings: mains 4, by: 1 lb }\n",
					&faults));
	char text[QUANTITY_TEXT_MAX];

	assert_non_null(job);
	assert_string_equal(quantity_text(job_tension(job, NULL, STRING_MAIN, 1), text), "54 lb");
	assert_string_equal(quantity_text(job_tension(job, NULL, STRING_MAIN, 2), text), "49.6 lb");
	assert_string_equal(quantity_text(job_tension(job, NULL, STRING_MAIN, 4), text), "50.6 lb");
	assert_string_equal(quantity_text(job_tension(job, NULL, STRING_MAIN, 5), text), "54 lb");
	assert_string_equal(quantity_text(job_tension(job, NULL, STRING_CROSS, 2), text), "52 lb");
	job_free(job);
}

/* A tenth of a pound or of a kilogram, or a newton; not beyond the maker's range for rounding's
 * sake: 25.4 kg are 55.997 lb (NIST SP 811), so 56 lb would be too much. */
static void a_setting_is_what_a_machine_can_be_set_to(void **state)
{
	(void)state;
	static const struct {
		struct quantity wanted;
		double value;
	} rows[] = {
		{{24.09, UNIT_KG}, 24.1},  {{23.96, UNIT_KG}, 24},   {{25.42, UNIT_KG}, 25.4},
		{{25.399, UNIT_KG}, 25.4}, {{22.01, UNIT_KG}, 22.1}, {{55.98, UNIT_LB}, 55.9},
		{{118.91, UNIT_N}, 119},   {{249.08, UNIT_N}, 249},  {{54, UNIT_LB}, 54},
	};
	const struct pattern pattern = {.has_range = true,
					.tension_min = {22.005, UNIT_KG},
					.tension_max = {25.4, UNIT_KG}};

	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		struct quantity set = job_setting(&pattern, rows[i].wanted);
		assert_int_equal(set.unit, rows[i].wanted.unit);
		assert_true(fabs(set.value - rows[i].value) < 1e-9);
	}
	struct quantity anywhere = job_setting(NULL, (struct quantity){55.98, UNIT_LB});
	assert_true(fabs(anywhere.value - 56) < 1e-9);
}

struct refusal {
	const char *plan;
	const char *messages; /* all that is printed */
};

static const struct refusal refusals[] = {
	{"job: one\n", "p.yaml:1:1: error: key \"pattern\" is missing [key-missing]\n"
		       "p.yaml:1:1: error: key \"stringer\" is missing [key-missing]\n"
		       "p.yaml:1:1: error: key \"method\" is missing [key-missing]\n"
		       "p.yaml:1:1: error: key \"tension\" is missing [key-missing]\n"},
	{LEAST "weeve: { side: left }\n",
	 "p.yaml:6:1: error: unknown key \"weeve\": did you mean \"weave\"? [key-unknown]\n"},
	{LEAST "frame: blue\n",
	 "p.yaml:6:1: error: unknown key \"frame\": expected job, pattern, stringer, method, "
	 "tension, beyond_makers_range, adjust, string, accept_short, order, weave, detail, "
	 "checks, tie_off_extra, teach, racket, customer, due or notes "
	 "[key-unknown]\n"},
	{LEAST "detail: bench\ndetail: quick\n",
	 "p.yaml:7:1: error: duplicate key \"detail\": it is on line 6 already "
	 "[key-duplicate]\n"},
	{LEAST "detail: brief\n",
	 "p.yaml:6:9: error: expected learner, bench or quick, not \"brief\" [value-choice]\n"},
	{LEAST "detail: [bench]\n",
	 "p.yaml:6:9: error: expected learner, bench or quick [value-choice]\n"},
	{LEAST "order: { start: bridge }\n",
	 "p.yaml:6:17: error: expected head, throat or auto, not \"bridge\" [value-choice]\n"},
	{LEAST "order: { first: tape }\n",
	 "p.yaml:6:17: error: expected left or right, not \"tape\" [value-choice]\n"},
	{LEAST "order: { first: Left }\n",
	 "p.yaml:6:17: error: write \"left\", not \"Left\" [value-choice]\n"},
	{"job: one\npattern: open-16x19\nstringer: b\nmethod: Hybrid\n"
	 "tension: { mains: 24,5 kg, crosses: 52 lb }\n",
	 "p.yaml:4:9: error: a hybrid is strung in two pieces: write \"method: two-piece\", and both "
	 "strings: \"string: { mains: { name: NAME }, crosses: { name: NAME } }\" [value-choice]\n"
	 "p.yaml:5:19: error: write \"24.5 kg\", with a point "
	 "[value-quantity]\n"},
	{LEAST "order: { lead: 0 }\n",
	 "p.yaml:6:16: error: expected a whole number from 1 to 3, not \"0\" [value-number]\n"},
	{LEAST "order: { lead: 4 }\n",
	 "p.yaml:6:16: error: expected a whole number from 1 to 3, not \"4\" [value-number]\n"},
	{LEAST "order: head\n",
	 "p.yaml:6:8: error: expected a map with the keys start, first, lead, outside or route [value-kind]\n"},
	{LEAST "order: { lead: 1, outside: 2, route: 2 }\n",
	 "p.yaml:6:19: error: \"outside\" is for one-piece work [order-one-piece]\n"
	 "p.yaml:6:31: error: \"route\" is for one-piece work [order-one-piece]\n"},
	{"job: one\npattern: open-16x19\nstringer: b\nmethod: one-piece\n"
	 "tension: { mains: 54 lb, crosses: 52 lb }\norder: { outside: 5, route: 41 }\n",
	 "p.yaml:6:19: error: expected a whole number from 1 to 4, not \"5\" [value-number]\n"
	 "p.yaml:6:29: error: expected a whole number from 1 to 40, not \"41\" [value-number]\n"},
	{LEAST "weave: { behind: 2 }\n",
	 "p.yaml:6:18: error: expected a whole number from 0 to 1, not \"2\" [value-number]\n"},
	{LEAST "weave: { first_pull: 3 }\n",
	 "p.yaml:6:22: error: expected a whole number from 1 to 2, not \"3\" [value-number]\n"},
	{LEAST "weave: { first_pull: two }\n",
	 "p.yaml:6:22: error: expected a whole number from 1 to 2, not \"two\" [value-number]\n"},
	{LEAST "weave: { side: }\n",
	 "p.yaml:6:10: error: expected left or right, not \"\" [value-choice]\n"},
	{LEAST "weave: { start: across }\n",
	 "p.yaml:6:17: error: expected over or under, not \"across\" [value-choice]\n"},
	{LEAST "adjust: mains 7\n",
	 "p.yaml:6:9: error: expected a list such as [a, b] [value-kind]\n"},
	{LEAST "adjust: [ { strings: main 7, by: 1 lb } ]\n",
	 "p.yaml:6:22: error: expected strings such as \"mains 7-8\" or \"crosses 1\", not "
	 "\"main 7\" [adjust-strings]\n"},
	{LEAST "adjust: [ { strings: mains 8-7, by: 1 lb } ]\n",
	 "p.yaml:6:22: error: expected strings such as \"mains 7-8\" or \"crosses 1\", not "
	 "\"mains 8-7\" [adjust-strings]\n"},
	{LEAST "adjust: [ { strings: mains 0, by: 1 lb } ]\n",
	 "p.yaml:6:22: error: expected strings such as \"mains 7-8\" or \"crosses 1\", not "
	 "\"mains 0\" [adjust-strings]\n"},
	{LEAST "adjust: [ { strings: mains 07, by: 1 lb } ]\n",
	 "p.yaml:6:22: error: expected strings such as \"mains 7-8\" or \"crosses 1\", not "
	 "\"mains 07\" [adjust-strings]\n"},
	{LEAST "adjust: [ { strings: crosses 1-, by: 1 lb } ]\n",
	 "p.yaml:6:22: error: expected strings such as \"mains 7-8\" or \"crosses 1\", not "
	 "\"crosses 1-\" [adjust-strings]\n"},
	{LEAST "adjust: [ { strings: mains 7 } ]\n",
	 "p.yaml:6:11: error: key \"by\" is missing [key-missing]\n"},
	{LEAST "adjust: [ { by: 2 lb } ]\n",
	 "p.yaml:6:11: error: key \"strings\" is missing [key-missing]\n"},
	{LEAST "adjust: [ { strings: mains 7, by: 2 } ]\n",
	 "p.yaml:6:35: error: a unit is missing: expected a tension such as \"54 lb\" (lb, kg, N) "
	 "[value-quantity]\n"},
	{LEAST "adjust: [ { strings: mains 7, by: 2 mm } ]\n",
	 "p.yaml:6:35: error: unit \"mm\" is not known here: expected a tension such as \"54 lb\" "
	 "(lb, kg, N) [value-quantity]\n"},
	{LEAST "string: { mains: { on_hand: 6.2 } }\n",
	 "p.yaml:6:29: error: a unit is missing: expected a length such as \"330 mm\" (mm, cm, m, "
	 "in) [value-quantity]\n"},
	{LEAST "string: { mains: { on_hand: 6.2 mm } }\n",
	 "p.yaml:6:29: error: 6.2 mm is not plausible: expected 500 to 300000 mm [value-range]\n"},
	{LEAST "due: 2026-02-29\n",
	 "p.yaml:6:6: error: expected a day such as 2026-12-01, not \"2026-02-29\" [value-day]\n"},
	{LEAST "due: 1.12.2026\n",
	 "p.yaml:6:6: error: expected a day such as 2026-12-01, not \"1.12.2026\" [value-day]\n"},
	{LEAST "notes: \"two\\nlines\"\n",
	 "p.yaml:6:8: error: expected a text of one line without control characters "
	 "[value-control]\n"},
	{LEAST "string: { mains: { reel: red, on_hand: 6 m } }\n",
	 "p.yaml:6:20: error: expected \"on_hand\" or \"reel\", not both [reel-on-hand]\n"},
	{LEAST "string: { crosses: { prestretch: 40 % } }\n",
	 "p.yaml:6:34: error: 40 % is not plausible: expected 0 to 30 % [value-range]\n"},
	{LEAST "weave: { from: handle }\n",
	 "p.yaml:6:16: error: expected head or throat, not \"handle\" [value-choice]\n"},
	{LEAST "string: { mains: { kind: silk } }\n",
	 "p.yaml:6:26: error: expected gut, multifilament, nylon, polyester or aramid, not \"silk\" "
	 "[value-choice]\n"},
	{LEAST "checks: { crosses: 61 }\n",
	 "p.yaml:6:20: error: expected a whole number from 0 to 60, not \"61\" [value-number]\n"},
	{LEAST "checks: { mains: 3 }\n",
	 "p.yaml:6:11: error: unknown key \"mains\": expected crosses [key-unknown]\n"},
	{LEAST "checks: { crosses: 0 }\ndetail: learner\n",
	 "p.yaml:6:20: error: a learner looks for misweaves on the way: expected 1 to 60 "
	 "[checks-learner]\n"},
	{LEAST "teach: perhaps\n",
	 "p.yaml:6:8: error: expected no, yes, trainer or test, not \"perhaps\" [value-choice]\n"},
	{LEAST "tie_off_extra: 21 %\n",
	 "p.yaml:6:16: error: 21 % is not plausible: expected 0 to 20 % [value-range]\n"},
	{LEAST "tie_off_extra: 2 kg\n",
	 "p.yaml:6:16: error: unit \"kg\" is not known here: expected a share such as \"10 %\" "
	 "[value-quantity]\n"},
	{LEAST "string: { crosses: { prestretch: -1 % } }\n",
	 "p.yaml:6:34: error: -1 % is not plausible: expected 0 to 30 % [value-range]\n"},
	{LEAST "string: { whole: { on_hand: 12 m } }\n",
	 "p.yaml:6:11: error: with \"method: two-piece\" write \"string: { mains: { name: NAME }, "
	 "crosses: { name: NAME } }\" [string-method]\n"},
	{LEAST "accept_short: true\n",
	 "p.yaml:6:15: error: expected no or yes, not \"true\" [value-choice]\n"},
	{LEAST "beyond_makers_range: yes\n",
	 "p.yaml:6:22: error: expected wanted, not \"yes\" [value-choice]\n"},
	{"job: one\npattern: ../secret\nstringer: apprentice\nmethod: two-piece\n"
	 "tension: { mains: 54 lb, crosses: 52 lb }\n",
	 "p.yaml:2:10: error: expected the name of a pattern, not a path: \"../secret\" "
	 "[pattern-name]\n"},
	{"job: \npattern: open-16x19\nstringer: [x]\nmethod: three-piece\n"
	 "tension: { mains: 540 lb, crosses: 52lb, both: 50 lb }\n",
	 "p.yaml:1:1: error: expected a text, but nothing is there [value-empty]\n"
	 "p.yaml:3:11: error: expected a text, not a list [value-kind]\n"
	 "p.yaml:4:9: error: expected two-piece or one-piece, not \"three-piece\" [value-choice]\n"
	 "p.yaml:5:19: error: 540 lb is not plausible: expected 4.5 to 112.4 lb "
	 "[value-range]\n"
	 "p.yaml:5:42: error: unknown key \"both\": expected mains or crosses [key-unknown]\n"},
	{"job: one\npattern: open-16x19\nstringer: b\nmethod: one-piece\ntension: 54 lb\n"
	 "string: { mains: { on_hand: 6 m } }\n",
	 "p.yaml:5:10: error: write both with their unit: \"tension: { mains: 54 lb, crosses: 52 lb }\" "
	 "[value-kind]\n"
	 "p.yaml:6:11: error: with \"method: one-piece\" write \"string: { whole: { name: NAME } }\" "
	 "[string-method]\n"},
	{"job: one\npattern: open-16x19\nstringer: b\nmethod: two-piece\n"
	 "tension: { mains: 010 kg, crosses: 1e1 kg }\n",
	 "p.yaml:5:19: error: expected a tension such as \"54 lb\" (lb, kg, N), not \"010 kg\" "
	 "[value-quantity]\n"
	 "p.yaml:5:36: error: unit \"e1 kg\" is not known here: expected a tension such as "
	 "\"54 lb\" (lb, kg, N) [value-quantity]\n"},
	{"job: one\npattern: open-16x19\nstringer: b\nmethod: two-piece\ntension: { mains: 54 lb }\n",
	 "p.yaml:5:1: error: key \"crosses\" is missing in tension [key-missing]\n"},
	{"- job\n- pattern\n",
	 "p.yaml:1:1: error: expected lines of \"key: value\" [file-empty]\n"},
	{"", "p.yaml:1:1: error: the file is empty [file-empty]\n"},
	{"job: one\n\tpattern: open-16x19\n",
	 "p.yaml:2:1: error: a tab: indent and separate with spaces [file-text]\n"},
};

static void every_fault_has_its_place_and_words(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof(refusals) / sizeof(refusals[0]); i++) {
		struct faults faults = {0};
		struct job *job = job_read(yaml_read_text("p.yaml", refusals[i].plan, &faults));
		char *messages = printed(&faults);
		if (job)
			fail_msg("read without fault:\n%s", refusals[i].plan);
		assert_string_equal(messages, refusals[i].messages);
		free(messages);
		faults_free(&faults);
	}
}

static void too_many_adjustments_are_refused(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct text plan = {0};

	text_add(&plan, LEAST "adjust:\n");
	for (int i = 0; i <= ADJUSTMENTS_MAX; i++)
		text_add(&plan, "- { strings: mains 1, by: 0.1 lb }\n");
	assert_null(job_read(yaml_read_text("p.yaml", text_string(&plan), &faults)));
	char *messages = printed(&faults);
	assert_string_equal(messages,
			    "p.yaml:47:3: error: more than 40 adjustments [adjust-count]\n");
	free(messages);
	faults_free(&faults);
	text_free(&plan);
}

/* With the pattern in hand: 16 mains, 19 crosses, 22 to 28 kg, which is 48.6 to 61.7 lb. */
static const struct refusal misfits[] = {
	{LEAST "tie_off_extra: 20 %\n",
	 "p.yaml:6:16: error: 64.8 lb before a tie-off is outside the maker's range of small, 48.6 to "
	 "61.7 lb: if it is really wanted, the plan must say \"beyond_makers_range: wanted\" "
	 "[tie-off-extra]\n"
	 "p.yaml:6:16: error: 62.4 lb before a tie-off is outside the maker's range of small, 48.6 to "
	 "61.7 lb: if it is really wanted, the plan must say \"beyond_makers_range: wanted\" "
	 "[tie-off-extra]\n"},
	{LEAST "adjust: [ { strings: mains 8-9, by: 1 lb } ]\n",
	 "p.yaml:6:22: error: there is no main 9: small has 8 mains a side [adjust-range]\n"},
	{LEAST "adjust:\n- { strings: crosses 20, by: 1 lb }\n- { strings: mains 90, by: 1 lb }\n",
	 "p.yaml:7:14: error: there is no cross 20: small has 19 crosses [adjust-range]\n"
	 "p.yaml:8:14: error: there is no main 90: small has 8 mains a side [adjust-range]\n"},
	{"job: one\npattern: a\nstringer: b\nmethod: two-piece\n"
	 "tension: { mains: 62 lb, crosses: 48 lb }\n",
	 "p.yaml:5:19: error: 62 lb for main 1 is outside the maker's range of small, 48.6 to "
	 "61.7 lb: if it is really wanted, the plan must say \"beyond_makers_range: wanted\" "
	 "[tension-range]\n"
	 "p.yaml:5:35: error: 48 lb for cross 1 is outside the maker's range of small, 48.6 to "
	 "61.7 lb: if it is really wanted, the plan must say \"beyond_makers_range: wanted\" "
	 "[tension-range]\n"},
	{LEAST "adjust: [ { strings: mains 7-8, by: -10 lb } ]\n",
	 "p.yaml:6:22: error: 44 lb for main 7 is outside the maker's range of small, 48.6 to "
	 "61.7 lb: if it is really wanted, the plan must say \"beyond_makers_range: wanted\" "
	 "[tension-range]\n"},
	{LEAST "adjust: [ { strings: mains 7-8, by: -54 lb } ]\nbeyond_makers_range: wanted\n",
	 "p.yaml:6:22: error: 0 lb for main 7 is not plausible: expected 4.5 to 112.4 lb "
	 "[adjust-tension]\n"},
	{LEAST "adjust: [ { strings: crosses 1-19, by: 60 lb }, { strings: crosses 2, by: -10 lb "
	       "} ]\n",
	 "p.yaml:6:22: error: 112 lb for cross 1 is outside the maker's range of small, 48.6 to "
	 "61.7 lb: if it is really wanted, the plan must say \"beyond_makers_range: wanted\" "
	 "[tension-range]\n"
	 "p.yaml:6:22: error: 112 lb for cross 3 is outside the maker's range of small, 48.6 to "
	 "61.7 lb: if it is really wanted, the plan must say \"beyond_makers_range: wanted\" "
	 "[tension-range]\n"
	 "p.yaml:6:60: error: 102 lb for cross 2 is outside the maker's range of small, 48.6 to "
	 "61.7 lb: if it is really wanted, the plan must say \"beyond_makers_range: wanted\" "
	 "[tension-range]\n"},
};

static void what_the_frame_cannot_take_is_refused(void **state)
{
	(void)state;
	struct faults none = {0};
	struct pattern *pattern = pattern_read(yaml_read_text("small.yaml", pattern_text, &none));

	assert_non_null(pattern);
	for (size_t i = 0; i < sizeof(misfits) / sizeof(misfits[0]); i++) {
		struct faults faults = {0};
		struct job *job = job_read(yaml_read_text("p.yaml", misfits[i].plan, &faults));
		assert_non_null(job);
		assert_false(job_fits(job, pattern, &faults));
		char *messages = printed(&faults);
		assert_string_equal(messages, misfits[i].messages);
		free(messages);
		faults_free(&faults);
		job_free(job);
	}
	pattern_free(pattern);
}

/* A flying clamp holds a string by its neighbour, so one side is two mains ahead at the start, and
 * the first pull takes two crosses; in one piece with other clamps the last main holds one cross
 * (common practice). */
static void clamps_decide_the_lead_and_the_first_pull(void **state)
{
	static const struct {
		enum clamps clamps;
		const char *method, *more;
		int lead, first_pull;
		const char *fault;
	} cases[] = {
		{CLAMPS_FIXED, "two-piece", "", 1, 2, NULL},
		{CLAMPS_FIXED, "one-piece", "", 1, 1, NULL},
		{CLAMPS_GLIDE_BAR, "one-piece", "", 1, 1, NULL},
		{CLAMPS_FLYING, "two-piece", "", 2, 2, NULL},
		{CLAMPS_FLYING, "one-piece", "", 2, 2, NULL},
		{CLAMPS_FIXED, "two-piece", "order: { lead: 1 }", 1, 2, NULL},
		{CLAMPS_FLYING, "two-piece", "order: { lead: 2 }", 2, 2, NULL},
		{CLAMPS_FLYING, "two-piece", "order: { lead: 1 }", 1, 2, "flying-lead"},
		{CLAMPS_FIXED, "two-piece", "weave: { first_pull: 1 }", 1, 1, NULL},
		{CLAMPS_FLYING, "two-piece", "weave: { first_pull: 2 }", 2, 2, NULL},
		{CLAMPS_FLYING, "two-piece", "weave: { first_pull: 1 }", 2, 1, "flying-first-pull"},
	};
	struct faults none = {0};
	struct pattern *pattern = pattern_read(yaml_read_text("small.yaml", pattern_text, &none));

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct faults faults = {0};
		char *plan = memory_format("job: one\npattern: small\nstringer: b\nmethod: %s\n"
					   "tension: { mains: 54 lb, crosses: 52 lb }\n%s\n",
					   cases[i].method, cases[i].more);
		struct job *job = job_read(yaml_read_text("p.yaml", plan, &faults));
		assert_non_null(job);
		job->machine.clamps = cases[i].clamps;
		assert_int_equal(job_lead(job), cases[i].lead);
		assert_int_equal(job_first_pull(job), cases[i].first_pull);
		assert_int_equal(job_fits(job, pattern, &faults), !cases[i].fault);
		char *messages = printed(&faults);
		assert_non_null(strstr(messages, cases[i].fault ? cases[i].fault : ""));
		free(messages);
		free(plan);
		faults_free(&faults);
		job_free(job);
	}
	pattern_free(pattern);
}

static void a_tension_outside_the_range_can_be_wanted(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct pattern *pattern = pattern_read(yaml_read_text("small.yaml", pattern_text, &faults));
	struct job *job =
		job_read(yaml_read_text("p.yaml",
					"job: one\npattern: a\nstringer: b\nmethod: two-piece\n"
					"tension: { mains: 62 lb, crosses: 28 kg }\n"
					"beyond_makers_range: wanted\n",
					&faults));

	assert_true(job_fits(job, pattern, &faults));
	char *messages = printed(&faults);
	assert_string_equal(messages,
			    "p.yaml:5:19: warning: 62 lb for main 1 is outside the maker's "
			    "range of small, 48.6 to 61.7 lb [tension-range]\n");
	free(messages);
	faults_free(&faults);
	job_free(job);
	pattern_free(pattern);
}

/* The maker's limits themselves are inside, in any unit and as rounded on a table: 28 kg is 61.73
 * lb. */
static void the_limits_are_inside(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct pattern *pattern = pattern_read(yaml_read_text("small.yaml", pattern_text, &faults));
	struct job *job =
		job_read(yaml_read_text("p.yaml",
					"job: one\npattern: a\nstringer: b\nmethod: two-piece\n"
					"tension: { mains: 61.7 lb, crosses: 22 kg }\n",
					&faults));

	assert_true(job_fits(job, pattern, &faults));
	assert_int_equal(faults.count, 0);
	job_free(job);
	pattern_free(pattern);
}

static void a_pattern_that_is_nowhere_is_said(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct job *job = job_read(yaml_read_text("/nowhere/p.yaml",
						  "job: one\npattern: no-such-thing\nstringer: b\n"
						  "method: two-piece\n"
						  "tension: { mains: 54 lb, crosses: 52 lb }\n",
						  &faults));

	assert_non_null(job);
	assert_null(job_find_pattern(job, &faults));
	char *messages = printed(&faults);
	static const char start[] = "/nowhere/p.yaml:2:10: error: there is no pattern "
				    "\"no-such-thing\": looked for no-such-thing.yaml in /nowhere";
	assert_int_equal(strncmp(messages, start, strlen(start)), 0);
	assert_non_null(strstr(messages, "[pattern-missing]\n"));
	free(messages);
	faults_free(&faults);
	job_free(job);
}

static void a_mistyped_pattern_is_guessed(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct job *job = job_read(yaml_read_text("/nowhere/p.yaml",
						  "job: one\npattern: open-16x91\nstringer: b\n"
						  "method: two-piece\n"
						  "tension: { mains: 54 lb, crosses: 52 lb }\n",
						  &faults));

	assert_non_null(job);
	assert_null(job_find_pattern(job, &faults));
	char *messages = printed(&faults);
	static const char start[] = "/nowhere/p.yaml:2:10: error: there is no pattern "
				    "\"open-16x91\" (did you mean \"open-16x19\"?): looked for ";
	assert_int_equal(strncmp(messages, start, strlen(start)), 0);
	free(messages);
	faults_free(&faults);
	job_free(job);
}

static void the_pattern_beside_the_plan_is_found(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct job *job =
		job_read(yaml_read_text(SOURCE_DIR "/patterns/my-plan.yaml", LEAST, &faults));
	struct pattern *pattern = job_find_pattern(job, &faults);

	assert_non_null(pattern);
	assert_string_equal(pattern->name, "open-16x19");
	assert_true(job_fits(job, pattern, &faults));
	assert_int_equal(faults.count, 0);
	pattern_free(pattern);
	job_free(job);
}

/* Bytes changed, lost, doubled. Whatever comes: a plan that is whole, or a message. */
static void damage(struct random *random, char *bytes, size_t *length)
{
	size_t at = (size_t)random_between(random, 0, (int)*length - 1);

	switch (random_between(random, 0, 3)) {
	case 0:
		bytes[at] = (char)random_between(random, 0, 255);
		break;
	case 1:
		memmove(bytes + at, bytes + at + 1, *length - at - 1);
		(*length)--;
		break;
	case 2:
		bytes[at] = "-:{}[],#'\"&*!|>%@` 09"[random_between(random, 0, 20)];
		break;
	default:
		*length = at + 1;
		break;
	}
}

static void check_sound(const struct job *job)
{
	assert_true(job->name && job->pattern && job->stringer);
	assert_in_range(job_lead(job), 1, 3);
	assert_in_range(job->behind, 0, 1);
	assert_in_range(job_first_pull(job), 1, 2);
	assert_true(quantity_base(job->tension[STRING_MAIN]) >= 20);
	assert_true(quantity_base(job->tension[STRING_CROSS]) <= 500);
	for (int i = 0; i < job->adjustment_count; i++) {
		assert_true(job->adjustments[i].first >= 1);
		assert_true(job->adjustments[i].last >= job->adjustments[i].first);
		assert_true(job->adjustments[i].last <= 99);
	}
}

static void damaged_plans_get_a_message(void **state)
{
	(void)state;
	static const uint64_t seed = 99;
	struct random random = {seed};
	int read = 0;

	for (int i = 0; i < 20000; i++) {
		char bytes[sizeof(whole)];
		size_t length = strlen(whole);
		struct faults faults = {0};
		memcpy(bytes, whole, sizeof(whole));
		for (int n = random_between(&random, 1, 4); n > 0 && length > 1; n--)
			damage(&random, bytes, &length);
		bytes[length] = '\0';
		struct job *job = job_read(yaml_read_text("p.yaml", bytes, &faults));
		if ((job != NULL) != (faults.errors == 0))
			fail_msg("plan %d of seed %llu: refused without a word, or read in spite "
				 "of one",
				 i, (unsigned long long)seed);
		if (job)
			check_sound(job);
		read += job != NULL;
		job_free(job);
		faults_free(&faults);
	}
	assert_in_range(read, 500, 19500);
}

int main(void)
{
	setenv("PULLCALL_PATTERNS", SOURCE_DIR "/patterns", 1);
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(everything_is_read),
		cmocka_unit_test(what_is_left_out_is_filled_in),
		cmocka_unit_test(a_one_piece_plan_is_read),
		cmocka_unit_test(adjustments_add_up_in_the_unit_of_the_job),
		cmocka_unit_test(a_setting_is_what_a_machine_can_be_set_to),
		cmocka_unit_test(every_fault_has_its_place_and_words),
		cmocka_unit_test(too_many_adjustments_are_refused),
		cmocka_unit_test(what_the_frame_cannot_take_is_refused),
		cmocka_unit_test(clamps_decide_the_lead_and_the_first_pull),
		cmocka_unit_test(a_tension_outside_the_range_can_be_wanted),
		cmocka_unit_test(the_limits_are_inside),
		cmocka_unit_test(a_pattern_that_is_nowhere_is_said),
		cmocka_unit_test(a_mistyped_pattern_is_guessed),
		cmocka_unit_test(the_pattern_beside_the_plan_is_found),
		cmocka_unit_test(damaged_plans_get_a_message),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
