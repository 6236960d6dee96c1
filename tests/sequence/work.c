#include "sequence/work.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void work_compile(struct work *work, const struct racket *racket)
{
	memset(work, 0, sizeof(*work));
	work->pattern = pattern_read(
		yaml_read_text("made-up.yaml", text_string(&racket->pattern), &work->faults));
	work->job = job_read(yaml_read_text("job.yaml", text_string(&racket->job), &work->faults));
	if (work->job)
		work->job->machine = racket->machine;
	if (work->pattern && work->job)
		work->sequence = sequence_compile(work->job, work->pattern, &work->faults);
}

void work_clear(struct work *work)
{
	sequence_free(work->sequence);
	job_free(work->job);
	pattern_free(work->pattern);
	faults_free(&work->faults);
}

bool work_has(const struct work *work, const char *code)
{
	for (size_t i = 0; i < work->faults.count; i++)
		if (strcmp(work->faults.items[i].code, code) == 0)
			return true;
	return false;
}

void work_show(const struct work *work, const struct racket *racket, uint64_t seed, int number,
	       const char *fault)
{
	fprintf(stderr, "racket %d of seed %llu, %s clamps, starting clamp %d: %s\n%s\n%s\n",
		number, (unsigned long long)seed, clamps_names[racket->machine.clamps],
		racket->machine.starting_clamp, fault, text_string(&racket->pattern),
		text_string(&racket->job));
	faults_print(&work->faults, stderr);
}

int work_judge_all(uint64_t seed, int rackets, int one_piece_every, work_judge *judge, void *tally)
{
	struct random random = {seed};
	struct racket racket = {0};
	int wrong = 0;

	for (int i = 1; i <= rackets && wrong < 3; i++) {
		struct work work;
		racket_make(&racket, &random, one_piece_every && i % one_piece_every == 0);
		work_compile(&work, &racket);
		char *fault = judge(&work, &racket, &random, tally);
		if (fault) {
			work_show(&work, &racket, seed, i, fault);
			wrong++;
		}
		free(fault);
		work_clear(&work);
	}
	racket_free(&racket);
	return wrong;
}
