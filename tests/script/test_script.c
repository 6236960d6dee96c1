/* Scripts of the bundled patterns: what their lines say and count, and that packing loses nothing
 * and trusts nothing. */
#include "script/script.h"

#include "bench/bench.h"
#include "phrase/phrase.h"
#include "random.h"
#include "sequence/sequence.h"

#include <arpa/inet.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <zlib.h>

static struct bench *bench;
static struct phrasebook *book;

static int set_up(void **state)
{
	struct faults faults = {0};

	(void)state;
	setenv("PULLCALL_PATTERNS", SOURCE_DIR "/patterns", 1);
	setenv("PULLCALL_VOICE", SOURCE_DIR "/voice", 1);
	bench = bench_new();
	book = phrasebook_find("en", &faults);
	faults_print(&faults, stderr);
	faults_free(&faults);
	return book ? 0 : -1;
}

static int strike(void **state)
{
	(void)state;
	phrasebook_free(book);
	bench_free(bench);
	return 0;
}

/* The demonstration's job in a detail, as a plan. */
static struct plan read_plan(const char *detail)
{
	struct faults faults = {0};
	struct plan plan;
	char *text = memory_format("job: ridge-court-0042\npattern: open-16x19\n"
				   "stringer: apprentice\nmethod: two-piece\n"
				   "tension: { mains: 54 lb, crosses: 52 lb }\ndetail: %s\n",
				   detail);

	assert_true(plan_read(&plan, "job.yaml", text, NULL, bench->machine, &faults));
	faults_free(&faults);
	free(text);
	return plan;
}

static struct script *read_script(const char *detail)
{
	struct plan plan = read_plan(detail);
	struct script *script = script_make(&plan, bench, book);

	plan_free(&plan);
	return script;
}

static void a_trainer_stays_where_teaching_is_wanted(void **state)
{
	static const struct {
		const char *plan, *wanted, *got;
	} cases[] = {
		{"", "yes", "yes"},
		{"teach: no\n", "yes", "yes"},
		{"teach: trainer\n", "yes", "trainer"},
		{"teach: trainer\n", "test", "test"},
		{"teach: trainer\n", NULL, "trainer"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct faults faults = {0};
		char *text = memory_format("job: ridge-court-0042\npattern: open-16x19\n"
					   "stringer: apprentice\nmethod: two-piece\n"
					   "tension: { mains: 54 lb, crosses: 52 lb }\n%s",
					   cases[i].plan);
		struct script *script = script_read_text("job.yaml", text, NULL, cases[i].wanted,
							 bench, book, &faults);
		assert_non_null(script);
		assert_string_equal(script->teaching, cases[i].got);
		script_free(script);
		faults_free(&faults);
		free(text);
	}
}

/* ---- lines ---- */

static void a_line_for_each_call(void **state)
{
	static const char *const details[] = {"learner", "bench", "quick"};

	(void)state;
	for (int i = 0; i < 3; i++) {
		struct plan plan = read_plan(details[i]);
		struct script *script = script_make(&plan, bench, book);
		assert_int_equal(script->count, plan.sequence->call_count);
		assert_string_equal(script->detail, details[i]);
		for (int call = 1; call <= script->count; call++) {
			char *words = phrase_call(book, plan.sequence, call - 1, NULL);
			assert_string_equal(script_words(script, call), words);
			free(words);
		}
		script_free(script);
		plan_free(&plan);
	}
}

static const struct script_line *find_line(const struct script *script, const char *kind,
					   int number)
{
	for (int i = 0; i < script->count; i++)
		if (strcmp(script->lines[i].kind, kind) == 0 && script->lines[i].number == number)
			return &script->lines[i];
	fail_msg("no %s %d", kind, number);
	return NULL;
}

static void a_line_has_fuller_and_shorter_words(void **state)
{
	struct script *bench_script = read_script("bench"), *quick = read_script("quick");
	const struct script_line *line = find_line(bench_script, "main", 4);

	(void)state;
	assert_string_equal(line->full_words, "Main four left, hole four.");
	assert_string_equal(line->short_words, "Main four left.");
	assert_string_equal(line->place, "main four left");
	assert_string_equal(
		line->why,
		"At both ends a main takes the next hole from the centre that the mains do not skip.");
	/* The two details differ only in which words come first. */
	assert_int_equal(bench_script->count, quick->count);
	assert_false(bench_script->says_short);
	assert_true(quick->says_short);
	for (int i = 0; i < quick->count; i++) {
		assert_string_equal(bench_script->lines[i].full_words, quick->lines[i].full_words);
		assert_string_equal(bench_script->lines[i].short_words,
				    quick->lines[i].short_words);
		assert_string_equal(bench_script->lines[i].again_words,
				    quick->lines[i].again_words);
	}
	script_free(bench_script);
	script_free(quick);
}

static void strings_are_counted_down(void **state)
{
	struct script *script = read_script("bench");
	struct script_left before = script->whole;

	(void)state;
	assert_int_equal(before.mains, 16);
	assert_int_equal(before.crosses, 19);
	for (int call = 1; call <= script->count; call++) {
		struct script_left left = script_left(script, call);
		assert_true(left.mains <= before.mains && left.crosses <= before.crosses);
		assert_true(left.mains == 0 || left.crosses == 19);
		before = left;
	}
	before = script_left(script, script->count + 1);
	assert_int_equal(before.mains + before.crosses, 0);
	script_free(script);
}

/* Two of them depend on the hole, not on the kind of call. */
static void each_line_has_its_skill(void **state)
{
	struct script *script = read_script("bench");

	(void)state;
	assert_string_equal(find_line(script, "check-eyes", 0)->skill, "prepare");
	assert_string_equal(find_line(script, "main", 4)->skill, "feed");
	assert_string_equal(find_line(script, "main", 7)->skill, "skip"); /* hole eight */
	assert_string_equal(find_line(script, "cross", 1)->skill, "weave-start");
	/* Holes in order: 7H, 9H, 11H to 18H, 17T to 11T, 9T, 7T. */
	assert_string_equal(find_line(script, "cross", 2)->skill, "skip");
	assert_string_equal(find_line(script, "weave-loop", 3)->skill, "skip");
	for (int cross = 4; cross <= 17; cross++)
		assert_string_equal(find_line(script, "cross-behind", cross)->skill, "behind");
	assert_string_equal(find_line(script, "cross-behind", 18)->skill, "skip");
	assert_string_equal(find_line(script, "cross-behind", 19)->skill, "skip");
	assert_string_equal(find_line(script, "trim", 0)->skill, "finish");
	script_free(script);
}

/* ---- going back ---- */

static void expect_same(const struct script *got, const struct script *want);

static void strings_are_named_as_on_a_command_line(void **state)
{
	static const char *const nonsense[] = {
		"",          "cross",    "cross 0",         "cross -3",
		"cross 9 x", "main 4",   "main 4 middle",   "mains 4 left",
		"9 cross",   "cross 9.", "main 4 left left"};
	struct script_mishap mishap;
	char *why = NULL;

	(void)state;
	assert_true(script_parse_string("cross 9", &mishap, &why));
	assert_string_equal(mishap.string, "cross");
	assert_int_equal(mishap.number, 9);
	assert_null(mishap.side);
	assert_true(script_parse_string(" main  4 right ", &mishap, &why));
	assert_string_equal(mishap.string, "main");
	assert_int_equal(mishap.number, 4);
	assert_string_equal(mishap.side, "right");
	assert_null(why);
	for (size_t i = 0; i < sizeof nonsense / sizeof *nonsense; i++) {
		if (script_parse_string(nonsense[i], &mishap, &why))
			fail_msg("\"%s\" is taken", nonsense[i]);
		assert_non_null(strstr(why, "expected \"cross 9\" or \"main 4 left\""));
		free(why);
		why = NULL;
	}
}

static struct script *packed_and_unpacked(const struct script *script)
{
	struct text packed = {0};

	script_pack(script, &packed);
	struct script *got = script_unpack(packed.bytes, packed.length);
	text_free(&packed);
	return got;
}

/* A redo is of a string whose last call it names; another mishap counts as made at the string that
 * is in the bed and was worked on last, if any is. */
static void check_made(const struct script *script, const struct script_mishap *mishap)
{
	int made = script_place(script, mishap->made), lines[SCRIPT_STRINGS_MAX];
	int count = script_strings(script, mishap->line, lines);

	if (!mishap->string) {
		assert_int_equal(made, count ? lines[0] : 0);
		return;
	}
	assert_in_range(made, 1, mishap->line);
	for (int i = made; i <= mishap->line; i++) {
		const struct script_line *line = script_line(script, i);
		bool same = line->string && strcmp(line->string, mishap->string) == 0 &&
			    line->number == mishap->number &&
			    (!mishap->side || strcmp(line->side, mishap->side) == 0);
		assert_int_equal(same, i == made);
	}
}

static bool is_same_text(const char *one, const char *other)
{
	return strcmp(one ? one : "", other ? other : "") == 0;
}

static bool is_same_call(const struct script_line *one, const struct script_line *other)
{
	return is_same_text(one->kind, other->kind) && is_same_text(one->string, other->string) &&
	       is_same_text(one->side, other->side) && one->number == other->number;
}

/* The lines that make the latest mishap good stand together, right after the line where it was
 * found; after them comes the rest of the job in the words that it had, and no more of it could
 * have stayed. */
static void check_rest(const struct script *before, const struct script *after, int line)
{
	int rest = line + 1, back = before->count - after->count;

	while (rest <= after->count && script_line(after, rest)->mishap == after->mishap_count)
		rest++;
	for (int i = rest; i <= after->count; i++) {
		assert_true(is_same_call(script_line(after, i), script_line(before, i + back)));
		assert_int_equal(script_line(after, i)->mishap,
				 script_line(before, i + back)->mishap);
	}
	if (rest + back - 1 > line && rest - 1 > line)
		assert_false(is_same_call(script_line(after, rest - 1),
					  script_line(before, rest + back - 1)));
}

/* Whatever the way back is: what is done stays as it is, the rest is there with new numbers, and
 * strings are counted on from what came out. */
static void check_way_back(const struct script *before, const struct script *after, int line)
{
	const struct script_mishap *mishap = &after->mishaps[after->mishap_count - 1];

	assert_int_equal(after->mishap_count, before->mishap_count + 1);
	assert_int_equal(mishap->line, line);
	check_made(before, mishap);
	assert_true(after->count > line && after->count <= SCRIPT_LINES_MAX);
	for (int i = 1; i <= line; i++) {
		assert_string_equal(script_words(after, i), script_words(before, i));
		assert_int_equal(script_call(after, i), script_call(before, i));
		assert_int_equal(script_place(after, script_call(before, i)), i);
	}
	for (int i = line + 1; i <= after->count; i++) {
		assert_true(script_call(after, i) > script_call(before, before->count + 1));
		assert_true(script_call(after, i) > script_call(after, i - 1));
	}
	check_rest(before, after, line);
	/* Or the way back of an earlier one leads past it. */
	assert_in_range(script_line(after, line + 1)->mishap, 1, after->mishap_count);
	struct script_left left = script_left(after, after->count + 1);
	assert_int_equal(left.mains, 0);
	assert_int_equal(left.crosses, 0);
	struct script_bed bed = script_bed(after, after->count + 1);
	struct script_bed all = script_bed(before, before->count + 1);
	assert_memory_equal(&bed, &all, sizeof bed);
	struct script *kept = packed_and_unpacked(after);
	expect_same(kept, after);
	/* What is kept tells the bed at each line, ways back and all. */
	struct plan plan;
	struct faults faults = {0};
	assert_true(script_plan(kept, kept->count, bench, &plan, &faults));
	struct bed_strings *beds = sequence_bed_strings(plan.sequence);
	for (int i = 1; i <= kept->count + 1; i++) {
		bed = script_bed(kept, i);
		assert_true(bed.left == beds[i - 1].in.mains[SIDE_LEFT]);
		assert_true(bed.crosses == beds[i - 1].in.crosses);
		left = script_left(kept, i);
		assert_int_equal(left.crosses + __builtin_popcountll(beds[i - 1].tensioned.crosses),
				 kept->whole.crosses);
	}
	free(beds);
	plan_free(&plan);
	faults_free(&faults);
	script_free(kept);
}

/* As if nothing had happened, but that the rest has new numbers. */
static void check_called_off(const struct script *before, const struct script *after, int line)
{
	struct faults faults = {0};
	struct script *off = script_call_off(after, bench, book, &faults);

	assert_non_null(off);
	assert_int_equal(off->mishap_count, before->mishap_count);
	assert_int_equal(off->count, before->count);
	for (int i = 1; i <= off->count; i++) {
		struct script_line line_off = *script_line(off, i);
		struct script_line line_before = *script_line(before, i);
		assert_string_equal(line_off.full_words, line_before.full_words);
		assert_memory_equal(&line_off.bed, &line_before.bed, sizeof line_off.bed);
		assert_int_equal(line_off.mishap, line_before.mishap);
		assert_int_equal(line_off.call == line_before.call, i <= line);
	}
	script_free(off);
	faults_free(&faults);
}

/* A string that is put in again is said as it was the first time, but for what is said once a job.
 */
static void check_words(const struct script *first, const struct script *after)
{
	bool learner = strcmp(first->detail, "learner") == 0;

	for (int i = 1; i <= after->count; i++) {
		const struct script_line *now = script_line(after, i);
		if (strcmp(now->skill, "weave-start") != 0 && strcmp(now->skill, "weave") != 0 &&
		    strcmp(now->skill, "feed") != 0 && strcmp(now->skill, "skip") != 0)
			continue;
		for (int k = 1; k <= first->count; k++) {
			const struct script_line *then = script_line(first, k);
			if (!is_same_call(now, then))
				continue;
			assert_string_equal(now->skill, then->skill);
			if (!learner)
				assert_string_equal(now->short_words, then->short_words);
		}
	}
}

/* NULL if it is refused, which is said. */
static struct script *go_back(const struct script *script, int line, struct script_mishap mishap)
{
	struct faults faults = {0};
	struct script *after = script_go_back(script, line, &mishap, bench, book, &faults);

	if (after) {
		check_way_back(script, after, line);
		check_called_off(script, after, line);
	} else
		assert_true(faults.errors > 0);
	faults_free(&faults);
	return after;
}

static struct script_mishap redo_of(const struct script_line *line)
{
	bool main = strcmp(line->string, "main") == 0;

	return (struct script_mishap){.kind = "redo",
				      .string = main ? "main" : "cross",
				      .number = line->number,
				      .side = !main                             ? NULL
					      : strcmp(line->side, "left") == 0 ? "left"
										: "right"};
}

/* Redo anywhere, nested, and the other mishaps in between. */
static void any_way_back_keeps_what_is_done(void **state)
{
	static const char *const details[] = {"learner", "bench", "quick"};
	struct random random = {20261127};
	int gone = 0, nested = 0;

	(void)state;
	for (int round = 0; round < 15; round++) {
		struct script *first = read_script(details[round % 3]);
		struct script *script = read_script(details[round % 3]);
		int line = 1;
		for (int times = 0; times < 4; times++) {
			int lines[SCRIPT_STRINGS_MAX];
			line = random_between(&random, line, script->count);
			int count = script_strings(script, line, lines);
			struct script_mishap mishap = {
				.kind = random_chance(&random, 50) ? "slipped" : "broke"};
			if (count > 0 && random_chance(&random, 75))
				mishap = redo_of(script_line(
					script, lines[random_between(&random, 0, count - 1)]));
			struct script *after = go_back(script, line, mishap);
			if (!after)
				continue;
			gone++;
			nested += script->mishap_count > 0;
			check_words(first, after);
			script_free(script);
			script = after;
		}
		script_free(script);
		script_free(first);
	}
	assert_true(gone > 15 && nested > 5);
}

static void the_last_strings_come_first(void **state)
{
	struct script *script = read_script("bench");
	int lines[SCRIPT_STRINGS_MAX];
	int place = 1;

	(void)state;
	while (strncmp(script_words(script, place), "Cross fourteen", 14) != 0)
		place++;
	assert_int_equal(script_strings(script, 1, lines), 0);
	assert_int_equal(script_strings(script, place, lines), 13);
	for (int i = 0; i < 13; i++)
		assert_int_equal(script_line(script, lines[i])->number, 13 - i);
	/* With no cross in, it is a main. */
	while (strncmp(script_words(script, place), "Cross one", 9) != 0)
		place--;
	assert_int_equal(script_strings(script, place, lines), 16);
	assert_string_equal(script_line(script, lines[0])->string, "main");
	assert_int_equal(script_line(script, lines[0])->number, 8);
	script_free(script);
}

static void a_job_that_goes_back_for_ever_is_refused(void **state)
{
	struct script *script = read_script("learner");
	int place = 1, times = 0;

	(void)state;
	while (strcmp(script_line(script, place)->place, "cross seven") != 0)
		place++;
	for (struct script *after; (after = go_back(script, place,
						    (struct script_mishap){
							    .kind = "redo",
					     .string = "cross",
					     .number = 5,
						    }));
	     times++) {
		script_free(script);
		script = after;
		while (strcmp(script_line(script, ++place)->place, "cross seven") != 0)
			assert_true(place < script->count);
	}
	assert_in_range(times, 10, SCRIPT_MISHAPS_MAX);
	script_free(script);
}

/* ---- packing ---- */

static void expect_text(const char *got, const char *want)
{
	if (want)
		assert_string_equal(got, want);
	else
		assert_null(got);
}

static void expect_same(const struct script *got, const struct script *want)
{
	expect_text(got->job, want->job);
	expect_text(got->title, want->title);
	expect_text(got->stringer, want->stringer);
	expect_text(got->pattern, want->pattern);
	expect_text(got->sport, want->sport);
	expect_text(got->method, want->method);
	expect_text(got->detail, want->detail);
	expect_text(got->language, want->language);
	expect_text(got->program, want->program);
	expect_text(got->plan_file, want->plan_file);
	expect_text(got->plan_text, want->plan_text);
	expect_text(got->pattern_text, want->pattern_text);
	expect_text(got->crosses_start, want->crosses_start);
	expect_text(got->teaching, want->teaching);
	expect_text(got->racket, want->racket);
	expect_text(got->customer, want->customer);
	expect_text(got->due, want->due);
	expect_text(got->notes, want->notes);
	for (int i = 0; i < 2; i++) {
		expect_text(got->tension[i], want->tension[i]);
		expect_text(got->string[i], want->string[i]);
	}
	assert_memory_equal(&got->whole, &want->whole, sizeof(got->whole));
	assert_int_equal(got->says_short, want->says_short);
	assert_int_equal(got->count, want->count);
	assert_int_equal(got->mishap_count, want->mishap_count);
	for (int i = 0; i < want->mishap_count; i++) {
		const struct script_mishap *mishap = &got->mishaps[i], *other = &want->mishaps[i];
		expect_text(mishap->kind, other->kind);
		expect_text(mishap->string, other->string);
		expect_text(mishap->side, other->side);
		assert_int_equal(mishap->number, other->number);
		assert_int_equal(mishap->line, other->line);
		assert_int_equal(mishap->made, other->made);
		assert_int_equal(mishap->undone, other->undone);
	}
	for (int i = 0; i < want->count; i++) {
		const struct script_line *line = &got->lines[i], *other = &want->lines[i];
		expect_text(line->kind, other->kind);
		expect_text(line->phase, other->phase);
		expect_text(line->skill, other->skill);
		expect_text(line->string, other->string);
		expect_text(line->side, other->side);
		expect_text(line->full_words, other->full_words);
		expect_text(line->short_words, other->short_words);
		expect_text(line->again_words, other->again_words);
		expect_text(line->why, other->why);
		expect_text(line->name, other->name); /* NULL stays NULL: it is never asked */
		expect_text(line->question, other->question);
		expect_text(line->place, other->place);
		expect_text(line->reel, other->reel);
		assert_int_equal(line->cut_mm, other->cut_mm);
		assert_memory_equal(&line->redo, &other->redo, sizeof(line->redo));
		assert_int_equal(line->number, other->number);
		assert_int_equal(line->weight_s, other->weight_s);
		assert_int_equal(line->call, other->call);
		assert_int_equal(line->mishap, other->mishap);
		assert_memory_equal(&line->bed, &other->bed, sizeof(line->bed));
		assert_memory_equal(&line->left, &other->left, sizeof(line->left));
	}
}

static void a_script_has_the_facts_of_plan_and_pattern(void **state)
{
	static const char plan[] =
		"job: one\npattern: open-16x19\nstringer: apprentice\nmethod: two-piece\n"
		"tension: { mains: 24.5 kg, crosses: 52 lb }\ndetail: quick\nracket: R-118\n"
		"customer: counter 12\ndue: 2026-12-01\nnotes: Mind the chip.\n"
		"string: { mains: { name: hard, reel: red }, crosses: { name: soft, reel: blue } }\n";
	struct faults faults = {0};
	struct script *script =
		script_read_text("/nowhere/job.yaml", plan, NULL, NULL, bench, book, &faults);

	(void)state;
	assert_non_null(script);
	const char *const facts[][2] = {
		{script->job, "one"},
		{script->title, "Sixteen by nineteen, six bridge holes"},
		{script->stringer, "apprentice"},
		{script->pattern, "open-16x19"},
		{script->sport, "tennis"},
		{script->method, "two-piece"},
		{script->crosses_start, "head"},
		{script->detail, "quick"},
		{script->teaching, "no"},
		{script->language, "en"},
		{script->plan_file, "/nowhere/job.yaml"},
		{script->plan_text, plan},
		{script->racket, "R-118"},
		{script->customer, "counter 12"},
		{script->due, "2026-12-01"},
		{script->notes, "Mind the chip."},
		{script->tension[0], "24.5 kg"},
		{script->tension[1], "52 lb"},
		{script->string[0], "hard"},
		{script->string[1], "soft"},
	};
	for (size_t i = 0; i < sizeof facts / sizeof *facts; i++)
		assert_string_equal(facts[i][0], facts[i][1]);
	/* What is cut comes off the reel of its string. */
	const char *reels[2] = {NULL};
	for (int i = 0, cuts = 0; i < script->count; i++) {
		const struct script_line *line = &script->lines[i];
		assert_int_equal(line->reel != NULL, line->cut_mm > 0);
		if (line->reel && cuts < 2)
			reels[cuts++] = line->reel;
	}
	assert_string_equal(reels[0], "red");
	assert_string_equal(reels[1], "blue");
	struct script *kept = packed_and_unpacked(script);
	expect_same(kept, script);
	script_free(kept);
	script_free(script);
	faults_free(&faults);
}

/* The numbers that POSIX lays down for nrand48: X = (0x5DEECE66D X + 0xB) mod 2^48, of which it
 * gives the upper 31 bits. */
static int posix_below(uint64_t *x, int limit)
{
	*x = (*x * UINT64_C(0x5DEECE66D) + 0xB) & ((UINT64_C(1) << 48) - 1);
	return (int)((int64_t)(*x >> 17) % limit);
}

/* The questions of the skills that are wanted, each once, shuffled in a way that is the same on
 * every computer (Fisher and Yates, Durstenfeld 1964). */
static void a_drill_asks_what_is_wanted_in_the_order_of_its_seed(void **state)
{
	static const char *const wanted[] = {"skip", "mount", NULL};
	static const uint64_t seeds[] = {1, 7, UINT64_C(0xFEDCBA987654)};
	struct faults faults = {0};
	struct script *taught = script_read_text(
		"job.yaml",
		"job: one\npattern: open-16x19\nstringer: apprentice\nmethod: two-piece\n"
		"tension: { mains: 54 lb, crosses: 52 lb }\nteach: yes\n",
		NULL, NULL, bench, book, &faults);

	(void)state;
	assert_non_null(taught);
	for (size_t i = 0; i < sizeof seeds / sizeof *seeds; i++) {
		struct script *drill = script_drill(taught, wanted, seeds[i]);
		const struct script_line *lines[SCRIPT_LINES_MAX];
		uint64_t x = seeds[i];
		int count = 0;
		for (int place = 1; place <= taught->count; place++) {
			const struct script_line *line = script_line(taught, place);
			if (line->question &&
			    (strcmp(line->skill, "skip") == 0 || strcmp(line->skill, "mount") == 0))
				lines[count++] = line;
		}
		for (int last = count - 1; last > 0; last--) {
			int other = posix_below(&x, last + 1);
			const struct script_line *line = lines[last];
			lines[last] = lines[other];
			lines[other] = line;
		}
		assert_true(count > 5);
		assert_int_equal(drill->count, count);
		assert_string_equal(drill->teaching, "drill");
		for (int place = 1; place <= count; place++) {
			assert_int_equal(script_call(drill, place), place);
			assert_string_equal(script_line(drill, place)->question,
					    lines[place - 1]->question);
			assert_string_equal(script_line(drill, place)->place,
					    lines[place - 1]->place);
		}
		script_free(drill);
	}
	script_free(taught);
	faults_free(&faults);
}

static void packing_loses_nothing(void **state)
{
	static const char *const details[] = {"learner", "bench", "quick"};

	(void)state;
	for (int i = 0; i < 3; i++) {
		struct script *script = read_script(details[i]);
		struct text packed = {0}, again = {0};
		script_pack(script, &packed);
		struct script *unpacked = script_unpack(packed.bytes, packed.length);
		assert_non_null(unpacked);
		expect_same(unpacked, script);
		script_pack(unpacked, &again);
		assert_int_equal(again.length, packed.length);
		assert_memory_equal(again.bytes, packed.bytes, packed.length);
		print_message("%s: %d lines, %zu bytes\n", details[i], script->count,
			      packed.length);
		script_free(unpacked);
		script_free(script);
		text_free(&packed);
		text_free(&again);
	}
}

/* Whole and of this version, or nothing. */
static void damage_is_refused(void **state)
{
	struct script *script = read_script("learner");
	struct text packed = {0};

	(void)state;
	script_pack(script, &packed);
	for (size_t length = 0; length < packed.length; length++)
		assert_null(script_unpack(packed.bytes, length));
	for (size_t bit = 0; bit < 8 * packed.length; bit++) {
		packed.bytes[bit / 8] ^= (char)(1 << bit % 8);
		assert_null(script_unpack(packed.bytes, packed.length));
		packed.bytes[bit / 8] ^= (char)(1 << bit % 8);
	}
	text_free(&packed);
	script_free(script);
}

/* What is compressed, opened up, changed at random and closed again, so that no checksum stands in
 * front of the reader. */
static void nonsense_is_refused(void **state)
{
	struct script *script = read_script("bench");
	struct text packed = {0};
	enum { HEAD = 5 }; /* version and checksum */
	static unsigned char plain[1024 * 1024], changed[sizeof plain], bytes[sizeof plain + 1024];
	uLongf length = sizeof plain;
	struct random random = {20261126};
	int read = 0;

	(void)state;
	script_pack(script, &packed);
	assert_int_equal(uncompress(plain, &length, (const Bytef *)packed.bytes + HEAD,
				    packed.length - HEAD),
			 Z_OK);
	for (int round = 0; round < 3000; round++) {
		memcpy(changed, plain, length);
		uLongf kept = random_chance(&random, 75)
				      ? length
				      : (uLongf)random_between(&random, 1, (int)length);
		for (int i = random_between(&random, 0, 4); i >= 0; i--)
			changed[random_between(&random, 0, (int)length - 1)] =
				(unsigned char)(random_chance(&random, 33)
							? 0
							: random_between(&random, 0, 255));
		uLongf size = sizeof bytes - HEAD;
		assert_int_equal(compress2(bytes + HEAD, &size, changed, kept, 1), Z_OK);
		bytes[0] = (unsigned char)packed.bytes[0];
		uint32_t sum = htonl((uint32_t)crc32(0, bytes + HEAD, (uInt)size));
		memcpy(bytes + 1, &sum, sizeof sum);
		struct script *got = script_unpack(bytes, HEAD + size);
		if (got) {
			read++;
			assert_true(got->count > 0 && got->count <= SCRIPT_LINES_MAX);
			for (int call = 1; call <= got->count + 1; call++)
				assert_non_null(script_words(got, call));
		}
		script_free(got);
	}
	assert_true(read > 0); /* other words are words */
	text_free(&packed);
	script_free(script);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(a_trainer_stays_where_teaching_is_wanted),
		cmocka_unit_test(a_line_for_each_call),
		cmocka_unit_test(strings_are_named_as_on_a_command_line),
		cmocka_unit_test(the_last_strings_come_first),
		cmocka_unit_test(any_way_back_keeps_what_is_done),
		cmocka_unit_test(a_job_that_goes_back_for_ever_is_refused),
		cmocka_unit_test(a_line_has_fuller_and_shorter_words),
		cmocka_unit_test(strings_are_counted_down),
		cmocka_unit_test(each_line_has_its_skill),
		cmocka_unit_test(a_script_has_the_facts_of_plan_and_pattern),
		cmocka_unit_test(a_drill_asks_what_is_wanted_in_the_order_of_its_seed),
		cmocka_unit_test(packing_loses_nothing),
		cmocka_unit_test(damage_is_refused),
		cmocka_unit_test(nonsense_is_refused),
	};

	return cmocka_run_group_tests(tests, set_up, strike);
}
