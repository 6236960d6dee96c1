/* The bed as it stands at a call: what the calls before it have done is there, what the call is
 * about stands out, and nothing else. Counted here from the moves themselves. */
#include "draw/drawn.h"

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

static bool threads(const struct move *move)
{
	return move->action == DO_FEED || move->action == DO_WEAVE;
}

/* The call itself, or the first one after it that has to do with a string; calls if none has. */
static int call_about_string(const struct sequence *sequence, int call)
{
	for (; call < sequence->call_count; call++)
		for (int i = sequence->calls[call].first; i <= sequence->calls[call].last; i++)
			if (sequence->moves[i].has_string)
				return call;
	return call;
}

static int count_class(const struct picture *picture, const char *name, const char *class)
{
	int count = 0;

	for (int i = 0; i < picture->count; i++)
		count += element_is(&picture->items[i], name, class);
	return count;
}

struct expected {
	int strands; /* there, or being threaded */
	int next;    /* standing out; -1: at least one */
	int pulls;
	int clamps;
	int knots;
	int slack; /* threaded before, not pulled yet */
};

static void count_before(const struct sequence *sequence, int end, struct expected *out)
{
	for (int i = 0; i < end; i++) {
		const struct move *move = &sequence->moves[i];
		bool cross = move->string == STRING_CROSS;
		out->strands += threads(move);
		out->slack += threads(move);
		if (move->action == DO_PULL) {
			out->pulls++;
			out->slack -= cross ? move->pulls_last - move->pulls_first + 1 : 1;
		}
		out->clamps += (move->action == DO_CLAMP) - (move->action == DO_UNCLAMP);
		out->knots += move->action == DO_KNOT;
	}
}

static struct expected expect(const struct sequence *sequence, int call)
{
	struct expected expected = {0};
	int about = call_about_string(sequence, call);
	int threaded = 0;

	count_before(sequence, sequence->calls[call].first, &expected);
	if (about == sequence->call_count)
		return expected;
	const struct call *next = &sequence->calls[about];
	for (int i = next->first; i <= next->last; i++) {
		const struct move *move = &sequence->moves[i];
		threaded += threads(move);
		expected.pulls += move->action == DO_PULL;
		expected.knots += move->action == DO_KNOT;
	}
	expected.strands += threaded;
	expected.next = threaded ? threaded : -1;
	return expected;
}

/* A starting knot is a call about a string that is not there yet: the knot stands out, no string.
 */
static bool is_start_knot(const struct sequence *sequence, int call)
{
	int about = call_about_string(sequence, call);

	return about < sequence->call_count && sequence->calls[about].kind == CALL_START_KNOT;
}

static void check_stage(const char *folder, const struct sequence *sequence, int call)
{
	struct draw_options options = {.at_call = call + 1};
	struct expected expected = expect(sequence, call);
	struct picture picture;

	drawn_picture(folder, sequence, &options, &picture);
	int next = count_class(&picture, "g", "next");
	assert_int_equal(count_class(&picture, "g", "strand"), expected.strands);
	assert_int_equal(count_class(&picture, "circle", "pull"), expected.pulls);
	assert_int_equal(count_class(&picture, "use", "clamp"), expected.clamps);
	assert_int_equal(count_class(&picture, "use", "knot"), expected.knots);
	/* A slack string that the call is about stands out instead. */
	int slack = count_class(&picture, "g", "slack");
	assert_true(expected.next >= 0 ? slack == expected.slack : slack <= expected.slack);
	if (is_start_knot(sequence, call))
		assert_int_equal(next, 0);
	else if (expected.next >= 0)
		assert_int_equal(next, expected.next);
	else
		assert_true(next > 0);
	picture_free(&picture);
}

static void calls_of_every_pattern(void **state)
{
	struct drawn drawn;
	int stages = 0;

	drawn_read(&drawn);
	for (int i = 0; i < drawn.count; i++) {
		struct faults faults = {0};
		int plan = i % DRAWN_PLANS;
		struct job *job = drawn_job(drawn.patterns[i], plan);
		struct sequence *sequence = sequence_compile(job, drawn.patterns[i], &faults);
		assert_non_null(sequence);
		/* Every call of the first patterns, one of each plan; of the others a sample. */
		for (int call = i < DRAWN_PLANS ? 0 : i % 5; call < sequence->call_count;
		     call += i < DRAWN_PLANS ? 1 : 5) {
			check_stage(*state, sequence, call);
			stages++;
		}
		sequence_free(sequence);
		job_free(job);
		faults_free(&faults);
	}
	print_message("%d stages\n", stages);
	drawn_free(&drawn);
}

/* By hand, for open-16x19 with the default order (mains from the throat, the left first, lead 1):
 * the call for main 3 right has main 3 left done and its clamp on, main 2 right clamped. */
static void known_stage(void **state)
{
	struct drawn_work work;
	struct draw_options options = {0};
	struct picture picture;

	drawn_open(&work, "open-16x19", 0);
	const struct sequence *sequence = work.sequence;
	for (int call = 0; call < sequence->call_count; call++) {
		const struct move *move = &sequence->moves[sequence->calls[call].subject];
		if (sequence->calls[call].kind == CALL_MAIN && move->number == 3 &&
		    move->side == SIDE_RIGHT)
			options.at_call = call + 1;
	}
	drawn_picture(*state, sequence, &options, &picture);
	assert_int_equal(count_class(&picture, "g", "strand"), 6);
	assert_int_equal(count_class(&picture, "circle", "pull"), 6);
	assert_int_equal(count_class(&picture, "use", "clamp"), 2);
	int next = picture_inside(&picture, 0, "g", "next");
	assert_true(next > 0);
	assert_string_equal(element_get(&picture.items[next], "id"), "main-3-right");
	assert_string_equal(element_get(&picture.items[next], "data-from"), "3T");
	assert_string_equal(element_get(&picture.items[next], "data-to"), "3H");
	picture_free(&picture);
	drawn_close(&work);
}

/* Where a symbol is drawn. */
static void read_spot(const struct element *symbol, double spot[static 2])
{
	const char *transform = element_get(symbol, "transform");

	assert_int_equal(sscanf(transform, "translate(%lf %lf)", &spot[0], &spot[1]), 2);
}

/* For open-16x19 on a machine with flying clamps: each grips two neighbours and stands square to
 * them. The first one holds outside the frame. */
static void flying_clamps(void **state)
{
	struct drawn_work work;
	int across = 0, outside = 0;

	drawn_open(&work, "open-16x19", 0);
	work.job->machine.clamps = CLAMPS_FLYING;
	work.job->lead = 2;
	drawn_compile(&work);
	const struct sequence *sequence = work.sequence;
	for (int call = 0; call < sequence->call_count; call++) {
		struct draw_options options = {.at_call = call + 1};
		struct picture picture;
		drawn_picture(*state, sequence, &options, &picture);
		for (int i = 0; i < picture.count; i++) {
			const struct element *clamp = &picture.items[i];
			outside += element_is(clamp, "use", "outside");
			if (!element_is(clamp, "use", "across"))
				continue;
			/* The mark on the other string, a bar with its edge between the two, the
			 * mark on its own.
			 */
			assert_true(i + 3 < picture.count && element_is(clamp + 3, "use", "clamp"));
			double other[2], own[2];
			read_spot(clamp, other);
			read_spot(clamp + 3, own);
			double x = fabs(own[0] - other[0]), y = fabs(own[1] - other[1]);
			double beside = fmax(x, y), askew = fmin(x, y);
			assert_true(beside > 4 && beside < 16);
			assert_true(askew < 0.02);
			across++;
		}
		picture_free(&picture);
	}
	print_message("%d flying clamps\n", across);
	assert_true(across > 40);
	assert_true(outside > 0);
	drawn_close(&work);
}

static bool is_among(const struct strings *strings, const struct element *strand)
{
	bool cross = strcmp(element_get(strand, "data-string"), "cross") == 0;
	bool right = strcmp(element_get(strand, "data-side"), "right") == 0;
	uint64_t bits = cross ? strings->crosses : strings->mains[right];

	return bits >> atoi(element_get(strand, "data-number")) & 1;
}

static int count_strings(const struct strings *strings)
{
	return __builtin_popcountll(strings->mains[SIDE_LEFT]) +
	       __builtin_popcountll(strings->mains[SIDE_RIGHT]) +
	       __builtin_popcountll(strings->crosses);
}

/* What is drawn at a call is in the bed, or stands out; it is drawn thin until it is tensioned. */
static void check_strings(const char *folder, const struct sequence *sequence, int call,
			  const struct bed_strings *bed)
{
	struct draw_options options = {.at_call = call + 1};
	struct picture picture;
	int in = 0;

	drawn_picture(folder, sequence, &options, &picture);
	for (int i = 0; i < picture.count; i++) {
		const struct element *strand = &picture.items[i];
		if (!element_is(strand, "g", "strand"))
			continue;
		in += is_among(&bed->in, strand);
		if (element_is(strand, "g", "next"))
			continue;
		assert_true(is_among(&bed->in, strand));
		assert_int_equal(element_is(strand, "g", "slack"),
				 !is_among(&bed->tensioned, strand));
	}
	assert_int_equal(in, count_strings(&bed->in));
	/* A disc for each pull that holds, and for the one that the call makes. */
	assert_in_range(count_class(&picture, "circle", "pull"), count_strings(&bed->tensioned) > 0,
			count_strings(&bed->in) + 2);
	assert_true(count_class(&picture, "use", "clamp") <= 6);
	picture_free(&picture);
}

/* One mishap after the other, each some calls after the one before. */
static void ways_back(void **state)
{
	static const struct mishap mishaps[] = {
		{MISHAP_REDO, STRING_MAIN, 3, SIDE_RIGHT},
		{MISHAP_SLIPPED, STRING_MAIN, 0, 0},
		{MISHAP_REDO, STRING_CROSS, 1, SIDE_LEFT},
		{MISHAP_REDO, STRING_CROSS, 4, SIDE_LEFT},
		{MISHAP_SLIPPED, STRING_MAIN, 0, 0},
		{MISHAP_BROKE, STRING_CROSS, 0, 0},
		{MISHAP_BROKE, STRING_MAIN, 0, 0},
	};
	enum { MISHAPS = sizeof(mishaps) / sizeof(mishaps[0]) };
	static const char *const patterns[] = {"open-16x19", "badminton-22x22", "open-16x18"};
	struct faults faults = {0};
	int gone_back = 0;

	for (int plan = 0; plan < 3; plan++) {
		struct drawn_work work;
		drawn_open(&work, patterns[plan], plan);
		for (int i = 0; i < 2 * MISHAPS; i++) {
			int call = 24 + 9 * i < work.sequence->call_count ? 24 + 9 * i : 0;
			struct sequence *again = sequence_go_back(work.sequence, call,
								  &mishaps[i % MISHAPS], &faults);
			if (!again)
				continue;
			gone_back++;
			sequence_free(work.sequence);
			work.sequence = again;
		}
		struct bed_strings *beds = sequence_bed_strings(work.sequence);
		for (int call = 0; call < work.sequence->call_count; call++)
			check_strings(*state, work.sequence, call, &beds[call]);
		free(beds);
		drawn_close(&work);
	}
	print_message("%d ways back\n", gone_back);
	assert_true(gone_back > 20);
	faults_free(&faults);
}

/* Where a cross is not there yet the mains have no gap for it. */
static void no_gap_before_the_cross(void **state)
{
	struct drawn_work work;
	struct draw_options options = {0};
	struct corner_read corners[512];
	struct picture picture;

	drawn_open(&work, "open-16x19", 0);
	const struct sequence *sequence = work.sequence;
	for (int call = 0; call < sequence->call_count; call++)
		if (sequence->calls[call].kind == CALL_START_KNOT)
			options.at_call = call + 1;
	drawn_picture(*state, sequence, &options, &picture);
	for (int i = 0; i < picture.count; i++)
		if (element_is(&picture.items[i], "path", "string"))
			assert_true(corners_read(element_get(&picture.items[i], "d"), corners,
						 512) == 4 ||
				    picture.items[picture.items[i].parent].parent < 0 ||
				    !element_is(&picture.items[picture.items[i].parent], "g",
						"strand"));
	picture_free(&picture);
	drawn_close(&work);
}

static void no_such_call(void **state)
{
	char *path = memory_format("%s/none.svg", (const char *)*state);
	struct faults faults = {0};
	struct drawn_work work;
	size_t length;

	drawn_open(&work, "open-16x19", 0);
	const int calls[] = {-1, work.sequence->call_count + 1, 1 << 30};
	for (int i = 0; i < 3; i++) {
		struct draw_options options = {.at_call = calls[i]};
		assert_int_equal(draw_bed(work.sequence, &options, path, &faults), EXIT_USAGE);
		assert_int_equal(faults.errors, i + 1);
		assert_string_equal(faults.items[i].code, "draw-call");
		assert_null(drawn_bytes(path, &length));
	}
	free(path);
	faults_free(&faults);
	drawn_close(&work);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(calls_of_every_pattern),  cmocka_unit_test(known_stage),
		cmocka_unit_test(flying_clamps),           cmocka_unit_test(ways_back),
		cmocka_unit_test(no_gap_before_the_cross), cmocka_unit_test(no_such_call),
	};
	return cmocka_run_group_tests(tests, drawn_folder, drawn_folder_gone);
}
