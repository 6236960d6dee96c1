/* The journals of two benches give the same levels whichever is merged into which, on rackets of
 * simulated trainees and on events at random. The journals here are a model of the real ones: jobs
 * with a UUID, each with its events in order. */
#include "teach/simulated.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { JOBS = SIMULATED_RACKETS, EVENTS = 400, CASES = 300 };

struct strung {
	uint64_t uuid;
	int count;
	struct teach_event events[EVENTS];
};

struct journal {
	int count;
	const struct strung *jobs[JOBS];
};

/* An event with its place in the order of all. */
struct placed {
	int64_t time_us;
	uint64_t uuid;
	int seq;
	struct teach_event event;
};

static struct placed placed[JOBS * EVENTS];

static int compare(const void *left, const void *right)
{
	const struct placed *a = left;
	const struct placed *b = right;

	if (a->time_us != b->time_us)
		return a->time_us < b->time_us ? -1 : 1;
	if (a->uuid != b->uuid)
		return a->uuid < b->uuid ? -1 : 1;
	return a->seq - b->seq;
}

/* Adds to `ours` the jobs of `theirs` that are not in it; of a job in both the longer copy stays.
 */
static void merge(struct journal *ours, const struct journal *theirs)
{
	for (int i = 0; i < theirs->count; i++) {
		int at = 0;
		while (at < ours->count && ours->jobs[at]->uuid != theirs->jobs[i]->uuid)
			at++;
		if (at == ours->count)
			ours->jobs[ours->count++] = theirs->jobs[i];
		else if (theirs->jobs[i]->count > ours->jobs[at]->count)
			ours->jobs[at] = theirs->jobs[i];
	}
}

/* Reads a journal as teach.h asks for. A job's number is its place, as in a real journal. */
static struct trainee fold(const struct journal *journal)
{
	struct trainee trainee;
	size_t count = 0;

	for (int i = 0; i < journal->count; i++) {
		int64_t latest_us = INT64_MIN;
		for (int seq = 0; seq < journal->jobs[i]->count; seq++) {
			struct teach_event event = journal->jobs[i]->events[seq];
			latest_us = event.wall_us > latest_us ? event.wall_us : latest_us;
			event.wall_us = latest_us;
			event.racket = i;
			placed[count++] =
				(struct placed){latest_us, journal->jobs[i]->uuid, seq, event};
		}
	}
	qsort(placed, count, sizeof(placed[0]), compare);
	teach_begin(&trainee);
	for (size_t i = 0; i < count; i++)
		teach_event(&trainee, &placed[i].event);
	return trainee;
}

static void check_same(const struct trainee *a, const struct trainee *b)
{
	for (int i = 0; i < TEACH_SKILLS; i++) {
		const struct teach_skill *left = &a->skills[i];
		const struct teach_skill *right = &b->skills[i];
		assert_int_equal(left->level, right->level);
		assert_int_equal(left->why, right->why);
		assert_int_equal(left->since_us, right->since_us);
		assert_int_equal(left->run, right->run);
		assert_int_equal(left->rights, right->rights);
		assert_int_equal(left->misses, right->misses);
		assert_int_equal(left->rest_from_us, right->rest_from_us);
	}
}

/* Spreads jobs over two benches, some of them in both, the copy of one bench shorter. */
static void spread(struct random *random, const struct strung *jobs, struct strung *copies,
		   struct journal *benches)
{
	for (int i = 0; i < JOBS; i++) {
		int bench = random_between(random, 0, 1);
		struct journal *here = &benches[bench];
		here->jobs[here->count++] = &jobs[i];
		if (!random_chance(random, 20))
			continue;
		struct journal *there = &benches[1 - bench];
		copies[i] = jobs[i];
		copies[i].count = random_between(random, 0, jobs[i].count);
		there->jobs[there->count++] = &copies[i];
	}
}

/* Merges either way, checks that the levels are the same, and returns them. */
static struct trainee check_merged(struct random *random, const struct strung *jobs)
{
	static struct strung copies[JOBS];
	struct journal benches[2] = {0};

	spread(random, jobs, copies, benches);
	struct journal first = benches[0];
	struct journal second = benches[1];
	merge(&first, &benches[1]);
	merge(&second, &benches[0]);
	assert_int_equal(first.count, JOBS);
	assert_int_equal(second.count, JOBS);
	struct trainee levels = fold(&first);
	struct trainee others = fold(&second);
	check_same(&levels, &others);
	return levels;
}

static void write_down(void *owner, const struct teach_event *event)
{
	struct strung *job = (struct strung *)owner + (event->racket - 1);

	assert_true(job->count < EVENTS);
	job->events[job->count++] = *event;
}

static void rackets_of_trainees(void **state)
{
	static struct strung jobs[JOBS];

	(void)state;
	struct simulated_job job = simulated_job_new("bench");
	for (uint64_t seed = 0; seed < CASES; seed++) {
		enum simulated_kind kind = (enum simulated_kind)(seed % SIMULATED_KINDS);
		struct simulated simulated = simulated_new(&job, kind, 10, seed);
		memset(jobs, 0, sizeof(jobs));
		simulated.heard = write_down;
		simulated.owner = jobs;
		for (int racket = 1; racket <= JOBS; racket++) {
			jobs[racket - 1].uuid = random_bits(&simulated.random);
			simulated_string(&simulated, simulated_days_before(kind, racket));
		}
		struct trainee levels = check_merged(&simulated.random, jobs);
		check_same(&levels, &simulated.trainee); /* as they were at the bench */
	}
	simulated_job_free(&job);
}

/* Rackets begun and left by turns, at times that are often the same and sometimes go back. */
static void make_job(struct random *random, struct strung *job)
{
	static const enum journal_kind kinds[] = {
		JOURNAL_NEXT,  JOURNAL_RIGHT, JOURNAL_WRONG, JOURNAL_ANSWERED,
		JOURNAL_AGAIN, JOURNAL_BACK,  JOURNAL_FOUND, JOURNAL_FINISHED,
	};
	enum { KINDS = sizeof kinds / sizeof *kinds };
	int64_t day = random_between(random, 1, 60);

	job->uuid = random_bits(random);
	job->count = random_between(random, 0, 60);
	for (int i = 0; i < job->count; i++) {
		enum journal_kind kind = kinds[random_between(random, 0, KINDS - 1)];
		job->events[i] = (struct teach_event){
			.wall_us = day * 24 * 3600 * SECOND_US,
			.kind = kind,
			.call = random_between(random, 1, 20),
			.skill = random_between(random, 0, TEACH_SKILLS - 1),
		};
		enum work_fault fault = (enum work_fault)random_between(random, 0, WORK_FAULTS - 1);
		job->events[i].detail =
			kind == JOURNAL_FOUND ? work_fault_name(fault) : TEACH_ANSWER_LATE;
		day += random_chance(random, 10) ? random_between(random, -2, 16) : 0;
	}
}

static void events_at_random(void **state)
{
	static struct strung jobs[JOBS];

	(void)state;
	for (uint64_t seed = 0; seed < CASES; seed++) {
		struct random random = {.state = seed};
		for (int i = 0; i < JOBS; i++)
			make_job(&random, &jobs[i]);
		struct trainee trainee = check_merged(&random, jobs);
		for (int i = 0; i < TEACH_SKILLS; i++)
			assert_in_range(trainee.skills[i].level, LEVEL_NAMED, LEVEL_REASON);
	}
}

/* Whoever looks at the levels in between does not change them. */
static void asking_changes_nothing(void **state)
{
	static struct strung job;

	(void)state;
	for (uint64_t seed = 0; seed < CASES; seed++) {
		struct random random = {.state = seed};
		struct trainee asked;
		struct trainee alone;
		teach_begin(&asked);
		teach_begin(&alone);
		make_job(&random, &job);
		int64_t latest_us = 0;
		for (int i = 0; i < job.count; i++) {
			int64_t before_us = latest_us;
			if (job.events[i].wall_us > latest_us)
				latest_us = job.events[i].wall_us;
			job.events[i].wall_us = latest_us;
			teach_rest(&asked, before_us + (latest_us - before_us) / 2);
			teach_event(&asked, &job.events[i]);
			teach_event(&alone, &job.events[i]);
		}
		check_same(&asked, &alone);
	}
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(rackets_of_trainees),
		cmocka_unit_test(events_at_random),
		cmocka_unit_test(asking_changes_nothing),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
