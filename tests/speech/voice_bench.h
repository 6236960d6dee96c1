/* For tests: an owner of a voice, which runs its loop and writes down what it is told. */
#ifndef TESTS_VOICE_BENCH_H
#define TESTS_VOICE_BENCH_H

#include "base/base.h"
#include "speech/speech.h"

struct voice_bench {
	struct speech *speech;
	struct text log; /* events, each "KIND[ GENERATION][: TEXT]\n" */
	char folder[40]; /* a fresh one, emptied and removed at the end */
	char file[60];   /* in that folder; not made */
	int dispatches;
	int64_t lost_us, back_us;
	int64_t started_us, finished_us; /* the last that were told */
};

void voice_bench_open(struct voice_bench *bench);

/* Closes the voice; fails the test if a speaker was not reaped. */
void voice_bench_close(struct voice_bench *bench);

/* Runs the loop until the log has this text, or fails with what it holds instead. */
void voice_await(struct voice_bench *bench, const char *text);
void voice_run(struct voice_bench *bench, int64_t time_us);
void voice_turn(struct voice_bench *bench, int64_t until_us);
void voice_say(struct voice_bench *bench, const char *text);
void voice_prepare(struct voice_bench *bench, const char *text); /* it alone */

/* The process number of the speaker, or fails. */
int voice_process(void);

#endif
