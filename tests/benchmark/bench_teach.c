/* The levels of a trainee from the events of 10,000 jobs; the baseline is making the events. */
#include "random.h"
#include "teach/teach.h"

#include <stdio.h>

enum { JOBS = 10000, CALLS = 80, SEED = 20261126 };

static struct teach_event make_event(struct random *random, int job, int call)
{
	static const enum journal_kind kinds[] = {JOURNAL_NEXT, JOURNAL_NEXT, JOURNAL_RIGHT,
						  JOURNAL_RIGHT, JOURNAL_AGAIN};

	return (struct teach_event){
		.wall_us = ((int64_t)job * 3600 + (int64_t)call * 20) * SECOND_US,
		.racket = job,
		.kind = call > CALLS ? JOURNAL_FINISHED : kinds[random_between(random, 0, 4)],
		.call = call,
		.skill = (call % TEACH_SKILLS),
	};
}

/* Seconds for all events. */
static double run(struct trainee *trainee, int64_t *sum)
{
	struct random random = {.state = SEED};
	int64_t from_us = clock_steady_us();

	for (int job = 1; job <= JOBS; job++)
		for (int call = 1; call <= CALLS + 1; call++) {
			struct teach_event event = make_event(&random, job, call);
			*sum += event.wall_us % 7 + (int64_t)event.kind;
			if (trainee != NULL)
				teach_event(trainee, &event);
		}
	return (double)(clock_steady_us() - from_us) / (double)SECOND_US;
}

int main(void)
{
	struct trainee trainee;
	int64_t sum = 0;

	teach_begin(&trainee);
	double baseline_s = run(NULL, &sum);
	double all_s = run(&trainee, &sum);
	printf("teach: levels of %d jobs, %d events, in %.3f s with %zu bytes; making the events "
	       "alone takes %.3f s (ratio %.2f, check %lld)\n",
	       JOBS, JOBS * (CALLS + 1), all_s, sizeof(trainee), baseline_s, all_s / baseline_s,
	       (long long)sum % 1000 + (int)trainee.skills[0].level);
	return 0;
}
