/* Jobs on the bundled patterns, drawn into files and read back. */
#ifndef TESTS_DRAW_DRAWN_H
#define TESTS_DRAW_DRAWN_H

#include "draw/draw.h"
#include "draw/picture.h"

enum { DRAWN_MAX = 100, DRAWN_MIN = 12, DRAWN_PLANS = 4 };

struct drawn {
	struct pattern *patterns[DRAWN_MAX];
	int count;
};

/* Fails the running test if there is anything wrong with them. */
void drawn_read(struct drawn *drawn);
void drawn_free(struct drawn *drawn);

/* A job of one of the plans; the caller frees it. */
struct job *drawn_job(const struct pattern *pattern, int plan);

/* Compiles a job of each of the first so many plans, on every bundled pattern, and hands it on. */
void drawn_each(int plan_count, void (*check)(const char *folder, const struct sequence *sequence),
		const char *folder);

/* A job on one of the patterns; the test frees it, and may change the job before it compiles. */
struct drawn_work {
	struct pattern *pattern;
	struct job *job;
	struct sequence *sequence;
};

void drawn_open(struct drawn_work *work, const char *pattern, int plan);
void drawn_compile(struct drawn_work *work);
void drawn_close(struct drawn_work *work);

/* A new folder for a group of tests, and its removal: cmocka's setup and teardown. It is not in
 * /tmp, so that a temporary file put there could not be renamed into it. */
int drawn_folder(void **state);
int drawn_folder_gone(void **state);

/* The phrasebook that pictures are drawn with: English, until another language is chosen. */
const struct phrasebook *drawn_book(void);
void drawn_speak(const char *language);

/* Draws to FOLDER/picture.svg and reads that; fails the test on any fault. */
void drawn_picture(const char *folder, const struct sequence *sequence,
		   const struct draw_options *options, struct picture *out);

/* The bytes of a file, terminated; the caller frees them. NULL if there is none. */
char *drawn_bytes(const char *path, size_t *length);

#endif
