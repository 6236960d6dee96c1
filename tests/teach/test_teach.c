/* Each rule of teaching by itself: scripts of events in, level and manner out. */
#include "sequence/sequence.h"
#include "teach/teach.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const int64_t day_us = 24 * 3600 * SECOND_US;
static const int64_t start_us = 1700000000 * SECOND_US;

struct player {
	struct trainee trainee;
	struct teach_event event; /* the next one */
};

static struct player player_new(void)
{
	struct player player = {.event = {.wall_us = start_us, .racket = 7, .call = 1}};

	player.event.skill = SKILL_WEAVE;
	teach_begin(&player.trainee);
	return player;
}

static void give(struct player *player, enum journal_kind kind)
{
	player->event.wall_us += 10 * SECOND_US;
	player->event.kind = kind;
	if (kind == JOURNAL_ANSWERED)
		player->event.detail = TEACH_ANSWER_LATE;
	teach_event(&player->trainee, &player->event);
	if (kind == JOURNAL_NEXT || kind == JOURNAL_RIGHT)
		player->event.call++;
}

static void play_word(struct player *player, const char *word)
{
	static const struct {
		const char *name;
		enum journal_kind kind;
	} kinds[] = {
		{"done", JOURNAL_NEXT},     {"right", JOURNAL_RIGHT}, {"wrong", JOURNAL_WRONG},
		{"late", JOURNAL_ANSWERED}, {"again", JOURNAL_AGAIN}, {"back", JOURNAL_BACK},
		{"over", JOURNAL_FINISHED},
	};

	if (word[0] == '+') {
		player->event.wall_us += strtol(word + 1, NULL, 10) * day_us;
		return;
	}
	if (teach_skill(word) >= 0) {
		player->event.skill = teach_skill(word);
		return;
	}
	if (strncmp(word, "racket", 6) == 0) { /* another one, or back to it */
		player->event.racket = strtol(word + 6, NULL, 10);
		player->event.call = 1;
		return;
	}
	if (strncmp(word, "call", 4) == 0) {
		player->event.call = (int)strtol(word + 4, NULL, 10);
		return;
	}
	enum work_fault fault;
	if (work_fault_parse(word, &fault)) {
		player->event.detail = work_fault_name(fault);
		give(player, JOURNAL_FOUND);
		return;
	}
	for (size_t kind = 0; kind < sizeof kinds / sizeof *kinds; kind++) {
		size_t length = strlen(kinds[kind].name);
		if (strncmp(kinds[kind].name, word, length) != 0)
			continue;
		long times = word[length] == '*' ? strtol(word + length + 1, NULL, 10) : 1;
		for (long i = 0; i < times; i++)
			give(player, kinds[kind].kind);
		return;
	}
	fail_msg("no event \"%s\"", word);
}

static void play(struct player *player, const char *script)
{
	char *copy = test_malloc(strlen(script) + 1);
	char *rest = NULL;

	memcpy(copy, script, strlen(script) + 1);
	for (char *word = strtok_r(copy, " ", &rest); word; word = strtok_r(NULL, " ", &rest))
		play_word(player, word);
	test_free(copy);
}

static void check(const struct player *player, int skill, enum level level, const char *why)
{
	struct text text = {0};

	assert_string_equal(level_names[player->trainee.skills[skill].level], level_names[level]);
	teach_explain(&player->trainee.skills[skill], &text);
	assert_string_equal(text_string(&text), why);
	text_free(&text);
}

/* A player whose weaving has come down to a level, in a racket of its own each. */
static struct player player_at(enum level level)
{
	struct player player = player_new();

	for (int racket = 1; racket <= LEVEL_REASON - (int)level; racket++) {
		player.event.racket = racket;
		player.event.call = 1;
		play(&player, "done over");
	}
	play(&player, "racket100");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, level);
	return player;
}

static void begins_with_reasons(void **state)
{
	struct player player = player_new();

	(void)state;
	for (int skill = 0; skill < TEACH_SKILLS; skill++)
		check(&player, skill, LEVEL_REASON, "no history");
}

static void goes_down_after_eight_calls(void **state)
{
	struct player player = player_new();

	(void)state;
	play(&player, "done*7");
	check(&player, SKILL_WEAVE, LEVEL_REASON, "no history; 6 without a fault since");
	play(&player, "done");
	check(&player, SKILL_WEAVE, LEVEL_REASON, "no history; 7 without a fault since");
	play(&player, "done"); /* the eighth counts once it cannot be taken back */
	check(&player, SKILL_WEAVE, LEVEL_TOLD, "8 calls in a row without a fault");
	check(&player, SKILL_FEED, LEVEL_REASON, "no history");
}

static void a_fault_breaks_the_run(void **state)
{
	static const char *const faults[] = {"wrong done", "late done", "again done", "misweave"};

	(void)state;
	for (size_t i = 0; i < sizeof(faults) / sizeof(faults[0]); i++) {
		struct player player = player_new();
		play(&player, "done*5");
		play(&player, faults[i]);
		play(&player, "done*8");
		check(&player, SKILL_WEAVE, LEVEL_REASON, "no history; 7 without a fault since");
		play(&player, "done");
		check(&player, SKILL_WEAVE, LEVEL_TOLD, "8 calls in a row without a fault");
	}
}

static void goes_down_after_a_clean_racket(void **state)
{
	struct player player = player_new();

	(void)state;
	play(&player, "done*3 knot done*2 again done weave over");
	check(&player, SKILL_WEAVE, LEVEL_TOLD, "1 racket without a fault");
	check(&player, SKILL_KNOT, LEVEL_REASON, "no history");
	check(&player, SKILL_FEED, LEVEL_REASON, "no history"); /* it did not come up */
}

static void goes_down_one_level_a_racket(void **state)
{
	struct player player = player_new();

	(void)state;
	play(&player, "done*50 over");
	check(&player, SKILL_WEAVE, LEVEL_TOLD,
	      "8 calls in a row without a fault; 42 without a fault since");
	play(&player, "racket2 done*50 over racket3 done*50 over racket4 done*50 over");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_NAMED);
	play(&player, "racket5 done*50 over");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_NAMED);
}

static void goes_up_after_two_faults(void **state)
{
	struct player player = player_at(LEVEL_SHORT);

	(void)state;
	play(&player, "done again done");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_SHORT);
	play(&player, "again");
	check(&player, SKILL_WEAVE, LEVEL_TOLD, "2 faults in one racket or in a row");
	play(&player, "done again done again done"); /* once a racket */
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_TOLD);
	play(&player, "done*20 over"); /* and not down in the same one */
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_TOLD);
}

static void faults_of_two_rackets_are_not_added(void **state)
{
	struct player player = player_at(LEVEL_SHORT);

	(void)state;
	play(&player, "again done done over racket101 again done done over");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_SHORT);
}

/* Some skills have one call a racket. */
static void but_faults_in_a_row_are(void **state)
{
	struct player player = player_at(LEVEL_SHORT);

	(void)state;
	play(&player, "again done over racket101 again done over");
	check(&player, SKILL_WEAVE, LEVEL_TOLD, "2 faults in one racket or in a row");
	play(&player, "racket102 again done over");
	check(&player, SKILL_WEAVE, LEVEL_REASON, "2 faults in one racket or in a row");
}

static void goes_up_after_one_fault_when_only_named(void **state)
{
	struct player player = player_at(LEVEL_NAMED);

	(void)state;
	play(&player, "done again");
	check(&player, SKILL_WEAVE, LEVEL_ASKED, "1 fault when only the name was said");
}

static void is_helped_in_a_racket_that_lowered_the_level(void **state)
{
	struct player player = player_at(LEVEL_TOLD);

	(void)state;
	play(&player, "done*9");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_SHORT);
	play(&player, "wrong done wrong");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_TOLD);
}

static void a_call_counts_once(void **state)
{
	struct player player = player_at(LEVEL_SHORT);

	(void)state;
	play(&player, "again again again done");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_SHORT);
	/* Back and forth over the same calls is no run of eight. */
	play(&player, "done done done call4 knot back weave done call4 done call4 done call4 "
		      "done call4 done call4 done call4 done call4 done call5");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].run, 2);
	player = player_at(LEVEL_SHORT);
	play(&player, "done*6 call2 back done*5 feed done");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].run, 0);
	/* Nor does a call with a fault become one without by going back behind it. */
	play(&player, "weave call6 again done again back call6 done done");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].run, 0);
	/* Said late, and answered all the same: one fault. */
	play(&player, "call9 late right");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].run, 0);
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_TOLD);
}

static void a_press_can_be_taken_back(void **state)
{
	struct player player = player_at(LEVEL_ASKED);

	(void)state;
	/* The second half of a double tap makes "I had not" of "I had it". */
	play(&player, "right*7 right call8 wrong done done");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_ASKED);
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].rights, 0);
	/* A press taken back by a hold, then made again, is one call. */
	player = player_at(LEVEL_ASKED);
	play(&player, "right call1 right call1 right right");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].rights, 1);
}

static void goes_up_after_fourteen_days(void **state)
{
	struct player player = player_at(LEVEL_NAMED);
	int64_t last_us = player.event.wall_us - 20 * SECOND_US; /* of the last call */

	(void)state;
	for (int days = 0; days < 100; days++) {
		struct trainee later = player.trainee;
		int level = days / 14 < LEVEL_REASON ? days / 14 : LEVEL_REASON;
		teach_rest(&later, last_us + days * day_us + day_us / 2);
		assert_int_equal(later.skills[SKILL_WEAVE].level, level);
	}
	teach_rest(&player.trainee, last_us + 15 * day_us);
	check(&player, SKILL_WEAVE, LEVEL_ASKED, "14 days without practice");
	check(&player, SKILL_KNOT, LEVEL_REASON, "no history");
}

static void practice_is_of_one_skill(void **state)
{
	struct player player = player_new();

	(void)state;
	play(&player, "knot done weave done over");
	for (int racket = 200; racket < 203; racket++) {
		play(&player, "+9 call1 weave done over");
		player.event.racket = racket;
	}
	check(&player, SKILL_KNOT, LEVEL_REASON, "14 days without practice");
	assert_true(player.trainee.skills[SKILL_WEAVE].level < LEVEL_TOLD);
}

static void a_fault_is_practice_too(void **state)
{
	struct player player = player_at(LEVEL_NAMED);

	(void)state;
	play(&player, "+10 again +10 call5 knot done");
	check(&player, SKILL_WEAVE, LEVEL_ASKED, "1 fault when only the name was said");
}

/* The level that a late end of the racket gives is not taken at once for the days before it. */
static void rest_counts_once(void **state)
{
	struct player player = player_new();

	(void)state;
	play(&player, "done +20 over");
	teach_rest(&player.trainee, player.event.wall_us);
	check(&player, SKILL_WEAVE, LEVEL_TOLD, "1 racket without a fault");
}

static void strange_times_do_no_harm(void **state)
{
	struct player player = player_at(LEVEL_NAMED);

	(void)state;
	teach_rest(&player.trainee, INT64_MIN);
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_NAMED);
	player.event.wall_us = INT64_MIN + day_us;
	play(&player, "done");
	teach_rest(&player.trainee, INT64_MAX);
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_REASON);
}

static struct teach_manner manner_of(const struct player *player, enum fading fading)
{
	return teach_manner(&player->trainee, player->event.racket, player->event.skill, fading);
}

static void gives_three_reasons_a_racket(void **state)
{
	struct player player = player_new();

	(void)state;
	for (int call = 1; call <= 5; call++) {
		play(&player, "done");
		/* What is said of the next call: call 1's press counts at call 2's. */
		assert_int_equal(manner_of(&player, FADES).said,
				 call <= 3 ? LEVEL_REASON : LEVEL_TOLD);
	}
	play(&player, "again over racket2");
	assert_int_equal(manner_of(&player, FADES).said, LEVEL_REASON);
	/* Only those that were said count. */
	player = player_at(LEVEL_TOLD);
	play(&player, "done*5 again done again");
	assert_int_equal(manner_of(&player, FADES).said, LEVEL_REASON);
}

static void delays_the_answer_step_by_step(void **state)
{
	static const int delays_s[] = {3, 3, 5, 5, 7, 7, 9};
	struct player player = player_at(LEVEL_ASKED);

	(void)state;
	for (int rights = 0; rights < 7; rights++) {
		assert_int_equal(manner_of(&player, FADES).said, LEVEL_ASKED);
		player.trainee.skills[SKILL_WEAVE].run = 0; /* stay at this level */
		assert_int_equal(manner_of(&player, FADES).delay_us, delays_s[rights] * SECOND_US);
		play(&player, rights == 0 ? "right right" : "right");
	}
	player.trainee.skills[SKILL_WEAVE].run = 0;
	play(&player, "right right right");
	assert_int_equal(manner_of(&player, FADES).delay_us, 10 * SECOND_US);
	play(&player, "wrong");
	assert_int_equal(manner_of(&player, FADES).delay_us, 0);
	play(&player, "done right");
	assert_int_equal(manner_of(&player, FADES).delay_us, 0); /* that one may be taken back */
	play(&player, "right");
	assert_int_equal(manner_of(&player, FADES).delay_us, 3 * SECOND_US);
}

static void asks_with_a_short_delay_after_a_rest(void **state)
{
	struct player player = player_at(LEVEL_NAMED);

	(void)state;
	player.trainee.skills[SKILL_WEAVE].rights = 6;
	play(&player, "+15 knot done weave");
	assert_int_equal(manner_of(&player, FADES).said, LEVEL_ASKED);
	assert_int_equal(manner_of(&player, FADES).delay_us, 3 * SECOND_US);
}

static void never_fades_what_is_not_to_fade(void **state)
{
	/* Cautions, the tension, the check before the last knot. */
	static const enum call_kind kinds[] = {
		CALL_CHECK_EYES, CALL_INSPECT_FRAME, CALL_LOCK,       CALL_TIE_OFF,
		CALL_TRIM,       CALL_SET_TENSION,   CALL_CHECK_WEAVE};
	struct player player = player_at(LEVEL_NAMED);

	(void)state;
	assert_int_equal(manner_of(&player, FADES).said, LEVEL_NAMED);
	assert_int_equal(manner_of(&player, FADES_NEVER).said, LEVEL_TOLD);
	for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++)
		assert_int_equal(teach_fading(call_kind_name(kinds[i]), SKILL_WEAVE), FADES_NEVER);
	assert_int_equal(teach_fading(call_kind_name(CALL_MAIN), SKILL_SKIP), FADES_NEVER);
	assert_int_equal(teach_fading(call_kind_name(CALL_MAIN), SKILL_CLAMP), FADES_WITH_CLAMP);
}

static void keeps_the_clamp_order_while_clamp_is_above_two(void **state)
{
	struct player player = player_at(LEVEL_NAMED);

	(void)state;
	assert_int_equal(manner_of(&player, FADES_WITH_CLAMP).said, LEVEL_TOLD); /* clamp 4 */
	play(&player, "racket201 clamp done over weave racket300");
	assert_int_equal(manner_of(&player, FADES_WITH_CLAMP).said, LEVEL_TOLD); /* clamp 3 */
	play(&player, "racket202 clamp done over weave racket300");
	assert_int_equal(manner_of(&player, FADES_WITH_CLAMP).said, LEVEL_NAMED); /* clamp 2 */
}

static void keeps_rackets_apart(void **state)
{
	struct player player = player_at(LEVEL_SHORT);

	(void)state;
	/* One fault in each of two rackets strung by turns; then the second in one of them. */
	play(&player,
	     "racket1 again done*3 racket2 call2 again racket1 call5 done done racket2 call5 done");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_SHORT);
	play(&player, "racket1 call8 again");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_TOLD);
}

static void finished_rackets_make_room(void **state)
{
	struct player player = player_at(LEVEL_SHORT);

	(void)state;
	play(&player,
	     "racket1 again done*3 knot racket2 done over racket3 done over racket4 done over "
	     "racket5 done over racket6 done over weave racket1 call8 again");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_TOLD);
}

static void faults_count_where_they_were_made(void **state)
{
	struct player player = player_at(LEVEL_NAMED);

	(void)state;
	play(&player, "knot misweave");
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].level, LEVEL_ASKED);
	assert_int_equal(player.trainee.skills[SKILL_WEAVE].misses, 1);
	assert_int_equal(player.trainee.skills[SKILL_KNOT].misses, 0);
}

static void names_are_read_as_written(void **state)
{
	(void)state;
	for (int i = 0; i < TEACH_SKILLS; i++)
		assert_int_equal(teach_skill(skill_names[(enum skill)i]), i);
	for (int i = 0; i < WORK_FAULTS; i++) {
		enum work_fault fault = WORK_FAULTS;
		assert_true(work_fault_parse(work_fault_name((enum work_fault)i), &fault));
		assert_int_equal(fault, i);
	}
	enum work_fault fault = WORK_AWL;
	assert_int_equal(teach_skill("juggling"), -1);
	assert_false(work_fault_parse("misweaves", &fault));
	assert_int_equal(fault, WORK_AWL);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(begins_with_reasons),
		cmocka_unit_test(goes_down_after_eight_calls),
		cmocka_unit_test(a_fault_breaks_the_run),
		cmocka_unit_test(goes_down_after_a_clean_racket),
		cmocka_unit_test(goes_down_one_level_a_racket),
		cmocka_unit_test(goes_up_after_two_faults),
		cmocka_unit_test(faults_of_two_rackets_are_not_added),
		cmocka_unit_test(but_faults_in_a_row_are),
		cmocka_unit_test(goes_up_after_one_fault_when_only_named),
		cmocka_unit_test(is_helped_in_a_racket_that_lowered_the_level),
		cmocka_unit_test(a_call_counts_once),
		cmocka_unit_test(a_press_can_be_taken_back),
		cmocka_unit_test(goes_up_after_fourteen_days),
		cmocka_unit_test(practice_is_of_one_skill),
		cmocka_unit_test(a_fault_is_practice_too),
		cmocka_unit_test(rest_counts_once),
		cmocka_unit_test(strange_times_do_no_harm),
		cmocka_unit_test(gives_three_reasons_a_racket),
		cmocka_unit_test(delays_the_answer_step_by_step),
		cmocka_unit_test(asks_with_a_short_delay_after_a_rest),
		cmocka_unit_test(never_fades_what_is_not_to_fade),
		cmocka_unit_test(keeps_the_clamp_order_while_clamp_is_above_two),
		cmocka_unit_test(keeps_rackets_apart),
		cmocka_unit_test(finished_rackets_make_room),
		cmocka_unit_test(faults_count_where_they_were_made),
		cmocka_unit_test(names_are_read_as_written),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
