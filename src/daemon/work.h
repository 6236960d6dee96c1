/* The job under way: plan, pattern, sequence, words and session, held together. */
#ifndef DAEMON_WORK_H
#define DAEMON_WORK_H

#include "journal/journal.h"
#include "phrase/phrasebook.h"
#include "sequence/plan.h"
#include "session/session.h"
#include "settings/bench.h"

struct work {
	struct plan plan;
	const struct phrasebook *book; /* not owned */
	const char *language;          /* of the book; the bench's */
	struct phrase_options options;
	/* By call, from 1. */
	char **words;
	char **words_again; /* when it was said before */
	double *weight_s;   /* usual seconds of work (session/pace.h) */
	struct session session;
};

/* From a job plan's path, at its first call. NULL if it cannot be done; faults says why. */
struct work *work_load(const char *path, const struct phrasebook *book, const struct bench *bench,
		       struct faults *faults);

/* From the journal, at the call where it was left: the plan and the pattern as they were then. */
struct work *work_reopen(const struct journal_place *place, const struct phrasebook *book,
			 const struct bench *bench, struct faults *faults);
void work_free(struct work *work); /* NULL is fine */

/* Calls and session count from 1, the sequence's array from 0. */
const struct move *work_subject(const struct work *work, int call);
const char *work_phase(const struct work *work, int call);

/* Mains (both sides) or crosses in all, and those tensioned by the calls before this one. */
struct tally {
	int mains, mains_done;
	int crosses, crosses_done;
};
struct tally work_tally(const struct work *work, int call);

/* Begins the job in the journal, with all its calls and words. */
enum journal_status work_journal(const struct work *work, struct journal *journal);

int64_t work_left_us(const struct work *work, int64_t now_us);

/* What to say for a notice; the caller frees it. */
char *work_notice(const struct work *work, enum notice notice, int64_t now_us);

#endif
