/* Reads and compiles 10,000 made-up jobs; the baseline is making the texts and scanning them as
 * YAML. */
#include "base/base.h"
#include "sequence/work.h"

#include <stdio.h>

enum { JOBS = 10000, SEED = 20261125 };

static void scan(const struct text *text)
{
	struct faults faults = {0};

	yaml_free(yaml_read_text("bench", text_string(text), &faults));
	faults_free(&faults);
}

/* Seconds for all jobs; compiled counts those that were not refused. */
static double run(bool compiling, int *compiled)
{
	struct random random = {.state = SEED};
	struct racket racket = {0};
	int64_t from_us = clock_steady_us();

	for (int i = 0; i < JOBS; i++) {
		struct work work = {0};
		racket_make(&racket, &random, false);
		if (!compiling) {
			scan(&racket.pattern);
			scan(&racket.job);
			continue;
		}
		work_compile(&work, &racket);
		*compiled += work.sequence != NULL;
		work_clear(&work);
	}
	racket_free(&racket);
	return (double)(clock_steady_us() - from_us) / (double)SECOND_US;
}

int main(void)
{
	int compiled = 0;
	double baseline_s = run(false, &compiled);
	double all_s = run(true, &compiled);

	printf("compile: %d of %d random jobs in %.2f s, %.0f a second; scanning their YAML alone "
	       "takes %.2f s (ratio %.2f)\n",
	       compiled, JOBS, all_s, JOBS / all_s, baseline_s, all_s / baseline_s);
	return 0;
}
