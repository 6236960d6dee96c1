/* Simulated trainees, in virtual time, on a real 16x19 job.
 *
 * The calls are those of the job as it is compiled, told string by string or move by move. How many
 * words each form of a call has is a table by skill. What a trainee does depends only on how a call
 * was said, on the trainee's kind and on a seed, so every run can be repeated.
 */
#ifndef TESTS_TEACH_SIMULATED_H
#define TESTS_TEACH_SIMULATED_H

#include "sequence/sequence.h"
#include "teach/teach.h"

#include "random.h"

enum { SIMULATED_RACKETS = 30 };

enum simulated_kind {
	SIMULATED_PERFECT,
	SIMULATED_NEVER_SKIP, /* takes the wrong hole three times in four where numbers jump */
	SIMULATED_FORGETS,    /* perfect, but after three weeks away half is forgotten */
	SIMULATED_CONSTANT,   /* a share of errors that never changes */
	SIMULATED_POWER_LAW,  /* time to think and errors fall as n^-alpha with practice */
	SIMULATED_GUESSES,    /* wrong half of the time unless told */
	SIMULATED_RARELY,     /* perfect, but strings a racket every twenty days */
	SIMULATED_KINDS,
};

/* The calls of a job. */
struct simulated_line {
	int skill;
	enum fading fading;
};

struct simulated_job {
	const struct words *words; /* by skill */
	struct simulated_line *lines;
	int count;
};

/* The caller frees it. */
struct simulated_job simulated_job_new(const char *detail);
void simulated_job_free(struct simulated_job *job);

/* What was seen in a racket. */
struct simulated_racket {
	enum level begun[TEACH_SKILLS]; /* before its first call, and after its last */
	enum level levels[TEACH_SKILLS];
	double speech_s;
	int calls;
	int named;      /* calls of which nothing was said but the name */
	int never_fade; /* lines that must be said in full */
	int in_full;    /* of them, those that were */
};

struct simulated {
	const struct simulated_job *job;
	enum simulated_kind kind;
	int error_percent; /* CONSTANT */
	struct random random;
	struct trainee trainee;
	int practised[TEACH_SKILLS]; /* calls so far */
	int64_t now_us;
	int64_t racket; /* number of the next one, from 1 */
	bool away;      /* just back from a long time without practice */
	int64_t events;
	void (*heard)(void *owner, const struct teach_event *event); /* NULL: nobody listens */
	void *owner;
};

struct simulated simulated_new(const struct simulated_job *job, enum simulated_kind kind,
			       int error_percent, uint64_t seed);

/* Strings one racket, after so many days without practice. */
struct simulated_racket simulated_string(struct simulated *simulated, int days_before);

/* The days before a racket, numbered from 1, that belong to the kind. */
int simulated_days_before(enum simulated_kind kind, int racket);

#endif
