/* A folder for a test, and an invented job of 20 calls for the journal. */
#ifndef TESTS_JOURNAL_SAMPLE_H
#define TESTS_JOURNAL_SAMPLE_H

#include "journal/journal.h"
#include "script/script.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

enum { SAMPLE_CALLS = 20, SAMPLE_PATH_MAX = 200 };

static const int64_t sample_wall_us = 1795000000000000; /* an afternoon in November 2026 */

/* A new, empty folder; *state is its path. Removed by sample_teardown with all that is in it. */
static inline int sample_setup(void **state)
{
	/* In memory if there is such a place: what a test does to a disk needs none. */
	bool memory = access("/dev/shm", W_OK) == 0;
	char *folder = strdup(memory ? "/dev/shm/pullcall-journal-XXXXXX"
				     : "/tmp/pullcall-journal-XXXXXX");

	*state = folder;
	return folder && mkdtemp(folder) ? 0 : -1;
}

static inline int sample_teardown(void **state)
{
	char command[SAMPLE_PATH_MAX];

	snprintf(command, sizeof command, "rm -rf -- '%s'", (const char *)*state);
	int result = system(command); /* NOLINT(cert-env33-c): a path made by mkdtemp */
	free(*state);
	return result;
}

/* For a whole group of tests: dates are printed in one time zone everywhere. */
static inline int sample_utc(void **state)
{
	(void)state;
	setenv("TZ", "UTC", 1);
	tzset();
	return 0;
}

static inline const char *sample_path(void **state, const char *name)
{
	static char paths[4][SAMPLE_PATH_MAX];
	static int next;
	char *path = paths[next++ % 4];

	snprintf(path, SAMPLE_PATH_MAX, "%s/%s", (const char *)*state, name);
	return path;
}

/* 2 calls of preparing, 8 mains, 8 crosses, 2 of finishing. */
static inline struct script_line *sample_lines(void)
{
	static struct script_line lines[SAMPLE_CALLS];
	static char words[SAMPLE_CALLS][64];

	for (int i = 0; i < SAMPLE_CALLS; i++) {
		bool main = i >= 2 && i < 10, cross = i >= 10 && i < 18;
		int number = main ? (i - 2) / 2 + 1 : cross ? i - 9 : 0;
		const char *side = i % 2 ? "right" : "left";

		if (main)
			snprintf(words[i], sizeof words[i], "main %d %s, pull", number, side);
		else if (cross)
			snprintf(words[i], sizeof words[i], "cross %d from the %s", number, side);
		else
			snprintf(words[i], sizeof words[i], i < 2 ? "inspect %d" : "trim %d", i);
		lines[i] = (struct script_line){
			.phase = main    ? "mains"
				 : cross ? "crosses"
				 : i < 2 ? "prepare"
					 : "finish",
			.kind = main    ? "pull"
				: cross ? "weave"
				: i < 2 ? "inspect"
					: "trim",
			.skill = "clamp",
			.string = main    ? "main"
				  : cross ? "cross"
					  : NULL,
			.number = number,
			.side = main || cross ? side : NULL,
			.full_words = words[i],
			.short_words = words[i],
			.again_words = words[i],
			.place = words[i],
			.call = i + 1,
			.weight_s = 10,
		};
	}
	return lines;
}

/* The script of the job; its texts are static. A test may change what it likes. */
static inline struct script sample_script(void)
{
	return (struct script){
		.job = "ridge-court-0042",
		.title = "Sixteen by nineteen",
		.stringer = "apprentice",
		.pattern = "open-16x19",
		.sport = "tennis",
		.method = "two-piece",
		.detail = "bench",
		.language = "en",
		.program = "pullcall 0.1.0",
		.plan_file = "/home/bench/ridge-court-0042.yaml",
		.plan_text = "job: ridge-court-0042\nstringer: apprentice\n",
		.pattern_text = "pattern: open-16x19\nmains: 16\n",
		.whole = {8, 8},
		.lines = sample_lines(),
		.count = SAMPLE_CALLS,
	};
}

/* An event `after_us` microseconds into the afternoon. */
static inline struct journal_event sample_event(enum journal_kind kind, int call, bool working,
						int64_t after_us)
{
	return (struct journal_event){
		.kind = kind,
		.call = call,
		.working = working,
		.steady_us = 5000000 + after_us,
		.boot_us = 7000000 + after_us,
		.wall_us = sample_wall_us + after_us,
		.response_us = JOURNAL_NO_RESPONSE,
	};
}

/* Opens to write, or fails the test with what the journal says. */
static inline struct journal *sample_open(const char *path)
{
	struct journal *journal = NULL;
	char *error = NULL;

	if (journal_open(path, JOURNAL_WRITE, &journal, &error) != JOURNAL_OK)
		fail_msg("%s", error);
	return journal;
}

/* The same, with the sample job begun. */
static inline struct journal *sample_begin(const char *path)
{
	struct journal *journal = sample_open(path);

	struct script script = sample_script();
	if (journal_begin(journal, &script, sample_wall_us) != JOURNAL_OK)
		fail_msg("%s", journal_message(journal));
	return journal;
}

/* The number of the newest open job. */
static inline int64_t sample_open_job(struct journal *journal)
{
	struct journal_job job = {0};

	assert_int_equal(journal_find(journal, NULL, &job), JOURNAL_OK);
	int64_t number = job.number;
	journal_job_free(&job);
	return number;
}

/* The number that a query gives. */
static inline int64_t sample_ask(struct journal *journal, const char *sql)
{
	sqlite3_stmt *statement = NULL;
	bool row = false;

	if (journal_query(journal, sql, NULL, &statement) != JOURNAL_OK ||
	    journal_step(journal, statement, &row) != JOURNAL_OK || !row)
		fail_msg("%s: %s", sql, journal_message(journal));
	int64_t answer = sqlite3_column_int64(statement, 0);
	sqlite3_finalize(statement);
	return answer;
}

static inline void sample_append(struct journal *journal, enum journal_kind kind, int call,
				 bool working, int64_t after_us)
{
	struct journal_event event = sample_event(kind, call, working, after_us);

	if (journal_append(journal, &event) != JOURNAL_OK)
		fail_msg("%s", journal_message(journal));
}

#endif
