/* What teaching does to seven kinds of trainees, a thousand of each, over thirty rackets, where
 * each call is a string; what the granularity of calls may change, also where each call is a move.
 */
#include "teach/simulated.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

enum { SEEDS = 1000 };

static struct simulated_job by_string;
static struct simulated_job by_move;

struct run {
	struct simulated_racket rackets[SIMULATED_RACKETS + 1]; /* from 1 */
	int closest_turn; /* rackets between two turns of one skill's level, up to down or down to
			     up; large if there were no two */
};

/* The events of all runs: bounds the work, whatever the machine is. */
static int64_t all_events;

/* Watches the level of each skill after every event, from outside. */
struct watch {
	const struct trainee *trainee;
	struct run *run;
	enum level level[TEACH_SKILLS];
	int direction[TEACH_SKILLS];
	int64_t turned[TEACH_SKILLS]; /* the racket of the last turn */
	int downs[TEACH_SKILLS];
	int ups[TEACH_SKILLS];
	int64_t racket;
};

static void see_move(struct watch *watch, int skill, int by, int64_t racket)
{
	int direction = by > 0 ? 1 : -1;

	if (direction == -watch->direction[skill]) {
		int64_t since = racket - watch->turned[skill];
		if (watch->turned[skill] != 0 && since < watch->run->closest_turn)
			watch->run->closest_turn = (int)since;
		watch->turned[skill] = racket;
	}
	watch->direction[skill] = direction;
	watch->downs[skill] += direction < 0;
	watch->ups[skill] += direction > 0;
}

static void see(void *owner, const struct teach_event *event)
{
	struct watch *watch = owner;

	for (int i = 0; i < TEACH_SKILLS; i++) {
		int by = (int)watch->trainee->skills[i].level - (int)watch->level[i];
		if (event->racket != watch->racket) {
			watch->downs[i] = watch->ups[i] = 0;
			watch->level[i] = watch->trainee->skills[i].level; /* by rest */
			continue;
		}
		if (by == 0)
			continue;
		assert_in_range(by + 1, 0, 2); /* one level at a time */
		see_move(watch, i, by, event->racket);
		assert_true(watch->downs[i] <= 1 && watch->ups[i] <= 1);
		watch->level[i] = watch->trainee->skills[i].level;
	}
	watch->racket = event->racket;
}

static void check_never_faded(const struct run *run)
{
	for (int racket = 1; racket <= SIMULATED_RACKETS; racket++) {
		const struct simulated_racket *seen = &run->rackets[racket];
		assert_true(seen->never_fade >= 3);
		assert_int_equal(seen->in_full, seen->never_fade);
	}
}

/* Thirty rackets of one trainee. What must not fade is checked in every one. */
static struct run run_trainee(const struct simulated_job *job, enum simulated_kind kind,
			      int error_percent, uint64_t seed)
{
	struct run run = {.closest_turn = 1000};
	struct simulated simulated = simulated_new(job, kind, error_percent, seed);
	struct watch watch = {.trainee = &simulated.trainee, .run = &run};

	for (int i = 0; i < TEACH_SKILLS; i++)
		watch.level[i] = LEVEL_REASON;
	simulated.heard = see;
	simulated.owner = &watch;
	for (int racket = 1; racket <= SIMULATED_RACKETS; racket++) {
		int days = simulated_days_before(kind, racket);
		run.rackets[racket] = simulated_string(&simulated, days);
	}
	all_events += simulated.events;
	check_never_faded(&run);
	return run;
}

/* Whether the job has calls of a skill: told move by move, a cross is pulled by a call of `clamp`.
 */
static bool practised(const struct simulated_job *job, int skill)
{
	for (int i = 0; i < job->count; i++)
		if ((int)job->lines[i].skill == skill)
			return true;
	return false;
}

static void check_perfect(const struct simulated_job *job, uint64_t seeds)
{
	for (uint64_t seed = 0; seed < seeds; seed++) {
		struct run run = run_trainee(job, SIMULATED_PERFECT, 0, seed);
		for (int racket = 6; racket <= SIMULATED_RACKETS; racket++)
			for (int i = 0; i < TEACH_SKILLS; i++)
				if (practised(job, i))
					assert_int_equal(run.rackets[racket].levels[i],
							 LEVEL_NAMED);
	}
}

static void perfect_ones_are_told_nothing_within_six_rackets(void **state)
{
	(void)state;
	check_perfect(&by_string, SEEDS);
	check_perfect(&by_move, SEEDS / 10);
}

static void who_never_learns_a_skill_stays_high_there_alone(void **state)
{
	(void)state;
	for (uint64_t seed = 0; seed < SEEDS; seed++) {
		struct run run = run_trainee(&by_string, SIMULATED_NEVER_SKIP, 0, seed);
		for (int racket = 1; racket <= SIMULATED_RACKETS; racket++)
			assert_true(run.rackets[racket].levels[SKILL_SKIP] >= LEVEL_TOLD);
		for (int racket = 6; racket <= SIMULATED_RACKETS; racket++)
			for (int i = 0; i < TEACH_SKILLS; i++)
				if (i != SKILL_SKIP)
					assert_int_equal(run.rackets[racket].levels[i],
							 LEVEL_NAMED);
	}
}

static void who_forgets_goes_up(void **state)
{
	(void)state;
	for (uint64_t seed = 0; seed < SEEDS; seed++) {
		struct run run = run_trainee(&by_string, SIMULATED_FORGETS, 0, seed);
		for (int i = 0; i < TEACH_SKILLS; i++) {
			assert_int_equal(run.rackets[15].levels[i], LEVEL_NAMED);
			assert_int_equal(run.rackets[16].begun[i], LEVEL_ASKED);
			assert_int_equal(run.rackets[30].levels[i], LEVEL_NAMED);
		}
		/* Half of it was forgotten indeed, and shows where there are many calls. */
		assert_true(run.rackets[17].begun[SKILL_BEHIND] >= LEVEL_ASKED);
		assert_true(run.rackets[16].speech_s > run.rackets[15].speech_s * 1.5);
	}
}

static void nobody_swings_who_never_errs_or_always(void **state)
{
	static const int percents[] = {0, 100};

	(void)state;
	for (size_t i = 0; i < sizeof(percents) / sizeof(percents[0]); i++)
		for (uint64_t seed = 0; seed < SEEDS; seed++) {
			struct run run =
				run_trainee(&by_string, SIMULATED_CONSTANT, percents[i], seed);
			assert_true(run.closest_turn >= 3);
			for (int skill = 0; skill < TEACH_SKILLS; skill++)
				assert_int_equal(run.rackets[SIMULATED_RACKETS].levels[skill],
						 percents[i] == 0 ? LEVEL_NAMED : LEVEL_REASON);
		}
}

/* The mean over trainees and rackets from the tenth of how much is said. */
static double mean_level(int percent)
{
	double sum = 0;
	int count = 0;

	for (uint64_t seed = 0; seed < SEEDS / 4; seed++) {
		struct run run = run_trainee(&by_string, SIMULATED_CONSTANT, percent, seed);
		for (int racket = 10; racket <= SIMULATED_RACKETS; racket++)
			for (int i = 0; i < TEACH_SKILLS; i++, count++)
				sum += (int)run.rackets[racket].levels[i];
	}
	return sum / count;
}

static void who_errs_more_is_told_more(void **state)
{
	static const int percents[] = {0, 2, 5, 10, 20, 50};
	double before = -1;

	(void)state;
	for (size_t i = 0; i < sizeof(percents) / sizeof(percents[0]); i++) {
		double mean = mean_level(percents[i]);
		print_message("errors %2d %%: mean level %.2f\n", percents[i], mean);
		assert_true(mean > before);
		before = mean;
	}
}

/* Errors come by chance, so single trainees stray from the mean. */
static void check_learner(const struct simulated_job *job, const char *told, double most)
{
	double speech_s[SIMULATED_RACKETS + 1] = {0};
	int halved = 0;
	int rose = 0;

	for (uint64_t seed = 0; seed < SEEDS; seed++) {
		struct run run = run_trainee(job, SIMULATED_POWER_LAW, 0, seed);
		for (int racket = 1; racket <= SIMULATED_RACKETS; racket++)
			speech_s[racket] += run.rackets[racket].speech_s / SEEDS;
		halved += run.rackets[10].speech_s <= run.rackets[1].speech_s / 2;
		rose += run.rackets[21].speech_s > run.rackets[20].speech_s;
	}
	print_message("%s: speech in racket 1 %.0f s, 2 %.0f s, 5 %.0f s, 10 %.0f s, 20 %.0f s, "
		      "after four weeks %.0f s, 30 %.0f s; halved by the tenth for %d of %d, more "
		      "after four weeks for %d\n",
		      told, speech_s[1], speech_s[2], speech_s[5], speech_s[10], speech_s[20],
		      speech_s[21], speech_s[30], halved, SEEDS, rose);
	assert_true(speech_s[10] <= speech_s[1] * most);
	assert_true(speech_s[21] > speech_s[20]);
}

static void who_learns_is_told_half_by_the_tenth_racket(void **state)
{
	(void)state;
	check_learner(&by_string, "string by string", 0.5);
	/* Less falls here: a question with its answer is longer than the sentence of one move, and
	 * among so many calls of one skill there are two faults in most rackets. */
	check_learner(&by_move, "move by move", 0.9);
}

static void who_guesses_is_not_left_alone(void **state)
{
	int calls = 0;
	int named = 0;

	(void)state;
	for (uint64_t seed = 0; seed < SEEDS; seed++) {
		struct run run = run_trainee(&by_string, SIMULATED_GUESSES, 0, seed);
		for (int racket = 1; racket <= SIMULATED_RACKETS; racket++) {
			calls += run.rackets[racket].calls;
			named += run.rackets[racket].named;
		}
	}
	print_message("guesses: %.2f %% of the calls only named\n", 100.0 * named / calls);
	assert_true(named < calls / 20);
}

static void who_practises_rarely_is_told_in_full(void **state)
{
	(void)state;
	for (uint64_t seed = 0; seed < SEEDS; seed++) {
		struct run run = run_trainee(&by_string, SIMULATED_RARELY, 0, seed);
		for (int racket = 1; racket <= SIMULATED_RACKETS; racket++)
			for (int i = 0; i < TEACH_SKILLS; i++)
				assert_true(run.rackets[racket].levels[i] >= LEVEL_TOLD);
	}
}

/* A minute is a hundred million events and more on any machine that runs these tests. */
static void the_work_is_bounded(void **state)
{
	(void)state;
	print_message("%lld events\n", (long long)all_events);
	assert_true(all_events > 0 && all_events < 100 * 1000 * 1000);
}

static int make_jobs(void **state)
{
	(void)state;
	by_string = simulated_job_new("bench");
	by_move = simulated_job_new("learner");
	return 0;
}

static int free_jobs(void **state)
{
	(void)state;
	simulated_job_free(&by_string);
	simulated_job_free(&by_move);
	return 0;
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(perfect_ones_are_told_nothing_within_six_rackets),
		cmocka_unit_test(who_never_learns_a_skill_stays_high_there_alone),
		cmocka_unit_test(who_forgets_goes_up),
		cmocka_unit_test(nobody_swings_who_never_errs_or_always),
		cmocka_unit_test(who_errs_more_is_told_more),
		cmocka_unit_test(who_learns_is_told_half_by_the_tenth_racket),
		cmocka_unit_test(who_guesses_is_not_left_alone),
		cmocka_unit_test(who_practises_rarely_is_told_in_full),
		cmocka_unit_test(the_work_is_bounded),
	};
	return cmocka_run_group_tests(tests, make_jobs, free_jobs);
}
