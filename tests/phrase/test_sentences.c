/* What is said, sentence by sentence: English as it is written in the golden text, places and
 * notices, options; and a language with another grammar. */
#include "base/base.h"
#include "phrase/bundled.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct bundled bundled;

static int read_all(void **state)
{
	(void)state;
	bundled_read(&bundled);
	return 0;
}

static int free_all(void **state)
{
	(void)state;
	bundled_free(&bundled);
	return 0;
}

static const struct pattern *find_pattern(const char *name)
{
	for (int i = 0; i < bundled.count; i++)
		if (strcmp(bundled.patterns[i]->name, name) == 0)
			return bundled.patterns[i];
	fail_msg("no pattern %s", name);
	return NULL;
}

struct compiled {
	struct job *job;
	struct sequence *sequence;
};

static struct compiled compile(int job, const char *pattern, enum detail detail)
{
	struct compiled compiled = {.job = bundled_job(job)};
	struct faults faults = {0};

	compiled.job->detail = detail;
	compiled.sequence = sequence_compile(compiled.job, find_pattern(pattern), &faults);
	assert_non_null(compiled.sequence);
	faults_free(&faults);
	return compiled;
}

static void free_compiled(struct compiled *compiled)
{
	sequence_free(compiled->sequence);
	job_free(compiled->job);
}

/* The first call of a kind with that number (0: any). */
static int find_call(const struct sequence *sequence, enum call_kind kind, int number)
{
	for (int i = 0; i < sequence->call_count; i++) {
		const struct call *call = &sequence->calls[i];
		if (call->kind == kind &&
		    (!number || sequence->moves[call->subject].number == number))
			return i;
	}
	fail_msg("no %s %d", call_kind_name(kind), number);
	return 0;
}

/* What makes one sentence differ from another of its kind. */
static char *sort_of(const struct sequence *sequence, const struct call *call)
{
	static const char *const phase_suffix[PHASES] = {"", " in mains", " in crosses", ""};
	const struct move *move = &sequence->moves[call->subject];

	return memory_format("%-14s %s%s%s%s%s%s", call_kind_name(call->kind),
			     move->has_string ? string_names[move->string] : "",
			     move->subject ? subject_names[move->subject] : "",
			     move->suggested ? " suggested" : "",
			     move->pulls_last > move->pulls_first ? " several" : "",
			     move->prestretch > 0 ? " prestretched" : "",
			     move->action == DO_SET_TENSION ? phase_suffix[move->phase] : "");
}

/* One call of every sort that a job has. */
static void add_sorts(int job, const char *pattern, enum detail detail, enum teaching teaching,
		      struct text *out)
{
	static const struct phrase_options asks = {.wording = WORDING_ASK};
	struct compiled compiled = compile(job, pattern, detail);
	const struct sequence *sequence = compiled.sequence;
	struct text seen = {0};

	compiled.job->teaching = teaching;
	text_format(out, "\n# job %d, %s, %s\n", job, pattern,
		    teaching ? "teaching" : detail_names[detail]);
	text_add(&seen, "\n");
	for (int i = 0; i < sequence->call_count; i++) {
		char *sort = sort_of(sequence, &sequence->calls[i]);
		char *line = memory_format("\n%s\n", sort);
		if (!strstr(text_string(&seen), line)) {
			char *words = phrase_call(bundled.book, sequence, i, NULL);
			text_add(&seen, line + 1);
			char *question = phrase_call(bundled.book, sequence, i, &asks);
			text_format(out, "%s: %s\n", sort, words);
			if (teaching && question)
				text_format(out, "%-14s %s\n", "", question);
			free(question);
			free(words);
		}
		free(line);
		free(sort);
	}
	text_free(&seen);
	free_compiled(&compiled);
}

/* tests/phrase/en.txt is read and approved by a person; this only sees whether anything changed. */
static void english_is_as_approved(void **state)
{
	(void)state;
	static const struct {
		int job;
		const char *pattern;
	} cases[] = {{0, "open-16x19"},
		     {1, "badminton-22x21"},
		     {3, "bare-16x17"},
		     {5, "open-16x19"},
		     {6, "shared-16x19"}};
	char *approved = bundled_file(SOURCE_DIR "/tests/phrase/en.txt");
	struct text got = {0};

	text_add(&got, "# One call of every sort. Approved by reading; made by test_sentences.\n");
	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		for (enum detail detail = 0; detail < DETAILS; detail++)
			add_sorts(cases[i].job, cases[i].pattern, detail, TEACHING_NONE, &got);
		add_sorts(cases[i].job, cases[i].pattern, DETAIL_BENCH, TEACHING_ALONE, &got);
	}
	if (strcmp(got.bytes, approved) != 0) {
		FILE *out = fopen(BINARY_DIR "/en.txt", "w");
		assert_non_null(out);
		fputs(got.bytes, out);
		fclose(out);
		fail_msg("what is said has changed: compare tests/phrase/en.txt with %s",
			 BINARY_DIR "/en.txt");
	}
	text_free(&got);
	free(approved);
}

static void expect_call(const struct phrasebook *book, const struct sequence *sequence, int call,
			const struct phrase_options *options, const char *expected)
{
	char *words = phrase_call(book, sequence, call, options);

	assert_string_equal(words, expected);
	free(words);
}

struct moment {
	int call;
	double seconds_left, seconds_worked;
};

static void expect_notice(const struct sequence *sequence, enum notice notice, struct moment moment,
			  const char *expected)
{
	char *place = phrase_place(bundled.book, sequence, moment.call, NULL);
	struct notice_facts facts = bundled_facts(sequence, moment.call, place);

	facts.seconds_left = moment.seconds_left;
	facts.seconds_worked = moment.seconds_worked;
	char *words = phrase_notice(bundled.book, notice, &facts, NULL);
	assert_string_equal(words, expected);
	free(words);
	free(place);
}

static void options_change_the_words(void **state)
{
	(void)state;
	static const struct phrase_options sides = {.side_words = {"tape side", "plain side"}};
	static const struct phrase_options bad_sides = {.side_words = {"", "*"}};
	static const struct phrase_options again = {.wording = WORDING_AGAIN};
	static const struct phrase_options kilos = {.unit_chosen = true, .unit = UNIT_KG};
	static const struct phrase_options newtons = {.unit_chosen = true, .unit = UNIT_N};
	struct compiled compiled = compile(0, "open-16x19", DETAIL_BENCH);
	const struct sequence *sequence = compiled.sequence;
	int main7 = find_call(sequence, CALL_MAIN, 7);
	int cross9 = find_call(sequence, CALL_CROSS_BEHIND, 9);
	int set = find_call(sequence, CALL_SET_TENSION, 0);

	expect_call(bundled.book, sequence, main7, NULL,
		    "Main seven left, skip one to hole eight.");
	expect_call(bundled.book, sequence, main7, &sides,
		    "Main seven tape side, skip one to hole eight.");
	expect_call(bundled.book, sequence, main7, &bad_sides,
		    "Main seven left, skip one to hole eight.");
	expect_call(bundled.book, sequence, main7 + 1, &sides,
		    "Main seven plain side, skip one to hole eight.");
	expect_call(bundled.book, sequence, cross9, &sides,
		    "Cross nine over from the tape side, seventeen head, pull eight.");
	/* NIST SP 811, appendix B: 54 lbf = 24.4939... kgf = 240.204... N */
	expect_call(bundled.book, sequence, find_call(sequence, CALL_CENTRE_MAIN, 1), &kilos,
		    "Centre main left at the head, pull twenty four point five.");
	expect_call(bundled.book, sequence, main7, &again,
		    "Main seven left, skip one to hole eight, pull fifty four, five four.");
	expect_call(
		bundled.book, sequence, set, &kilos,
		"Set twenty four point five kilos for the mains, fingers out of the tension head.");
	expect_call(
		bundled.book, sequence, set, &newtons,
		"Set two hundred forty newtons for the mains, fingers out of the tension head.");
	/* No machine can be set to hundredths, whatever a plan says. */
	compiled.sequence->moves[sequence->calls[set].subject].tension =
		(struct quantity){24.35, UNIT_KG};
	expect_call(bundled.book, sequence, set, &kilos,
		    "Set twenty four point four kilos for the mains, fingers out of the "
		    "tension head.");
	compiled.job->detail = DETAIL_QUICK;
	expect_call(bundled.book, sequence, find_call(sequence, CALL_MAIN, 4), NULL,
		    "Main four left.");
	char *quick = phrase_call(bundled.book, sequence, main7, &again);
	compiled.job->detail = DETAIL_BENCH;
	expect_call(bundled.book, sequence, main7, &again, quick);
	free(quick);
	free_compiled(&compiled);
}

/* The crosses of a quick job whose hole is said: those behind a gap, at a corner of the count, or
 * where a main is already. */
static void expect_odd_crosses(const char *pattern, const char *expected)
{
	struct compiled compiled = compile(0, pattern, DETAIL_QUICK);
	const struct sequence *sequence = compiled.sequence;
	struct text odd = {0};

	for (int i = 0; i < sequence->call_count; i++) {
		const struct move *move = &sequence->moves[sequence->calls[i].subject];
		char *words = phrase_call(bundled.book, sequence, i, NULL);
		if (move->action == DO_WEAVE && strstr(words, " at ")) {
			char hole[HOLE_TEXT_MAX];
			text_format(&odd, " %d:%s", move->number, hole_text(move->from, hole));
		}
		free(words);
	}
	assert_string_equal(text_string(&odd), expected);
	text_free(&odd);
	free_compiled(&compiled);
}

static void both_holes_are_said_where_they_differ(void **state)
{
	(void)state;
	struct compiled compiled = compile(0, "open-16x19", DETAIL_BENCH);
	const struct sequence *sequence = compiled.sequence;
	int call = find_call(sequence, CALL_MAIN, 4);

	for (int i = sequence->calls[call].first; i <= sequence->calls[call].last; i++)
		if (sequence->moves[i].action == DO_FEED)
			sequence->moves[i].to.number = 9;
	expect_call(bundled.book, sequence, call, NULL,
		    "Main four left, four head to nine throat.");
	compiled.job->detail = DETAIL_QUICK;
	expect_call(bundled.book, sequence, call, NULL,
		    "Main four left, four head to nine throat.");
	free_compiled(&compiled);
}

static void quick_says_the_odd_holes(void **state)
{
	(void)state;
	/* As the hole map of the worked example: 7H, 9H, 11H-18H, 17T-11T, 9T, 7T. */
	expect_odd_crosses("open-16x19", " 1:7H 2:9H 3:11H 18:9T 19:7T");
	/* The shared holes: the first cross, and the last one, which is beside the one before it.
	 */
	expect_odd_crosses("shared-16x19", " 1:8H 19:8T");
}

/* A knot may be tied on a cross: it is named by its number in weaving order, which in a frame that
 * is woven from the throat is not the one in which crosses are counted from the head. */
static void a_knot_names_its_anchor(void **state)
{
	(void)state;
	struct pattern pattern = *find_pattern("badminton-22x21"); /* crosses from the throat */
	struct job *job = bundled_job(1);
	struct faults faults = {0};
	int from_head = 1;

	while (pattern_main_at(&pattern, pattern.cross_hole[from_head]))
		from_head++;
	assert_int_equal(from_head, 4); /* so it is woven as number 21 + 1 - 4 */
	for (enum side side = SIDE_LEFT; side <= SIDE_RIGHT; side++)
		pattern.tie_off[TIE_OFF_CROSS_END][side] = pattern.cross_hole[from_head];
	job->detail = DETAIL_LEARNER;
	struct sequence *sequence = sequence_compile(job, &pattern, &faults);
	assert_non_null(sequence);
	int knot = find_call(sequence, CALL_KNOT, 21);
	expect_call(bundled.book, sequence, knot, NULL,
		    "Tie two half hitches round cross eighteen. Draw each one up by hand. The "
		    "clamp stays on.");
	sequence_free(sequence);
	faults_free(&faults);
	job_free(job);
}

static void names_become_words(void **state)
{
	(void)state;
	static const struct {
		const char *name;
		const char *words;
	} cases[] = {
		{"2026/11/01 no. 7 (16x19)", "Job two zero two six eleven zero one no seven "
					     "sixteen by nineteen. "},
		{"gut 1.30", "Job gut one point three zero. "},
		{"7.1234", "Job seven one two three four. "},
		{"O'Dea's--blue_frame", "Job O'Dea's blue frame. "},
		{"\xc3\x85ke \xe2\x82\xac 5 \xe2\x80\x93 \xd0\x96",
		 "Job \xc3\x85ke five \xd0\x96. "},
		{"bad \xff\xc3 bytes", "Job bad bytes. "},
		{"%&", ""},
	};
	struct compiled compiled = compile(0, "open-16x19", DETAIL_BENCH);

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		free(compiled.job->name);
		compiled.job->name = memory_copy(cases[i].name);
		char *expected = memory_format(
			"%sSixteen mains and nineteen crosses. Press to begin.", cases[i].words);
		expect_notice(compiled.sequence, NOTICE_GREETING, (struct moment){0}, expected);
		free(expected);
	}
	free_compiled(&compiled);
}

/* A side may be called anything; what comes of it still fits the speaker, in whole words. */
static void long_texts_are_cut_between_words(void **state)
{
	(void)state;
	enum { TIMES = 300 };
	struct compiled compiled = compile(0, "open-16x19", DETAIL_BENCH);
	struct text side = {0};
	for (int i = 0; i < TIMES; i++)
		text_add(&side, "tape ");
	const struct phrase_options options = {.side_words = {side.bytes, side.bytes}};
	char *words = phrase_call(bundled.book, compiled.sequence,
				  find_call(compiled.sequence, CALL_MAIN, 2), &options);
	size_t length = strlen(words);
	assert_in_range(length, PHRASE_BYTES_MAX - 5, PHRASE_BYTES_MAX);
	assert_string_equal(words + length - 5, " tape");
	free(words);
	text_free(&side);
	free_compiled(&compiled);
}

/* A tension that is changed while stringing is said with the strings that it is for. */
static void changed_tensions_name_the_strings(void **state)
{
	(void)state;
	static const char *const expected[] = {
		"Set fifty pounds for the mains, fingers out of the tension head.",
		"Set forty eight pounds for mains five to six, both sides.",
		"Back to fifty pounds for mains seven to eight, both sides.",
		"Crosses forty nine pounds, prestretch off.",
		"Back to fifty pounds for crosses three to eight.",
		"Set fifty point eight pounds for cross nine.",
		"Back to fifty pounds for crosses ten to nineteen.",
	};
	struct compiled compiled = compile(3, "open-16x19", DETAIL_BENCH);
	const struct sequence *sequence = compiled.sequence;
	size_t found = 0;

	for (int i = 0; i < sequence->call_count; i++) {
		if (sequence->calls[i].kind != CALL_SET_TENSION)
			continue;
		assert_in_range(found, 0, sizeof(expected) / sizeof(expected[0]) - 1);
		expect_call(bundled.book, sequence, i, NULL, expected[found++]);
	}
	assert_int_equal(found, sizeof(expected) / sizeof(expected[0]));
	free_compiled(&compiled);
}

static void notices_say_the_place(void **state)
{
	(void)state;
	struct compiled compiled = compile(0, "open-16x19", DETAIL_BENCH);
	const struct sequence *sequence = compiled.sequence;
	int main4 = find_call(sequence, CALL_MAIN, 4);
	int cross19 = find_call(sequence, CALL_PULL_CROSS, 19);
	int crosses = find_call(sequence, CALL_START_KNOT, 0);

	expect_notice(sequence, NOTICE_GREETING, (struct moment){0},
		      "Job ridge court zero zero four two. Sixteen mains and nineteen crosses. "
		      "Press to begin.");
	expect_notice(sequence, NOTICE_PLACE, (struct moment){.call = main4},
		      "Main four left. Ten mains and nineteen crosses to go.");
	expect_notice(
		sequence, NOTICE_PLACE, (struct moment){.call = main4 + 1, .seconds_left = 661},
		"Main four right. Nine mains and nineteen crosses to go. About twelve minutes.");
	expect_notice(sequence, NOTICE_PLACE, (struct moment){.call = cross19, .seconds_left = 20},
		      "Cross nineteen. One cross to go. About one minute.");
	expect_notice(sequence, NOTICE_PLACE, (struct moment){.call = crosses - 1},
		      "Crosses fifty two point five pounds, prestretch off. Nineteen crosses to "
		      "go.");
	expect_notice(sequence, NOTICE_PLACE, (struct moment){.call = cross19 + 3},
		      "Finishing, step one of four. All strings pulled.");
	expect_notice(
		sequence, NOTICE_REOPENED, (struct moment){.call = 2},
		"Job ridge court zero zero four two. Getting ready, step three of ten. You stopped here. Press to go on.");
	expect_notice(sequence, NOTICE_DONE, (struct moment){.seconds_worked = 1889},
		      "That was the last call. Thirty one minutes of work.");
	expect_notice(sequence, NOTICE_DONE, (struct moment){.seconds_worked = 29},
		      "That was the last call.");
	expect_notice(sequence, NOTICE_DONE, (struct moment){.seconds_worked = 31},
		      "That was the last call. One minute of work.");
	expect_notice(sequence, NOTICE_DONE, (struct moment){0}, "That was the last call.");
	expect_notice(
		sequence, NOTICE_JOURNAL_FAILED, (struct moment){0},
		"The journal cannot be written. Neither your place nor the times of this job are "
		"being saved. The calls go on.");
	free_compiled(&compiled);
}

static void the_rack_is_said(void **state)
{
	(void)state;
	struct compiled compiled = compile(0, "open-16x19", DETAIL_BENCH);
	const struct sequence *sequence = compiled.sequence;
	struct notice_facts facts = bundled_facts(sequence, 0, NULL);

	expect_notice(sequence, NOTICE_RACK_WAITS, (struct moment){0},
		      "Three jobs on the rack. Press to hear the next.");
	expect_notice(
		sequence, NOTICE_RACK_NEXT, (struct moment){0},
		"Next, job ridge court zero zero four two. Open sixteen by nineteen. "
		"Mains co polyester one point two five at fifty four pounds. Crosses at fifty "
		"two point five pounds. Press to take it. Hold to pass it.");
	facts.notes = "(Mind) the chip, left side; is 4H worn? Ask! e.g. 1.30 -- \"now\"...";
	facts.last_tension = "56 lb";
	facts.last_days = 31;
	facts.last_month = 6;
	char *recent = phrase_notice(bundled.book, NOTICE_GREETING, &facts, NULL);
	assert_string_equal(recent,
			    "Job ridge court zero zero four two. Sixteen mains and nineteen "
			    "crosses. Last strung in June at fifty six pounds. Mind the chip, "
			    "left side, is four H worn? Ask. E g. One point three zero now. "
			    "Press to begin.");
	facts.notes = NULL;
	facts.last_days = 331;
	char *old = phrase_notice(bundled.book, NOTICE_GREETING, &facts, NULL);
	assert_string_equal(old, "Job ridge court zero zero four two. Sixteen mains and nineteen "
				 "crosses. Last time it had fifty six pounds. Press to begin.");
	free(recent);
	free(old);
	free_compiled(&compiled);
}

static void a_racket_strung_of_late_is_said_by_the_day(void **state)
{
	(void)state;
	static const struct {
		int days;
		const char *said;
	} cases[] = {
		{0, "Last strung today at fifty six pounds."},
		{1, "Last strung yesterday at fifty six pounds."},
		{2, "Last strung two days ago at fifty six pounds."},
		{30, "Last strung thirty days ago at fifty six pounds."},
		{31, "Last strung in October at fifty six pounds."},
		{330, "Last strung in October at fifty six pounds."},
		{331, "Last time it had fifty six pounds."},
		{-1, "Last time it had fifty six pounds."},
	};
	struct notice_facts facts = {.last_tension = "56 lb", .last_month = 10};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
		facts.last_days = cases[i].days;
		char *said = phrase_notice(bundled.book, NOTICE_GREETING, &facts, NULL);
		assert_non_null(strstr(said, cases[i].said));
		free(said);
	}
}

static void another_language_needs_no_code(void **state)
{
	(void)state;
	struct faults faults = {0};
	struct phrasebook *book =
		phrasebook_read(yaml_read(SOURCE_DIR "/tests/phrase/invented.yaml", &faults));
	faults_print(&faults, stderr);
	assert_non_null(book);
	assert_null(phrasebook_voice(book));
	static const struct phrase_options again = {.wording = WORDING_AGAIN};
	struct compiled compiled = compile(0, "open-16x19", DETAIL_BENCH);
	const struct sequence *sequence = compiled.sequence;

	/* 54 is 14 above two scores, 14 is four above ten */
	expect_call(book, sequence, find_call(sequence, CALL_MAIN, 7), NULL,
		    "Vasen lun ti, auk tu, ku-dek sa ko skor ved.");
	/* 52.5: five tenths below 52 */
	expect_call(book, sequence, find_call(sequence, CALL_PULL_CROSS, 19), NULL,
		    "Tar na-dek, ta sub ko-dek sa ko skor, ved.");
	expect_call(book, sequence, find_call(sequence, CALL_PULL_CROSS, 19), &again,
		    "Tar na-dek, ka na, ta sub ko-dek sa ko skor, ta ko, ved.");
	expect_call(book, sequence, find_call(sequence, CALL_CROSS_BEHIND, 11), NULL,
		    "Tar ka-dek, kael-ti-dek, dek ved.");
	int cross19 = find_call(sequence, CALL_CROSS_BEHIND, 19);
	char *place = phrase_place(book, sequence, cross19, NULL);
	struct notice_facts facts = bundled_facts(sequence, cross19, place);
	facts.seconds_left = 120;
	char *words = phrase_notice(book, NOTICE_PLACE, &facts, NULL);
	free(place);
	assert_string_equal(words, "Vasen tar na-dek. Taru ko jää. Minu ko.");
	free(words);
	free_compiled(&compiled);
	/* 241 is one above twelve scores */
	compiled = compile(2, "open-16x19", DETAIL_LEARNER);
	expect_call(book, compiled.sequence, find_call(compiled.sequence, CALL_SET_TENSION, 0),
		    NULL, "Lunai, nutonai ka sa ko-dek skor, sentai ta sub ko, pane.");
	free_compiled(&compiled);
	phrasebook_free(book);
	faults_free(&faults);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(english_is_as_approved),
		cmocka_unit_test(options_change_the_words),
		cmocka_unit_test(names_become_words),
		cmocka_unit_test(long_texts_are_cut_between_words),
		cmocka_unit_test(both_holes_are_said_where_they_differ),
		cmocka_unit_test(quick_says_the_odd_holes),
		cmocka_unit_test(a_knot_names_its_anchor),
		cmocka_unit_test(changed_tensions_name_the_strings),
		cmocka_unit_test(notices_say_the_place),
		cmocka_unit_test(the_rack_is_said),
		cmocka_unit_test(a_racket_strung_of_late_is_said_by_the_day),
		cmocka_unit_test(another_language_needs_no_code),
	};

	return cmocka_run_group_tests(tests, read_all, free_all);
}
