/* The recogniser against tables of timed edges in virtual time.
 *
 * A script is words: "down" and "up" are edges of the first key ("down2" of the second ...),
 * "repeat" is the kernel's key repeat, "found" a key that was down already, "40ms" lets time pass,
 * "forget" and "gone" are those calls. What must come out is "GESTURE@MS" in order. Every script
 * runs twice, once with a tick at each deadline as an event loop would and once with edges only:
 * what comes out must not depend on when the loop gets round to it.
 */
#include "base/base.h"
#include "pedal/internal.h"
#include "words.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>

struct bench {
	struct gestures *gestures;
	struct text out;
	int64_t now_us;
	bool ticking;
};

static void note(void *owner, const struct pedal_event *gesture)
{
	struct bench *bench = owner;

	if (bench->out.length > 0)
		text_add_char(&bench->out, ' ');
	text_add(&bench->out, event_name(gesture->kind));
	if (gesture->key > 0)
		text_format(&bench->out, "%d", gesture->key + 1);
	text_format(&bench->out, "@%" PRId64, gesture->time_us / MS_US);
}

static void pass(struct bench *bench, int64_t time_us)
{
	int64_t end_us = bench->now_us + time_us;

	while (bench->ticking && gestures_deadline_us(bench->gestures) <= end_us) {
		bench->now_us = gestures_deadline_us(bench->gestures);
		gestures_tick(bench->gestures, bench->now_us);
		assert_true(gestures_deadline_us(bench->gestures) > bench->now_us);
	}
	bench->now_us = end_us;
}

/* The number at the end of "down2", less one. */
static unsigned key_of(const char *word)
{
	const char *digits = word + strcspn(word, "0123456789");

	return *digits ? (unsigned)strtol(digits, NULL, 10) - 1 : 0;
}

static void run_word(struct bench *bench, const char *word)
{
	static const struct {
		const char *name;
		enum gesture_edge edge;
	} edges[] = {
		{"down", GESTURE_EDGE_DOWN},
		{"up", GESTURE_EDGE_UP},
		{"repeat", GESTURE_EDGE_REPEAT},
		{"found", GESTURE_EDGE_FOUND_DOWN},
	};
	char *unit;
	long ms = strtol(word, &unit, 10);

	if (unit != word && strcmp(unit, "ms") == 0) {
		pass(bench, ms * MS_US);
		return;
	}
	if (strcmp(word, "forget") == 0) {
		gestures_forget(bench->gestures);
		return;
	}
	if (strcmp(word, "gone") == 0) {
		gestures_release(bench->gestures, bench->now_us);
		return;
	}
	for (size_t i = 0; i < sizeof edges / sizeof *edges; i++) {
		if (strncmp(word, edges[i].name, strlen(edges[i].name)) != 0)
			continue;
		gestures_edge(bench->gestures, key_of(word), edges[i].edge, bench->now_us);
		return;
	}
	fail_msg("no such word in a script: %s", word);
}

/* roles: a letter a key: s(tep) n(ext) a(gain) b(ack) p(ause). */
static char *run_script(const char *roles, const char *script, bool ticking)
{
	static const char letters[] = "snabp";
	struct bench bench = {.ticking = ticking};
	char *copy = strdup(script);
	char *rest = copy;

	bench.gestures = gestures_new(&gesture_default_times, note, &bench);
	for (const char *role = roles; *role; role++)
		gestures_add_key(bench.gestures, (unsigned)(role - roles),
				 (enum gesture_role)(strchr(letters, *role) - letters));
	for (char *word = strtok_r(copy, " ", &rest); word; word = strtok_r(NULL, " ", &rest))
		run_word(&bench, word);
	gestures_tick(bench.gestures, bench.now_us);
	free(bench.gestures);
	free(copy);
	char *out = bench.out.bytes ? text_take(&bench.out) : strdup("");
	return out;
}

struct row {
	const char *name;
	const char *roles;
	const char *script;
	const char *expected;
};

static const struct row rows[] = {
	{"tap", "s", "down 100ms up 2000ms", "next@0"},
	{"a press acts with no waiting", "s", "down", "next@0"},
	{"a real press of F14, 0.232 s (CHECKS.md: a published log)", "s", "down 232ms up 2000ms",
	 "next@0"},
	{"double tap", "s", "down 80ms up 120ms down 80ms up 2000ms", "next@0 undo-again@200"},
	{"double tap in time, from release to press", "s", "down 400ms up 299ms down 80ms up",
	 "next@0 undo-again@699"},
	{"too late for a double tap", "s", "down 80ms up 300ms down 80ms up", "next@0 next@380"},
	{"two taps", "s", "down 80ms up 600ms down 80ms up 2000ms", "next@0 next@680"},
	{"triple tap", "s", "down 80ms up 100ms down 80ms up 100ms down 80ms up 2000ms",
	 "next@0 undo-again@180 next@360"},
	{"double, double", "s",
	 "down 80ms up 100ms down 80ms up 500ms down 80ms up 100ms down 80ms up 3000ms",
	 "next@0 undo-again@180 next@760 undo-back@940"},
	{"double, double, double", "s",
	 "down 50ms up 50ms down 50ms up 400ms down 50ms up 50ms down 50ms up 400ms "
	 "down 50ms up 50ms down 50ms up",
	 "next@0 undo-again@100 next@550 undo-back@650 next@1100 undo-back@1200"},
	{"double, late double", "s",
	 "down 50ms up 50ms down 50ms up 1000ms down 50ms up 50ms down 50ms up",
	 "next@0 undo-again@100 next@1150 undo-again@1250"},
	{"double, tap, late tap: the chain is over", "s",
	 "down 50ms up 50ms down 50ms up 400ms down 50ms up 400ms down 50ms up 50ms down 50ms up",
	 "next@0 undo-again@100 next@550 next@1000 undo-again@1100"},
	{"hold", "s", "down 800ms up 2000ms", "next@0 undo-pause@500"},
	{"hold for exactly the hold time", "s", "down 500ms up 2000ms", "next@0 undo-pause@500"},
	{"one millisecond short of a hold", "s", "down 499ms up 2000ms", "next@0"},
	{"a long hold", "s", "down 3600ms up 2000ms", "next@0 undo-pause@500 held@2000 held@3500"},
	{"a long hold, then a tap", "s", "down 2100ms up 100ms down 80ms up 2000ms",
	 "next@0 undo-pause@500 held@2000 next@2200"},
	{"hold, then a tap that resumes", "s", "down 800ms up 100ms down 80ms up 2000ms",
	 "next@0 undo-pause@500 next@900"},
	{"hold, then a double tap", "s", "down 800ms up 100ms down 80ms up 100ms down 80ms up",
	 "next@0 undo-pause@500 next@900 undo-again@1080"},
	{"tap, then hold", "s", "down 80ms up 100ms down 900ms up 2000ms",
	 "next@0 undo-again@180 pause@680"},
	{"double, then hold: the place after the double", "s",
	 "down 80ms up 100ms down 80ms up 300ms down 900ms up",
	 "next@0 undo-again@180 next@560 undo-pause@1060"},

	{"key repeat means nothing", "s",
	 "down 250ms repeat 33ms repeat 33ms repeat 33ms up 40ms repeat 2000ms", "next@0"},
	{"key repeat does not put off a hold", "s", "down 250ms repeat 200ms repeat 100ms up",
	 "next@0 undo-pause@500"},
	{"bounce at the press", "s", "down 3ms up 2ms down 4ms up 1ms down 190ms up 2000ms",
	 "next@0"},
	{"bounce at the release", "s", "down 200ms up 3ms down 5ms up 2ms down 2ms up 2000ms",
	 "next@0"},
	{"bounce at both and a double tap", "s",
	 "down 4ms up 4ms down 100ms up 4ms down 4ms up 120ms down 4ms up 4ms down 80ms up 2000ms",
	 "next@0 undo-again@236"},
	{"bounce whose edges straddle the debounce time", "s",
	 "down 24ms up 2ms down 174ms up 2000ms", "next@0"},
	{"a gap in a long press", "s", "down 400ms up 20ms down 300ms up 2000ms",
	 "next@0 undo-pause@500"},
	{"a gap over the moment of the hold", "s", "down 490ms up 20ms down 300ms up 2000ms",
	 "next@0 undo-pause@535"},
	{"let go just before the hold, with bounce", "s", "down 495ms up 10ms down 2ms up 2000ms",
	 "next@0"},
	{"firmware that sends a press of 8 ms", "s", "down 8ms up 2000ms down 8ms up 2000ms",
	 "next@0 next@2008"},
	{"two such presses are a double tap", "s", "down 8ms up 200ms down 8ms up 2000ms",
	 "next@0 undo-again@208"},
	{"a second press at the end of the debounce time", "s", "down 100ms up 25ms down 100ms up",
	 "next@0 undo-again@125"},

	{"found down: its release is no gesture", "s", "found 300ms up 400ms down 50ms up",
	 "next@700"},
	{"found down and held: no pause", "s", "found 3000ms up 1000ms", ""},
	{"found down and stuck", "n", "found 12000ms up 1000ms", "stuck@10000 freed@12025"},
	{"a press without a release between", "s", "down 100ms down 100ms up 600ms", "next@0"},
	{"a release without a press", "s", "up 100ms up 100ms down 50ms up", "next@200"},

	{"stuck", "n", "down 15000ms up 1000ms down 50ms up",
	 "next@0 stuck@10000 freed@15025 next@16000"},
	{"stuck after a hold", "s", "down 30000ms up 1000ms",
	 "next@0 undo-pause@500 held@2000 held@3500 held@5000 held@6500 held@8000 held@9500 "
	 "stuck@10000 freed@30025"},
	{"stuck is said once", "n", "down 10000ms up 10ms down 30000ms up 1000ms",
	 "next@0 stuck@10000 freed@40035"},

	{"three pedals: held, `again` opens the choices", "nab",
	 "down 80ms up 100ms down 80ms up 50ms down2 700ms up2 50ms down3 40ms up3 40ms down3 "
	 "40ms up3 1000ms",
	 "next@0 next@180 again2@310 choices2@810 back3@1060 back3@1140"},
	{"a pedal that pauses", "np", "down2 900ms up2 100ms down2 100ms up2",
	 "pause2@0 pause2@1000"},
	{"firmware that releases the first pedal as the second goes down", "nab",
	 "down 200ms up down2 150ms up2 down3 150ms up3 1000ms", "next@0 again2@200 back3@350"},
	{"the same with one that has gestures", "sb",
	 "down 200ms up down2 150ms up2 50ms down 50ms up", "next@0 back2@200 next@400"},
	{"chords", "nab", "down 50ms down2 50ms down3 50ms up 50ms up2 50ms up3",
	 "next@0 again2@50 back3@100"},
	{"another pedal under a hold: nothing is taken back", "sa",
	 "down 100ms down2 100ms up2 900ms up 2000ms", "next@0 again2@100"},
	{"another pedal between two doubles ends the chain", "sa",
	 "down 50ms up 50ms down 50ms up 100ms down2 50ms up2 100ms down 50ms up 50ms down 50ms up",
	 "next@0 undo-again@100 again2@250 next@400 undo-again@500"},

	{"a command between two taps", "s", "down 50ms up 50ms forget 50ms down 50ms up 1000ms",
	 "next@0 next@150"},
	{"a command under a hold", "s", "down 200ms forget 900ms up 100ms down 50ms up",
	 "next@0 next@1200"},
	{"unplugged while held", "s", "down 200ms gone 2000ms", "next@0"},
	{"unplugged between two taps", "s", "down 50ms up 50ms gone 50ms down 50ms up",
	 "next@0 next@150"},
	{"unplugged while stuck", "n", "down 12000ms gone 3000ms",
	 "next@0 stuck@10000 freed@12000"},

	{"time goes backwards in a press", "s", "1000ms down -400ms up 600ms down 50ms up 1000ms",
	 "next@1000 undo-again@1200"},
	{"time goes backwards before a press", "s", "1000ms up -500ms down 600ms up 1000ms",
	 "next@1000"},
};

static void scripts_give_what_the_table_says(void **state)
{
	(void)state;
	int wrong = 0;

	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		for (int ticking = 0; ticking < 2; ticking++) {
			char *out = run_script(rows[i].roles, rows[i].script, ticking);

			if (strcmp(out, rows[i].expected) != 0) {
				print_error(
					"%s (%s):\n  script   %s\n  expected %s\n  got      %s\n",
					rows[i].name, ticking ? "ticking" : "edges only",
					rows[i].script, rows[i].expected, out);
				wrong++;
			}
			free(out);
		}
	}
	assert_int_equal(wrong, 0);
}

/* "down 30ms up 30ms " and so on, so often; then what comes after. */
static char *often(int times, const char *part, const char *after)
{
	struct text script = {0};

	for (int i = 0; i < times; i++)
		text_add(&script, part);
	text_add(&script, after);
	return text_take(&script);
}

/* More than 10 presses or 40 edges within a second are no foot. It is said once, nothing comes of
 * what follows, and it is over when there was no edge for a second. */
static void chatter_is_noticed_and_comes_to_an_end(void **state)
{
	static const struct {
		const char *roles;
		int times;
		const char *part, *after;
		int presses; /* NEXT each */
		int every_ms;
		const char *end;
	} cases[] = {
		{"n", 10, "down 30ms up 30ms ", "3000ms", 10, 60, ""},
		{"n", 11, "down 30ms up 30ms ", "3000ms", 10, 60, " chatter@600 freed@1630"},
		{"n", 20, "down 30ms up 30ms ", "3000ms", 10, 60, " chatter@600 freed@2170"},
		{"n", 11, "down 30ms up 30ms ", "1500ms down", 10, 60,
		 " chatter@600 freed@1630 next@2160"},
		/* ten in a second for ever; eleven in one after a quiet one */
		{"n", 50, "down 50ms up 50ms ", "3000ms", 50, 100, ""},
		{"n", 12, "down 45ms up 45ms ", "3000ms", 10, 90, " chatter@900 freed@2035"},
		/* edges: 20 pairs, one more edge, and that one left closed */
		{"n", 20, "down 2ms up 2ms ", "3000ms", 1, 0, ""},
		{"n", 20, "down 2ms up 2ms ", "down 2ms up 3000ms", 1, 0, " chatter@80 freed@1082"},
		{"n", 20, "down 2ms up 2ms ", "down 3000ms up 1000ms down", 1, 0,
		 " chatter@80 freed@1080 next@4080"},
		{"n", 20, "down 2ms up 2ms ", "down 20000ms", 1, 0,
		 " chatter@80 freed@1080 stuck@11080"},
		{"n", 20, "down 2ms up 2ms ", "down 900ms up 900ms down 900ms up 3000ms", 1, 0,
		 " chatter@80 freed@3780"},
		{"n", 20, "down 2ms up 2ms ", "1000ms down 100ms up", 1, 0, " next@1080"},
		/* none of it is a gesture */
		{"s", 20, "down 2ms up 2ms ", "down 900ms up 3000ms", 1, 0,
		 " chatter@80 freed@1980"},
		{"n", 11, "down 30ms up 30ms ", "gone", 10, 60, " chatter@600 freed@660"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		struct text expected = {0};
		for (int press = 0; press < cases[i].presses; press++)
			text_format(&expected, "%snext@%d", press ? " " : "",
				    press * cases[i].every_ms);
		text_add(&expected, cases[i].end);
		char *script = often(cases[i].times, cases[i].part, cases[i].after);
		for (int ticking = 0; ticking < 2; ticking++) {
			char *out = run_script(cases[i].roles, script, ticking);
			assert_string_equal(out, text_string(&expected));
			free(out);
		}
		free(script);
		text_free(&expected);
	}
}

/* A step may be taken back until its double tap is no longer possible. */
static void it_is_known_whether_a_step_may_still_be_taken_back(void **state)
{
	static const struct {
		const char *script;
		bool settled;
	} cases[] = {
		{"1ms", true},
		{"down 100ms", false},
		{"down 499ms", false},
		{"down 500ms", true}, /* it paused */
		{"down 100ms up 299ms", false},
		{"down 100ms up 300ms", true},
		{"down 100ms up 100ms down", true}, /* it is taken back */
		{"down 100ms up 100ms down 50ms up 100ms", true},
		{"down 100ms forget", true},
		{"down2 10ms", true}, /* no gesture of it takes anything back */
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		struct bench bench = {0};
		char *copy = memory_copy(cases[i].script), *rest = NULL;
		bench.gestures = gestures_new(&gesture_default_times, note, &bench);
		assert_true(gestures_deadline_us(bench.gestures) == INT64_MAX);
		gestures_add_key(bench.gestures, 0, GESTURE_ROLE_STEP);
		gestures_add_key(bench.gestures, 1, GESTURE_ROLE_NEXT);
		for (char *word = strtok_r(copy, " ", &rest); word;
		     word = strtok_r(NULL, " ", &rest))
			run_word(&bench, word);
		gestures_tick(bench.gestures, bench.now_us);
		if (gestures_settled(bench.gestures) != cases[i].settled)
			fail_msg("%s: settled is not %d", cases[i].script, cases[i].settled);
		free(bench.gestures);
		free(copy);
		text_free(&bench.out);
	}
}

/* A key that is added again keeps its role; one that was not added, or for which there is no room,
 * does nothing. */
static void only_keys_that_were_added_count(void **state)
{
	struct bench bench = {0};

	(void)state;
	bench.gestures = gestures_new(&gesture_default_times, note, &bench);
	for (unsigned code = 0; code <= GESTURE_KEYS_MAX; code++)
		gestures_add_key(bench.gestures, code, GESTURE_ROLE_NEXT);
	gestures_add_key(bench.gestures, 0, GESTURE_ROLE_PAUSE);
	for (unsigned code = GESTURE_KEYS_MAX + 1; code + 2 > GESTURE_KEYS_MAX; code--)
		gestures_edge(bench.gestures, code, GESTURE_EDGE_DOWN, 0);
	gestures_edge(bench.gestures, 0, GESTURE_EDGE_DOWN, 0);
	char *expected = memory_format("next%d@0 next@0", GESTURE_KEYS_MAX);
	assert_string_equal(text_string(&bench.out), expected);
	free(expected);
	free(bench.gestures);
	text_free(&bench.out);
}

/* Every time is longer than 0 and at most a minute, and none makes another one impossible. */
static void times_that_cannot_be_are_refused(void **state)
{
	static const size_t fields[] = {
		offsetof(struct gesture_times, debounce_us),
		offsetof(struct gesture_times, double_tap_us),
		offsetof(struct gesture_times, hold_us),
		offsetof(struct gesture_times, chain_us),
		offsetof(struct gesture_times, stuck_us),
	};
	static const int64_t beyond_us[] = {-1, 0, 60 * SECOND_US + 1};
	static const struct {
		struct gesture_times times;
		bool good;
	} cases[] = {
		/* debounce, double tap, hold, chain, stuck */
		{{1, 2, 2, 1, 3}, true},
		{{2, 2, 3, 9, 9}, false},
		{{2, 3, 2, 9, 9}, false},
		{{1, 2, 3, 9, 3}, false},
		{{1, 60 * SECOND_US, 2, 60 * SECOND_US, 60 * SECOND_US}, true},
	};

	(void)state;
	assert_null(gesture_times_fault(&gesture_default_times));
	for (size_t i = 0; i < sizeof fields / sizeof *fields; i++) {
		for (size_t j = 0; j < sizeof beyond_us / sizeof *beyond_us; j++) {
			struct gesture_times times = gesture_default_times;
			memcpy((char *)&times + fields[i], &beyond_us[j], sizeof beyond_us[j]);
			const char *fault = gesture_times_fault(&times);
			assert_non_null(fault);
			assert_non_null(strstr(fault, "60 s"));
		}
	}
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
		assert_int_equal(!gesture_times_fault(&cases[i].times), cases[i].good);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(scripts_give_what_the_table_says),
		cmocka_unit_test(chatter_is_noticed_and_comes_to_an_end),
		cmocka_unit_test(it_is_known_whether_a_step_may_still_be_taken_back),
		cmocka_unit_test(only_keys_that_were_added_count),
		cmocka_unit_test(times_that_cannot_be_are_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
