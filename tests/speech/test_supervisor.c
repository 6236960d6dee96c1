/* The supervisor against scripts in virtual time.
 *
 * A script is words: the name of an event makes it happen, "40ms" lets time pass (the deadlines in
 * it are kept, as an event loop would), "sound400ms" lets time pass with a beat every 100 ms,
 * "late400ms" is time in which nobody looks at the clock. What must come out is "ORDER@MS" in
 * order.
 */
#include "base/base.h"
#include "speech/internal.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>

enum { EVENTS = SUPERVISOR_TIME + 1, STATES = SUPERVISOR_REFUSED + 1 };

struct bench {
	struct supervisor supervisor;
	struct text out;
	int64_t now_us;
};

static void happen(struct bench *bench, enum supervisor_event event)
{
	static const struct {
		unsigned order;
		const char *name;
	} names[] = {
		{SUPERVISOR_TELL_READY, "READY"},     {SUPERVISOR_TELL_BACK, "BACK"},
		{SUPERVISOR_TELL_LOST, "LOST"},       {SUPERVISOR_TELL_NO_SOUND, "NO-SOUND"},
		{SUPERVISOR_TELL_REFUSED, "REFUSED"}, {SUPERVISOR_KILL, "kill"},
		{SUPERVISOR_REPLAY, "replay"},        {SUPERVISOR_SPAWN, "spawn"},
	};
	unsigned orders = supervisor_step(&bench->supervisor, event, bench->now_us);

	for (size_t i = 0; i < sizeof names / sizeof *names; i++)
		if (orders & names[i].order)
			text_format(&bench->out, "%s%s@%" PRId64, bench->out.length ? " " : "",
				    names[i].name, bench->now_us / MS_US);
}

static void pass(struct bench *bench, int64_t time_us)
{
	int64_t end_us = bench->now_us + time_us;

	while (bench->supervisor.state != SUPERVISOR_OFF &&
	       bench->supervisor.deadline_us <= end_us) {
		bench->now_us = bench->supervisor.deadline_us;
		happen(bench, SUPERVISOR_TIME);
		assert_true(bench->supervisor.deadline_us > bench->now_us);
	}
	bench->now_us = end_us;
}

static void beat(struct bench *bench, int64_t time_us)
{
	for (; time_us > 0; time_us -= 100 * MS_US) {
		pass(bench, 100 * MS_US);
		happen(bench, SUPERVISOR_BEAT);
	}
}

static const char *const event_names[EVENTS] = {
	[SUPERVISOR_OPEN] = "open",           [SUPERVISOR_SPAWN_FAILED] = "spawn-failed",
	[SUPERVISOR_READY] = "ready",         [SUPERVISOR_REFUSAL] = "refusal",
	[SUPERVISOR_NO_DEVICE] = "no-device", [SUPERVISOR_BEAT] = "beat",
	[SUPERVISOR_FAULT] = "fault",         [SUPERVISOR_EXIT] = "exit",
	[SUPERVISOR_REST] = "rest",           [SUPERVISOR_WAKE] = "wake",
	[SUPERVISOR_DEVICES] = "devices",     [SUPERVISOR_TIME] = "time",
};

static void do_word(struct bench *bench, const char *word)
{
	for (int event = 0; event < EVENTS; event++)
		if (strcmp(word, event_names[event]) == 0) {
			happen(bench, event);
			return;
		}
	int64_t time_us = atoi(word + strcspn(word, "0123456789")) * MS_US;
	assert_true(time_us > 0);
	if (strncmp(word, "sound", 5) == 0)
		beat(bench, time_us);
	else if (strncmp(word, "late", 4) == 0)
		bench->now_us += time_us;
	else
		pass(bench, time_us);
}

static const struct {
	const char *name;
	const char *script;
	const char *expected;
} cases[] = {
	{"sound flows", "open 300ms ready sound60000ms", "spawn@0 READY@300 replay@300"},
	{"a stream that stalls is killed within 500 ms",
	 "open 300ms ready sound5000ms 500ms exit 300ms ready sound1000ms",
	 "spawn@0 READY@300 replay@300 LOST@5800 kill@5800 spawn@5800 BACK@6100 "
	 "replay@6100"},
	{"a crash is replaced at once",
	 "open 300ms ready sound2000ms exit 300ms ready sound2000ms exit 300ms ready",
	 "spawn@0 READY@300 replay@300 LOST@2300 spawn@2300 BACK@2600 replay@2600 "
	 "LOST@4600 spawn@4600 BACK@4900 replay@4900"},
	{"crashes in a row wait longer and longer, told once",
	 "open 10ms ready sound2000ms exit exit 250ms exit 500ms exit 1000ms exit "
	 "2000ms exit 4000ms exit 8000ms exit 16000ms exit 16000ms",
	 "spawn@0 READY@10 replay@10 LOST@2010 spawn@2010 spawn@2260 spawn@2760 "
	 "spawn@3760 spawn@5760 spawn@9760 spawn@17760 spawn@33760 spawn@49760"},
	{"ready and dead at once is no good run",
	 "open 10ms ready 10ms exit 10ms ready 10ms exit 250ms 10ms ready 10ms exit "
	 "500ms sound1000ms exit",
	 "spawn@0 READY@10 replay@10 LOST@20 spawn@20 BACK@30 replay@30 LOST@40 "
	 "spawn@290 BACK@300 replay@300 LOST@310 spawn@810"},
	{"one that never reports is killed", "open 6000ms exit 6000ms exit 250ms",
	 "spawn@0 NO-SOUND@6000 kill@6000 spawn@6000 kill@12000 spawn@12250"},
	{"a program that cannot be started", "open spawn-failed spawn-failed 250ms spawn-failed",
	 "spawn@0 NO-SOUND@0 spawn@0 spawn@250"},
	{"no device: said once, tried again, ready in the end",
	 "open 100ms no-device exit 100ms no-device exit 250ms no-device exit 500ms "
	 "100ms ready",
	 "spawn@0 NO-SOUND@100 spawn@100 spawn@450 spawn@950 READY@1050 replay@1050"},
	{"a changed device cuts the wait short",
	 "open no-device exit exit 250ms exit 500ms exit 1000ms exit 2000ms exit 100ms "
	 "devices 100ms 200ms ready",
	 "spawn@0 NO-SOUND@0 spawn@0 spawn@250 spawn@750 spawn@1750 spawn@3750 "
	 "spawn@3950 READY@4150 replay@4150"},
	{"a server without a device: it waits, and sounds when one comes",
	 "open 2000ms no-device 20000ms ready sound1000ms",
	 "spawn@0 NO-SOUND@2000 READY@22000 replay@22000"},
	{"while it waits the server is replaced: so is the speaker",
	 "open 2000ms no-device 5000ms devices exit 300ms ready",
	 "spawn@0 NO-SOUND@2000 kill@7000 spawn@7000 READY@7300 replay@7300"},
	{"the device goes away for good: lost, then no device",
	 "open 10ms ready sound5000ms exit 100ms no-device exit 250ms 100ms no-device "
	 "exit",
	 "spawn@0 READY@10 replay@10 LOST@5010 spawn@5010 NO-SOUND@5110 spawn@5360"},
	{"a refusal is final", "open 50ms refusal exit 60000ms devices wake 60000ms",
	 "spawn@0 REFUSED@50"},
	{"a name that worked before is not refused: the device was unplugged",
	 "open 10ms ready sound2000ms exit 100ms refusal exit 250ms 10ms ready",
	 "spawn@0 READY@10 replay@10 LOST@2010 spawn@2010 NO-SOUND@2110 spawn@2360 "
	 "BACK@2370 replay@2370"},
	{"resting: no deadline, no beat missed", "open 10ms ready sound1000ms rest 3600000ms",
	 "spawn@0 READY@10 replay@10"},
	{"woken from a rest it may open its device first",
	 "open 10ms ready sound1000ms rest 120000ms wake 2800ms sound1000ms 500ms",
	 "spawn@0 READY@10 replay@10 LOST@125310 kill@125310"},
	{"but not for ever", "open 10ms ready sound1000ms rest 60000ms wake 3000ms exit",
	 "spawn@0 READY@10 replay@10 LOST@64010 kill@64010 spawn@64010"},
	{"killed in a rest: replaced once, then left until woken",
	 "open 10ms ready sound2000ms rest 10000ms exit exit 3600000ms wake 1ms 10ms "
	 "ready",
	 "spawn@0 READY@10 replay@10 LOST@12010 spawn@12010 spawn@3612010 BACK@3612021 "
	 "replay@3612021"},
	{"slept through the loss of its device: no device, until it is back",
	 "open 10ms ready sound2000ms rest 60000ms wake no-device exit 100ms no-device exit "
	 "250ms 100ms no-device exit 500ms 10ms ready",
	 "spawn@0 READY@10 replay@10 NO-SOUND@62010 spawn@62010 spawn@62360 spawn@62960 "
	 "BACK@62970 replay@62970"},
	{"woken for a word and resting again: the try that was due is made",
	 "open 10ms ready sound2000ms rest 10000ms exit exit 3600000ms wake rest 1ms 10ms ready",
	 "spawn@0 READY@10 replay@10 LOST@12010 spawn@12010 spawn@3612010 BACK@3612021 "
	 "replay@3612021"},
	{"a fault in its messages", "open 10ms ready sound2000ms fault beat ready exit",
	 "spawn@0 READY@10 replay@10 LOST@2010 kill@2010 spawn@2010"},
	{"presses do not put off the end of a stalled stream",
	 "open 10ms ready sound1000ms 400ms wake 99ms wake 1ms",
	 "spawn@0 READY@10 replay@10 LOST@1510 kill@1510"},
	{"a loop that comes late gives the speaker a moment more",
	 "open 10ms ready sound1000ms late700ms time 100ms sound1000ms",
	 "spawn@0 READY@10 replay@10"},
	{"but not for ever", "open 10ms ready sound1000ms late700ms time late400ms time",
	 "spawn@0 READY@10 replay@10 LOST@2110 kill@2110"},
	{"nor do they start a speaker more often", "open exit exit 249ms wake wake 1ms",
	 "spawn@0 NO-SOUND@0 spawn@0 spawn@250"},
};

static void scripts(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		struct bench bench = {0};
		char words[400];
		snprintf(words, sizeof words, "%s", cases[i].script);
		char *rest = words;
		for (char *word; (word = strtok_r(rest, " ", &rest));)
			do_word(&bench, word);
		if (strcmp(text_string(&bench.out), cases[i].expected) != 0)
			fail_msg("%s\n  script   %s\n  expected %s\n  got      %s", cases[i].name,
				 cases[i].script, cases[i].expected, text_string(&bench.out));
		text_free(&bench.out);
	}
}

/* A device that takes sound for a moment and no more, each time: the speaker is not started again
 * several times a second for ever. */
static void sound_that_never_lasts_is_tried_less_and_less(void **state)
{
	(void)state;
	struct bench bench = {0};
	int lives = 0;

	do_word(&bench, "open");
	while (bench.now_us < 3600 * SECOND_US) {
		while (bench.supervisor.state != SUPERVISOR_STARTING)
			pass(&bench, 10 * MS_US);
		do_word(&bench, "ready");
		do_word(&bench, "sound300ms");
		do_word(&bench, "exit");
		lives++;
	}
	assert_in_range(lives, 200, 240);
	/* One good run, and all is forgotten. */
	while (bench.supervisor.state != SUPERVISOR_STARTING)
		pass(&bench, 10 * MS_US);
	do_word(&bench, "ready");
	do_word(&bench, "sound2000ms");
	do_word(&bench, "exit");
	assert_int_equal(bench.supervisor.state, SUPERVISOR_STARTING);
	text_free(&bench.out);
}

/* A model of the caller: how many speakers it has after those orders. */
static int speakers(int before, unsigned orders, enum supervisor_event event)
{
	int ended = event == SUPERVISOR_EXIT || event == SUPERVISOR_SPAWN_FAILED;
	int kept = ended ? 0 : before;

	return orders & SUPERVISOR_SPAWN ? kept + 1 : kept;
}

static bool possible(enum supervisor_event event, const struct supervisor *supervisor)
{
	bool running = supervisor->state != SUPERVISOR_GONE;

	switch (event) {
	case SUPERVISOR_OPEN:
	case SUPERVISOR_REFUSAL:
		return false;
	case SUPERVISOR_READY:
	case SUPERVISOR_NO_DEVICE:
	case SUPERVISOR_BEAT:
	case SUPERVISOR_FAULT:
	case SUPERVISOR_EXIT:
		return running;
	case SUPERVISOR_SPAWN_FAILED:
		return supervisor->state == SUPERVISOR_STARTING;
	case SUPERVISOR_REST:
	case SUPERVISOR_WAKE:
	case SUPERVISOR_DEVICES:
	case SUPERVISOR_TIME:
		return true;
	}
	return false;
}

static void check_orders(const struct supervisor *before, const struct supervisor *after,
			 unsigned orders, bool lost)
{
	/* LOST and BACK take turns. */
	if (orders & SUPERVISOR_TELL_LOST)
		assert_false(lost);
	if (orders & SUPERVISOR_TELL_BACK)
		assert_int_not_equal(before->told, 0);
	/* A replay goes to a speaker whose sound flows. */
	if (orders & SUPERVISOR_REPLAY)
		assert_int_equal(after->state, SUPERVISOR_LIVE);
	/* It waits for something: a time, an exit, or to be woken. */
	if (after->deadline_us == SPEECH_NEVER)
		assert_true(after->state == SUPERVISOR_DYING || after->resting);
}

static void random_walk(void **state)
{
	unsigned seed = 20240;
	struct supervisor supervisor = {0};
	int64_t now_us = 0;
	bool seen[STATES] = {false};

	(void)state;
	print_message("seed %u\n", seed);
	int running =
		speakers(0, supervisor_step(&supervisor, SUPERVISOR_OPEN, 0), SUPERVISOR_OPEN);
	for (int i = 0; i < 1000000; i++) {
		enum supervisor_event event = (unsigned)rand_r(&seed) % EVENTS;
		if (!possible(event, &supervisor))
			continue;
		now_us += rand_r(&seed) % 700000;
		struct supervisor before = supervisor;
		unsigned orders = supervisor_step(&supervisor, event, now_us);
		check_orders(&before, &supervisor, orders, before.told != 0);
		running = speakers(running, orders, event);
		assert_in_range(running, 0, 1);
		assert_int_equal(running, supervisor.state != SUPERVISOR_GONE);
		seen[supervisor.state] = true;
	}
	assert_true(seen[SUPERVISOR_STARTING] && seen[SUPERVISOR_MUTE] && seen[SUPERVISOR_LIVE] &&
		    seen[SUPERVISOR_DYING] && seen[SUPERVISOR_GONE]);
}

/* The machine works: speakers die when killed, report when started, and their sound flows. */
static void recover(struct bench *bench)
{
	for (int i = 0; i < 20; i++)
		switch (bench->supervisor.state) {
		case SUPERVISOR_GONE:
			pass(bench, SUPERVISOR_RETRY_MAX_US);
			break;
		case SUPERVISOR_DYING:
			happen(bench, SUPERVISOR_EXIT);
			break;
		case SUPERVISOR_LIVE:
			beat(bench, SECOND_US);
			break;
		default:
			happen(bench, SUPERVISOR_READY);
		}
}

/* Whatever has happened, a machine that works again makes a supervisor that works again. */
static void always_recovers(void **state)
{
	unsigned seed = 7;

	(void)state;
	print_message("seed %u\n", seed);
	for (int run = 0; run < 2000; run++) {
		struct bench bench = {0};
		happen(&bench, SUPERVISOR_OPEN);
		for (int i = 0; i < 60; i++) {
			enum supervisor_event event = (unsigned)rand_r(&seed) % EVENTS;
			if (!possible(event, &bench.supervisor))
				continue;
			bench.now_us += rand_r(&seed) % 2000000;
			happen(&bench, event);
		}
		happen(&bench, SUPERVISOR_WAKE);
		recover(&bench);
		assert_int_equal(bench.supervisor.state, SUPERVISOR_LIVE);
		assert_int_not_equal(bench.supervisor.told, SPEECH_LOST);
		text_free(&bench.out);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(scripts),
		cmocka_unit_test(sound_that_never_lasts_is_tried_less_and_less),
		cmocka_unit_test(random_walk),
		cmocka_unit_test(always_recovers),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
