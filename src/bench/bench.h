/* The bench file: the machine, pedals and voice of this stringer's bench.
 *
 * $XDG_CONFIG_HOME/pullcall/bench.yaml. Every key has a default, which bench_new sets; no file at
 * all is fine. pullcall-bench(5) describes the keys.
 */
#ifndef BENCH_BENCH_H
#define BENCH_BENCH_H

#include "base/base.h"
#include "pedal/pedal.h"
#include "phrase/phrase.h"

enum { BENCH_PEDALS_MAX = 8, BENCH_KEYS_MAX = 16, BENCH_PEDAL_TEXTS = 3 };

struct machine;

struct bench {
	/* Pedals; with none listed, whatever looks like a pedal is one. Entries point into the
	 * bench. */
	struct pedal_entry pedals[BENCH_PEDALS_MAX];
	struct pedal_key keys[BENCH_PEDALS_MAX][BENCH_KEYS_MAX];
	char *pedal_texts[BENCH_PEDALS_MAX][BENCH_PEDAL_TEXTS]; /* what the entries point to */
	int pedal_count;
	struct gesture_times times; /* of all pedals; the entries have them too */

	/* Voice. */
	char *language; /* of the phrasebook: "en" */
	char *voice;    /* the synthesiser's name for it; NULL: the speaker's own choice */
	char *recorded; /* folder of the shop's own recordings; NULL: none */
	int rate_wpm;   /* words a minute */
	int volume_percent;
	bool tone;   /* a short tone before the words */
	char *sound; /* as for --sound */

	/* Words. */
	struct phrase_options phrases; /* how things are said; its side_words point to these: */
	char *side_words[2];           /* by side; NULL: the phrasebook's own */

	struct machine *machine; /* `reach`, `margin` and `machine` (job/job.h); owned */
};

/* A bench with every default, for bench_free. */
struct bench *bench_new(void);

/* Takes the document, as yaml_read returns it. NULL, with faults, if that is NULL or at fault. */
struct bench *bench_read(struct yaml_document *document);

/* The bench file at path; NULL: the usual one, or the defaults if that does not exist. NULL if it
 * is at fault. */
struct bench *bench_find(const char *path, struct faults *faults);
void bench_free(struct bench *bench);

/* Whether text names a sound: auto, device, device:NAME, wav:FILE or none. */
bool bench_is_sound(const char *text);

#endif
