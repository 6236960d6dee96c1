/* What the tests of this room share: the bundled phrasebook and patterns, a bare pattern, and jobs
 * for them. */
#ifndef TESTS_PHRASE_BUNDLED_H
#define TESTS_PHRASE_BUNDLED_H

#include "phrase/phrase.h"
#include "sequence/sequence.h"

enum { BUNDLED_MAX = 100, BUNDLED_MIN = 10, JOBS = 10 };

struct bundled {
	struct phrasebook *book;
	struct pattern *patterns[BUNDLED_MAX];
	int count;
};

/* Fails the running test if anything in them is at fault. */
void bundled_read(struct bundled *bundled);
void bundled_free(struct bundled *bundled);

struct phrasebook *bundled_phrasebook(const char *language);

/* One of JOBS plans, which together use every choice of a plan that changes words. */
struct job *bundled_job(int which);

/* What a notice may speak of at a call, but for the times. */
struct notice_facts bundled_facts(const struct sequence *sequence, int call, const char *place);

/* Every text that the phrasebook has for a job: each call, each place, each notice. */
void bundled_say_all(const struct phrasebook *book, const struct sequence *sequence,
		     const struct phrase_options *options,
		     void (*said)(const char *text, int call, void *context), void *context);

/* The bytes of a file; the caller frees them. */
char *bundled_file(const char *path);

#endif
