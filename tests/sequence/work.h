/* A made-up racket, read and compiled by the program. */
#ifndef TESTS_SEQUENCE_WORK_H
#define TESTS_SEQUENCE_WORK_H

#include "sequence/racket.h"
#include "sequence/sequence.h"

struct work {
	struct faults faults;
	struct pattern *pattern;
	struct job *job;
	struct sequence *sequence; /* NULL: refused, and the faults say why */
};

void work_compile(struct work *work, const struct racket *racket);
void work_clear(struct work *work);

/* A fault of this code was reported. */
bool work_has(const struct work *work, const char *code);

/* All that is needed to see a failure again. */
void work_show(const struct work *work, const struct racket *racket, uint64_t seed, int number,
	       const char *fault);

/* What is wrong with a racket's work, for the caller to free; NULL: nothing. */
typedef char *work_judge(struct work *work, const struct racket *racket, struct random *random,
			 void *tally);

/* Judges so many rackets of a seed, of which each `one_piece_every`th is one-piece work (0: none).
 * Shows what fails, and returns how many failed: at most 3, after which it stops. */
int work_judge_all(uint64_t seed, int rackets, int one_piece_every, work_judge *judge, void *tally);

#endif
